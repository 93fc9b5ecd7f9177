"""The plates of a kit, in place, as they are in a torch's way."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from ..plates.plates import plate_shapes
from ..plates.solids import plate_mesh
from ..shapes.outline import Contour, Outline
from ..shapes.rings import polygon_parts, rings_of
from ..terms.choices import Torch
from .shields import Shields, shields

__all__ = ["Cut", "placed_shields"]

Floats = NDArray[np.float64]


NARROW: Final = 2.0
"""Widths of the nozzle: through a hole or notch that is narrower nobody sees what he welds. Our choice."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Cut:
    """A plate as cut, and where its copies are. places: (k, 4, 4)."""

    outline: Outline
    thickness: float
    places: Floats


def placed_shields(cuts: Sequence[Cut], torch: Torch) -> Shields:
    """All copies, numbered one cut after the other, without what only costs time: they lack a rim as wide as the
    thickest plate, tabs and notches with it, but no more than half a nozzle. Holes and notches too narrow
    to weld through, perforations among them, are filled."""
    rim = min(max((cut.thickness for cut in cuts), default=0.0), torch.nozzle / 2)
    corners, numbers, first = [np.empty((0, 3, 3))], [np.empty(0, dtype=np.int64)], 0
    for cut, shape in zip(cuts, plate_shapes([cut.outline for cut in cuts]), strict=True):
        count = len(cut.places)
        for part in _rough(shape, rim, NARROW * torch.nozzle):
            points, faces = plate_mesh(part, cut.thickness, fields=False)
            placed = points @ cut.places[:, :3, :3].transpose(0, 2, 1) + cut.places[:, None, :3, 3]
            corners.append(placed[:, faces.astype(np.int64)].reshape(-1, 3, 3))
            numbers.append(np.repeat(np.arange(first, first + count), len(faces)))
        first += count
    return shields(np.concatenate(corners), np.concatenate(numbers), first)


def _rough(shape: shapely.Polygon, rim: float, narrow: float) -> list[Outline]:
    """What is left of a shape without its rim, within it all round but for what is filled; the shape itself where
    nothing is left."""
    half = narrow / 2
    holes = [hole for hole in map(shapely.Polygon, shape.interiors) if not hole.buffer(-half).is_empty]
    filled = shapely.Polygon(shape.exterior).buffer(half, join_style="mitre").buffer(-half - rim, join_style="mitre")
    rough = filled.difference(shapely.union_all(holes).buffer(rim)).simplify(rim)
    if rough.is_empty:
        rough = shape
    return [
        Outline(outer=Contour(points=outer), holes=tuple(Contour(points=hole) for hole in inner))
        for outer, *inner in map(rings_of, polygon_parts(shapely.orient_polygons(rough)))
    ]
