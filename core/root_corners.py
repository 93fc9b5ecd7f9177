"""Where root lines meet, at the skin that the metal ends at, and what is left to fill there.

Of three panels the lines meet in one point. Where more meet, their skins part the drawn corner into several points,
and where the metal swallows a short edge, corners of the drawing become one: so what counts is where lines end.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from .connectivity import components
from .envelope import Envelope
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
    first = np.flatnonzero(np.diff(ends.group, prepend=-1))
    out: list[RootCorner] = []
    for rows in np.split(np.arange(len(ends.edge)), first[1:]) if len(first) else ():
        clusters = _clusters(ends.at[rows], float(ends.reach[rows].max()))
        meeting = [c for c in clusters if len(np.unique(ends.edge[rows[c]])) > 1] or clusters
        middles = np.array([ends.at[rows[c]].mean(axis=0) for c in meeting])
        nearest = np.linalg.norm(ends.at[rows][:, None] - middles, axis=2).argmin(axis=1)
        for number, cluster in enumerate(meeting):
            nearest[cluster] = number                # a line counts where it meets others, else at the nearest such
        filled = _balanced(np.bincount(nearest, weights=voids[ends.edge[rows], ends.which[rows]]))
        out += [
            RootCorner(at=middle, edges=tuple(np.unique(ends.edge[rows[c]]).tolist()), void=float(void))
            for c, middle, void in zip(meeting, middles, filled, strict=True)]
    return tuple(out)


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


def _balanced(voids: Floats) -> Sequence[float]:
    """The voids of one drawn corner with none below 0: where lines overlap at one of its points, the others have so
    much less to fill."""
    open_ = np.maximum(voids, 0.0)
    total = max(float(voids.sum()), 0.0)
    shares: list[float] = (open_ * (total / open_.sum()) if open_.sum() > 0 else open_).tolist()
    return shares
