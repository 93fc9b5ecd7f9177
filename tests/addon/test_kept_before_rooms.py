"""What the version before the rooms kept is found again: every property and attribute of a file, and its folder."""

import json
import os
import subprocess
import sys

import pytest
from all_kept import all_kept
from repo_paths import ROOT

DATA = ROOT / "tests" / "data"
OLD_FIT, FIT = 0.1, 0.2
"""mm, both sides together: the usual fit gap then and now. It is shown a side now; files keep what they kept."""

NAMES = """
import bpy, sys, addon_utils
package = sys.argv[1]
addon_utils.enable(package, default_set=True)
user_files = sys.modules[package + ".addon.host.user_files"]
preferences = bpy.context.preferences.addons[package].preferences
print("NAMES", user_files.PACKAGE, type(preferences).__name__, user_files.user_folder())
"""


def as_before(found, wanted):
    """What is found without what later versions added to groups that were there."""
    if isinstance(wanted, dict) and isinstance(found, dict):
        return {name: as_before(found[name], value) for name, value in wanted.items() if name in found}
    if isinstance(wanted, list) and isinstance(found, list) and len(found) == len(wanted):
        return [as_before(*pair) for pair in zip(found, wanted, strict=True)]
    return found


def renewed(kept):
    if not isinstance(kept, dict):
        return kept
    now = {}
    if "fit_gap_mm" in kept:
        usual = kept["fit_gap_mm"] == pytest.approx(OLD_FIT)
        now = {"fit_gap_mm": FIT} if usual else {"fit_gap": kept["fit_gap"] / 2}
    return {name: pytest.approx(value) if name in now else renewed(value) for name, value in (kept | now).items()}


def test_every_property_of_a_file_of_the_version_before_is_there(blender):
    """The file and the list of what is in it were both written by that version, from values that are no defaults."""
    if blender.app.version < (4, 5, 0):
        pytest.skip("the file was saved by Blender 5.0, which older ones cannot open")
    blender.ops.wm.open_mainfile(filepath=str(DATA / "everything_before_rooms.blend"))
    wanted = json.loads((DATA / "everything_before_rooms.json").read_text())
    found = all_kept(blender)
    assert found.keys() == wanted.keys()
    found = as_before(found, wanted)
    for owner, kept in wanted.items():
        for name, value in kept.items():
            assert found[owner][name] == renewed(value), (owner, name)
    assert {one["tackwright"]["fit_gap_mm"] for one in found.values() if "tackwright" in one} > {0.2}  # some are set
    tank = wanted["objects/Tank"]
    assert tank["tackwright"]["live"] and tank["tackwright"]["findings"] and tank["tackwright"]["fields"]
    assert tank["tackwright_space"]["scan"] == "Scan" and len(tank["attributes"]) > 5


@pytest.mark.parametrize(("package", "folder"), [
    ("tackwright", "config/tackwright"),
    ("bl_ext.user_default.tackwright", "extensions/.user/user_default/tackwright"),
])  # fmt: skip
def test_the_extension_keeps_its_name_and_folder(tmp_path, package, folder):
    """Under these Blender keeps the user's preferences, and the extension the user's files."""
    pytest.importorskip("bpy", reason="bpy is not installed: the add-on is not tested")
    home = tmp_path / "extensions" / "user_default"
    home.mkdir(parents=True)
    (home / "tackwright").symlink_to(ROOT, target_is_directory=True)
    done = subprocess.run([sys.executable, "-c", NAMES, package], capture_output=True, text=True, check=False,
                          env=os.environ | {"BLENDER_USER_RESOURCES": str(tmp_path)})
    said = [line.split(" ", 3)[1:] for line in done.stdout.splitlines() if line.startswith("NAMES")]
    assert said, done.stdout + done.stderr
    assert said[0] == [package, "TackwrightPreferences", str(tmp_path / folder)]
