"""Pinned vertices: points of a drawing that True Faces leaves where they are."""

from __future__ import annotations

import bmesh
import bpy
import numpy as np
from numpy.typing import NDArray

from ...core.terms.errors import InputError
from ..host.editor_types import Ended, OfOperator, mesh_of
from ..host.mesh_numbers import numbers_of
from ..host.reports import report_error
from .edited_meshes import edited_meshes, poll_selected

__all__ = ["PIN_ATTRIBUTE", "TACKWRIGHT_OT_pin_vertices", "TACKWRIGHT_OT_unpin_vertices", "pinned_vertices"]

PIN_ATTRIBUTE = "tackwright_pinned"
"""Vertex attribute: 1 for a vertex that stays. 0, which vertices made new get, pins nothing."""


def pinned_vertices(mesh: bpy.types.Mesh) -> NDArray[np.bool_]:
    """(n,) which vertices are pinned, in any mode."""
    return numbers_of(mesh, PIN_ATTRIBUTE, "POINT") != 0


def _pin_selected(item: bpy.types.Object, number: int) -> int:
    """Give the selected vertices of an object in Edit Mode a number; how many they are."""
    mesh = mesh_of(item)
    edited = bmesh.from_edit_mesh(mesh)
    layer = edited.verts.layers.int.get(PIN_ATTRIBUTE)
    if layer is None:
        if PIN_ATTRIBUTE in mesh.attributes:
            raise InputError(
                f"The mesh of {item.name} has an attribute '{PIN_ATTRIBUTE}' of another kind", do="Rename it.")
        if not number:
            return 0
        layer = edited.verts.layers.int.new(PIN_ATTRIBUTE)
    selected = [vertex for vertex in edited.verts if vertex.select]
    for vertex in selected:
        vertex[layer] = number
    bmesh.update_edit_mesh(mesh, loop_triangles=False, destructive=False)
    return len(selected)


class _PinOperator(OfOperator):
    bl_options = {"REGISTER", "UNDO"}
    number = 0

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return poll_selected(cls, context, "vert")

    def execute(self, context: bpy.types.Context) -> Ended:
        try:
            for item in edited_meshes(context):
                _pin_selected(item, self.number)
        except InputError as error:
            report_error(self, error)
            return {"CANCELLED"}
        return {"FINISHED"}


class TACKWRIGHT_OT_pin_vertices(_PinOperator, bpy.types.Operator):
    """Pin the selected vertices: True Faces leaves them where they are and moves the others"""

    bl_idname = "tackwright.pin_vertices"
    bl_label = "Pin Vertices"
    number = 1


class TACKWRIGHT_OT_unpin_vertices(_PinOperator, bpy.types.Operator):
    """Let True Faces move the selected vertices again"""

    bl_idname = "tackwright.unpin_vertices"
    bl_label = "Unpin Vertices"
    number = 0


CLASSES = (TACKWRIGHT_OT_pin_vertices, TACKWRIGHT_OT_unpin_vertices)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
