"""A kit as it was solved, about the drawing's middle, brought to where the drawing lies."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from .kit import Corner, Joint, Kit, KitPlate

__all__ = ["moved_kit", "moved_plates"]

Floats = NDArray[np.float64]


def moved_plates(plates: tuple[KitPlate, ...], by: Floats) -> tuple[KitPlate, ...]:
    """The plates with their placements shifted by (3,) mm."""
    return tuple(
        replace(plate, placements=tuple(replace(p, matrix=_shifted(p.matrix, by)) for p in plate.placements))
        for plate in plates)


def moved_kit(kit: Kit, by: Floats) -> Kit:
    """The kit with its placements, joints and corners shifted; findings are left to whoever knows where they are from,
    and openings are in the coordinates of their plates."""
    return replace(
        kit, plates=moved_plates(kit.plates, by), joints=tuple(_joint(joint, by) for joint in kit.joints),
        corners=tuple(_corner(corner, by) for corner in kit.corners))


def _shifted(matrix: Floats, by: Floats) -> Floats:
    out = matrix.copy()
    out[:3, 3] += by
    return out


def _joint(joint: Joint, by: Floats) -> Joint:
    return replace(joint, line=joint.line + by)


def _corner(corner: Corner, by: Floats) -> Corner:
    x, y, z = (np.asarray(corner.at) + by).tolist()
    return replace(corner, at=(x, y, z))
