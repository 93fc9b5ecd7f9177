"""The envelope: flat panels that meet along straight edges, before any metal has thickness.

Built from a mesh by `read_envelope.py`; the records here are what every later stage reads.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ..shapes.frame import Frame
from ..terms.choices import MetalSide
from ..terms.findings import Finding

__all__ = ["DrawnHole", "Edge", "Envelope", "InnerPanel", "Panel", "Shell", "importance_key"]

SHARE_INSIDE: Final = {"inside": 1.0, "centred": 0.5, "outside": 0.0}
"""How much of the metal lies below the panel's plane."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Panel:
    """One flat region of the envelope.

    name: unique in the envelope. frame: its plane; the normal points out of the envelope. rings: point
    indices of its corners, the outer ring first, counter-clockwise seen from outside, holes clockwise.
    edges: parallel to rings; edges[r][i] is the edge from rings[r][i] to the next corner. A ring keeps a
    point where the direction changes or where another neighbour begins. faces: of the mesh, ascending.
    thickness (mm) and metal_side are the panel's own, choices and defaults already resolved.
    """

    name: str
    frame: Frame
    rings: tuple[NDArray[np.int64], ...]
    edges: tuple[NDArray[np.int64], ...]
    faces: tuple[int, ...]
    shell: int
    area: float
    thickness: float
    metal_side: MetalSide

    @property
    def inner(self) -> float:
        """Depth of the inner metal surface below the panel's plane, mm (negative: outside it)."""
        return SHARE_INSIDE[self.metal_side] * self.thickness

    @property
    def outer(self) -> float:
        """Depth of the outer metal surface below the panel's plane, mm (negative: outside it)."""
        return self.inner - self.thickness


@dataclass(frozen=True, slots=True, kw_only=True)
class Edge:
    """A straight run where two panels meet, or a panel ends.

    panels: (a, b), or (a,) at a free edge, a < b. start, end: point indices, in the direction in which
    panel a's ring runs. angle: dihedral through the inside of the envelope, degrees, 0 to 360; 0 if free.
    mesh_edges: the sorted pairs of point indices of the given mesh that it was drawn as.
    """

    panels: tuple[int, ...]
    start: int
    end: int
    angle: float
    mesh_edges: tuple[tuple[int, int], ...]

    @property
    def free(self) -> bool:
        return len(self.panels) == 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Shell:
    """One connected surface. closed: without free edges, so that it has a volume."""

    name: str
    panels: tuple[int, ...]
    closed: bool


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DrawnHole:
    """A hole that was drawn in a panel: all its sides are free edges. points: (k, 2) corners in the panel's
    plane, clockwise seen from outside. mesh_edges: that it was drawn as."""

    panel: int
    points: NDArray[np.float64]
    mesh_edges: tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class InnerPanel:
    """One flat region inside the envelope, as drawn: an inner plate before it is fitted to the walls.

    frame: its plane; the normal is one of its faces'. rings: (k, 2) corners in that plane, one or more
    outer rings counter-clockwise and holes clockwise. The metal lies as metal_side says from the plane,
    `inside` meaning against the normal. mesh_edges: all edges of its faces; edge_ends: (m, 2, 2) where those
    begin and end in the plane.
    """

    name: str
    frame: Frame
    rings: tuple[NDArray[np.float64], ...]
    faces: tuple[int, ...]
    area: float
    thickness: float
    metal_side: MetalSide
    limber: float
    mesh_edges: tuple[tuple[int, int], ...]
    edge_ends: NDArray[np.float64]

    @property
    def low(self) -> float:
        """Height of the metal's lower surface over the plane, along the normal, mm."""
        return -SHARE_INSIDE[self.metal_side] * self.thickness


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Envelope:
    """points: (n, 3) mm, moved so that they lie near the origin; `origin` (3,) moves them back.
    Panels are sorted by geometry, so that the order of the mesh's faces does not matter; so are the inner ones.
    drawn_holes are no longer among the panels' rings, nor their sides among the edges."""

    name: str
    points: NDArray[np.float64]
    origin: NDArray[np.float64]
    panels: tuple[Panel, ...]
    edges: tuple[Edge, ...]
    shells: tuple[Shell, ...]
    notes: tuple[Finding, ...]
    drawn_holes: tuple[DrawnHole, ...] = ()
    inner: tuple[InnerPanel, ...] = ()


def importance_key(panel: Panel | InnerPanel, index: int) -> tuple[float, float, int]:
    """Sorts the more important panel first: the larger, of equals the thicker, of those the earlier. Areas count to
    six digits, so that rounding does not decide."""
    return (-float(f"{panel.area:.6g}"), -panel.thickness, index)
