"""Which plates stand at the edges of each distinct plate, over all its copies."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from ..inner.tee_tabs import Tee
from ..plates.joints import Joints
from ..plates.moved_edges import Moved, Sides
from ..plates.plates import Plate, places_of
from ..shapes.motions import undone
from .kit import Border
from .marks import Marked

__all__ = ["borders_of"]

Floats = NDArray[np.float64]


def borders_of(
    marked: Sequence[Marked], plates: Sequence[Plate], joints: Joints, sides: Sides, moved: Moved,
    tees: Sequence[Tee] = (),
) -> list[tuple[Border, ...]]:
    """The borders of every distinct plate, in the order of `marked`. Copies may have unlike neighbours at the
    same edge: then the border names them all."""
    mark_of = np.empty(len(plates), dtype=np.int64)
    place = np.empty((len(plates), 4, 4))
    for number, mark in enumerate(marked):
        for index, matrix in mark.members:
            mark_of[index], place[index] = number, matrix
    rows = np.flatnonzero(~moved.gone & ~joints.free[sides.edge])
    panel = np.concatenate([sides.panel[rows], np.array([t.plate for t in tees], dtype=np.int64)])
    beside = np.concatenate([joints.panels[sides.edge[rows], 1 - sides.column[rows]],
                             np.array([t.wall for t in tees], dtype=np.int64)])
    starts = np.concatenate([moved.start[rows], np.array([t.start for t in tees]).reshape(-1, 2)])
    ends = np.concatenate([moved.end[rows], np.array([t.end for t in tees]).reshape(-1, 2)])
    order = np.argsort(mark_of[panel], kind="stable")
    panel, beside, starts, ends = panel[order], beside[order], starts[order], ends[order]
    into = (undone(place) @ places_of(plates))[panel]

    def drawn(points: Floats) -> Floats:
        return np.asarray(np.einsum("kij,kj->ki", into[:, :2, :2], points) + into[:, :2, 3])

    lines = np.stack([drawn(starts), drawn(ends)], axis=1)
    other = mark_of[beside]
    bounds = np.searchsorted(mark_of[panel], np.arange(len(marked) + 1))
    out: list[tuple[Border, ...]] = []
    for number, mark in enumerate(marked):
        part = slice(bounds[number], bounds[number + 1])
        first = lines[part][panel[part] == mark.members[0][0]]
        middles = lines[part].mean(axis=1)
        nearest = np.abs(middles[:, None] - first.mean(axis=1)[None]).sum(axis=2).argmin(axis=1) if len(first) else []
        names: list[set[str]] = [set() for _ in first]
        for slot, neighbour in zip(nearest, other[part].tolist(), strict=True):
            names[slot].add(marked[neighbour].mark)
        out.append(tuple(Border(line=line, neighbours=tuple(sorted(found)))
                         for line, found in zip(first, names, strict=True)))
    return out
