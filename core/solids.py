"""Plates as solids: the outline pushed through the sheet's thickness, square to it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from manifold3d import CrossSection, FillRule, Manifold
from numpy.typing import NDArray

from .outline import Outline
from .plates import Plate

__all__ = ["Solids", "plate_mesh", "plate_solid"]

Floats = NDArray[np.float64]


def plate_solid(outline: Outline, thickness: float) -> Manifold:
    """The solid of a plate lying on z = 0, outside face up at z = thickness."""
    section = CrossSection([ring.tolist() for ring in outline.rings()], FillRule.EvenOdd)
    return Manifold.extrude(section, thickness)


def plate_mesh(outline: Outline, thickness: float) -> tuple[Floats, NDArray[np.int64]]:
    """Points (n, 3) and triangles (m, 3), outward, of a plate lying on z = 0; watertight."""
    mesh = plate_solid(outline, thickness).to_mesh64()
    return np.asarray(mesh.vert_properties)[:, :3].copy(), np.asarray(mesh.tri_verts).astype(np.int64)


class Solids:
    """The placed solids of a row of plates, each built when it is first asked for.

    A cache and nothing more: plates do not change, so neither do their solids.
    """

    def __init__(self, plates: Sequence[Plate]) -> None:
        self._plates = plates
        self._built: dict[int, Manifold] = {}

    def __getitem__(self, index: int) -> Manifold:
        if index not in self._built:
            plate = self._plates[index]
            self._built[index] = plate_solid(plate.outline, plate.thickness).transform(plate.place()[:3])
        return self._built[index]

    def replaced(self, plates: Sequence[Plate], changed: set[int]) -> Solids:
        """Solids of `plates`, which differ from these at `changed` only."""
        out = Solids(plates)
        out._built = {i: s for i, s in self._built.items() if i not in changed}
        return out
