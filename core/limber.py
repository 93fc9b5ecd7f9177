"""Ways for liquid and air past an inner plate: snipes, its corners cut off between two joints, and limber holes,
half rounds at the lowest places of the sides it stands on. They also keep the weld from running into a corner.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from .frame import Frame
from .tees import StandingRing

__all__ = ["Bite", "limber_bites", "sniped"]

Floats = NDArray[np.float64]

MOST = 0.25
"""A snipe or hole takes at most this share of a side."""

LEVEL = 0.02
"""Slope, rise over run, below which a side counts as level: liquid stands all along it."""

ROOM = 6.0
"""A limber hole is cut where the side is longer than this many times its size: on shorter ones the snipes at
its ends do."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bite:
    """A half round cut into a side of a ring: the side's number, where along it the middle is, the diameter."""

    side: int
    at: float
    diameter: float


def limber_bites(
    rings: Sequence[StandingRing], frame: Frame, size: float, web: float
) -> tuple[Bite, ...]:
    """Half rounds of diameter `size` at the level sides of the outer ring that are the lowest of their neighbourhood,
    where they leave `web` mm of metal round them."""
    if size <= 0:
        return ()
    ring = rings[0]
    low = ring.points @ frame.axes[:2, 2]                    # height of every corner
    ahead = np.roll(low, -1)
    sides = np.roll(ring.points, -1, axis=0) - ring.points
    lengths = np.linalg.norm(sides, axis=1)
    level = np.abs(ahead - low) < LEVEL * lengths
    lowest = (np.roll(ahead - low, 1) < 0) & (np.roll(ahead - low, -1) > 0)
    rows = np.flatnonzero(level & lowest & (ring.face >= 0) & (lengths > ROOM * size))
    if not len(rows):
        return ()
    middles = ring.points[rows] + sides[rows] / 2
    shape = shapely.Polygon(ring.points, [other.points for other in rings[1:]])
    others = shapely.difference(shape.boundary, shapely.buffer(shapely.linestrings(
        np.stack([ring.points[rows], ring.points[rows] + sides[rows]], axis=1)), 1e-3))
    clear = shapely.distance(shapely.points(middles), shapely.union_all(others)) > size / 2 + web
    return tuple(Bite(side=int(row), at=float(lengths[row]) / 2, diameter=size) for row in rows[clear])


def sniped(ring: StandingRing, size: float) -> StandingRing:
    """The ring with its corners between two joints cut off, `size` mm along each side."""
    if size <= 0:
        return ring
    points: list[Floats] = []
    face: list[int] = []
    count = len(ring.points)
    for i in range(count):
        here, before, after = ring.points[i], ring.points[i - 1], ring.points[(i + 1) % count]
        back, ahead = before - here, after - here
        convex = back[0] * ahead[1] - back[1] * ahead[0] < 0
        if not (convex and ring.face[i] >= 0 and ring.face[i - 1] >= 0):
            points.append(here)
            face.append(int(ring.face[i]))
            continue
        legs = [min(size, MOST * float(np.linalg.norm(v))) for v in (back, ahead)]
        leg = min(legs)
        one = here + back / np.linalg.norm(back) * leg
        two = here + ahead / np.linalg.norm(ahead) * leg
        points += [one, two]
        face += [-1, int(ring.face[i])]
    return StandingRing(points=np.array(points), face=np.array(face, dtype=np.int64))
