"""The plates of a kit as objects, in a collection beside their envelope."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

import bpy

from ...core.kit.kit import Kit, KitPlate, Placement
from ...core.kit.laid_flat import lay_flat
from ...core.kit.ways_out import WayOut, ways_out
from ..host.editor_types import mesh_of
from ..host.shown_lengths import mm_per_unit
from ..scene.active_envelope import home_of, made_plate
from ..scene.plate_objects import TackwrightPlate, collections_of, in_scene_units, plate_objects
from ..scene.views import apply_view
from .plate_meshes import fill_mesh, meshes_for

__all__ = ["fill_mesh", "in_scene_units", "keep_ways", "plates_collection", "plates_of", "show_plates", "stand_plates"]


def show_plates(context: bpy.types.Context, envelope: bpy.types.Object, kit: Kit) -> bpy.types.Collection:
    """One object per placement, named by its id and seen as the envelope's view has it; plates of the same mark
    share a mesh. May be called many times a second: what did not change is not touched.

    Objects made before for the same panel are used again, so that what the user set on them (colour, visibility,
    materials, collections) stays; those no longer needed are removed; all other objects are left alone.
    """
    mm = mm_per_unit(context.scene)
    collection = plates_collection(context, envelope)
    before: dict[str, bpy.types.Object] = {}
    spare: list[bpy.types.Object] = []
    for item in plate_objects(envelope):
        if before.setdefault(item.tackwright_plate.panel, item) != item:
            spare.append(item)
    known = [[before.pop(placed.panel, None) for placed in plate.placements] for plate in kit.plates]
    spare += before.values()
    meshes = meshes_for(kit.plates, [[item for item in row if item is not None] for row in known], mm)
    old_meshes = {mesh_of(item) for row in (*known, spare) for item in row if item is not None}
    _remove(spare)

    placed: list[tuple[bpy.types.Object, Placement]] = []
    for plate, row, mesh in zip(kit.plates, known, meshes, strict=True):
        for item, placement in zip(row, plate.placements, strict=True):
            if item is None:
                item = bpy.data.objects.new("~", mesh)
                collection.objects.link(item)
                item.tackwright_plate.envelope = envelope
            else:
                _give_mesh(item, mesh)
            placed.append((item, placement))
    _name(placed)
    for old in old_meshes:
        if old.users == 0:
            bpy.data.meshes.remove(old)
    _name_meshes(zip(meshes, (plate.mark for plate in kit.plates), strict=True))

    ways = ways_out(kit)
    for item, placement in placed:
        _keep_way(item.tackwright_plate, ways[placement.id])
    stand_plates(context, envelope, kit.plates, placed)
    return collection


def stand_plates(
    context: bpy.types.Context,
    envelope: bpy.types.Object,
    plates: Sequence[KitPlate],
    placed: Iterable[tuple[bpy.types.Object, Placement]],
) -> None:
    """Keep on every plate object where it stands and where it lies flat, and bring it to where the view has it. The way
    it comes out stays the one it had: what is drawn changes it little, and only a whole kit tells."""
    flat, new = lay_flat(plates), []
    for item, placement in placed:
        plate = item.tackwright_plate
        if not plate.placed:
            new.append(item)
        if plate.panel != placement.panel:
            plate.panel = placement.panel
        if plate.envelope != envelope:
            plate.envelope = envelope
        plate.home = placement.matrix.ravel().tolist()
        plate.flat = flat[placement.id].tolist()
        plate.placed = True
    apply_view(context, envelope)
    _into_local_views(context, envelope, new)


def keep_ways(context: bpy.types.Context, envelope: bpy.types.Object, ways: Mapping[str, WayOut]) -> None:
    """Keep how every plate comes out, by the ids of their placements, and bring them to where the view has them."""
    for item in plate_objects(envelope):
        way = ways.get(item.tackwright_plate.placement)
        if way is not None:
            _keep_way(item.tackwright_plate, way)
    apply_view(context, envelope)


def plates_of(envelope: bpy.types.Object) -> int:
    """How many plates there are that Make Plates made of the envelope."""
    return len(plate_objects(envelope))


def plates_collection(context: bpy.types.Context, envelope: bpy.types.Object) -> bpy.types.Collection:
    """The collection of the envelope's plates, in the scene, made where there is none yet."""
    in_scene = {context.scene.collection, *context.scene.collection.children_recursive}
    home = home_of(context, envelope)
    if home.library is not None:  # what is linked cannot be added to
        home = context.scene.collection
    known = collections_of(envelope)
    if any(collection in in_scene for collection in known):
        return next(collection for collection in known if collection in in_scene)
    collection = known[0] if known else bpy.data.collections.new(f"{envelope.name} Plates")
    collection.tackwright_plates.envelope = envelope
    home.children.link(collection)
    return collection


def _remove(items: Iterable[bpy.types.Object]) -> None:
    for item in items:
        bpy.data.objects.remove(item)


def _give_mesh(item: bpy.types.Object, mesh: bpy.types.Mesh) -> None:
    if item.data == mesh or item.mode == "EDIT":  # an edited plate gets its mesh when its editing is over
        return
    if not mesh.materials:
        for material in mesh_of(item).materials:
            mesh.materials.append(material)
    item.data = mesh


def _name(placed: list[tuple[bpy.types.Object, Placement]]) -> None:
    """Name the objects by the ids of their placements, as far as these names are free."""
    wrong = [(item, placement) for item, placement in placed if not _is_named(item, placement.id)]
    for item, _ in wrong:
        item.name = "~"  # frees the names, which the new marks may deal out otherwise
    for item, placement in wrong:
        item.name = placement.id
        item.tackwright_plate.placement, item.tackwright_plate.made_as = placement.id, item.name


def _is_named(item: bpy.types.Object, wanted: str) -> bool:
    """Whether the object has the name, or one with a number behind it while another object has that name."""
    tag = item.tackwright_plate
    return tag.placement == wanted and made_plate(item) and (item.name == wanted or wanted in bpy.data.objects)


def _name_meshes(named: Iterable[tuple[bpy.types.Mesh, str]]) -> None:
    wrong = [(mesh, mark) for mesh, mark in named if mesh.name != mark]
    for mesh, _ in wrong:
        mesh.name = "~"
    for mesh, mark in wrong:
        mesh.name = mark


def _keep_way(plate: TackwrightPlate, way: WayOut) -> None:
    plate.way = (way.direction * way.distance).tolist()
    plate.begin, plate.end = way.begin, way.end


def _into_local_views(
    context: bpy.types.Context, envelope: bpy.types.Object, items: Iterable[bpy.types.Object]
) -> None:
    """New plates are in every local view that the envelope is in and in no other; Blender would put them into all."""
    views = [
        area.spaces.active
        for window in context.window_manager.windows
        if window.scene == context.scene
        for area in window.screen.areas
        if area.type == "VIEW_3D" and area.spaces.active.local_view is not None
    ]
    if not views:
        return
    drawn = envelope.evaluated_get(context.evaluated_depsgraph_get())  # which lets the view layer know new objects too
    there = [item for item in items if item.name in context.view_layer.objects]
    for view in views:
        seen = drawn.local_view_get(view)
        for item in there:
            item.local_view_set(view, seen)
