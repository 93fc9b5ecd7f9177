"""The two sides of a tee, as a torch sees them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from ..inner.tee_tabs import Tee
from ..plates.plates import Plate
from .torch_ways import TorchLine

__all__ = ["tee_sides"]

Floats = NDArray[np.float64]


def tee_sides(tee: Tee, plates: Sequence[Plate]) -> tuple[TorchLine, TorchLine]:
    """The front of the plate's frame, then its back: where each face, and the wall's, cross. plates: all, by number."""
    plate = plates[tee.plate]
    axes, wall = plate.frame.axes, plates[tee.wall].frame.axes[2]
    up = -(tee.away @ axes[:2])
    wall = wall if float(wall @ up) > 0.0 else -wall
    high = (tee.line - plate.frame.origin) @ axes[2]
    sides = []
    for side, face in ((1.0, plate.low + plate.thickness), (-1.0, plate.low)):
        # along the wall, away from the plate: of the face's normal the part that lies in the wall
        out = side * (axes[2] - wall * float(axes[2] @ wall))
        out /= np.linalg.norm(out)
        shift = (face - high) / float(out @ axes[2])
        toward = out + up
        sides.append(TorchLine(
            line=tee.line + shift[:, None] * out, toward=toward / np.linalg.norm(toward),
            wedge=float(np.degrees(np.arccos(np.clip(out @ up, -1.0, 1.0)))), plates=(tee.plate, tee.wall)))
    return sides[0], sides[1]
