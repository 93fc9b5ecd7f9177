"""A kit on disk: a folder that appears whole or not at all."""

from __future__ import annotations

import contextlib
import errno
import json
import os
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Final

from ..kit.kit import Kit
from ..terms.errors import ExportError, KitThereError
from ..terms.plain import Plain
from .assembly_glb import assembly_glb
from .kit_json import FORMAT, kit_json
from .lists import cut_list, findings_list, openings_list, weld_list
from .plate_dxf import plate_dxf, plate_files
from .read_back import check_written
from .safe_names import safe_name
from .working_folder import clear_abandoned, working_folder

__all__ = ["kit_files", "kit_folder", "write_kit"]

_VIEWS: Final = ("kit.json", "cut_list.csv", "weld_list.csv", "openings.csv", "findings.csv", "assembly.glb")
_LITTER: Final = (".DS_Store", "Thumbs.db", "desktop.ini")     # what file browsers leave in any folder

_REASONS: Final = {
    errno.ENOSPC: ("The disk is full", "Make room, or choose a folder on another disk."),
    errno.EDQUOT: ("The disk quota is used up", "Make room, or choose a folder on another disk."),
    errno.EACCES: ("This folder may not be written to", "Choose a folder of your own, or close what uses it."),
    errno.EPERM: ("This folder may not be written to", "Choose a folder of your own, or close what uses it."),
    errno.EROFS: ("This disk is read-only", "Choose a folder on another disk."),
    errno.ENAMETOOLONG: ("The path is too long", "Give the kit a shorter name, or choose a folder nearer the top."),
    errno.EEXIST: ("A file is where a folder should be", "Choose another folder."),
    errno.ENOTDIR: ("A file is where a folder should be", "Choose another folder."),
}


def kit_folder(kit: Kit, out: Path) -> Path:
    """The folder that `write_kit` makes in `out`."""
    return out / f"{safe_name(kit.name)}_kit"


def kit_files(kit: Kit) -> Iterator[tuple[str, bytes]]:
    """The path in the kit folder, with `/`, and the content of each file, one after another."""
    for plate, file in zip(kit.plates, plate_files(kit.plates, kit.settings), strict=True):
        yield file, plate_dxf(plate, kit.settings)
    yield "cut_list.csv", cut_list(kit)
    yield "weld_list.csv", weld_list(kit)
    yield "openings.csv", openings_list(kit)
    yield "findings.csv", findings_list(kit)
    yield "assembly.glb", assembly_glb(kit)
    yield "kit.json", kit_json(kit)


def write_kit(
    kit: Kit, out: Path, *, replace: bool = False, progress: Callable[[str, int, int], None] | None = None
) -> Path:
    """Write the kit as a folder in `out` (made if it is not there) and return that folder.

    replace: an older kit of the same name gives way; anything that is not a kit, or holds files of other
    origin, never does. progress: called with "write", the count of files done, and of files in all.
    Every plate's file is read again and compared with its plate before the folder appears.
    Raises ExportError when it cannot be done; then all is as it was before.

    >>> import tempfile, tackwright
    >>> sheet = tackwright.Mesh.of([(0, 0, 0), (90, 0, 0), (90, 60, 0), (0, 60, 0)], [(0, 1, 2, 3)], name="lid")
    >>> kit = tackwright.make_kit(sheet, tackwright.Choices())
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     sorted(path.name for path in write_kit(kit, Path(folder)).iterdir())
    ['assembly.glb', 'cut_list.csv', 'findings.csv', 'kit.json', 'openings.csv', 'plates', 'weld_list.csv']
    """
    out = Path(out)
    folder = kit_folder(kit, out)
    clear_abandoned(folder)
    _check_place(folder, replace)
    with contextlib.ExitStack() as undo, contextlib.ExitStack() as done:
        try:
            _make_folders(out, undo)
            part = done.enter_context(working_folder(folder)) / "new"
            _fill(part, kit, progress)
            _check_place(folder, replace)            # someone may have been quicker
            _swap_in(part, folder)
        except ExportError:
            raise
        except OSError as error:
            raise _explained(error, folder) from error
        undo.pop_all()
    return folder


def _fill(part: Path, kit: Kit, progress: Callable[[str, int, int], None] | None) -> None:
    total = len(kit.plates) + len(_VIEWS)
    (part / "plates").mkdir(parents=True)
    broken = any(finding.level == "error" for finding in kit.checks)     # then it is written as it is, on request
    plates = dict(zip(plate_files(kit.plates, kit.settings), kit.plates, strict=True))
    for done, (name, content) in enumerate(kit_files(kit), start=1):
        (part / name).write_bytes(content)
        if name in plates:
            check_written(plates[name], name, (part / name).read_bytes(), sound=not broken)
        if progress is not None:
            progress("write", done, total)


def _swap_in(part: Path, folder: Path) -> None:
    """Put the finished folder in its place; what was there is kept until that has worked."""
    if not folder.exists():
        part.rename(folder)
        return
    old = part.with_name(folder.name)
    folder.rename(old)
    try:
        part.rename(folder)
    except BaseException:
        _put_back(old, folder)
        raise
    with contextlib.suppress(OSError):
        old.rename(part)                             # replaced: nobody is to put it back when it is half removed


def _put_back(old: Path, folder: Path) -> None:
    try:
        old.rename(folder)
    except OSError as error:
        raise ExportError(
            f"The new kit was not written, and the old one could not be put back as {folder.name}", where=str(old),
            do="It is whole: rename it by hand.",
        ) from error


def _check_place(folder: Path, replace: bool) -> None:
    """Raise ExportError unless `folder` is free, or holds a kit that may be replaced."""
    try:
        if not os.path.lexists(folder):
            return
        if folder.is_symlink() or not folder.is_dir():
            raise ExportError("A file or link is in the way", where=str(folder), do="Move it, or rename the kit.")
        if not replace:
            raise KitThereError(
                "A folder of this name is already there", where=str(folder), do="Replace it, or rename the kit.")
        record = _read_record(folder)
        if record is None:
            raise ExportError(
                "This folder is not a kit, so it is not replaced", where=str(folder), do="Move it, or rename the kit."
            )
        strangers = _strangers(folder, record)
        if strangers:
            raise ExportError(
                f"Files that no kit holds would be lost ({_some(strangers)})", where=str(folder),
                do="Move them out of the folder, then replace the kit.",
            )
    except ExportError:
        raise
    except OSError as error:
        raise _explained(error, folder) from error


def _read_record(folder: Path) -> Plain | None:
    """The kit.json of a kit folder, or None where there is none of ours."""
    try:
        record = json.loads((folder / "kit.json").read_bytes())
    except (FileNotFoundError, IsADirectoryError, ValueError, RecursionError):
        return None
    return record if isinstance(record, dict) and record.get("format") == FORMAT else None


def _strangers(folder: Path, record: Plain) -> list[str]:
    """Paths in a kit folder that its kit.json does not account for."""
    parts = [*_records(record, "plates"), *_records(record, "sheets")]
    known = {*_VIEWS, *(part["file"] for part in parts if isinstance(part.get("file"), str))}
    found = sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*") if not path.is_dir())
    return [path for path in found if path not in known and path.rpartition("/")[2] not in _LITTER]


def _records(record: Plain, key: str) -> list[Plain]:
    value = record.get(key)
    return [item for item in value if isinstance(item, dict)] if isinstance(value, list) else []


def _some(names: list[str]) -> str:
    more = len(names) - 3
    return ", ".join(names[:3]) + (f" and {more} more" if more > 0 else "")


def _make_folders(out: Path, undo: contextlib.ExitStack) -> None:
    """Make `out` and the folders above it that are missing; `undo` takes away those made here."""
    for folder in reversed([out, *out.parents]):
        if not folder.is_dir():
            folder.mkdir()
            undo.callback(_remove_empty, folder)


def _remove_empty(folder: Path) -> None:
    with contextlib.suppress(OSError):
        folder.rmdir()


def _explained(error: OSError, folder: Path) -> ExportError:
    what, do = _REASONS.get(error.errno or 0, (error.strerror or str(error), "Choose another folder."))
    return ExportError(f"The kit was not written: {what[0].lower()}{what[1:]}", where=str(folder), do=do)
