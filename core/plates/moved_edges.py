"""Moving every edge of every panel by its own setback, so that neighbours meet again.

All panels are done at once: a `Sides` holds one row for every side of every ring. A side moves parallel to
itself along `into`; the corner between two sides is where their moved lines meet again (`shapes/mitre.py`).
Sides that their neighbours swallow are taken out in the order in which they vanish, as in a wavefront.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..envelope.envelope import Envelope
from ..shapes.connectivity import next_in_rows, previous_in_rows
from ..shapes.mitre import Lines, met
from ..terms import tolerance

__all__ = ["Moved", "Sides", "move_sides", "side_corners", "sides_of"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sides:
    """One row for every side of every panel ring, ring after ring.

    panel, ring, edge: (s,) indices. column: (s,) which of the edge's panels this is. before, after: (s,)
    the neighbouring sides in the ring. at: (s, 2) point of the edge's axis at its start, in the panel's
    plane. along: (s, 2) unit, in ring direction. into: (s, 2) unit, to the panel's inside. corner: (s, 2)
    where the side starts, as drawn. axis: (m, 2, 3) origin and unit direction of every edge.
    ring_starts: (r + 1,) first row of every ring.
    """

    panel: Ints
    ring: Ints
    edge: Ints
    column: Ints
    before: Ints
    after: Ints
    at: Floats
    along: Floats
    into: Floats
    corner: Floats
    axis: Floats
    ring_starts: Ints

    def of_edges(self) -> Ints:
        """(m, 2) the row of every edge's side on each of its two panels, -1 where there is none."""
        rows = np.full((len(self.axis), 2), -1, dtype=np.int64)
        rows[self.edge, self.column] = np.arange(len(self.edge))
        return rows

    def moved(self, rows: Ints, setback: Floats) -> Lines:
        """The lines of some sides, each moved in by its `setback`."""
        return Lines(self.at[rows], self.along[rows], self.into[rows], setback)

    def measure(self, points: Floats) -> Floats:
        """(s,) where points (one a side) lie along their edge's axis, mm from its start."""
        direction = np.where(self.column == 0, 1.0, -1.0)
        return np.asarray(((points - self.at) * self.along).sum(axis=1) * direction)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Moved:
    """Every side after the move. start, end: (s, 2). gone: (s,) swallowed by its neighbours (its start and
    end are then both the point where those meet). vanished: (r,) rings of which nothing is left."""

    start: Floats
    end: Floats
    gone: NDArray[np.bool_]
    vanished: NDArray[np.bool_]


def sides_of(envelope: Envelope) -> Sides:
    """The sides of all panels. An edge's axis is the exact crossing of its two panels' planes."""
    rings = [(p, r) for p, panel in enumerate(envelope.panels) for r in range(len(panel.rings))]
    counts = np.array([len(envelope.panels[p].rings[r]) for p, r in rings], dtype=np.int64)
    starts = np.concatenate([[0], np.cumsum(counts)])
    panel = np.repeat([p for p, _ in rings], counts)
    corners = np.concatenate([envelope.panels[p].rings[r] for p, r in rings])
    edge = np.concatenate([envelope.panels[p].edges[r] for p, r in rings])
    after, before = next_in_rows(starts), previous_in_rows(starts)
    pair = np.array([(*e.panels, -1)[:2] for e in envelope.edges], dtype=np.int64)
    column = np.where(pair[edge, 0] == panel, 0, 1)
    axis = _axes(envelope, pair)
    frames = np.array([p.frame.axes for p in envelope.panels])[panel]
    origin = np.array([p.frame.origin for p in envelope.panels])[panel]
    direction = np.where(column == 0, 1.0, -1.0)[:, None] * axis[edge, 1]
    along = np.einsum("sij,sj->si", frames[:, :2], direction)
    along /= np.linalg.norm(along, axis=1)[:, None]
    return Sides(
        panel=panel, ring=np.repeat(np.arange(len(rings)), counts), edge=edge, column=column,
        before=before, after=after,
        at=np.einsum("sij,sj->si", frames[:, :2], axis[edge, 0] - origin),
        along=along, into=np.column_stack([-along[:, 1], along[:, 0]]),
        corner=np.einsum("sij,sj->si", frames[:, :2], envelope.points[corners] - origin),
        axis=axis, ring_starts=starts,
    )


def _axes(envelope: Envelope, pair: Ints) -> Floats:
    """(m, 2, 3) origin and direction of every edge; a free edge or a butt is taken as drawn."""
    ends = envelope.points[np.array([(e.start, e.end) for e in envelope.edges], dtype=np.int64)]
    drawn = ends[:, 1] - ends[:, 0]
    drawn /= np.linalg.norm(drawn, axis=1)[:, None]
    normal = np.array([p.frame.axes[2] for p in envelope.panels])
    offset = np.einsum("pi,pi->p", normal, np.array([p.frame.origin for p in envelope.panels]))
    n1, n2 = normal[pair[:, 0]], normal[pair[:, 1]]
    line = np.cross(n1, n2)
    sine = np.linalg.norm(line, axis=1)
    good = (pair[:, 1] >= 0) & (sine > np.sin(np.radians(tolerance.BUTT_ANGLE)))
    sine = np.where(good, sine, 1.0)
    line = line / sine[:, None]
    line *= np.where((line * drawn).sum(axis=1) < 0, -1.0, 1.0)[:, None]
    # the drawn start moved square to the line onto both planes
    h1 = offset[pair[:, 0]] - (n1 * ends[:, 0]).sum(axis=1)
    h2 = offset[pair[:, 1]] - (n2 * ends[:, 0]).sum(axis=1)
    cosine = (n1 * n2).sum(axis=1)
    k1, k2 = (h1 - h2 * cosine) / sine**2, (h2 - h1 * cosine) / sine**2
    start = ends[:, 0] + k1[:, None] * n1 + k2[:, None] * n2
    out = np.stack([ends[:, 0], drawn], axis=1)
    out[good] = np.stack([start, line], axis=1)[good]
    return np.asarray(out)


def side_corners(sides: Sides, before: Floats, here: Floats) -> tuple[Floats, Floats]:
    """The corner at the start of every side when the side before it moves in by `before` and the side itself
    by `here` (s,): where the one ends and where the other starts, (s, 2) each, equal unless stepped."""
    return met(sides.moved(sides.before, before), sides.moved(np.arange(len(here)), here), sides.corner)


def move_sides(sides: Sides, setback: Floats) -> Moved:
    """Every side moved in by its own `setback` (s,)."""
    last_end, start = side_corners(sides, setback[sides.before], setback)
    end = last_end[sides.after]
    gone = np.zeros(len(setback), dtype=bool)
    vanished = np.zeros(len(sides.ring_starts) - 1, dtype=bool)
    back = ((end - start) * sides.along).sum(axis=1) < -tolerance.TOUCH
    for ring in np.unique(sides.ring[back]):
        rows = np.arange(sides.ring_starts[ring], sides.ring_starts[ring + 1])
        left, corner_end, corner_start = _wavefront(sides, rows, setback)
        if len(left) == 0:
            vanished[ring] = True
            continue
        gone[rows] = True
        gone[left] = False
        start[left] = corner_start
        end[np.roll(left, 1)] = corner_end
        # a swallowed side sits at the point where its surviving neighbours meet
        where = np.searchsorted(left, rows) % len(left)
        swallowed = gone[rows]
        start[rows[swallowed]] = end[rows[swallowed]] = corner_start[where[swallowed]]
    return Moved(start=start, end=end, gone=gone, vanished=vanished)


def _wavefront(sides: Sides, rows: Ints, setback: Floats) -> tuple[Ints, Floats, Floats]:
    """One ring moved little by little: the sides that are left, and for the corner at the start of each, where
    the side before ends and where it starts. Empty when the ring closes up."""
    left = list(rows)
    drawn = {int(row): sides.corner[row] for row in rows}
    now = 0.0

    def corners(share: float) -> tuple[Floats, Floats]:
        here = np.array(left)
        prev = np.roll(here, 1)
        return met(
            sides.moved(prev, setback[prev] * share), sides.moved(here, setback[here] * share),
            np.array([drawn[int(row)] for row in left]),
        )

    while len(left) >= 3:
        length = []
        for share in (now, 1.0):
            ends, starts = corners(share)
            length.append(((np.roll(ends, -1, axis=0) - starts) * sides.along[left]).sum(axis=1))
        first, last = length
        shrinking = last < -tolerance.TOUCH
        if not shrinking.any():
            ends, starts = corners(1.0)
            return np.array(left, dtype=np.int64), ends, starts
        shares = np.where(shrinking, now + (1.0 - now) * np.maximum(first, 0.0) / np.where(
            shrinking, np.maximum(first, 0.0) - last, 1.0), np.inf)
        k = int(np.argmin(shares))
        now = max(now, float(shares[k]))
        after = left[(k + 1) % len(left)]
        drawn[int(after)] = (sides.corner[left[k]] + drawn[int(after)]) / 2
        prev = left[k - 1]
        del left[k]
        facing = float(sides.along[prev] @ sides.along[after])
        turn = float(np.cross(np.append(sides.along[prev], 0), np.append(sides.along[after], 0))[2])
        if facing < 0 and abs(turn) < tolerance.SAME_WAY:
            break                                     # two facing sides have met: nothing is left
    return np.empty(0, dtype=np.int64), np.empty((0, 2)), np.empty((0, 2))
