"""The plates of a kit as objects, in a collection beside their envelope."""

from __future__ import annotations

import bpy
import numpy as np
from bpy.props import PointerProperty, StringProperty
from mathutils import Matrix
from numpy.typing import NDArray

from ..core.kit import Kit, KitPlate, Placement
from .envelope import home_of, made_plate
from .units import mm_per_unit

__all__ = ["plates_of", "show_plates"]


class TackwrightPlate(bpy.types.PropertyGroup):
    """What a plate object is. made_as: the name it was given. As long as it has that name, the next Make
    Plates may change it or take it away; renamed or copied it is the user's own."""

    placement: StringProperty()
    panel: StringProperty()
    made_as: StringProperty()


class TackwrightPlates(bpy.types.PropertyGroup):
    """Whose plates a collection holds. Kept here and not on the envelope, so that a copy of the envelope
    gets plates of its own."""

    envelope: PointerProperty(type=bpy.types.Object)


def show_plates(context: bpy.types.Context, envelope: bpy.types.Object, kit: Kit) -> bpy.types.Collection:
    """One object per placement, named by its id; plates of the same mark share a mesh.

    Objects made before for the same panel are used again, so that what the user set on them (colour,
    visibility, materials) stays; those no longer needed are removed; all other objects are left alone.
    """
    mm = mm_per_unit(context.scene)
    collection = _collection_for(context, envelope)
    before = {item.tackwright_plate.panel: item for item in collection.objects if made_plate(item)}
    old_meshes = {item.data for item in before.values()}
    for item in before.values():
        item.name = "~"  # frees the names, which the new marks may deal out otherwise
    meshes: list[tuple[bpy.types.Mesh, str]] = []
    for plate in kit.plates:
        mesh = _plate_mesh(plate, mm)
        meshes.append((mesh, plate.mark))
        for placement in plate.placements:
            _place(collection, before.pop(placement.panel, None), mesh, placement, mm)
    for item in before.values():
        bpy.data.objects.remove(item)
    for mesh in sorted(old_meshes, key=lambda m: m.name):
        if mesh.users == 0:
            bpy.data.meshes.remove(mesh)
    for mesh, mark in meshes:
        mesh.name = mark
    return collection


def plates_of(envelope: bpy.types.Object) -> int:
    """How many plates there are that Make Plates made of the envelope."""
    own = [c for c in bpy.data.collections if c.tackwright_plates.envelope == envelope]
    return sum(made_plate(item) for collection in own for item in collection.objects)


def _collection_for(context: bpy.types.Context, envelope: bpy.types.Object) -> bpy.types.Collection:
    """The collection of the envelope's plates, in the scene, made where there is none yet."""
    in_scene = {context.scene.collection, *context.scene.collection.children_recursive}
    for collection in bpy.data.collections:
        if collection.tackwright_plates.envelope == envelope:
            if collection not in in_scene:
                home_of(context, envelope).children.link(collection)
            return collection
    collection = bpy.data.collections.new(f"{envelope.name} Plates")
    collection.tackwright_plates.envelope = envelope
    home_of(context, envelope).children.link(collection)
    if envelope.display_type == "TEXTURED":
        envelope.display_type = "WIRE"  # or its faces would cover the plates in them; only this first time
    return collection


def _plate_mesh(plate: KitPlate, mm: float) -> bpy.types.Mesh:
    """A new mesh of one plate as cut, in the scene's units."""
    from ..core.solids import plate_mesh

    points, triangles = plate_mesh(plate.outline, plate.thickness)
    mesh = bpy.data.meshes.new("~")
    mesh.vertices.add(len(points))
    mesh.vertices.foreach_set("co", (np.asarray(points) / mm).astype(np.float32).ravel())
    mesh.loops.add(3 * len(triangles))
    mesh.loops.foreach_set("vertex_index", np.asarray(triangles).astype(np.int32).ravel())
    mesh.polygons.add(len(triangles))
    mesh.polygons.foreach_set("loop_start", np.arange(0, 3 * len(triangles), 3, dtype=np.int32))
    mesh.update(calc_edges=True)
    mesh.shade_flat()
    return mesh


def _place(
    collection: bpy.types.Collection,
    item: bpy.types.Object | None,
    mesh: bpy.types.Mesh,
    placement: Placement,
    mm: float,
) -> None:
    if item is None:
        item = bpy.data.objects.new("~", mesh)
        collection.objects.link(item)
    else:
        if not mesh.materials:
            for material in item.data.materials:
                mesh.materials.append(material)
        item.data = mesh
    item.matrix_world = _in_scene_units(placement.matrix, mm)
    item.name = placement.id
    tag = item.tackwright_plate
    tag.placement, tag.panel, tag.made_as = placement.id, placement.panel, item.name


def _in_scene_units(matrix: NDArray[np.float64], mm: float) -> Matrix:
    """A motion in mm as one in the scene's units: only its translation has a length."""
    out = matrix.copy()
    out[:3, 3] /= mm
    return Matrix(out.tolist())  # by rows; given bare, Blender would read the lists as columns


CLASSES = (TackwrightPlate, TackwrightPlates)
_register_classes, _unregister_classes = bpy.utils.register_classes_factory(CLASSES)


def register() -> None:
    _register_classes()
    bpy.types.Object.tackwright_plate = PointerProperty(type=TackwrightPlate, name="Tackwright Plate")
    bpy.types.Collection.tackwright_plates = PointerProperty(type=TackwrightPlates, name="Tackwright Plates")


def unregister() -> None:
    del bpy.types.Collection.tackwright_plates
    del bpy.types.Object.tackwright_plate
    _unregister_classes()
