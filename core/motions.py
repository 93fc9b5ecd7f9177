"""Rigid motions as matrices: rotation and translation, no mirror, no scale."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = ["lifted", "undone"]

Floats = NDArray[np.float64]


def undone(matrix: Floats) -> Floats:
    """The inverse of rigid motions (..., n, n), by turning back and moving back: exact to rounding."""
    turn = np.swapaxes(matrix[..., :-1, :-1], -1, -2)
    out = np.zeros_like(matrix)
    out[..., :-1, :-1] = turn
    out[..., :-1, -1] = -np.einsum("...ij,...j->...i", turn, matrix[..., :-1, -1])
    out[..., -1, -1] = 1.0
    return out


def lifted(motion: Floats) -> Floats:
    """A (3, 3) plane motion as a (4, 4) one that keeps heights."""
    out = np.eye(4)
    out[:2, :2], out[:2, 3] = motion[:2, :2], motion[:2, 2]
    return out
