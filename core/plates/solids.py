"""Plates as solids: the outline pushed through the sheet's thickness, square to it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from manifold3d import CrossSection, FillRule, Manifold, triangulate
from numpy.typing import NDArray

from ..shapes.outline import Contour, Outline
from ..shapes.perforated_face import perforated_face
from .plates import Plate

__all__ = ["Solids", "plate_mesh", "plate_solid"]

Floats = NDArray[np.float64]


def plate_solid(outline: Outline, thickness: float) -> Manifold:
    """The solid of a plate lying on z = 0, outside face up at z = thickness."""
    section = CrossSection([ring.tolist() for ring in outline.rings()], FillRule.EvenOdd)
    return Manifold.extrude(section, thickness)


def plate_mesh(outline: Outline, thickness: float, *, fields: bool = True) -> tuple[Floats, NDArray[np.uint32]]:
    """(n, 3) points in mm and (m, 3) corners of triangles, seen counter-clockwise from outside: a closed solid.

    The first half of the points is the face at z = 0, the second the outside face at z = thickness. fields: with
    the holes of perforation fields, somewhat coarsely.
    """
    many = fields and any(field.count for field in outline.fields)
    flat, top, rim = perforated_face(outline) if many else _face(outline)
    count = len(flat)
    here, ahead = rim.T
    sides = np.column_stack([here, ahead, ahead + count, here, ahead + count, here + count])
    points = np.column_stack([np.tile(flat, (2, 1)), np.repeat([0.0, thickness], count)])
    return points, np.concatenate([top[:, ::-1], top + count, sides.reshape(-1, 3)]).astype(np.uint32)


def _face(outline: Outline) -> tuple[Floats, NDArray[np.int64], NDArray[np.int64]]:
    """Points (n, 2), triangles (m, 3) and rim (n, 2) of the outline without its fields, as `perforated_face`'s."""
    rings = outline.rings()
    # a circle comes counter-clockwise
    rings[1:] = [ring if Contour(points=ring).area() < 0 else ring[::-1] for ring in rings[1:]]
    flat = np.concatenate(rings)
    here = np.arange(len(flat))
    ahead = np.concatenate([np.roll(part, -1) for part in np.split(here, np.cumsum([len(r) for r in rings])[:-1])])
    top = np.asarray(triangulate(rings), dtype=np.int64).reshape(-1, 3)
    return flat, top, np.column_stack([here, ahead])


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
