"""The one hole that a pattern repeats: round, square, hexagonal, or a slot with round or square ends."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely
from numpy.typing import NDArray

from ..shapes.outline import Circle, Contour, Hole

__all__ = ["HoleKind", "HoleShape", "cores", "hole_shape"]

Floats = NDArray[np.float64]

HoleKind = Literal["R", "C", "H", "LR", "LC"]
"""By the letters of ISO 7806: round, square, hexagonal, slot with round ends, slot with square ends."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HoleShape:
    """A convex hole about the origin that a half turn brings to itself. Lengths in mm.

    width: across the narrowest way (a hexagon's flats); length: along x. cut: what the laser follows. core,
    rounding: the same hole as every point within `rounding` of a point (1, 2), a segment (2, 2) or a polygon
    (k, 2), which makes distances exact.
    """

    kind: HoleKind
    width: float
    length: float
    cut: Hole
    core: Floats
    rounding: float

    @property
    def half(self) -> Floats:
        """(2,) half of the box round the hole."""
        return np.asarray(np.abs(self.core).max(axis=0) + self.rounding)

    @property
    def reach(self) -> float:
        """Radius of the circle round the hole."""
        return float(np.linalg.norm(self.core, axis=1).max()) + self.rounding

    def bar(self, offset: Floats) -> float:
        """Bare metal, mm, between the hole and its like at `offset` (2,); below 0 by how far they would
        have to move apart to touch.

        The two are as far apart as the offset is from the hole drawn twice as large.
        """
        at, doubled = shapely.Point(offset), cores(2 * self.core)
        inside = doubled.geom_type == "Polygon" and doubled.contains(at)
        distance = -doubled.exterior.distance(at) if inside else doubled.distance(at)
        return float(distance - 2 * self.rounding)


def hole_shape(kind: HoleKind, width: float, length: float) -> HoleShape:
    """The hole of a kind; length counts for slots alone, overall, and is more than the width."""
    half, reach = width / 2, length / 2
    if kind == "R":
        circle = Circle(centre=(0.0, 0.0), diameter=width)
        return HoleShape(kind=kind, width=width, length=width, cut=circle, core=np.zeros((1, 2)), rounding=half)
    if kind == "LR":
        straight = reach - half
        points = np.array([(-straight, -half), (-straight, half), (straight, half), (straight, -half)])
        cut = Contour(points=points, bulges=np.array([-1.0, 0.0, -1.0, 0.0]))
        core = np.array([(-straight, 0.0), (straight, 0.0)])
        return HoleShape(kind=kind, width=width, length=length, cut=cut, core=core, rounding=half)
    if kind == "H":
        high = width / math.sqrt(3)        # to a corner; flats face the neighbours, at 0, 60 and 120 degrees
        points = np.array([(-half, -high / 2), (-half, high / 2), (0.0, high), (half, high / 2), (half, -high / 2),
                           (0.0, -high)])
        return HoleShape(kind=kind, width=width, length=width, cut=Contour(points=points), core=points, rounding=0.0)
    reach = half if kind == "C" else reach
    points = np.array([(-reach, -half), (-reach, half), (reach, half), (reach, -half)])
    return HoleShape(kind=kind, width=width, length=2 * reach, cut=Contour(points=points), core=points, rounding=0.0)


def cores(points: Floats) -> shapely.Geometry:
    """The point, segment or polygon of (k, 2) points; an array of them of (n, k, 2)."""
    count = points.shape[-2]
    if count == 1:
        return shapely.points(points[..., 0, :])
    return shapely.linestrings(points) if count == 2 else shapely.polygons(points)
