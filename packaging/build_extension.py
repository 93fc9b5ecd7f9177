"""Build the Blender extension: one zip with the wheels of every platform and Python it runs on.

    python packaging/build_extension.py --out dist

Needs an environment with the bpy wheel, for Blender's own extension command, and the registry the first
time; later runs take the wheels from build/wheels. One zip for all platforms: Blender unpacks the wheels that fit,
and nobody can pick the wrong file. `--split` makes one zip for each platform instead.
"""

from __future__ import annotations

import argparse
import hashlib
import importlib.util
import os
import re
import shutil
import subprocess
import sys
import tempfile
import tomllib
import zipfile
from pathlib import Path
from typing import Final

ROOT: Final = Path(__file__).resolve().parent.parent
LOCK: Final = Path(__file__).with_name("wheels.lock")
CACHE: Final = ROOT / "build" / "wheels"

PYTHONS: Final = ("311", "313")  # of Blender 4.2 to 5.0, and of 5.1 on
PLATFORMS: Final = {
    # pip takes a platform as the newest system that the wheel may ask for.
    "windows-x64": "win_amd64",
    "macos-arm64": "macosx_11_0_arm64",
    "macos-x64": "macosx_10_15_x86_64",
    "linux-x64": "manylinux_2_28_x86_64",
}
PACKED: Final = (
    "__init__.py", "LICENSE", "addon/**/*.py", "addon/**/data/*.obj", "addon/**/data/*.toml",
    "core/**/*.py", "core/py.typed", "core/**/data/*.csv",
)  # fmt: skip
ALLOWED: Final = re.compile(
    r"__init__\.py|LICENSE|blender_manifest\.toml|(addon|core)/([a-z_]+/)*[a-z_0-9]+\.py"
    r"|addon/([a-z_]+/)*data/[a-z_]+\.(obj|toml)|core/py\.typed|core/([a-z_]+/)*data/[a-z_0-9]+\.csv|wheels/[\w.+-]+\.whl"
)
FILE_TIME: Final = 1_577_836_800  # 2020-01-01: the same tree gives the same zip


def main() -> int:
    parser = argparse.ArgumentParser(description="Build and validate the Blender extension.")
    parser.add_argument("--out", type=Path, default=ROOT / "dist", help="folder for the zip (default: dist)")
    parser.add_argument("--split", action="store_true", help="one zip for each platform")
    parser.add_argument("--write-lock", action="store_true", help="fetch the locked versions and lock their hashes")
    given = parser.parse_args()
    if given.write_lock:
        write_lock()
    command = extension_command()
    wheels = fetch_wheels()
    with tempfile.TemporaryDirectory() as folder:
        staged = stage(wheels, Path(folder, "tackwright"))
        made = build(command, staged, given.out, split=given.split)
        for path in made:
            check_names(path, staged)
            run([*command, "validate", str(path)])
    for path in made:
        print(f"{shown(path)}  {path.stat().st_size / 1e6:.1f} MB")
    return 0


def fetch_wheels() -> list[Path]:
    """Every locked wheel, from the cache or the registry, sorted by name."""
    locked = set(re.findall(r"--hash=sha256:([0-9a-f]{64})", LOCK.read_text()))
    found = cached(locked)
    if len(found) < len(locked):
        download("--require-hashes", "-r", str(LOCK))
        found = cached(locked)
    if len(found) < len(locked):
        missing = len(locked) - len(found)
        raise SystemExit(f"{missing} of {len(locked)} locked wheels are not to be had: see {shown(LOCK)}")
    return found


def cached(locked: set[str]) -> list[Path]:
    return [p for p in sorted(CACHE.glob("*.whl")) if hashlib.sha256(p.read_bytes()).hexdigest() in locked]


def download(*wanted: str) -> None:
    """Fetch wheels for every platform and Python: beside the cache, then moved into it, since two may fetch at once."""
    CACHE.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=CACHE.parent, prefix="fetched_") as beside:
        fetch_into(Path(beside), *wanted)
        for wheel in Path(beside).glob("*.whl"):
            wheel.replace(CACHE / wheel.name)


def fetch_into(folder: Path, *wanted: str) -> None:
    for step, (platform, python) in enumerate(targets(), start=1):
        if sys.stderr.isatty():
            print(f"\rfetching wheels, system {step} of {len(targets())}", end="", file=sys.stderr, flush=True)
        run([
            sys.executable, "-m", "pip", "download", "--quiet", "--disable-pip-version-check", "--no-deps",
            "--only-binary=:all:", "--platform", platform, "--python-version", python, "--dest", str(folder), *wanted,
        ])  # fmt: skip
    if sys.stderr.isatty():
        print(file=sys.stderr)


def targets() -> list[tuple[str, str]]:
    return [(platform, python) for platform in PLATFORMS.values() for python in PYTHONS]


def write_lock() -> None:
    """Lock the hashes of the wheels of the versions that the lock names.

    Where a package has a wheel for every system, only that one: compiled ones would treble the zip.
    """
    versions = [line.split()[0] for line in LOCK.read_text().splitlines() if "==" in line]
    shutil.rmtree(CACHE, ignore_errors=True)
    pure = []
    for version in versions:
        fetched = subprocess.run([
            sys.executable, "-m", "pip", "download", "--quiet", "--disable-pip-version-check", "--no-deps",
            "--only-binary=:all:", "--platform", "any", "--implementation", "py", "--abi", "none",
            "--python-version", PYTHONS[0], "--dest", str(CACHE), version,
        ], capture_output=True, check=False)  # fmt: skip
        pure += [version] if fetched.returncode == 0 else []
    download(*(v for v in versions if v not in pure))
    lines = ["# The wheels packed into the extension. Change a version here, then: build_extension.py --write-lock"]
    for version in versions:
        name, _, number = version.partition("==")
        stem = f"{name.replace('-', '_')}-{number}-"
        hashes = [hashlib.sha256(p.read_bytes()).hexdigest() for p in sorted(CACHE.glob(f"{stem}*.whl"))]
        lines.append(" \\\n".join([version, *(f"    --hash=sha256:{h}" for h in hashes)]))
    LOCK.write_text("\n".join(lines) + "\n")


def stage(wheels: list[Path], staged: Path) -> Path:
    """A copy of what is packed, in the new folder `staged`, with a manifest that names the wheels."""
    (staged / "wheels").mkdir(parents=True)
    for pattern in PACKED:
        for path in sorted(ROOT.glob(pattern)):
            target = staged / path.relative_to(ROOT)
            target.parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(path, target)
    for wheel in wheels:
        shutil.copyfile(wheel, staged / "wheels" / wheel.name)
    manifest = (ROOT / "blender_manifest.toml").read_text()
    top, tables = re.split(r"^(?=\[)", manifest, maxsplit=1, flags=re.MULTILINE)
    rows = "".join(f'  "./wheels/{wheel.name}",\n' for wheel in wheels)
    platforms = ", ".join(f'"{platform}"' for platform in PLATFORMS)
    (staged / "blender_manifest.toml").write_text(f"{top}platforms = [{platforms}]\nwheels = [\n{rows}]\n\n{tables}")
    for path in staged.rglob("*"):
        os.utime(path, (FILE_TIME, FILE_TIME))
    return staged


def build(command: list[str], staged: Path, out: Path, *, split: bool) -> list[Path]:
    """The zips, built by Blender's own command."""
    manifest = tomllib.loads((staged / "blender_manifest.toml").read_text())
    stem = f"{manifest['id']}-{manifest['version']}"
    out.mkdir(parents=True, exist_ok=True)
    for old in out.glob(f"{manifest['id']}-*.zip"):
        old.unlink()
    options = ["--split-platforms"] if split else []
    run([*command, "build", "--source-dir", str(staged), "--output-dir", str(out), *options])
    return sorted(out.glob(f"{stem}*.zip"))


def check_names(path: Path, staged: Path) -> None:
    """Refuse a zip that holds anything but the add-on, the core and the locked wheels, or lacks a part."""
    with zipfile.ZipFile(path) as zipped:
        names = {name for name in zipped.namelist() if not name.endswith("/")}
    packed = {p.relative_to(staged).as_posix() for p in staged.rglob("*") if p.is_file()}
    strays = sorted(name for name in names if name not in packed or not ALLOWED.fullmatch(name))
    missing = sorted(n for n in packed - names if not n.startswith("wheels/"))
    if strays or missing:
        raise SystemExit(f"{shown(path)}: not to be packed: {strays}; missing: {missing}")


def extension_command() -> list[str]:
    """Blender's own command line for extensions, which comes with the bpy wheel."""
    spec = importlib.util.find_spec("bpy")
    home = Path(spec.origin).parent if spec and spec.origin else Path()
    found = sorted(home.glob("*/scripts/addons_core/bl_pkg/cli/blender_ext.py")) if spec else []
    if not found:
        raise SystemExit("Blender's extension command is not here: install the bpy wheel in this environment")
    return [sys.executable, str(found[-1])]


def run(command: list[str]) -> None:
    """Run quietly; on failure show all it said."""
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode != 0:
        raise SystemExit(f"{' '.join(command)}\n{done.stdout}{done.stderr}")


def shown(path: Path) -> str:
    return os.path.relpath(path) if path.is_relative_to(Path.cwd()) else str(path)


if __name__ == "__main__":
    sys.exit(main())
