"""Where the plates lie when they are laid flat beside the model, as drawn for the cutter: outside face up.

For looking and counting, not for cutting: rows of like plates with room between them, whatever that wastes. How
plates are put on sheets is another question.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from .kit import KitPlate

__all__ = ["lay_flat"]

Floats = NDArray[np.float64]

GAP = 0.06
"""Room between plates, as a share of the longest side of the middling plate."""

GAP_THICKNESSES = 4.0
"""The same at least, in thicknesses of the thickest."""

BESIDE = 2.5
"""Room between the model and the nearest plate, in gaps."""

_TRIES = 24
"""Widths tried, evenly in proportion, between the widest plate's and that of all plates in one row."""


def lay_flat(plates: Sequence[KitPlate], *, aspect: float = 1.5) -> dict[str, Floats]:
    """(3,) mm, where the origin of every placement's drawing lies, by id: the plate keeps the directions of its
    drawing, x to the right, y to the back, and lies on the ground through the assembly's lowest point.

    The thickest plates come first, then the largest; copies of a mark follow each other, and a new thickness begins
    a new row. The rows stand to the right of the assembly, the first at the front, level with it. aspect: how much
    wider than deep all of it together should be, as near as rows allow.
    """
    rows = sorted(plates, key=lambda plate: (-plate.thickness, plate.mark.rjust(9)))
    if not rows:
        return {}
    low, high = _bounds(plates)
    longest = float(np.median([max(plate.size) for plate in rows for _ in plate.placements]))
    gap = max(GAP * longest, GAP_THICKNESSES * rows[0].thickness)
    names = [placed.id for plate in rows for placed in plate.placements]
    sizes = np.array([plate.size for plate in rows for _ in plate.placements])
    breaks = _breaks(rows)
    widest, all_in_one = float(sizes[:, 0].max()), float((sizes[:, 0] + gap).sum())
    tried = widest * (all_in_one / widest) ** (np.arange(_TRIES) / (_TRIES - 1)) + gap / 2
    laid = [_in_rows(sizes, breaks, float(width), gap) for width in tried]
    off = [round(abs(math.log(_shape(places, sizes) / aspect)), 9) for places in laid]
    start = np.array([high[0] + BESIDE * gap, low[1]])
    best = laid[off.index(min(off))] + start
    return {name: np.array([x, y, low[2]]) for name, (x, y) in zip(names, best.tolist(), strict=True)}


def _breaks(rows: Sequence[KitPlate]) -> list[bool]:
    """Whether a new row must begin with a plate, for each placement."""
    out: list[bool] = []
    thickness = rows[0].thickness
    for plate in rows:
        out += [plate.thickness != thickness, *[False] * (plate.quantity - 1)]
        thickness = plate.thickness
    return out


def _in_rows(sizes: Floats, breaks: Sequence[bool], width: float, gap: float) -> Floats:
    """(n, 2) lower left corners of boxes put side by side, a new row where one would pass the width or must begin."""
    out = np.zeros((len(sizes), 2))
    x = y = deep = 0.0
    for i, (wide, high) in enumerate(sizes.tolist()):
        if i and (breaks[i] or x + wide > width):
            x, y, deep = 0.0, y + deep + gap, 0.0
        out[i] = x, y
        x, deep = x + wide + gap, max(deep, high)
    return out


def _shape(places: Floats, sizes: Floats) -> float:
    """Width over depth of all boxes together."""
    wide, deep = (places + sizes).max(axis=0)
    return float(wide / deep)


def _bounds(plates: Sequence[KitPlate]) -> tuple[Floats, Floats]:
    """Lowest and highest corner of the placed plates, mm."""
    low, high = np.full(3, np.inf), np.full(3, -np.inf)
    for plate in plates:
        flat = plate.outline.outer.flatten()
        for placed in plate.placements:
            turn, at = placed.matrix[:3, :3], placed.matrix[:3, 3]
            faces = flat @ turn[:, :2].T + at, flat @ turn[:, :2].T + at + plate.thickness * turn[:, 2]
            low = np.minimum(low, np.minimum(*(face.min(axis=0) for face in faces)))
            high = np.maximum(high, np.maximum(*(face.max(axis=0) for face in faces)))
    return low, high
