"""Ways for liquid and air past an inner plate: snipes, its corners cut off between two joints, and limber holes,
half rounds at the lowest places of the sides it stands on. They also keep the weld from running into a corner.
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

from ..shapes.frame import Frame
from ..shapes.ring_features import Bite
from ..terms import tolerance
from .inner_meetings import upward
from .tees import StandingRing

__all__ = ["limber_bites", "sniped"]

Floats = NDArray[np.float64]

MOST = 0.25
"""A snipe or hole takes at most this share of a side."""

LEVEL = 0.02
"""Slope, rise over run, below which a side counts as level: liquid stands all along it."""

LEAST = 0.5
"""mm: a smaller snipe is none; about a kerf."""

STEP = 0.25
"""A limber hole is moved by this share of its size at a time, and..."""
STEP_MM = 1.0
"""...by at least so many mm."""

ROOM = 6.0
"""A limber hole is cut where the side is longer than this many times its size: on shorter ones the snipes at
its ends do."""
ON_SIDE = 1e-3
"""mm: an edge this near to a side is that side."""


def limber_bites(
    ring: StandingRing, metal: shapely.Geometry, frame: Frame, size: float, web: float
) -> tuple[tuple[Bite, ...], tuple[Floats, ...]]:
    """Half rounds of diameter `size` at the level sides of the outer ring that are the lowest of their neighbourhood:
    at the middle of each, or the nearest place that leaves `web` mm of metal round them. metal: the plate with its
    openings. And the middles (2,) of the sides on which there is no such place."""
    if size <= 0:
        return (), ()
    low = ring.points @ frame.axes[:2, 2]                    # height of every corner
    ahead = np.roll(low, -1)
    sides = np.roll(ring.points, -1, axis=0) - ring.points
    lengths = np.linalg.norm(sides, axis=1)
    level = np.abs(ahead - low) < LEVEL * lengths
    lowest = (np.roll(ahead - low, 1) < 0) & (np.roll(ahead - low, -1) > 0)
    rows = np.flatnonzero(level & lowest & (ring.face >= 0) & (lengths > ROOM * size))
    found, left_out = [], []
    for row in rows.tolist():
        start, along, length = ring.points[row], sides[row] / lengths[row], float(lengths[row])
        others = shapely.difference(metal.boundary, shapely.LineString([start, start + sides[row]]).buffer(ON_SIDE))
        step = max(STEP * size, STEP_MM)
        off = np.arange(0.0, length / 2 - size / 2 - web + tolerance.ROUNDING, step) * upward(along @ frame.axes[:2])
        at = length / 2 + np.column_stack([off, -off]).ravel()    # the nearest to the middle first
        far = shapely.distance(shapely.points(start + along * at[:, None]), others)
        clear = np.flatnonzero(far > size / 2 + web)
        if len(clear):
            found.append(Bite(side=row, at=float(at[clear[0]]), diameter=size))
        else:
            left_out.append(start + sides[row] / 2)
    return tuple(found), tuple(left_out)


def sniped(ring: StandingRing, size: float, web: float) -> StandingRing:
    """The ring with its corners between two joints cut off, `size` mm along each side, less where a short side would
    not keep `web` mm."""
    if size <= 0:
        return ring
    points: list[Floats] = []
    face: list[int] = []
    count = len(ring.points)
    for i in range(count):
        here, before, after = ring.points[i], ring.points[i - 1], ring.points[(i + 1) % count]
        back, ahead = before - here, after - here
        convex = back[0] * ahead[1] - back[1] * ahead[0] < 0
        short = min(float(np.linalg.norm(v)) for v in (back, ahead))
        leg = min(size, MOST * short, (short - web) / 2)
        if leg < LEAST or not (convex and ring.face[i] >= 0 and ring.face[i - 1] >= 0):
            points.append(here)
            face.append(int(ring.face[i]))
            continue
        one = here + back / np.linalg.norm(back) * leg
        two = here + ahead / np.linalg.norm(ahead) * leg
        points += [one, two]
        face += [-1, int(ring.face[i])]
    return StandingRing(points=np.array(points), face=np.array(face, dtype=np.int64))
