"""The package's metadata against the tree it describes."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import tomllib
import zipfile
from importlib import metadata
from pathlib import Path

import pytest

import tackwright.core
from tackwright.core.terms.version import __version__

ROOT = Path(tackwright.core.__path__[0]).parent
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
MANIFEST = tomllib.loads((ROOT / "blender_manifest.toml").read_text(encoding="utf-8"))
LOCK = (ROOT / "packaging" / "constraints.txt").read_text(encoding="utf-8")

# The tags that Blender's extension platform takes for add-ons. Source: Blender's manual, Extensions, Tags.
TAGS = {
    "3D View", "Add Curve", "Add Mesh", "Animation", "Bake", "Camera", "Compositing", "Development",
    "Game Engine", "Geometry Nodes", "Grease Pencil", "Import-Export", "Lighting", "Material", "Mesh", "Modeling",
    "Node", "Object", "Paint", "Physics", "Pipeline", "Render", "Rigging", "Scene", "Sculpt", "Sequencer", "System",
    "Text Editor", "Tracking", "User Interface", "UV",
}


def test_every_subpackage_is_listed():
    # one that is not works in an editable install and is missing from a wheel
    folders = [p.parent for part in ("core", "addon") for p in (ROOT / part).rglob("__init__.py")]
    names = {".".join(("tackwright", *folder.relative_to(ROOT).parts)) for folder in folders}
    assert sorted(PROJECT["tool"]["setuptools"]["packages"]) == sorted({"tackwright", *names})


@pytest.mark.parametrize(
    ("part", "known"), [("core", "stock/data/sheet_gauges.csv"), ("addon", "edit/data/bow_tank.toml")])
def test_every_data_file_is_packed(part, known):
    packed = set()
    for package, patterns in PROJECT["tool"]["setuptools"]["package-data"].items():
        folder = ROOT.joinpath(*package.split(".")[1:])
        packed |= {path for pattern in patterns for path in folder.glob(pattern) if (ROOT / part) in path.parents}
    data = {p for p in (ROOT / part).rglob("*") if p.is_file() and p.suffix not in (".py", ".pyc")}
    assert packed == data
    assert (ROOT / part / known) in packed


def test_there_is_one_version():
    assert PROJECT["tool"]["setuptools"]["dynamic"]["version"] == {"attr": "tackwright.core.terms.version.__version__"}
    assert MANIFEST["version"] == __version__
    assert metadata.version("tackwright") == __version__


def test_there_is_one_licence():
    assert PROJECT["project"]["license"] == "GPL-3.0-or-later"
    assert MANIFEST["license"] == ["SPDX:GPL-3.0-or-later"]
    text = (ROOT / "LICENSE").read_text(encoding="utf-8")
    assert "GNU GENERAL PUBLIC LICENSE" in text and "Version 3, 29 June 2007" in text
    assert "END OF TERMS AND CONDITIONS" in text


def test_the_manifest_keeps_to_the_schema():
    # Source: Blender's manual, Extensions, manifest: lengths, punctuation and version of three numbers
    assert MANIFEST["schema_version"] == "1.0.0"
    assert (MANIFEST["id"], MANIFEST["type"]) == ("tackwright", "add-on")
    assert MANIFEST["blender_version_min"] == "4.2.0"
    for text in (MANIFEST["tagline"], *MANIFEST["permissions"].values()):
        assert len(text) <= 64 and text[-1].isalnum()
    assert list(MANIFEST["permissions"]) == ["files"]
    assert set(MANIFEST["tags"]) <= TAGS


def test_the_lock_holds_exact_versions_and_names_no_place():
    lines = [line for line in LOCK.splitlines() if line and not line.startswith("#")]
    for line in lines:
        assert re.fullmatch(r'[\w.-]+==[\w.]+( ; python_version (==|<|>=) "3\.\d+")?', line), line


@pytest.mark.parametrize("extra", ["", "cli", "test", "lint", "editor"])
def test_the_lock_holds_all_that_is_asked_for(extra):
    project = PROJECT["project"]
    asked = project["optional-dependencies"][extra] if extra else project["dependencies"]
    locked = {re.sub(r"[-_.]+", "-", line.split("==")[0]).lower() for line in LOCK.splitlines() if "==" in line}
    names = {re.match(r"[\w-]+", one)[0] for one in asked} - {"tackwright"}
    assert names <= locked


def test_the_extension_packs_the_locked_versions():
    packed = re.findall(r"^([\w-]+)==([\w.]+)", (ROOT / "packaging" / "wheels.lock").read_text("utf-8"), re.MULTILINE)
    assert packed
    for name, version in packed:
        assert f"\n{name}=={version}\n" in LOCK, f"{name} {version}"


def test_the_command_is_installed():
    [entry] = metadata.entry_points(group="console_scripts", name="tackwright")
    assert entry.value == "tackwright.core.command_line:main"
    done = subprocess.run(
        [sys.executable, "-m", "tackwright.core.command_line", "--version"], capture_output=True, text=True, check=True
    )
    assert done.stdout == f"tackwright {__version__}\n"


@pytest.mark.slow
def test_a_wheel_holds_every_module(tmp_path):
    # from a copy: an older build's leavings in build/lib would be packed with it
    tree = tmp_path / "tree"
    shutil.copytree(ROOT, tree, ignore=shutil.ignore_patterns(".*", "build", "dist", "*.egg-info", "__pycache__"))
    command = [sys.executable, "-m", "pip", "wheel", "-qq", "--no-deps", "--wheel-dir", str(tmp_path), str(tree)]
    subprocess.run(command, check=True)
    [wheel] = tmp_path.glob("*.whl")
    inside = {n for n in zipfile.ZipFile(wheel).namelist() if n.startswith("tackwright/")}
    wanted = {"tackwright/__init__.py"} | {
        f"tackwright/{p.relative_to(ROOT).as_posix()}"
        for part in ("core", "addon") for p in (ROOT / part).rglob("*")
        if p.suffix in (".py", ".csv", ".typed", ".obj", ".toml")
    }
    assert inside == wanted
