"""Outlines for tests: made, moved, begun elsewhere, mirrored, drilled at random. Lengths in mm."""

from __future__ import annotations

import math

import numpy as np
from hypothesis import strategies as st
from shapely import Point, Polygon
from strategies import numbers, star_polygons

from tackwright.core.shapes.outline import Circle, Contour, Outline

MIRROR = np.diag([-1.0, 1.0])
SLOT = np.array([(0, 0), (0, 4), (15, 4), (15, 0)], dtype=float)  # clockwise, as holes are


def piece(points, *holes, bulges=None):
    return Outline(outer=Contour(points=np.asarray(points, dtype=float), bulges=bulges), holes=holes)


def slot(x, y):
    return Contour(points=SLOT + np.array([x, y]))


def restarted(outline, by):
    """The same outline, its contours begun at another corner and its holes in another order."""

    def turn(hole):
        if isinstance(hole, Circle):
            return hole
        bulges = None if hole.bulges is None else np.roll(hole.bulges, by)
        return Contour(points=np.roll(hole.points, by, axis=0), bulges=bulges)

    return Outline(outer=turn(outline.outer), holes=tuple(turn(h) for h in outline.holes[::-1]))


def mirrored(outline):
    """The outline turned over, contours running as they did (straight contours only)."""

    def over(hole):
        if isinstance(hole, Circle):
            return Circle(centre=(-hole.centre[0], hole.centre[1]), diameter=hole.diameter)
        return Contour(points=(hole.points @ MIRROR)[::-1])

    return Outline(outer=over(outline.outer), holes=tuple(over(h) for h in outline.holes))


def motion(degrees, x=0.0, y=0.0):
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    return np.array([[c, -s, x], [s, c, y], [0, 0, 1]])


def solid(outline):
    """shapely's polygon of an outline."""
    outer, *holes = outline.rings()
    return Polygon(outer, holes)


@st.composite
def drilled_stars(draw):
    """Random star polygons with up to five slots and circles near the middle, apart from each other."""
    points = draw(star_polygons())
    room = min(1.0, Polygon(points).exterior.distance(Point(0, 0)) / 80)  # the holes reach 80 mm when not shrunk
    spots = st.sampled_from([(x, y) for x in (-40, 0, 40) for y in (-30, 0, 30)])
    holes = []
    for x, y in draw(st.lists(spots, max_size=5, unique=True)):
        x, y = x + draw(numbers(0, 10)), y + draw(numbers(0, 10))
        if draw(st.booleans()):
            holes.append(Contour(points=slot(x, y).points * room))
        else:
            holes.append(Circle(centre=(x * room, y * room), diameter=draw(numbers(2, 15)) * room))
    return piece(points, *holes)
