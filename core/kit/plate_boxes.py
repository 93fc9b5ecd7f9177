"""Plates as boxes that move: enough to tell which of them would run into each other on the way, for many at once."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..shapes.boxes import overlapping_boxes

__all__ = ["PlateBoxes", "meeting_pairs", "parting"]

Floats = NDArray[np.float64]
Index = NDArray[np.int64]

_PARALLEL = 1e-6
"""Sine below which two edges of boxes give no axis of their own: the faces' axes tell all there is."""

_ALIKE = 1e-3
"""mm: axes that part two boxes by as much as the best one, within this, count alike."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlateBoxes:
    """centres: (n, 3) mm. axes: (n, 3, 3), rows the directions of a box: its length, its width, its thickness.
    halves: (n, 3) half its size along them, mm."""

    centres: Floats
    axes: Floats
    halves: Floats

    def shrunk(self, by: float) -> PlateBoxes:
        """The bodies: smaller by `by` at each side of the plate, though never by more than a fifth of its size, and
        by a tenth of the thickness in all."""
        flat = np.maximum(self.halves[:, :2] - by, 0.6 * self.halves[:, :2])
        return PlateBoxes(centres=self.centres, axes=self.axes, halves=np.column_stack([flat, 0.9 * self.halves[:, 2]]))


def meeting_pairs(boxes: PlateBoxes, stops: Floats) -> Index:
    """(m, 2) pairs i < j of boxes that share space somewhere on their way.

    stops: (k, n, 3) mm, how far every box has been moved at each of k moments; between them all move evenly. Exact:
    two boxes meet when their shadows overlap on all fifteen axes at one time.
    """
    reach = np.einsum("nik,ni->nk", np.abs(boxes.axes), boxes.halves)
    places = boxes.centres + stops
    pairs = overlapping_boxes((places - reach).min(axis=0), (places + reach).max(axis=0))
    axes, room = _axes(boxes, pairs)
    found = np.zeros(len(pairs), dtype=bool)
    for here, there in itertools.pairwise(places):
        begin, end = (
            np.einsum("mak,mk->ma", axes, place[pairs[:, 0]] - place[pairs[:, 1]]) for place in (here, there))
        enter, leave = _overlap(begin, end - begin, room)
        found |= enter.max(axis=1, initial=0.0) < leave.min(axis=1, initial=1.0)
    return np.asarray(pairs[found])


def parting(boxes: PlateBoxes, pairs: Index) -> tuple[Floats, Floats]:
    """(m, 3) directions from the second of each pair to the first that part them best as they stand, and (m,) by
    how much, mm; negative where the boxes overlap, -inf where nothing tells a way.

    Where several axes part them as well, their mean does.
    """
    axes, room = _axes(boxes, pairs)
    apart = np.einsum("mak,mk->ma", axes, boxes.centres[pairs[:, 0]] - boxes.centres[pairs[:, 1]])
    gap = np.abs(apart) - room
    alike = gap >= gap.max(axis=1, keepdims=True) - _ALIKE
    one_each = alike & ~_seen_before(axes, alike)
    way = np.einsum("ma,mak->mk", np.where(one_each, np.sign(apart), 0.0), axes)
    size = np.linalg.norm(way, axis=1)
    way = way / np.maximum(size, np.finfo(np.float64).tiny)[:, None]
    between = np.einsum("mk,mk->m", way, boxes.centres[pairs[:, 0]] - boxes.centres[pairs[:, 1]])
    radius = sum(
        np.einsum("mi,mi->m", np.abs(np.einsum("mik,mk->mi", boxes.axes[side], way)), boxes.halves[side])
        for side in (pairs[:, 0], pairs[:, 1]))
    return way, np.where(size > _PARALLEL, between - radius, -np.inf)


def _axes(boxes: PlateBoxes, pairs: Index) -> tuple[Floats, Floats]:
    """(m, 15, 3) axes to be tried for each pair and (m, 15) how far apart the centres must be on each, mm. Axes that
    do not exist are zero and cannot part anything."""
    one, two = boxes.axes[pairs[:, 0]], boxes.axes[pairs[:, 1]]
    across = np.cross(one[:, :, None], two[:, None]).reshape(-1, 9, 3)
    size = np.linalg.norm(across, axis=2, keepdims=True)
    across = np.where(size > _PARALLEL, across / np.maximum(size, _PARALLEL), 0.0)
    axes = np.concatenate([one, two, across], axis=1)
    room = sum(
        np.einsum("mai,mi->ma", np.abs(np.einsum("mak,mik->mai", axes, own)), boxes.halves[side])
        for own, side in ((one, pairs[:, 0]), (two, pairs[:, 1])))
    return axes, np.where(axes.any(axis=2), room, np.inf)


def _overlap(begin: Floats, change: Floats, room: Floats) -> tuple[Floats, Floats]:
    """When |begin + change t| < room: entering and leaving, t from 0 to 1; entering after leaving where never."""
    moving = np.abs(change) > np.finfo(np.float64).tiny
    pace = np.where(moving, change, 1.0)
    with np.errstate(over="ignore"):
        one, two = (-room - begin) / pace, (room - begin) / pace
    still = np.abs(begin) < room
    enter = np.where(moving, np.minimum(one, two), np.where(still, 0.0, 1.0))
    leave = np.where(moving, np.maximum(one, two), np.where(still, 1.0, 0.0))
    return enter, leave


def _seen_before(axes: Floats, chosen: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """(m, 15) whether an earlier chosen axis of the same pair runs the same way or against it."""
    same = np.abs(np.einsum("mak,mbk->mab", axes, axes)) > 1.0 - _PARALLEL
    return np.asarray((np.tril(same, -1) & chosen[:, None, :]).any(axis=2))
