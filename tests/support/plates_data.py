"""Plates for tests of what is cut into them."""

from __future__ import annotations

import numpy as np

from tackwright.core.plates.plates import Plate
from tackwright.core.shapes.frame import Frame
from tackwright.core.shapes.outline import Contour, Outline

LEVEL = ((1.0, 0, 0), (0, 1, 0), (0, 0, 1))
"""Axes of a plate that looks up."""
FRONT = ((1.0, 0, 0), (0, 0, 1), (0, -1, 0))
"""Axes of a plate that looks towards -y."""


def sheet(name="lid", width=300.0, height=200.0, *, at=(0.0, 0.0, 0.0), axes=LEVEL, thickness=3.0, panel=0,
          corners=None, holes=()):
    """A plate with its metal below its plane; its lower left corner is at `at`."""
    if corners is None:
        corners = [(0.0, 0.0), (width, 0.0), (width, height), (0.0, height)]
    return Plate(
        name=name, number=panel, thickness=thickness, low=-thickness,
        outline=Outline(outer=Contour(points=np.array(corners, dtype=float)), holes=tuple(holes)),
        frame=Frame(origin=np.array(at, dtype=float), axes=np.array(axes, dtype=float)))
