"""Scans that were read and sorted, kept by session_uid as long as something needs them: sorting millions of triangles
takes a second, off the main thread."""

from __future__ import annotations

from collections.abc import Container
from dataclasses import dataclass
from typing import TYPE_CHECKING

import bpy
import numpy as np
from numpy.typing import NDArray

from ...core.terms.errors import InputError
from ..gather.scan_mesh import Stamp, read_scan, stamp_of
from ..host.background import StoppedError, Work

if TYPE_CHECKING:
    from ...core.scan.scan_index import ScanIndex

__all__ = [
    "SortedScan", "any_scan", "forget_scans", "forget_unneeded_scans", "kept_scans", "sort_scan", "sorted_scan",
    "sorting",
]  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SortedScan:
    """stamp: of the scan as it was read. faces: the face of the object's own mesh of each of its triangles, None where
    modifiers made them."""

    stamp: Stamp
    index: ScanIndex
    faces: NDArray[np.int32] | None


_sorted: dict[int, SortedScan] = {}
_sorting: dict[int, tuple[Stamp, NDArray[np.int32] | None, Work[ScanIndex]]] = {}


def sorted_scan(context: bpy.types.Context, scan: bpy.types.Object | None) -> SortedScan | None:
    """The scan as it is now, where it was sorted since it changed last."""
    kept = _sorted.get(scan.session_uid) if scan is not None else None
    return kept if kept is not None and kept.stamp == stamp_of(context, scan) else None


def kept_scans() -> dict[int, SortedScan]:
    """All that were sorted, by session_uid, also those that changed since."""
    return dict(_sorted)


def sorting(scan: bpy.types.Object | None) -> float | None:
    """How much of the sorting is done, 0 to 1; None where none is under way."""
    under_way = _sorting.get(scan.session_uid) if scan is not None else None
    return under_way[2].share if under_way is not None else None


def sort_scan(context: bpy.types.Context, scan: bpy.types.Object) -> None:
    """Take one step towards the scan as it is now. Without a window the step is the whole way.

    Raises InputError for a scan that cannot be read, StoppedError where the sorting was stopped.
    """
    uid, stamp = scan.session_uid, stamp_of(context, scan)
    under_way = _sorting.get(uid)
    if under_way is not None and under_way[0] != stamp:
        under_way[2].cancel()
        under_way = None
    if under_way is None:
        read = read_scan(context, scan)
        under_way = _sorting[uid] = (stamp, read.faces, Work(read.sorted))
    if bpy.app.background:
        under_way[2].wait()
    if not under_way[2].done:
        return
    del _sorting[uid]
    try:
        _sorted[uid] = SortedScan(stamp=stamp, index=under_way[2].result(), faces=under_way[1])
    except (StoppedError, InputError):
        raise
    except Exception as error:  # too little memory, above all, which says nothing but its name
        raise InputError(f"The scan could not be read: {str(error) or type(error).__name__}") from error


def any_scan() -> bool:
    """Whether one is kept, or being sorted."""
    return bool(_sorted or _sorting)


def forget_unneeded_scans(needed: Container[int]) -> None:
    """Drop all but those, by session_uid."""
    for uid in [uid for uid in _sorting if uid not in needed]:
        _sorting.pop(uid)[2].cancel()
    for uid in [uid for uid in _sorted if uid not in needed]:
        del _sorted[uid]


def forget_scans() -> None:
    """Drop all."""
    forget_unneeded_scans(())
