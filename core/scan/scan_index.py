"""A scan of millions of triangles, sorted so that what is near a body is found at once."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from ..terms import tolerance
from ..terms.errors import InputError
from ..terms.progress import Progress

__all__ = ["ScanIndex", "index_scan"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

BLOCK: Final = 64
"""Triangles in a block: few enough to be tried one by one, enough that the balls round three million triangles' blocks
are a few ten thousand."""
CHUNK: Final = 1 << 18
"""Triangles handled at once while the index is built: some 50 MB of passing arrays."""
BITS: Final = 10
"""Per axis, of the place that a triangle is sorted by."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ScanIndex:
    """points: (p, 3) float32 mm from `origin`. triangles: (n, 3) int32 corners, sorted so that near ones are together.
    order: (n,) int32 the number each has in the scan. Block b holds triangles b * BLOCK and after; group g the
    blocks g * BLOCK and after: balls (centre, radius) float64 hold all their points."""

    origin: Floats
    points: NDArray[np.float32]
    triangles: NDArray[np.int32]
    order: NDArray[np.int32]
    block_centres: Floats
    block_radii: Floats
    group_centres: Floats
    group_radii: Floats

    def __len__(self) -> int:
        return len(self.triangles)

    def corners(self, rows: Ints) -> Floats:
        """(k, 3, 3) corners of triangles by their place in the index, mm from `origin`."""
        return np.asarray(self.points[self.triangles[rows]].astype(np.float64))

    def rows_of_blocks(self, blocks: Ints) -> Ints:
        """The triangles of some blocks, one after another."""
        rows = (blocks[:, None] * BLOCK + np.arange(BLOCK)).ravel()
        return np.asarray(rows[rows < len(self.triangles)])


def index_scan(
    points: NDArray[np.floating[Any]], triangles: NDArray[np.integer[Any]], progress: Progress | None = None
) -> ScanIndex:
    """Sort a scan. points: (p, 3) mm; triangles: (n, 3). Triangles with a point that is no number are left out.

    Raises InputError for a scan without triangles. progress: see progress.py; what it raises ends the work.
    """
    say = progress or (lambda stage, done, total: None)
    say("read the scan", 0, 4)
    finite = np.isfinite(points).all(axis=1)
    kept = np.flatnonzero(finite[triangles].all(axis=1)).astype(np.int32)
    if not len(kept):
        raise InputError("The scan has no triangles", do="Use a mesh with faces; points alone have no surface.")
    chosen = np.asarray(triangles, dtype=np.int32)[kept]
    used = points[finite]
    origin = np.round(used.mean(axis=0, dtype=np.float64))
    near = (np.where(finite[:, None], points, 0.0) - origin).astype(np.float32)
    low, high = near[finite].min(axis=0), near[finite].max(axis=0)
    say("sort the scan", 1, 4)
    keys = np.empty(len(chosen), dtype=np.uint32)
    for part in _chunks(len(chosen)):
        keys[part] = _curve(near[chosen[part]].mean(axis=1), low, high)
    along = np.argsort(keys, kind="stable")
    chosen, kept = chosen[along], kept[along]
    say("group the scan", 2, 4)
    blocks = _balls(near, chosen)
    say("group the scan", 3, 4)
    groups = _balls_of_balls(*blocks)
    for array in (near, chosen, kept):
        array.setflags(write=False)
    return ScanIndex(
        origin=origin, points=near, triangles=chosen, order=kept, block_centres=blocks[0], block_radii=blocks[1],
        group_centres=groups[0], group_radii=groups[1])


def _chunks(count: int) -> Iterator[slice]:
    for start in range(0, count, CHUNK):
        yield slice(start, min(start + CHUNK, count))


def _curve(places: NDArray[np.float32], low: NDArray[np.float32], high: NDArray[np.float32]) -> NDArray[np.uint32]:
    """Where places are along a curve that fills space (G. M. Morton, 1966): near ones come near each other."""
    most = float((1 << BITS) - 1)
    scaled = (places - low) / np.maximum(high - low, np.float32(tolerance.ROUNDING)) * np.float32(most)
    cells = np.clip(scaled, 0, most).astype(np.uint32)
    key = np.zeros(len(places), dtype=np.uint32)
    for axis in range(3):
        part = cells[:, axis]
        for shift, mask in ((16, 0x030000FF), (8, 0x0300F00F), (4, 0x030C30C3), (2, 0x09249249)):
            part = (part | (part << np.uint32(shift))) & np.uint32(mask)
        key |= part << np.uint32(axis)
    return key


def _balls(points: NDArray[np.float32], triangles: NDArray[np.int32]) -> tuple[Floats, Floats]:
    """A ball round every block of triangles: (b, 3) centres and (b,) radii."""
    centres, radii = [], []
    for part in _chunks(len(triangles)):
        corners = points[triangles[part]].astype(np.float64)
        starts = np.arange(0, len(corners), BLOCK)
        low = np.minimum.reduceat(corners.min(axis=1), starts)
        high = np.maximum.reduceat(corners.max(axis=1), starts)
        middle = (low + high) / 2
        reach = np.linalg.norm(corners - np.repeat(middle, BLOCK, axis=0)[: len(corners), None], axis=2).max(axis=1)
        centres.append(middle)
        radii.append(np.maximum.reduceat(reach, starts))
    return np.concatenate(centres), np.concatenate(radii)


def _balls_of_balls(centres: Floats, radii: Floats) -> tuple[Floats, Floats]:
    starts = np.arange(0, len(centres), BLOCK)
    low = np.minimum.reduceat(centres - radii[:, None], starts)
    high = np.maximum.reduceat(centres + radii[:, None], starts)
    middle = (low + high) / 2
    reach = np.linalg.norm(centres - np.repeat(middle, BLOCK, axis=0)[: len(centres)], axis=1) + radii
    return middle, np.maximum.reduceat(reach, starts)
