"""A region filled with the whole holes of a pattern: plane geometry, nothing about plates."""

from __future__ import annotations

import math
from itertools import product
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from ..shapes.outline import HoleField
from ..terms import tolerance
from ..terms.errors import InputError
from .hole_patterns import Pattern
from .hole_shapes import cores

__all__ = ["MOST_HOLES", "perforate"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

MOST_HOLES: Final = 1_000_000
"""In one band. A plate that needs more is a slip of the pen, and memory should not be spent on that."""


def perforate(region: shapely.Geometry, pattern: Pattern) -> HoleField:
    """Every whole hole of the pattern that lies in the region, its rows along x; none where none fits.

    region: a polygon or several, mm. A hole may touch the region's edge and not pass it (by more than
    tolerance.TOUCH). The middle of the region's box is a point about which the lattice is its own half turn,
    so what is left over at one side is left over at the other. There are four such points, a hole and three
    half-way between holes: the one that gives the most holes is taken, the first of equals.
    Raises InputError if the box would hold more than MOST_HOLES. Time grows as the box holds holes.
    """
    nothing = np.zeros((0, 2)), np.zeros(0)
    if region.is_empty:
        return HoleField(shape=pattern.hole.cut, centres=nothing[0], angles=nothing[1])
    low_x, low_y, high_x, high_y = region.bounds
    centre = np.array([low_x + high_x, low_y + high_y]) / 2
    half = np.array([high_x - low_x, high_y - low_y]) / 2
    would = 4 * half[0] * half[1] * pattern.per_square_metre / 1e6
    if would > MOST_HOLES:
        raise InputError(
            f"{pattern.code} would make about {would:.3g} holes, and {MOST_HOLES} are the most",
            do="Make the pitch larger or the field smaller, and check that the sizes are in mm")
    room = _Room(region)
    best = nothing
    for shift in product((0.0, 0.5), repeat=2):
        places = _places(pattern, half, np.array(shift))
        centres = centre + (places + shift) @ pattern.lattice
        angles = pattern.angles(places)
        whole = room.holds(pattern, centres, angles)
        if np.count_nonzero(whole) > len(best[0]):
            best = centres[whole], angles[whole]
    return HoleField(shape=pattern.hole.cut, centres=best[0], angles=best[1])


def _places(pattern: Pattern, half: Floats, shift: Floats) -> Ints:
    """(n, 2) lattice places, row after row, whose holes may lie whole in a box of half size (2,) about the point
    that is `shift` from place (0, 0) the other way."""
    least = pattern.hole.width / 2 if pattern.random else pattern.hole.half
    wide, high = half - least + tolerance.TOUCH
    if wide < 0 or high < 0:
        return np.zeros((0, 2), dtype=np.int64)
    (step, _), (lean, rise) = pattern.lattice
    rows = np.arange(math.ceil(-high / rise - shift[1]), math.floor(high / rise - shift[1]) + 1)
    middle = (rows + shift[1]) * lean / step + shift[0]          # of each row, in steps
    first = np.ceil(-wide / step - middle).astype(np.int64)
    columns = first[:, None] + np.arange(math.floor(2 * wide / step) + 1)
    inside = columns <= (wide / step - middle)[:, None]
    return np.column_stack([columns[inside], np.broadcast_to(rows[:, None], columns.shape)[inside]])


class _Room:
    """A region prepared for many questions. It is grown by the least there is, so that rounding does not decide
    about holes that just fit."""

    def __init__(self, region: shapely.Geometry) -> None:
        self._region = shapely.buffer(region, tolerance.TOUCH, join_style="mitre")
        self._edge = self._region.boundary
        shapely.prepare([self._region, self._edge])

    def holds(self, pattern: Pattern, centres: Floats, angles: Floats) -> NDArray[np.bool_]:
        """(n,) whether the hole at each centre (n, 2), turned by its angle, lies in the region."""
        core, rounding = pattern.hole.core, pattern.hole.rounding
        cos, sin = np.cos(angles)[:, None], np.sin(angles)[:, None]
        turned = np.stack([cos * core[:, 0] - sin * core[:, 1], sin * core[:, 0] + cos * core[:, 1]], axis=2)
        shapes = cores(turned + centres[:, None])
        held: NDArray[np.bool_] = shapely.covers(self._region, shapes)
        if rounding:
            held[held] = ~shapely.dwithin(self._edge, shapes[held], rounding)
        return held
