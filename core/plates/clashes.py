"""Which plates stand in each other's place.

Four sieves, each finer and dearer: bounding boxes; a plane that parts the two plates (proof that they do
not clash, from their corner points alone); where each stands in the other's sheet (`strips.py`, the same proof for
plates that interlock); the intersection of the two solids.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from manifold3d import Manifold
from numpy.typing import NDArray

from ..shapes.boxes import overlapping_boxes
from ..terms import tolerance
from .plates import Plate
from .solids import Solids
from .strips import parted_along_crossing

__all__ = ["Clash", "find_clashes", "near_pairs"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Clash:
    """Two plates (indices, the first less) and the solid they share. volume: mm3; at: its middle."""

    plates: tuple[int, int]
    volume: float
    at: tuple[float, float, float]
    solid: Manifold


@dataclass(frozen=True, slots=True, eq=False)
class _Points:
    """Corner points of all plates on their inner surface, plate after plate, and the way up through each."""

    points: Floats   # (k, 3)
    starts: Ints     # (p + 1,)
    up: Floats       # (p, 3) the outward normal times the thickness
    sides: Floats    # (k, 3) outward normal of the cut face that starts at the point


def _points_of(plates: Sequence[Plate]) -> _Points:
    flat = [plate.outline.outer.flatten() for plate in plates]
    counts = np.array([len(f) for f in flat])
    starts = np.concatenate([[0], np.cumsum(counts)])
    owner = np.repeat(np.arange(len(plates)), counts)
    axes = np.array([p.frame.axes for p in plates])
    origin = np.array([p.frame.origin + p.low * p.frame.axes[2] for p in plates])
    xy = np.concatenate(flat)
    after = np.arange(1, len(xy) + 1)
    after[starts[1:] - 1] = starts[:-1]
    run = xy[after] - xy
    out = np.column_stack([run[:, 1], -run[:, 0]])
    out /= np.maximum(np.linalg.norm(out, axis=1), tolerance.NONZERO)[:, None]
    thickness = np.array([p.thickness for p in plates])
    return _Points(
        np.einsum("ki,kij->kj", xy, axes[owner, :2]) + origin[owner],
        starts,
        axes[:, 2] * thickness[:, None],
        np.einsum("ki,kij->kj", out, axes[owner, :2]),
    )


def near_pairs(plates: Sequence[Plate], only: Sequence[int] | None = None) -> Ints:
    """(k, 2) pairs that nothing is found to part, first index less, sorted. only: pairs with one of these plates."""
    if len(plates) < 2:
        return np.empty((0, 2), dtype=np.int64)
    corners = _points_of(plates)
    low = np.minimum.reduceat(corners.points, corners.starts[:-1]) + np.minimum(corners.up, 0)
    high = np.maximum.reduceat(corners.points, corners.starts[:-1]) + np.maximum(corners.up, 0)
    pairs = overlapping_boxes(low, high)
    if only is not None:
        pairs = pairs[np.isin(pairs, np.asarray(only, dtype=np.int64)).any(axis=1)]
    middle = (low + high) / 2
    for column in (0, 1):
        pairs = pairs[~_parted(corners, pairs, corners.up[pairs[:, column]])]
    pairs = pairs[~_parted(corners, pairs, middle[pairs[:, 1]] - middle[pairs[:, 0]])]
    for first in (0, 1):
        pairs = _not_parted_by_cut_faces(corners, pairs, first)
    return np.asarray(pairs[~parted_along_crossing(plates, pairs)])


def _extent(corners: _Points, plates: Ints, axis: Floats) -> tuple[Floats, Floats]:
    """(k,) least and greatest of `axis` (k, 3) over the solids of `plates` (k,)."""
    counts = corners.starts[plates + 1] - corners.starts[plates]
    begin = np.concatenate([[0], np.cumsum(counts)])[:-1]
    rows = np.arange(counts.sum()) - np.repeat(begin, counts) + np.repeat(corners.starts[plates], counts)
    along = np.einsum("ki,ki->k", corners.points[rows], np.repeat(axis, counts, axis=0))
    rise = np.einsum("ki,ki->k", corners.up[plates], axis)
    return (np.minimum.reduceat(along, begin) + np.minimum(rise, 0),
            np.maximum.reduceat(along, begin) + np.maximum(rise, 0))


def _parted(corners: _Points, pairs: Ints, axis: Floats) -> NDArray[np.bool_]:
    """Which pairs lie on two sides of a plane square to `axis` (k, 3)."""
    if not len(pairs):
        return np.zeros(0, dtype=bool)
    size = np.linalg.norm(axis, axis=1)
    axis = axis / np.maximum(size, tolerance.NONZERO)[:, None]
    low1, high1 = _extent(corners, pairs[:, 0], axis)
    low2, high2 = _extent(corners, pairs[:, 1], axis)
    gap = np.maximum(low1 - high2, low2 - high1)
    return np.asarray((gap > -tolerance.TOUCH) & (size > 0))


def _not_parted_by_cut_faces(corners: _Points, pairs: Ints, first: int) -> Ints:
    """Pairs that none of one plate's cut faces parts."""
    if not len(pairs):
        return pairs
    plates = pairs[:, first]
    counts = corners.starts[plates + 1] - corners.starts[plates]
    few = counts <= 8                       # long outlines have tabs: their cut faces part nothing
    which = np.repeat(np.flatnonzero(few), counts[few])
    begin = np.concatenate([[0], np.cumsum(counts[few])])[:-1]
    rows = np.arange(counts[few].sum()) + np.repeat(corners.starts[plates[few]] - begin, counts[few])
    parted = np.zeros(len(pairs), dtype=bool)
    if len(rows):
        hit = _parted(corners, pairs[which], corners.sides[rows])
        np.logical_or.at(parted, which, hit)
    return pairs[~parted]


def find_clashes(
    plates: Sequence[Plate],
    solids: Solids,
    pairs: Ints,
    progress: Callable[[int, int], None] | None = None,
) -> tuple[Clash, ...]:
    """The clashes among `pairs` (k, 2), largest first."""
    found: list[Clash] = []
    for done, (i, j) in enumerate(pairs.tolist()):
        if progress is not None and done % 64 == 0:
            progress(done, len(pairs))
        shared = solids[i] ^ solids[j]
        volume = shared.volume()
        if volume > tolerance.CLASH / 10:
            box = shared.bounding_box()
            at = tuple(float((a + b) / 2) for a, b in zip(box[:3], box[3:], strict=True))
            found.append(Clash(plates=(i, j), volume=volume, at=(at[0], at[1], at[2]), solid=shared))
    return tuple(sorted(found, key=lambda c: (-round(c.volume, 6), c.plates)))
