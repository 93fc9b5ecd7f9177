"""Rigid motions as matrices: rotation and translation, no mirror, no scale."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = ["levelled", "lifted", "undone"]

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
    """Plane motions (..., 3, 3) as motions (..., 4, 4) that keep heights."""
    out = np.zeros((*motion.shape[:-2], 4, 4))
    out[..., :2, :2], out[..., :2, 3] = motion[..., :2, :2], motion[..., :2, 2]
    out[..., 2, 2] = out[..., 3, 3] = 1.0
    return out


def levelled(matrix: Floats) -> Floats:
    """The plane's part (..., 3, 3) of motions (..., 4, 4) that keep heights: the reverse of `lifted`."""
    out = np.zeros((*matrix.shape[:-2], 3, 3))
    out[..., :2, :2], out[..., :2, 2] = matrix[..., :2, :2], matrix[..., :2, 3]
    out[..., 2, 2] = 1.0
    return out
