"""The mesh that an object draws: as it is seen in the viewport, modifiers applied, but without its shape keys.

Shape keys are for animation; a plate is cut once. So the drawing is the Basis, whatever the other keys are set to.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager

import bmesh
import bpy
import numpy as np

from ...core.terms.errors import InputError
from ...core.terms.findings import Finding
from .editor_types import mesh_of

__all__ = ["drawn_mesh", "notes_on"]


def notes_on(names: Iterable[str]) -> list[Finding]:
    """What is to be said of the objects of these names: that shape keys beside the Basis do not count."""
    found = []
    for name in names:
        item: bpy.types.Object | None = bpy.data.objects.get(name)
        keys = mesh_of(item).shape_keys if item is not None else None
        if keys is not None and len(keys.key_blocks) > 1:
            basis = keys.reference_key.name
            message = f"{name} has shape keys: its plates are made of '{basis}', the others are ignored"
            found.append(Finding(rule="shape_keys", level="note", message=message))
    return found


@contextmanager
def drawn_mesh(context: bpy.types.Context, item: bpy.types.Object) -> Iterator[bpy.types.Mesh]:
    """The mesh to read, as long as the `with` lasts. Nothing of the user's is changed, not for a moment.

    Raises InputError where the object is disabled in viewports: nobody applies its modifiers then.
    """
    if mesh_of(item).is_editmode:                           # by way of this object or of another that has the mesh
        item.update_from_editmode()
    depsgraph = context.evaluated_depsgraph_get()
    evaluated = item.evaluated_get(depsgraph)
    if not evaluated.is_evaluated:
        raise InputError(
            f"{item.name} is disabled in viewports",
            do="Turn it on again in the Outliner, at the screen beside its name or that of its collection.",
        )
    if not _keys_move_it(item):
        with _as_mesh(evaluated, depsgraph) as seen:
            yield seen
    elif not item.modifiers:
        basis = _basis_of(item)
        try:
            yield basis
        finally:
            bpy.data.meshes.remove(basis)
    else:
        with _copy_of(context, item) as (copy, copys_graph), _as_mesh(copy, copys_graph) as seen:
            yield seen


def _keys_move_it(item: bpy.types.Object) -> bool:
    """Whether what is seen is anything but the Basis."""
    keys = mesh_of(item).shape_keys
    if keys is None:
        return False
    if item.mode == "EDIT" or item.show_only_shape_key:
        return item.active_shape_key_index > 0 or item.use_shape_key_edit_mode
    return not keys.use_relative or any(key.value and not key.mute for key in keys.key_blocks[1:])


@contextmanager
def _as_mesh(evaluated: bpy.types.Object, depsgraph: bpy.types.Depsgraph) -> Iterator[bpy.types.Mesh]:
    try:
        yield evaluated.to_mesh(preserve_all_data_layers=True, depsgraph=depsgraph)
    finally:
        evaluated.to_mesh_clear()


def _basis_of(item: bpy.types.Object) -> bpy.types.Mesh:
    """A copy of the object's own mesh with the Basis as its only shape."""
    keys = mesh_of(item).shape_keys
    points = np.empty(3 * len(keys.reference_key.data), dtype=np.float32)
    keys.reference_key.data.foreach_get("co", points)
    # through a bmesh, which has no shape keys: a copy would bring its own, and older Blenders keep them for ever
    mesh, edited = bpy.data.meshes.new("~"), bmesh.new()
    try:
        edited.from_mesh(mesh_of(item))
        edited.to_mesh(mesh)
    finally:
        edited.free()
    for material in mesh_of(item).materials:
        mesh.materials.append(material)
    mesh.vertices.foreach_set("co", points)
    mesh.update()
    return mesh


@contextmanager
def _copy_of(
    context: bpy.types.Context, item: bpy.types.Object
) -> Iterator[tuple[bpy.types.Object, bpy.types.Depsgraph]]:
    """The object on its Basis, evaluated in a scene of its own, so that nothing in the user's is evaluated anew."""
    basis = _basis_of(item)
    copy, scene = item.copy(), bpy.data.scenes.new("~")
    try:
        copy.data = basis
        copy.hide_viewport = False
        scene.frame_set(context.scene.frame_current)
        scene.collection.objects.link(copy)
        layer = scene.view_layers[0]
        layer.update()
        depsgraph = layer.depsgraph
        yield copy.evaluated_get(depsgraph), depsgraph
    finally:
        bpy.data.scenes.remove(scene)
        bpy.data.objects.remove(copy)
        bpy.data.meshes.remove(basis)
