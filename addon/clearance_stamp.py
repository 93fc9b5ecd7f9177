"""What tells that the drawing, or the plates, are as they were when the room round them was looked for."""

from __future__ import annotations

from itertools import islice

import bmesh
import bpy

from .plate_objects import plate_objects
from .scan_mesh import SAMPLES, Stamp
from .units import mm_per_unit
from .views import home_matrix

__all__ = ["stamp_of_body"]


def stamp_of_body(context: bpy.types.Context, envelope: bpy.types.Object, kind: str) -> Stamp:
    """What tells that the envelope (ENVELOPE), or its plates in the assembly (PLATES), are as they were: cheap, since
    every redraw asks."""
    if kind == "ENVELOPE":
        return (*_drawn(envelope), _placed(envelope.matrix_world), mm_per_unit(context.scene))
    return tuple(
        (item.name, len(item.data.vertices), tuple(item.bound_box[0]), tuple(item.bound_box[6]),
         _placed(home_matrix(item, context.scene)))
        for item in plate_objects(envelope)
    )


def _drawn(item: bpy.types.Object) -> Stamp:
    """How many points and faces there are, and some of the points, as they are drawn at this moment."""
    drawn = item.data
    points, faces = drawn.vertices, drawn.polygons
    if item.mode == "EDIT":
        edited = bmesh.from_edit_mesh(drawn)
        points, faces = edited.verts, edited.faces
    count = len(points)
    some = islice(points, 0, None, max(1, count // SAMPLES))
    modifiers = tuple((modifier.type, modifier.show_viewport) for modifier in item.modifiers)
    return count, len(faces), tuple(tuple(point.co) for point in some), modifiers


def _placed(matrix: object) -> Stamp:
    return tuple(round(value, 6) for row in matrix for value in row)  # type: ignore[attr-defined]
