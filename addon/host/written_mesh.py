"""The mesh of an object while attributes of it are written, in Edit and in Object Mode alike."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import bmesh
import bpy

from ...core.terms.errors import InputError
from .editor_types import mesh_of

__all__ = ["layer_for", "written_mesh"]


@contextmanager
def written_mesh(item: bpy.types.Object) -> Iterator[bmesh.types.BMesh]:
    """The object's mesh to write numbers on; its elements keep their numbers. Nothing is written when this fails in
    Object Mode. Raises InputError for a mesh that is linked from another file."""
    mesh = mesh_of(item)
    if mesh.library is not None:
        raise InputError(f"The mesh of {item.name} is linked from another file", do="Make it local first.")
    if mesh.is_editmode:
        edited = bmesh.from_edit_mesh(mesh)
        for elements in (edited.verts, edited.edges, edited.faces):
            elements.index_update()
        yield edited
        bmesh.update_edit_mesh(mesh, loop_triangles=False, destructive=False)
        return
    edited = bmesh.new()
    try:
        edited.from_mesh(mesh)
        yield edited
        edited.to_mesh(mesh)
        mesh.update()
    finally:
        edited.free()


def layer_for(item: bpy.types.Object, elements: Any, name: str, kind: str = "int") -> Any:
    """The layer of an attribute, made where there is none. elements: edges, faces or loops of the object's mesh.

    Making one moves the others: elements that were looked up before must be looked up again. kind: int or
    float. Raises InputError where the mesh has something else of that name.
    """
    layers = getattr(elements.layers, kind)
    layer = layers.get(name)
    if layer is None:
        if name in mesh_of(item).attributes:
            raise InputError(f"The mesh of {item.name} has an attribute '{name}' of another kind", do="Rename it.")
        layer = layers.new(name)
    return layer
