"""An export that is killed leaves the kit that was there whole, and the next export clears what it left.

The exports here are processes of their own; they are killed for real, at every step they take on the disk.
"""

from __future__ import annotations

import errno
import os
import subprocess
import sys

import pytest
from kit_samples import corner_kit
from repo_paths import ROOT

from tackwright.core.files import working_folder
from tackwright.core.files.kit_folder import write_kit
from tackwright.core.terms.errors import ExportError

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="the exports are forked, so that each dies at once")

NAME = "corner_piece_kit"

# Kills an export at its first, second, ... step on the disk, each time in a folder of its own that holds an older kit.
KILLED = """
import os, signal, sys
from pathlib import Path
from kit_samples import corner_kit
from tackwright.core.files.kit_folder import write_kit

STEPS = {"open", "os.mkdir", "os.rename", "os.remove", "os.rmdir", "os.scandir", "fcntl.flock"}
place, old, new = Path(sys.argv[1]), corner_kit(), corner_kit(dxf_units="in")
write_kit(new, place / "warm")               # what is imported late must not count
for number in range(1, 1000):
    out = place / str(number)
    write_kit(old, out)
    child = os.fork()
    if child == 0:
        taken = 0
        def step(event, args):
            global taken
            taken += event in STEPS
            if event in STEPS and taken == number:
                os.kill(os.getpid(), signal.SIGKILL)
        sys.addaudithook(step)
        write_kit(new, out, replace=True)
        os._exit(0)
    if os.waitpid(child, 0)[1] == 0:
        break
print(number)
"""

# Writes a kit, and waits in the middle of it until its standard input closes.
HELD = """
import sys
from pathlib import Path
from kit_samples import corner_kit
from tackwright.core.files.kit_folder import write_kit

def hold(stage, done, total):
    if done == 3:
        print("writing", flush=True)
        sys.stdin.read()

write_kit(corner_kit(), Path(sys.argv[1]), replace=True, progress=hold)
"""


def tree(folder):
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def run(code, place, **kwargs):
    here = os.pathsep.join([str(ROOT / "tests" / "support"), *sys.path])
    return subprocess.Popen(
        [sys.executable, "-c", code, str(place)], env={**os.environ, "PYTHONPATH": here}, text=True,
        stdout=subprocess.PIPE, **kwargs)


@pytest.fixture(scope="module")
def killed(tmp_path_factory):
    """The folders in which exports were killed, by the step at which it was."""
    place = tmp_path_factory.mktemp("killed")
    with run(KILLED, place) as process:
        last = int(process.communicate(timeout=100)[0])
    assert process.returncode == 0 and last > 20
    return [place / str(number) for number in range(1, last)]


@pytest.fixture(scope="module")
def whole(tmp_path_factory):
    """What the older kit holds, and the newer."""
    place = tmp_path_factory.mktemp("whole")
    return [tree(write_kit(corner_kit(dxf_units=units), place / units)) for units in ("mm", "in")]


def test_wherever_an_export_is_killed_a_kit_is_there_after_the_next_and_nothing_else(killed, whole, tmp_path):
    older, newer = whole
    gone = 0
    for out in killed:
        if (out / NAME).exists():
            assert tree(out / NAME) in (older, newer), out
        gone += not (out / NAME).exists()
        with pytest.raises(ExportError, match="already there"):
            write_kit(corner_kit(), out)                             # one kit or the other is there, whole
        assert tree(out / NAME) in (older, newer), out
        assert os.listdir(out) == [NAME], out                        # and what the killed one left is not
        write_kit(corner_kit(), out, replace=True)
        assert os.listdir(out) == [NAME] and tree(out / NAME) == older
    assert gone                                                      # one was killed between its two renames


def test_what_a_living_export_writes_is_not_touched(whole, tmp_path):
    write_kit(corner_kit(), tmp_path)
    with run(HELD, tmp_path, stdin=subprocess.PIPE) as other:
        assert other.stdout.readline() == "writing\n"
        (busy,) = {p.name for p in tmp_path.iterdir()} - {NAME}
        before = tree(tmp_path / busy)
        assert before
        write_kit(corner_kit(dxf_units="in"), tmp_path, replace=True)
        assert tree(tmp_path / busy) == before and tree(tmp_path / NAME) == whole[1]
        other.communicate(timeout=50)
    assert other.returncode == 0
    assert os.listdir(tmp_path) == [NAME] and tree(tmp_path / NAME) == whole[0]


def test_two_exports_of_one_process_leave_each_other_alone(whole, tmp_path):
    """As in an editor with two windows."""
    def another(stage, done, total):
        if done == 3:
            write_kit(corner_kit(dxf_units="in"), tmp_path, replace=True)

    write_kit(corner_kit(), tmp_path, replace=True, progress=another)
    assert os.listdir(tmp_path) == [NAME] and tree(tmp_path / NAME) == whole[0]


def test_an_export_that_died_is_cleared_while_another_one_lives(whole, tmp_path):
    with run(HELD, tmp_path, stdin=subprocess.PIPE) as dead:
        assert dead.stdout.readline() == "writing\n"
        dead.kill()
    (left,) = os.listdir(tmp_path)
    with run(HELD, tmp_path, stdin=subprocess.PIPE) as other:
        assert other.stdout.readline() == "writing\n"
        assert len(os.listdir(tmp_path)) == 1                        # its own; `left` is gone, or taken over
        write_kit(corner_kit(dxf_units="in"), tmp_path, replace=True)
        assert len(os.listdir(tmp_path)) == 2
        other.communicate(timeout=50)
    assert os.listdir(tmp_path) == [NAME] and other.returncode == 0 and left


def test_where_nothing_can_be_locked_only_age_tells(tmp_path, monkeypatch):
    """Some network disks have no locks."""
    def refuse(file):
        raise OSError(errno.ENOLCK, os.strerror(errno.ENOLCK))

    monkeypatch.setattr(working_folder, "lock", refuse)
    with run(HELD, tmp_path, stdin=subprocess.PIPE) as dead:
        assert dead.stdout.readline() == "writing\n"
        dead.kill()
    (left,) = os.listdir(tmp_path)
    write_kit(corner_kit(), tmp_path)
    assert sorted(os.listdir(tmp_path)) == sorted([left, NAME])      # of this very hour: somebody may be at it
    for path in (*(tmp_path / left).rglob("*"), tmp_path / left):
        os.utime(path, (1e9, 1e9))
    write_kit(corner_kit(), tmp_path, replace=True)
    assert os.listdir(tmp_path) == [NAME]
