"""A hidden folder beside one that is to appear whole: held by its writer's lock, and cleared once nobody holds it.

The system lets a lock go when the process that holds it ends, however it ends. So a working folder whose lock is free
is one that nobody writes in any more. It holds the lock, what is being made, and for the length of two renames the
earlier folder, under its own name.
"""

from __future__ import annotations

import contextlib
import errno
import glob
import itertools
import os
import shutil
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Final

__all__ = ["ABANDONED", "clear_abandoned", "working_folder"]

ABANDONED: Final = 3600.0
"""s: where there is no lock to ask (a disk on the network, a folder of an older version), nothing was written for so
long: whoever began it is gone. A kit's files are written within seconds of each other."""

_LOCK: Final = "lock"
_HELD: Final = {errno.EAGAIN, errno.EACCES}
"""What a lock that somebody holds answers: flock(2) the first, Windows the second. All else: no locks here."""

if sys.platform == "win32":
    import msvcrt

    def lock(file: int) -> None:
        """Lock an open file for this process, or raise OSError at once."""
        msvcrt.locking(file, msvcrt.LK_NBLCK, 1)
else:
    import fcntl

    def lock(file: int) -> None:
        """Lock an open file for this process, or raise OSError at once."""
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)


@contextlib.contextmanager
def working_folder(folder: Path) -> Iterator[Path]:
    """A new working folder beside `folder`; it goes with the context, unless it holds the only copy of `folder`."""
    work, file = _begin(folder)
    try:
        yield work
    finally:
        _take_away(work, file, folder)


def clear_abandoned(folder: Path) -> None:
    """Take away the working folders that exports left which were killed, and put back the folder that one of them had
    already taken from its place."""
    with contextlib.suppress(OSError):
        for found in sorted(folder.parent.glob(f".{glob.escape(folder.name)}.part[0-9]*")):
            _clear(found, folder, put_back=True)
        for found in sorted(folder.parent.glob(f".{glob.escape(folder.name)}.old[0-9]*")):
            _clear(found, folder, put_back=False)            # of an older version: what is in it may be in pieces


def _begin(folder: Path) -> tuple[Path, int]:
    """A new working folder and its open lock."""
    for turn in itertools.count(1):
        work = folder.with_name(f".{folder.name}.part{turn}")
        try:
            work.mkdir()
        except FileExistsError:
            continue
        try:
            file = os.open(work / _LOCK, os.O_RDWR | os.O_CREAT | os.O_EXCL, 0o666)
        except FileNotFoundError:
            continue                                 # somebody cleared it, for it was empty
        except OSError:
            work.rmdir()
            raise
        with contextlib.suppress(FileNotFoundError):
            if _locked(file) is not False and os.path.samestat(os.fstat(file), os.stat(work / _LOCK)):
                return work, file
        os.close(file)                               # it is being cleared, for its lock was still free
    raise AssertionError("counting has no end")


def _locked(file: int) -> bool | None:
    """Whether the lock is ours now: False where another has it, None where there are no locks."""
    try:
        lock(file)
    except OSError as error:
        return False if error.errno in _HELD else None
    return True


def _clear(found: Path, folder: Path, *, put_back: bool) -> None:
    """Take away one working folder if nobody is at it."""
    if found.is_symlink() or not found.is_dir():
        return
    with contextlib.suppress(OSError):
        found.rmdir()                                # empty: its export had not begun, and takes another name
        return
    file: int | None = None
    try:
        file = os.open(found / _LOCK, os.O_RDWR)
        free = _locked(file)
    except FileNotFoundError:
        free = None
    except OSError:
        free = False                                 # another user's
    if free is None:
        newest = max((path.stat().st_mtime for path in (found, *found.rglob("*"))), default=time.time())
        free = time.time() - newest > ABANDONED
    if not free:
        if file is not None:
            os.close(file)
        return
    if put_back and not os.path.lexists(folder):
        with contextlib.suppress(OSError):
            (found / folder.name).rename(folder)
    _take_away(found, file, folder)


def _take_away(work: Path, file: int | None, folder: Path) -> None:
    """Remove a working folder whose lock, `file`, is ours, unless it holds the only copy of `folder`. The lock goes
    last, so that nobody takes the folder for free meanwhile."""
    keep = (work / folder.name).exists() and not folder.exists()
    with contextlib.suppress(OSError):
        for path in () if keep else sorted(work.iterdir()):
            if path.is_dir() and not path.is_symlink():
                shutil.rmtree(path, ignore_errors=True)
            elif path.name != _LOCK:
                path.unlink()
    for let_go in (False, True):                     # Windows removes a file once it is closed, others before as well
        if let_go and file is not None:
            os.close(file)
        with contextlib.suppress(OSError):
            if not keep:
                (work / _LOCK).unlink()
    with contextlib.suppress(OSError):
        work.rmdir()
