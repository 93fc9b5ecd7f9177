"""Exact distances between triangles, many pairs at once."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..terms import tolerance

__all__ = ["crossing", "nearest_on_triangles", "triangle_distances"]

Floats = NDArray[np.float64]

# The three sides of a triangle by its corners.
SIDES = ((0, 1), (1, 2), (2, 0))


def triangle_distances(one: Floats, other: Floats) -> tuple[Floats, Floats, Floats]:
    """The distance of each pair of triangles, and where it is: (n,), (n, 3) on `one`, (n, 3) on `other`.

    one, other: (n, 3, 3) corners; triangles without area count as the segment or point they are. 0 where the two
    cross; the place is then on the line that both share. Exact up to rounding: two triangles that do not cross are
    nearest at a corner of one of them or between two sides (C. Ericson, Real-Time Collision Detection, 2005, 5.1).
    """
    count = len(one)
    best = np.full(count, np.inf)
    at_one, at_other = np.zeros((count, 3)), np.zeros((count, 3))

    def keep(distance: Floats, a: Floats, b: Floats) -> None:
        nearer = distance < best
        best[nearer] = distance[nearer]
        at_one[nearer], at_other[nearer] = a[nearer], b[nearer]

    for corner in range(3):
        on, _ = nearest_on_triangles(one[:, corner], other)
        keep(_length(one[:, corner] - on), one[:, corner], on)
        on, _ = nearest_on_triangles(other[:, corner], one)
        keep(_length(other[:, corner] - on), on, other[:, corner])
    for a, b in SIDES:
        for c, d in SIDES:
            on_one, on_other = _nearest_on_segments(one[:, a], one[:, b], other[:, c], other[:, d])
            keep(_length(on_one - on_other), on_one, on_other)
    crosses, where = crossing(one, other)
    best[crosses] = 0.0
    at_one[crosses] = at_other[crosses] = where[crosses]
    return best, at_one, at_other


def crossing(one: Floats, other: Floats) -> tuple[NDArray[np.bool_], Floats]:
    """(n,) whether a side of one triangle passes through the other, and (n, 3) where. Triangles in one plane only
    cross where sides do, which is a distance of 0 between sides and not looked for here."""
    crosses = np.zeros(len(one), dtype=np.bool_)
    where = np.zeros((len(one), 3))
    for sides, face in ((one, other), (other, one)):
        first, second = face[:, 1] - face[:, 0], face[:, 2] - face[:, 0]
        normal = np.cross(first, second)
        for a, b in SIDES:
            start, along = sides[:, a], sides[:, b] - sides[:, a]
            slope = _dot(normal, along)
            usable = np.abs(slope) > tolerance.NONZERO
            share = _dot(normal, face[:, 0] - start) / np.where(usable, slope, 1.0)
            at = start + share[:, None] * along
            inside = usable & (share >= 0.0) & (share <= 1.0) & _within(at, face, normal)
            new = inside & ~crosses
            where[new] = at[new]
            crosses |= inside
    return crosses, where


def nearest_on_triangles(points: Floats, triangles: Floats) -> tuple[Floats, NDArray[np.bool_]]:
    """(n, 3) the point of each (3, 3) triangle that is nearest to its point, and whether it lies inside the sides."""
    normal = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    square = _dot(normal, normal)
    height = _dot(points - triangles[:, 0], normal) / np.maximum(square, tolerance.NONZERO)
    foot = points - height[:, None] * normal
    inside = (square > tolerance.NONZERO) & _within(foot, triangles, normal)
    best = np.where(inside[:, None], foot, triangles[:, 0])
    least = np.where(inside, -1.0, np.inf)
    for a, b in SIDES:
        on = _nearest_on_segment(points, triangles[:, a], triangles[:, b])
        distance = _dot(points - on, points - on)
        nearer = distance < least
        best[nearer] = on[nearer]
        least[nearer] = distance[nearer]
    return best, inside


def _within(points: Floats, triangles: Floats, normal: Floats) -> NDArray[np.bool_]:
    """Whether points in the planes of triangles are on the inner side of all three sides."""
    inside = _dot(normal, normal) > tolerance.NONZERO
    for a, b in SIDES:
        along = triangles[:, b] - triangles[:, a]
        inside = inside & (_dot(np.cross(along, points - triangles[:, a]), normal) >= 0.0)
    return np.asarray(inside)


def _nearest_on_segment(points: Floats, start: Floats, end: Floats) -> Floats:
    along = end - start
    share = _dot(points - start, along) / np.maximum(_dot(along, along), tolerance.NONZERO)
    return np.asarray(start + np.clip(share, 0.0, 1.0)[:, None] * along)


def _nearest_on_segments(a: Floats, b: Floats, c: Floats, d: Floats) -> tuple[Floats, Floats]:
    """The nearest points of the segments a b and c d (Ericson 5.1.9)."""
    one, two, between = b - a, d - c, a - c
    square_one, square_two, cross = _dot(one, one), _dot(two, two), _dot(one, two)
    along_one, along_two = _dot(one, between), _dot(two, between)
    apart = square_one * square_two - cross * cross
    # not parallel: else any place will do
    slanted = apart > tolerance.RELATIVE * square_one * square_two + tolerance.NONZERO
    s = np.where(slanted, (cross * along_two - along_one * square_two) / np.where(slanted, apart, 1.0), 0.0)
    s = np.clip(s, 0.0, 1.0)
    t = np.clip((cross * s + along_two) / np.maximum(square_two, tolerance.NONZERO), 0.0, 1.0)
    s = np.clip((cross * t - along_one) / np.maximum(square_one, tolerance.NONZERO), 0.0, 1.0)
    return a + s[:, None] * one, c + t[:, None] * two


def _dot(a: Floats, b: Floats) -> Floats:
    return np.asarray(np.einsum("ij,ij->i", a, b))


def _length(a: Floats) -> Floats:
    return np.asarray(np.sqrt(_dot(a, a)))
