"""A kit appears whole or not at all."""

from __future__ import annotations

import dataclasses
import errno
import json
import os
import shutil
from pathlib import Path

import numpy as np
import pytest
import shapely
from kit_samples import corner_kit

from tackwright.core.files import kit_folder
from tackwright.core.files.kit_folder import write_kit
from tackwright.core.shapes.outline import Contour
from tackwright.core.terms.errors import ExportError

FILES = [
    "assembly.glb", "cut_list.csv", "findings.csv", "kit.json", "openings.csv", "plates/P01_lid.dxf",
    "plates/P02_left_side_O.dxf", "weld_list.csv",
]
TOTAL = len(FILES)


def tree(folder):
    """Everything in a folder, hidden or not, with the content of its files."""
    return {p.relative_to(folder).as_posix(): p.read_bytes() if p.is_file() else None for p in folder.rglob("*")}


def files(folder):
    return sorted(path for path, content in tree(folder).items() if content is not None)


def fail_at(monkeypatch, number, code):
    """Let the write with this number (from 1) fail, half done."""
    write = Path.write_bytes
    count = 0

    def failing(path, data):
        nonlocal count
        count += 1
        if count == number:
            write(path, data[: len(data) // 2])
            raise OSError(code, os.strerror(code), str(path))
        return write(path, data)

    monkeypatch.setattr(Path, "write_bytes", failing)


def test_the_folder_holds_every_file_and_nothing_else(tmp_path):
    folder = write_kit(corner_kit(), tmp_path)
    assert folder == tmp_path / "corner_piece_kit"
    assert files(folder) == FILES
    assert os.listdir(tmp_path) == ["corner_piece_kit"]


def test_kit_json_names_the_plate_files(tmp_path):
    folder = write_kit(corner_kit(), tmp_path)
    record = json.loads((folder / "kit.json").read_text(encoding="utf-8"))
    assert all((folder / plate["file"]).is_file() for plate in record["plates"])


def test_the_same_kit_gives_the_same_folder(tmp_path):
    assert tree(write_kit(corner_kit(), tmp_path / "a")) == tree(write_kit(corner_kit(), tmp_path / "b"))


def test_the_folder_is_as_open_as_any_other(tmp_path):
    (tmp_path / "plain").mkdir()
    assert write_kit(corner_kit(), tmp_path).stat().st_mode == (tmp_path / "plain").stat().st_mode


def test_missing_folders_are_made(tmp_path):
    assert write_kit(corner_kit(), tmp_path / "a" / "b").is_dir()


def test_a_relative_folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert write_kit(corner_kit(), Path("out")) == Path("out/corner_piece_kit")
    assert files(tmp_path / "out" / "corner_piece_kit") == FILES


@pytest.mark.parametrize("name", ["../up", "a/b", "NUL", "", "x" * 400, "ж\n"])
def test_any_name_stays_inside(name, tmp_path):
    folder = write_kit(corner_kit(name=name), tmp_path / "out")
    assert folder.parent == tmp_path / "out" and os.listdir(tmp_path) == ["out"]


def test_progress_runs_to_the_end(tmp_path):
    seen = []
    write_kit(corner_kit(), tmp_path, progress=lambda *step: seen.append(step))
    assert seen == [("write", done, TOTAL) for done in range(1, TOTAL + 1)]


def test_an_old_kit_stays_unless_asked(tmp_path):
    write_kit(corner_kit(), tmp_path)
    before = tree(tmp_path)
    with pytest.raises(ExportError, match=r"already there.*corner_piece_kit.*Replace it"):
        write_kit(corner_kit(etch=False), tmp_path)
    assert tree(tmp_path) == before


def test_an_old_kit_is_replaced_when_asked(tmp_path):
    write_kit(corner_kit(), tmp_path)
    (tmp_path / "corner_piece_kit" / ".DS_Store").write_bytes(b"")
    write_kit(corner_kit(dxf_units="in"), tmp_path, replace=True)
    write_kit(corner_kit(dxf_units="in"), tmp_path / "fresh")
    assert tree(tmp_path / "corner_piece_kit") == tree(tmp_path / "fresh" / "corner_piece_kit")
    assert sorted(os.listdir(tmp_path)) == ["corner_piece_kit", "fresh"]


@pytest.mark.parametrize("content", [None, b"{", b"[]", b'{"format": "other"}', b"\xff"])
def test_only_a_kit_is_replaced(content, tmp_path):
    folder = tmp_path / "corner_piece_kit"
    folder.mkdir()
    (folder / "work.txt").write_text("mine")
    if content is not None:
        (folder / "kit.json").write_bytes(content)
    before = tree(tmp_path)
    with pytest.raises(ExportError, match="not a kit"):
        write_kit(corner_kit(), tmp_path, replace=True)
    assert tree(tmp_path) == before


def test_a_kit_with_someones_own_files_is_not_replaced(tmp_path):
    folder = write_kit(corner_kit(), tmp_path)
    (folder / "plates" / "quote.pdf").write_bytes(b"1")
    before = tree(tmp_path)
    with pytest.raises(ExportError, match=r"plates/quote\.pdf.*Move them"):
        write_kit(corner_kit(), tmp_path, replace=True)
    assert tree(tmp_path) == before


@pytest.mark.parametrize("replace", [False, True])
def test_a_file_or_link_in_the_way_stays(replace, tmp_path):
    place = tmp_path / "corner_piece_kit"
    place.write_text("mine")
    with pytest.raises(ExportError, match="in the way"):
        write_kit(corner_kit(), tmp_path, replace=replace)
    assert tree(tmp_path) == {"corner_piece_kit": b"mine"}
    place.unlink()
    other = write_kit(corner_kit(), tmp_path / "other")
    place.symlink_to(other, target_is_directory=True)
    with pytest.raises(ExportError, match="in the way"):
        write_kit(corner_kit(), tmp_path, replace=replace)
    assert place.is_symlink() and files(other) == FILES


@pytest.mark.parametrize("below", [".", "more", "more/still"])
def test_a_file_where_the_folder_should_be(below, tmp_path):
    (tmp_path / "out").write_text("mine")
    with pytest.raises(ExportError, match="a file is where a folder should be"):
        write_kit(corner_kit(), tmp_path / "out" / below)
    assert tree(tmp_path) == {"out": b"mine"}


@pytest.mark.parametrize("number", range(1, TOTAL + 1))
@pytest.mark.parametrize("code", [errno.ENOSPC, errno.EDQUOT])
def test_a_full_disk_leaves_nothing(number, code, tmp_path, monkeypatch):
    fail_at(monkeypatch, number, code)
    with pytest.raises(ExportError, match=r"disk.*corner_piece_kit.*Make room"):
        write_kit(corner_kit(), tmp_path / "new" / "deep")
    assert tree(tmp_path) == {}


@pytest.mark.parametrize("number", range(1, TOTAL + 1))
def test_a_full_disk_leaves_the_old_kit(number, tmp_path, monkeypatch):
    write_kit(corner_kit(), tmp_path)
    before = tree(tmp_path)
    fail_at(monkeypatch, number, errno.ENOSPC)
    with pytest.raises(ExportError, match="disk is full"):
        write_kit(corner_kit(etch=False), tmp_path, replace=True)
    monkeypatch.undo()
    assert tree(tmp_path) == before


@pytest.mark.parametrize("code", [errno.EACCES, errno.EPERM, errno.EROFS])
def test_a_folder_that_may_not_be_written_to(code, tmp_path, monkeypatch):
    def refuse(path, *args, **kwargs):
        raise OSError(code, os.strerror(code), str(path))

    monkeypatch.setattr(Path, "mkdir", refuse)
    with pytest.raises(ExportError, match=r"(may not be written to|read-only).*Choose"):
        write_kit(corner_kit(), tmp_path)
    monkeypatch.undo()
    assert tree(tmp_path) == {}


def test_a_really_unwritable_folder(tmp_path):
    locked = tmp_path / "locked"
    locked.mkdir()
    locked.chmod(0o500)
    try:
        if os.access(locked, os.W_OK):
            pytest.skip("this user may write anywhere: the lock has no effect")
        with pytest.raises(ExportError, match="may not be written to"):
            write_kit(corner_kit(), locked)
        assert os.listdir(locked) == []
    finally:
        locked.chmod(0o700)


@pytest.mark.parametrize("failing", [1, 2])
def test_a_failed_swap_puts_the_old_kit_back(failing, tmp_path, monkeypatch):
    write_kit(corner_kit(), tmp_path)
    before = tree(tmp_path)
    rename = Path.rename
    count = 0

    def stubborn(path, target):
        nonlocal count
        count += 1
        if count == failing:
            raise PermissionError(errno.EACCES, "in use", str(path))
        return rename(path, target)

    monkeypatch.setattr(Path, "rename", stubborn)
    with pytest.raises(ExportError, match="may not be written to"):
        write_kit(corner_kit(etch=False), tmp_path, replace=True)
    assert tree(tmp_path) == before


def test_when_even_putting_back_fails_the_error_says_where_the_old_kit_is(tmp_path, monkeypatch):
    old = files(write_kit(corner_kit(), tmp_path))
    rename = Path.rename
    count = 0

    def stubborn(path, target):
        nonlocal count
        count += 1
        if count > 1:
            raise PermissionError(errno.EACCES, "in use", str(path))
        return rename(path, target)

    monkeypatch.setattr(Path, "rename", stubborn)
    with pytest.raises(ExportError, match="could not be put back") as caught:
        write_kit(corner_kit(), tmp_path, replace=True)
    assert files(Path(caught.value.where)) == old
    shutil.rmtree(Path(caught.value.where).parent)
    assert tree(tmp_path) == {}


@pytest.mark.parametrize("error", [KeyboardInterrupt, RuntimeError])
def test_an_interruption_leaves_nothing(error, tmp_path):
    def stop(stage, done, total):
        if done == 3:
            raise error

    with pytest.raises(error):
        write_kit(corner_kit(), tmp_path / "out", progress=stop)
    assert tree(tmp_path) == {}


def test_a_kit_that_appears_meanwhile_stays(tmp_path):
    def rival(stage, done, total):
        if done == TOTAL:
            (tmp_path / "corner_piece_kit").mkdir()

    with pytest.raises(ExportError, match="already there"):
        write_kit(corner_kit(), tmp_path, progress=rival)
    assert tree(tmp_path) == {"corner_piece_kit": None}


def test_what_a_killed_export_of_an_older_version_left_is_taken_away_by_a_later_one(tmp_path):
    """It held no lock: only its age tells that nobody is at it."""
    kit = corner_kit()
    folder = write_kit(kit, tmp_path)
    names = (f".{folder.name}.part1", f".{folder.name}.old2", f".{folder.name}.part", ".other_kit.part1", "mine.part1")
    for name in names:
        (tmp_path / name / "plates").mkdir(parents=True)
        (tmp_path / name / "plates" / "P01.dxf").write_text("half")
    assert write_kit(kit, tmp_path, replace=True) == folder
    assert {p.name for p in tmp_path.iterdir()} == {folder.name, *names}  # of this very hour: somebody may be at it
    for name in names:
        for path in (*(tmp_path / name).rglob("*"), tmp_path / name):
            os.utime(path, (1e9, 1e9))
    write_kit(kit, tmp_path, replace=True)
    assert {p.name for p in tmp_path.iterdir()} == {folder.name, *names[2:]}


def test_an_old_kit_that_is_the_only_copy_left_is_not_taken_away(tmp_path):
    folder = write_kit(corner_kit(), tmp_path)
    aside = tmp_path / f".{folder.name}.old1"
    aside.mkdir()
    folder.rename(aside / folder.name)
    for path in (*aside.rglob("*"), aside):
        os.utime(path, (1e9, 1e9))
    write_kit(corner_kit(), tmp_path)
    assert (aside / folder.name / "kit.json").exists()


def test_the_count_of_files_is_what_is_written():
    assert sorted(path for path, _ in kit_folder.kit_files(corner_kit())) == FILES


def other_file(data):
    """A plate's file with its first x a hundredth of a millimetre off."""
    at = data.index(b"LWPOLYLINE")
    at = data.index(b"\n 10\n", at) + 5
    end = data.index(b"\n", at)
    return data[:at] + str(float(data[at:end]) + 0.01).encode() + data[end:]


def cut_short(data):
    """A plate's file whose last cut is missing."""
    at = data.rindex(b"  0\nCIRCLE\n") if b"CIRCLE" in data else data.rindex(b"  0\nLWPOLYLINE\n")
    end = data.index(b"  0\n", at + 4)
    return data[:at] + data[end:]


def opened(data):
    """A plate's file whose first contour is not closed."""
    at = data.index(b"\n 70\n1\n", data.index(b"AcDbPolyline"))
    return data[:at] + b"\n 70\n0\n" + data[at + 7:]


@pytest.mark.parametrize("spoiled", [other_file, cut_short, opened])
def test_a_file_that_is_not_its_plate_stops_the_export(tmp_path, monkeypatch, spoiled):
    before = write_kit(corner_kit(), tmp_path)
    kept = tree(before)
    true = kit_folder.plate_dxf

    def wrong(plate, settings):
        data = true(plate, settings)
        changed = spoiled(data) if plate.mark == "P02" else data
        assert (changed == data) == (plate.mark != "P02")
        return changed

    monkeypatch.setattr(kit_folder, "plate_dxf", wrong)
    with pytest.raises(ExportError, match="P02 'left/side: Ö' was not written as it was checked"):
        write_kit(corner_kit(), tmp_path, replace=True)
    assert tree(before) == kept and [path.name for path in tmp_path.iterdir()] == [before.name]


@pytest.mark.parametrize(("hole", "said"), [
    (shapely.box(90.0, 10.0, 110.0, 20.0), "outside the plate's edge"),         # over the edge of a lid 100 x 80
    (shapely.box(120.0, 10.0, 130.0, 20.0), "outside the plate's edge"),
    (shapely.box(100.0, 10.0, 130.0, 20.0), "outside the plate's edge"),
    (shapely.box(90.0, 10.0, 100.0, 20.0), "or touching it"),
    (shapely.Polygon([(80, 60), (90, 70), (90, 60), (80, 70)]), "crosses or touches itself"),
])
def test_cuts_that_make_no_plate_stop_the_export(tmp_path, hole, said):
    kit = corner_kit()
    ring = np.array(shapely.geometry.polygon.orient(hole, -1).exterior.coords)[:-1]
    outline = dataclasses.replace(kit.plates[0].outline, holes=(Contour(points=ring),))
    spoiled = dataclasses.replace(
        kit, plates=(dataclasses.replace(kit.plates[0], outline=outline), *kit.plates[1:]))
    with pytest.raises(ExportError, match=said):
        write_kit(spoiled, tmp_path)
    assert not list(tmp_path.iterdir())
