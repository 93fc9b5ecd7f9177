"""The plates of a kit, in place, as they are in a torch's way."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from ..plates.plates import Plate, places_of, plate_shapes
from ..plates.solids import plate_mesh
from ..shapes.outline import Contour, Outline
from ..shapes.rings import polygon_parts, rings_of
from ..terms.choices import Torch
from .shields import Shields, shields

__all__ = ["placed_shields"]

Floats = NDArray[np.float64]


def placed_shields(plates: Sequence[Plate], torch: Torch) -> Shields:
    """Plates by number, in the frame they are placed in, without what only costs time: they lack a rim as wide as the
    thickest of them, tabs and notches with it, but no more than half a nozzle. Holes too narrow for the nozzle,
    perforations among them, are filled: no torch goes through."""
    rim = min(max((plate.thickness for plate in plates), default=0.0), torch.nozzle / 2)
    corners, numbers = [np.empty((0, 3, 3))], []
    for number, (plate, shape, place) in enumerate(
        zip(plates, plate_shapes([plate.outline for plate in plates]), places_of(plates), strict=True)
    ):
        for part in _rough(shape, rim, torch.nozzle):
            points, faces = plate_mesh(part, plate.thickness, fields=False)
            corners.append((points @ place[:3, :3].T + place[:3, 3])[faces.astype(np.int64)])
            numbers += [number] * len(faces)
    return shields(np.concatenate(corners), np.array(numbers, dtype=np.int64), len(plates))


def _rough(shape: shapely.Polygon, rim: float, nozzle: float) -> list[Outline]:
    """What is left of a shape without its rim, within it all round; the shape itself where nothing is."""
    holes = [shapely.Polygon(ring) for ring in shape.interiors]
    wide = [hole for hole in holes if not hole.buffer(-nozzle / 2).is_empty]
    filled = shapely.Polygon(shape.exterior).difference(shapely.union_all(wide))
    rough = filled.buffer(-rim, join_style="mitre").simplify(rim)
    if rough.is_empty:
        rough = shape
    return [
        Outline(outer=Contour(points=outer), holes=tuple(Contour(points=hole) for hole in inner))
        for outer, *inner in map(rings_of, polygon_parts(shapely.orient_polygons(rough)))
    ]
