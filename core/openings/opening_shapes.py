"""The exact shapes of openings: circles, slots, rectangles with round corners, rounded polygons, rings of bolt holes.

Contours run clockwise, as holes do. Angles in degrees, counter-clockwise from x; lengths in mm.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from ..shapes.outline import Circle, Contour, Hole
from ..terms import tolerance
from ..terms.choices import Bolts, OpeningShape

__all__ = ["Rounded", "bolt_holes", "opening_shape", "rectangle", "rounded_polygon", "slot"]

Floats = NDArray[np.float64]
Point = tuple[float, float]

_QUARTER: Final = math.tan(math.pi / 8)
"""Bulge of a quarter circle."""


def opening_shape(shape: OpeningShape, size: tuple[float, ...], radius: float, centre: Point, turn: float) -> Hole:
    """An opening of a checked size: round (diameter,), slot (overall length, width), rectangle (width, height)."""
    if shape == "round":
        return Circle(centre=centre, diameter=size[0])
    if shape == "slot":
        return slot(size[0], size[1], centre, turn)
    return rectangle(size[0], size[1], radius, centre, turn)


def slot(length: float, width: float, centre: Point = (0.0, 0.0), turn: float = 0.0) -> Hole:
    """A slot with round ends, `length` overall; as long as wide it is a circle."""
    return rectangle(length, width, width / 2, centre, turn)


def rectangle(
    width: float, height: float, radius: float = 0.0, centre: Point = (0.0, 0.0), turn: float = 0.0
) -> Hole:
    """A rectangle with its corners rounded to `radius`, at most half of its smaller side."""
    x, y = width / 2, height / 2
    if radius <= 0.0:
        return Contour(points=_placed(np.array([(-x, -y), (-x, y), (x, y), (x, -y)]), centre, turn))
    in_x, in_y = max(0.0, x - radius), max(0.0, y - radius)
    if max(in_x, in_y) < tolerance.TOUCH:
        return Circle(centre=centre, diameter=2 * radius)
    points = np.array([
        (-x, -in_y), (-x, in_y), (-in_x, y), (in_x, y), (x, in_y), (x, -in_y), (in_x, -y), (-in_x, -y)])
    bulges = np.array([0.0, -_QUARTER] * 4)
    if in_y < tolerance.TOUCH:          # the quarters at either end are one half circle
        points, bulges = points[[2, 3, 6, 7]], np.array([0.0, -1.0, 0.0, -1.0])
    elif in_x < tolerance.TOUCH:
        points, bulges = points[[0, 1, 4, 5]], np.array([0.0, -1.0, 0.0, -1.0])
    return Contour(points=_placed(points, centre, turn), bulges=bulges)


def bolt_holes(bolts: Bolts, centre: Point = (0.0, 0.0), turn: float = 0.0) -> tuple[Circle, ...]:
    """The bolt holes round an opening whose own x axis is turned by `turn`, counter-clockwise from the first."""
    angles = np.radians(turn + bolts.turn + np.arange(bolts.count) * (360.0 / bolts.count))
    places = np.column_stack([np.cos(angles), np.sin(angles)]) * (bolts.circle / 2) + centre
    return tuple([Circle(centre=(x, y), diameter=bolts.hole) for x, y in places.tolist()])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rounded:
    """A polygon with its corners rounded. smallest: the smallest radius that a corner got, mm."""

    contour: Contour
    smallest: float


def rounded_polygon(points: Floats, radius: float) -> Rounded:
    """A polygon with every corner, convex or not, rounded to `radius`, or to less where a side is too short.

    points: (k, 2), either way round. Where two corners share a side that is too short for both, each gets its
    share of it. A polygon that would cross itself when rounded stays sharp.
    """
    before, after = points - np.roll(points, 1, axis=0), np.roll(points, -1, axis=0) - points
    sides = np.linalg.norm(after, axis=1)
    turns = np.arctan2(before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0], (before * after).sum(axis=1))
    corners = np.abs(turns) > tolerance.ROUNDING                              # the others lie on a straight run
    if radius <= 0.0 or not corners.any():
        return Rounded(contour=Contour(points=points), smallest=0.0)
    wanted = np.where(corners, radius * np.tan(np.abs(turns) / 2), 0.0)
    fits = np.minimum(1.0, sides / np.maximum(wanted + np.roll(wanted, -1), tolerance.TOUCH))
    share = np.minimum(fits, np.roll(fits, 1))
    cut = (wanted * share)[:, None]
    starts = points - before / np.roll(sides, 1)[:, None] * cut
    ends = points + after / sides[:, None] * cut
    ring = np.stack([starts, ends], axis=1).reshape(-1, 2)
    bulges = np.stack([np.where(corners, np.tan(turns / 4), 0.0), np.zeros(len(points))], axis=1).reshape(-1)
    longer = np.linalg.norm(np.roll(ring, -1, axis=0) - ring, axis=1) > tolerance.TOUCH
    contour = Contour(points=ring[longer], bulges=bulges[longer])
    if not shapely.Polygon(contour.flatten()).is_valid:
        return Rounded(contour=Contour(points=points), smallest=0.0)
    return Rounded(contour=contour, smallest=float(radius * share[corners].min()))


def _placed(points: Floats, centre: Point, turn: float) -> Floats:
    cos, sin = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    return np.asarray(points @ np.array([[cos, sin], [-sin, cos]]) + centre)
