"""Whether a plate fits a rectangle, turned however it likes."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

from ..terms import tolerance

__all__ = ["fits_bed", "smallest_box"]

Floats = NDArray[np.float64]


def fits_bed(points: Floats, bed: tuple[float, float]) -> bool:
    """Whether points (n, 2) fit a rectangle of these sides, mm, at any angle: exact, for an angle at which no side of
    the outline runs along the bed may be the only one (a long bar across the diagonal).

    Seen along a direction, two points d apart at angle a show |d| |cos(t - a)|. Every pair farther apart than a side
    of the bed so bars the angles t where it shows more than that; what fits is an angle that none bars.

    >>> bar = np.array([(0.0, 0.0), (110.0, 0.0), (110.0, 5.0), (0.0, 5.0)])
    >>> fits_bed(bar, (100.0, 100.0)), fits_bed(bar, (70.0, 70.0))
    (True, False)
    """
    corners = shapely.get_coordinates(shapely.MultiPoint(points).convex_hull)
    first, second = np.triu_indices(len(corners), k=1)
    apart = corners[second] - corners[first]
    far = np.hypot(apart[:, 0], apart[:, 1])
    angle = np.arctan2(apart[:, 1], apart[:, 0])
    starts, ends = [], []
    for side, turn in zip(bed, (0.0, np.pi / 2), strict=True):
        long = far > side * (1.0 + tolerance.RELATIVE)
        half = np.arccos(side / far[long])
        middle = np.mod(angle[long] + turn, np.pi)
        starts.append(middle - half)
        ends.append(middle + half)
    barred = np.column_stack([np.concatenate(starts), np.concatenate(ends)])
    return not _covered(np.concatenate([barred + shift for shift in (-np.pi, 0.0, np.pi)]))


def smallest_box(points: Floats) -> tuple[float, float]:
    """Sides of the rectangle of least area round points (n, 2), the longer first."""
    corners = shapely.get_coordinates(shapely.MultiPoint(points).minimum_rotated_rectangle)
    x, y = (float(np.hypot(*(corners[i + 1] - corners[i]))) for i in (0, 1))
    return max(x, y), min(x, y)


def _covered(spans: Floats) -> bool:
    """Whether open spans (n, 2) leave no angle of a half turn free. The ends of a span are free themselves."""
    spans = spans[np.argsort(spans[:, 0], kind="stable")]
    reached = 0.0
    for start, end in spans.tolist():
        if end <= reached:
            continue
        if start >= reached + _TOUCH and reached < np.pi:
            return False
        reached = end
    return reached > np.pi


_TOUCH = -1e-9
"""Radians: spans that end where the next begins leave that one angle free, and rounding must not close it."""
