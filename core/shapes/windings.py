"""How often a closed surface goes round a point."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = ["windings"]

Reals = NDArray[np.float64]

_BLOCK = 200_000
"""Pairs of a point and a triangle that are held in memory at a time."""


def windings(points: Reals, triangles: Reals) -> Reals:
    """(n,) how often a surface of triangles (t, 3, 3) goes round each point: 1 inside a closed one, 0 outside.

    By solid angles: van Oosterom and Strackee, The solid angle of a plane triangle, 1983.
    """
    found = np.empty(len(points))
    rows = max(1, _BLOCK // max(1, len(triangles)))
    for begin in range(0, len(points), rows):
        block = slice(begin, begin + rows)
        a, b, c = (triangles[None, :, i] - points[block, None] for i in range(3))
        la, lb, lc = (np.linalg.norm(v, axis=2) for v in (a, b, c))
        volume = np.einsum("pti,pti->pt", a, np.cross(b, c))
        ab, bc, ca = (np.einsum("pti,pti->pt", v, w) for v, w in ((a, b), (b, c), (c, a)))
        below = la * lb * lc + ab * lc + bc * la + ca * lb
        found[block] = np.arctan2(volume, below).sum(axis=1) / (2.0 * np.pi)
    return found
