"""Numbers that faces carry, written in Edit Mode. They follow the faces through saving, copying and subdividing."""

from __future__ import annotations

import bmesh
import bpy

from ...core.terms.errors import InputError
from ..host.editor_types import mesh_of

__all__ = ["mark_of_active", "mark_selected", "unmark"]


def mark_selected(item: bpy.types.Object, name: str, number: float, *, kind: str = "int") -> int:
    """Give the selected faces of an object in Edit Mode a number; how many they are.

    kind: of the attribute, int or float. Raises InputError where the mesh has something else of that name.
    """
    mesh = mesh_of(item)
    edited = bmesh.from_edit_mesh(mesh)
    layers = getattr(edited.faces.layers, kind)
    layer = layers.get(name)
    if layer is None:
        if name in mesh.attributes:
            raise InputError(f"The mesh of {item.name} has an attribute '{name}' of another kind", do="Rename it.")
        layer = layers.new(name)
    faces = [face for face in edited.faces if face.select]
    for face in faces:
        face[layer] = number
    bmesh.update_edit_mesh(mesh, loop_triangles=False, destructive=False)
    return len(faces)


def mark_of_active(item: bpy.types.Object, name: str, *, kind: str = "int") -> float | None:
    """The number of the active face of an object in Edit Mode, None where no face is active and selected."""
    edited = bmesh.from_edit_mesh(mesh_of(item))
    layer = getattr(edited.faces.layers, kind).get(name)
    face = edited.faces.active
    if face is None or not face.select:
        return None
    return 0 if layer is None else face[layer]


def unmark(mesh: bpy.types.Mesh, name: str, number: int) -> None:
    """Take a number from the faces that have it, in any mode."""
    if mesh.is_editmode:
        edited = bmesh.from_edit_mesh(mesh)
        layer = edited.faces.layers.int.get(name)
        for face in edited.faces if layer is not None else ():
            if face[layer] == number:
                face[layer] = 0
        bmesh.update_edit_mesh(mesh, loop_triangles=False, destructive=False)
    elif (attribute := mesh.attributes.get(name)) is not None and attribute.data_type == "INT":
        for value in attribute.data:
            if value.value == number:
                value.value = 0
