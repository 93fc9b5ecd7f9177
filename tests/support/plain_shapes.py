"""Plain envelopes by their measures, mm."""

import numpy as np
from strategies import prism

from tackwright.core.envelope.mesh import Mesh

CUBE = [(0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0), (0, 0, 1), (1, 0, 1), (1, 1, 1), (0, 1, 1)]
FACES = [(0, 3, 2, 1), (4, 5, 6, 7), (0, 1, 5, 4), (1, 2, 6, 5), (2, 3, 7, 6), (3, 0, 4, 7)]


def box(width=300.0, depth=200.0, height=100.0):
    return Mesh.of(np.array(CUBE, dtype=float) * [width, depth, height], FACES)


def wedge(angle, side=200.0):
    """A prism on an isosceles triangle with the given apex angle."""
    half = np.radians(angle / 2)
    across, along = side * np.sin(half), side * np.cos(half)
    outline = np.array([[0, 0], [across, along], [-across, along]])
    return prism(outline, 150.0)
