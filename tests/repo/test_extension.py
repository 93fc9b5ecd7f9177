"""The extension's zip: built, its contents, installed in a Blender of its own and used."""

from __future__ import annotations

import importlib.util
import itertools
import re
import subprocess
import sys
import tomllib
import zipfile

import pytest
from repo_paths import ROOT

pytestmark = pytest.mark.xdist_group("extension")     # one worker, which builds the zip once

PACKAGING = ROOT / "packaging"


def run(script, *given):
    command = [sys.executable, str(PACKAGING / script), *map(str, given)]
    return subprocess.run(command, capture_output=True, text=True, check=False)


@pytest.fixture(scope="module")
def built(tmp_path_factory):
    if importlib.util.find_spec("bpy") is None:
        pytest.skip("bpy is not installed: the extension is not built")
    out = tmp_path_factory.mktemp("dist")
    done = run("build_extension.py", "--out", out)
    unreachable = "No matching distribution|Connection|Name or service|not to be had"
    if done.returncode != 0 and re.search(unreachable, done.stderr):
        pytest.skip(f"the wheels are neither in build/wheels nor to be had: {done.stderr.splitlines()[-1]}")
    assert done.returncode == 0, done.stdout + done.stderr
    (path,) = out.glob("*.zip")
    return path


@pytest.fixture
def packed(built):
    with zipfile.ZipFile(built) as zipped:
        return {name: zipped.read(name) for name in zipped.namelist() if not name.endswith(("/", ".whl"))}


@pytest.fixture
def wheels(built):
    with zipfile.ZipFile(built) as zipped:
        return sorted(name.removeprefix("wheels/") for name in zipped.namelist() if name.endswith(".whl"))


def test_it_holds_every_module_and_nothing_of_the_workshop(packed):
    modules = {str(p.relative_to(ROOT)) for folder in ("addon", "core") for p in (ROOT / folder).rglob("*.py")}
    assert {name.replace("\\", "/") for name in modules} <= set(packed)
    tops = {name.split("/")[0] for name in packed}
    assert tops == {"__init__.py", "LICENSE", "blender_manifest.toml", "addon", "core"}
    assert not [name for name in packed if "/." in name or "__pycache__" in name or "test" in name]


def test_it_has_compiled_wheels_for_each_platform_and_python(wheels):
    platforms = ("win_amd64", "macosx.*arm64", "macosx.*x86_64", "manylinux.*x86_64")
    for library, python, platform in itertools.product(("shapely", "manifold3d"), ("cp311", "cp313"), platforms):
        wanted = re.compile(rf"{library}-.*-{python}-{python}-.*{platform}")
        assert any(wanted.match(wheel) for wheel in wheels), wanted.pattern
    pure = {w.split("-")[0] for w in wheels if w.endswith("-py3-none-any.whl")}
    assert pure == {"ezdxf", "fonttools", "pyparsing", "typing_extensions"}
    assert not [w for w in wheels if w.startswith("numpy")]  # it would go before Blender's own


def test_the_manifest_lists_the_wheels_and_the_tracked_one_does_not(packed, wheels):
    manifest = tomllib.loads(packed["blender_manifest.toml"].decode())
    assert [w.removeprefix("./wheels/") for w in manifest["wheels"]] == wheels
    assert "wheels" not in tomllib.loads((ROOT / "blender_manifest.toml").read_text())


def test_the_manifest_and_the_core_say_the_same_version():
    from tackwright.core.terms.version import __version__

    assert tomllib.loads((ROOT / "blender_manifest.toml").read_text())["version"] == __version__


def test_building_twice_gives_the_same_bytes(built, tmp_path):
    run("build_extension.py", "--out", tmp_path).check_returncode()
    assert (tmp_path / built.name).read_bytes() == built.read_bytes()


def test_it_installs_and_its_buttons_work(built):
    done = run("try_extension.py", built, sys.executable)
    assert done.returncode == 0, done.stdout
    assert "Make Plates: '6 plates" in done.stdout
    assert "with an inner plate, an opening and a perforation: '7 plates" in done.stdout
    assert "all done" in done.stdout
