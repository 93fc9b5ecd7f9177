"""Where root lines meet, at the skin that the metal ends at, and what is left to fill there.

Of three panels the lines meet in one point. Where more meet, their skins part the drawn corner into several points,
and where the metal swallows a short edge, corners of the drawing become one: so what counts is where lines end.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ..envelope.envelope import Envelope
from ..shapes.connectivity import components
from .joints import Joints
from .skins import RootLines

__all__ = ["TOGETHER", "RootCorner", "root_corners"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

TOGETHER: Final = 2.0
"""Lines that end within so many thicknesses (of the thickest plate there) of a point meet there: one fill of weld
reaches them all. Where a joint is re-entrant, its root lies on the other skin: one thickness and a half away."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RootCorner:
    """One point where root lines meet. at: (3,) in the envelope's frame (recentred). edges: whose lines they are,
    ascending. void: the volume to fill there beyond their grooves, mm3."""

    at: Floats
    edges: tuple[int, ...]
    void: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Ends:
    """The ends of root lines at drawn corners of three joints or more, by group: corners with an edge between them
    that is swallowed are one. edge, which, group: (n,); at: (n, 3); reach: (n,) mm, within which lines meet."""

    edge: Ints
    which: Ints
    group: Ints
    at: Floats
    reach: Floats


def root_corners(envelope: Envelope, joints: Joints, roots: RootLines, voids: Floats) -> tuple[RootCorner, ...]:
    """The corners of an envelope, in the order of the drawn ones. voids: (m, 2) what is to be filled at the start and
    the end of every root line, mm3."""
    ends = _ends(envelope, joints, roots)
    if not len(ends.edge):
        return ()
    corner, meets = _sorted_out(ends)
    count = int(corner.max()) + 1
    middles = np.zeros((count, 3))
    np.add.at(middles, corner[meets], ends.at[meets])
    middles /= np.bincount(corner[meets], minlength=count)[:, None]
    filled = np.zeros(count)
    np.add.at(filled, corner, voids[ends.edge, ends.which])
    drawn = np.zeros(count, dtype=np.int64)
    drawn[corner] = ends.group
    pairs = np.unique(np.stack([corner, ends.edge], axis=1)[meets], axis=0)
    edges = np.split(pairs[:, 1], np.flatnonzero(np.diff(pairs[:, 0])) + 1)
    return tuple(
        RootCorner(at=at, edges=tuple(own.tolist()), void=void)
        for at, own, void in zip(middles, edges, _balanced(filled, drawn).tolist(), strict=True))


def _sorted_out(ends: _Ends) -> tuple[Ints, NDArray[np.bool_]]:
    """(n,) the corner that each end counts at, numbered group by group; and whether it meets others there. One that
    meets none counts at the nearest where some meet; where none do, each is a corner."""
    _, group = np.unique(ends.group, return_inverse=True)
    middle = np.zeros((int(group.max()) + 1, 3))
    np.add.at(middle, group, ends.at)
    middle /= np.bincount(group)[:, None]
    apart = np.linalg.norm(ends.at - middle[group], axis=1) > ends.reach
    starts = np.searchsorted(group, np.arange(len(middle) + 1))
    local = np.zeros(len(group), dtype=np.int64)
    meets = np.ones(len(group), dtype=bool)
    for number in np.unique(group[apart]).tolist():
        rows = np.arange(starts[number], starts[number + 1])
        clusters = _clusters(ends.at[rows], float(ends.reach[rows].max()))
        meeting = [c for c in clusters if len(np.unique(ends.edge[rows[c]])) > 1] or clusters
        middles = np.array([ends.at[rows[c]].mean(axis=0) for c in meeting])
        local[rows] = np.linalg.norm(ends.at[rows][:, None] - middles, axis=2).argmin(axis=1)
        meets[rows] = False
        for place, cluster in enumerate(meeting):
            local[rows[cluster]], meets[rows[cluster]] = place, True
    return np.unique(np.stack([group, local], axis=1), axis=0, return_inverse=True)[1].reshape(-1), meets


def _ends(envelope: Envelope, joints: Joints, roots: RootLines) -> _Ends:
    drawn = np.array([(e.start, e.end) for e in envelope.edges], dtype=np.int64).reshape(-1, 2)
    kept = np.flatnonzero(~joints.free)
    gone = kept[roots.gone[kept]]
    label = components(len(envelope.points), *drawn[gone].T)
    group = label[drawn[kept]]
    # a joint whose edge is swallowed is at one group with both its ends, and is one joint there
    pairs = np.unique(np.stack([group.ravel(), np.repeat(kept, 2)], axis=1), axis=0)
    count = np.bincount(pairs[:, 0], minlength=len(envelope.points))
    row, which = np.nonzero(count[group] >= 3)
    edge = kept[row]
    order = np.lexsort((which, edge, group[row, which]))
    row, which, edge = row[order], which[order], edge[order]
    thickness = np.array([p.thickness for p in envelope.panels])[joints.panels[edge]].max(axis=1)
    return _Ends(edge=edge, which=which, group=group[row, which], at=roots.points[edge, which],
                 reach=TOGETHER * thickness)


def _clusters(points: Floats, reach: float) -> list[Ints]:
    """Points put together, the nearest first, as long as all lie within `reach` of their middle."""
    clusters = [np.array([row]) for row in range(len(points))]
    if _radius(points) <= reach:
        return [np.arange(len(points))]
    while len(clusters) > 1:
        radii = {
            (i, j): _radius(points[np.concatenate([clusters[i], clusters[j]])])
            for i in range(len(clusters)) for j in range(i + 1, len(clusters))}
        (i, j), radius = min(radii.items(), key=lambda pair: (round(pair[1], 6), pair[0]))
        if radius > reach:
            break
        clusters[i] = np.sort(np.concatenate([clusters[i], clusters[j]]))
        del clusters[j]
    return clusters


def _radius(points: Floats) -> float:
    return float(np.linalg.norm(points - points.mean(axis=0), axis=1).max())


def _balanced(voids: Floats, drawn: Ints) -> Floats:
    """The voids of corners with none below 0: where lines overlap at one of the corners that a drawn one became, the
    others have so much less to fill. drawn: (c,) which one that was."""
    open_ = np.maximum(voids, 0.0)
    total, gaps = np.zeros((2, int(drawn.max()) + 1))
    np.add.at(total, drawn, voids)
    np.add.at(gaps, drawn, open_)
    share = np.maximum(total, 0.0) / np.where(gaps > 0, gaps, 1.0)
    return np.asarray(open_ * share[drawn])
