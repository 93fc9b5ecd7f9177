"""The straight edges between panels, and the rings of corners that go round each panel.

The sides between the same two panels are strung into chains; a chain is cut into straight runs, and each
run is one edge. Both panels of an edge read the same run, so they keep the same end points.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ..shapes.connectivity import components, next_in_rows, numbered, previous_in_rows, rows_from_lowest
from ..terms import tolerance
from .surface import Surface
from .topology import FREE

__all__ = ["Borders", "Rings", "corners_of", "trace_borders"]

Index = NDArray[np.int64]
Reals = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rings:
    """Closed ways round panels, the panel on the left, one after another. panels: (r,) whose each is.
    corners: (k,) points; edges: (k,) the edge from each corner to the next; starts: (r + 1,) where each ring
    begins among them. A ring begins at its lowest point."""

    panels: Index
    starts: Index
    corners: Index
    edges: Index


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Borders:
    """panels: (e, 2) the panels of each edge, ascending, the second FREE at a free edge. ends: (e, 2) start
    and end point in the direction of the first panel's ring. run: (k,) the edge that each side of the
    surface lies on, FREE inside a panel."""

    panels: Index
    ends: Index
    run: Index
    rings: Rings


def trace_borders(surface: Surface, mates: Index, label: Index) -> Borders:
    """Edges and rings of the panels; label: (f,) the panel of each face."""
    here = label[surface.owner]
    there = np.where(mates == FREE, FREE, here[mates])
    run, count = _straight_runs(surface, mates, here, there)
    rings = _rings(surface, mates, here, there, run)
    panel = np.repeat(rings.panels, np.diff(rings.starts))
    ends = np.stack([rings.corners, rings.corners[next_in_rows(rings.starts)]], axis=1)
    order = np.lexsort((panel, rings.edges))
    edges, first, uses = np.unique(rings.edges[order], return_index=True, return_counts=True)
    assert len(edges) == count and uses.max() <= 2, "each run lies on one ring or two"
    panels = np.full((count, 2), FREE, dtype=np.int64)
    panels[:, 0] = panel[order[first]]
    panels[uses == 2, 1] = panel[order[first[uses == 2] + 1]]
    ends = ends[order[first]]
    order = np.lexsort((ends[:, 1], ends[:, 0], panels[:, 1], panels[:, 0]))
    rank = np.empty_like(order)
    rank[order] = np.arange(count)
    return Borders(
        panels=panels[order],
        ends=ends[order],
        run=np.where(run == FREE, FREE, rank[run]),
        rings=replace(rings, edges=rank[rings.edges]),
    )


def _straight_runs(surface: Surface, mates: Index, here: Index, there: Index) -> tuple[Index, int]:
    """(k,) the straight run that each side between panels lies on, mates on the same; and how many."""
    border = here != there
    one = np.flatnonzero(border & ((mates == FREE) | (mates > np.arange(len(mates)))))
    start, end = surface.corners[one], surface.ends[one]
    pair = np.minimum(here[one], there[one]) * (int(here.max()) + 2) + np.maximum(here[one], there[one])
    # A point that two sides of one pair of panels pass through, and no other, may lie inside a run.
    points = np.concatenate([start, end])
    which = np.tile(np.arange(len(one)), 2)
    order = np.argsort(points, kind="stable")
    heads = np.flatnonzero(np.concatenate([[True], np.diff(points[order]) != 0]))
    twice = heads[np.diff(np.append(heads, len(points))) == 2]
    a, b = which[order[twice]], which[order[twice + 1]]
    through = (pair[a] == pair[b]) & (a != b)
    chain = components(len(one), a[through], b[through])
    label = np.arange(len(one))
    sizes = np.bincount(chain, minlength=len(one))
    members = np.argsort(chain, kind="stable")
    first = np.concatenate([[0], np.cumsum(sizes)])
    for long in np.flatnonzero(sizes > 1):
        sides = members[first[long] : first[long + 1]]
        way, passed = _strung(start[sides], end[sides])
        cuts = corners_of(surface.points[passed])
        label[sides[way]] = sides[way[cuts]][np.searchsorted(cuts, np.arange(len(way)), side="right") - 1]
    label, count = numbered(label)
    run = np.full(len(mates), FREE, dtype=np.int64)
    run[one] = label
    shared = mates[one] != FREE
    run[mates[one[shared]]] = label[shared]
    return run, count


def _strung(start: Index, end: Index) -> tuple[Index, Index]:
    """The order in which sides follow each other along their chain, and the points it passes, one more than
    sides; a closed chain ends on the point it starts from."""
    at: dict[int, list[int]] = {}
    for side, (a, b) in enumerate(zip(start.tolist(), end.tolist(), strict=True)):
        at.setdefault(a, []).append(side)
        at.setdefault(b, []).append(side)
    tips = [point for point, sides in at.items() if len(sides) == 1]
    point = min(tips) if tips else min(at)
    way: list[int] = []
    points = [point]
    side = min(at[point])
    while len(way) < len(start):
        way.append(side)
        point = int(end[side]) if int(start[side]) == point else int(start[side])
        points.append(point)
        side = next((s for s in at[point] if s != side), side)
    return np.array(way), np.array(points)


def corners_of(points: Reals) -> Index:
    """Places at which a chain of points turns, beginning with 0 or, in a closed chain, with its first true
    corner: ascending, the last point left out. No point of a run lies STRAIGHT or more off its line."""
    last = len(points) - 1
    if not np.array_equal(points[0], points[-1]):
        return np.sort(np.array(_run_starts(points, 0, last)))
    far = int(np.argmax(np.linalg.norm(points[:-1] - points[:-1].mean(axis=0), axis=1)))
    turned = np.concatenate([points[far:-1], points[: far + 1]])
    middle = int(np.argmax(np.linalg.norm(turned - turned[0], axis=1)))
    return np.sort((np.array(_run_starts(turned, 0, middle) + _run_starts(turned, middle, last)) + far) % last)


def _run_starts(points: Reals, low: int, high: int) -> list[int]:
    """Where the runs of a chain begin, from place `low` on: split at the farthest point until all is straight.

    Source: Douglas and Peucker, 1973 (from memory).
    """
    begins, todo = [], [(low, high)]
    while todo:
        a, b = todo.pop()
        along = points[b] - points[a]
        length = float(np.linalg.norm(along))
        inside = points[a + 1 : b] - points[a]
        if len(inside) and length > 0:
            at = np.clip(inside @ along / length, 0.0, length)
            inside = inside - at[:, None] * along / length
        off = np.linalg.norm(inside, axis=1)
        if len(off) and off.max() >= tolerance.STRAIGHT:
            split = a + 1 + int(np.argmax(off))
            todo += [(split, b), (a, split)]
        else:
            begins.append(a)
    return begins


def _rings(surface: Surface, mates: Index, here: Index, there: Index, run: Index) -> Rings:
    """Rings of all panels: of the sides along a ring those stay at which another edge begins."""
    ways, starts = _ways_round(surface, mates, here, there)
    edges = run[ways]
    begins = edges != edges[previous_in_rows(starts)]
    begins[starts[:-1][~np.logical_or.reduceat(begins, starts[:-1])]] = True    # a ring of one edge: refused later
    counts = np.add.reduceat(begins.astype(np.int64), starts[:-1])
    panels = here[ways[starts[:-1]]]
    ways, starts = ways[begins], np.concatenate([[0], np.cumsum(counts)])
    turned = rows_from_lowest(surface.corners[ways], starts)
    return Rings(panels=panels, starts=starts, corners=surface.corners[ways[turned]], edges=run[ways[turned]])


def _ways_round(surface: Surface, mates: Index, here: Index, there: Index) -> tuple[Index, Index]:
    """All sides at the border of a panel, in closed ways round it, and where each way begins.

    Where a way passes one point twice it is parted there, so that a hole that touches the outside by a
    point is a hole.
    """
    border = np.flatnonzero(here != there)
    following = surface.following
    after = following.copy()
    turning = border
    while len(turning):                                    # round the fan of faces at the point, inside the panel
        turning = turning[here[after[turning]] == there[after[turning]]]
        after[turning] = following[mates[after[turning]]]
    ahead, start = after.tolist(), surface.corners.tolist()
    ways: list[int] = []
    starts = [0]
    visited = bytearray(len(ahead))
    for first in border.tolist():
        way: list[int] = []
        place_of: dict[int, int] = {}
        side = first
        while not visited[side]:
            visited[side] = 1
            point = start[side]
            if point in place_of:
                cut = place_of[point]
                ways += way[cut:]
                starts.append(len(ways))
                for gone in way[cut:]:
                    del place_of[start[gone]]
                del way[cut:]
            place_of[point] = len(way)
            way.append(side)
            side = ahead[side]
        if way:
            ways += way
            starts.append(len(ways))
    return np.array(ways, dtype=np.int64), np.array(starts, dtype=np.int64)
