"""The body round which room is looked for, an envelope or its plates, and what tells that it is as it was."""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING

import bpy
import numpy as np

from ...core.terms.choices import Choices
from ...core.terms.errors import InputError
from ..gather.mesh_object import read_mesh_object
from ..gather.scan_mesh import Stamp, drawn_stamp, placed, points_in_world_mm
from ..host.editor_types import mesh_of
from ..host.shown_lengths import mm_per_unit
from ..scene.plate_objects import plate_objects
from ..scene.views import home_matrix

if TYPE_CHECKING:
    from ...core.scan.clearance_body import Body

__all__ = ["body_of", "stamp_of_body"]


def body_of(context: bpy.types.Context, envelope: bpy.types.Object, kind: str) -> tuple[Body, tuple[str, ...]]:
    """The envelope (ENVELOPE) as it is drawn, or its plates in the assembly (PLATES) and their names.

    Raises InputError for an envelope without faces, or without plates.
    """
    from ...core.scan.clearance_body import body_of_mesh, body_of_solids

    if kind == "ENVELOPE":
        part = read_mesh_object(context, envelope, selected_only=False)
        return body_of_mesh(part.mesh, Choices(faces=MappingProxyType(part.faces))), ()
    mm, solids, names = mm_per_unit(context.scene), [], []
    for item in plate_objects(envelope):
        mesh = mesh_of(item)
        if not len(mesh.vertices):
            continue
        mesh.calc_loop_triangles()
        points = np.empty(3 * len(mesh.vertices), dtype=np.float32)
        mesh.vertices.foreach_get("co", points)
        triangles = np.empty(3 * len(mesh.loop_triangles), dtype=np.int32)
        mesh.loop_triangles.foreach_get("vertices", triangles)
        home = np.array(home_matrix(item, context.scene), dtype=np.float64)
        places = points_in_world_mm(points.reshape(-1, 3), home, mm)
        solids.append((places, triangles.reshape(-1, 3).astype(np.int64)))
        names.append(item.name)
    if not solids:
        raise InputError("There are no plates yet", do="Press Make Plates first, or check the envelope.")
    return body_of_solids(solids), tuple(names)


def stamp_of_body(context: bpy.types.Context, envelope: bpy.types.Object, kind: str) -> Stamp:
    """What tells that the envelope (ENVELOPE), or its plates in the assembly (PLATES), are as they were: cheap, since
    every redraw asks."""
    if kind == "ENVELOPE":
        return (*drawn_stamp(envelope), placed(envelope.matrix_world), mm_per_unit(context.scene))
    return tuple(
        (item.name, len(mesh_of(item).vertices), tuple(item.bound_box[0]), tuple(item.bound_box[6]),
         placed(home_matrix(item, context.scene)))
        for item in plate_objects(envelope)
    )
