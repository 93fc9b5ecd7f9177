"""The plates of a kit that is still being drawn, in the objects that are there.

Between two undo steps Blender takes for granted that objects and meshes are the same ones: it would keep pointing at
those that were made since, or at others in the place of some that were removed. So nothing is made or removed here
that can be changed in place, every plate has a mesh of its own, and what had to be made is let go before each undo.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import bpy

from ...core.kit.kit import KitPlate, Placement
from ..host.editor_types import mesh_of
from ..host.shown_lengths import mm_per_unit
from ..scene.plate_objects import plate_objects
from .plate_meshes import fill_mesh
from .shown_plates import plates_collection, stand_plates

__all__ = [
    "adopt", "brought_back", "follow_plates", "forget_made", "hide_plates", "let_go", "looks_of_plates", "sweep",
    "unshare",
]  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class _Looks:
    """What a user may have set on a plate's object."""

    colour: tuple[float, ...]
    disabled: bool
    materials: tuple[str, ...]


GONE: Final = "Gone Plate"
"""What the object of a plate is called that there is no more, until Make Plates takes it away."""
COPIED: Final = "tackwright_copy_of"
"""Property of a mesh that was copied between undo steps: the name of the one that its object had."""

_made: set[int] = set()
"""session_uid of objects, meshes and collections that were made between undo steps."""
_looks: dict[tuple[str, str], _Looks] = {}
"""How those looked that were let go, by envelope and panel."""


def follow_plates(
    context: bpy.types.Context, envelope: bpy.types.Object, plates: Sequence[KitPlate]
) -> bpy.types.Collection:
    """Show plates without an undo step. Objects made before for the same panel are used again, and so are their
    meshes; those without a panel stay, empty, until Make Plates takes them away."""
    mm = mm_per_unit(context.scene)
    known = {collection.session_uid for collection in bpy.data.collections}
    collection = plates_collection(context, envelope)
    _made.update({collection.session_uid} - known)
    before = {item.tackwright_plate.panel: item for item in plate_objects(envelope)}
    placed: list[tuple[bpy.types.Object, Placement]] = []
    for plate in plates:
        for placement in plate.placements:
            item = before.pop(placement.panel, None) or _new(envelope, placement.panel)
            if not item.users_collection:               # new, or brought back by an undo alone
                collection.objects.link(item)
            if item.mode == "OBJECT":                   # else somebody is at work on it
                fill_mesh(_own_mesh(item), plate, mm)
            placed.append((item, placement))
    for item in before.values():
        _empty(item)
    _name(placed)
    stand_plates(context, envelope, plates, placed)
    return collection


def hide_plates(envelope: bpy.types.Object) -> None:
    """Show nothing of the plates until they are made anew. Objects and names stay."""
    for item in plate_objects(envelope):
        if item.mode == "OBJECT" and len(mesh_of(item).vertices):
            _own_mesh(item).clear_geometry()


def looks_of_plates(envelope: bpy.types.Object) -> tuple[object, ...]:
    """What tells that the plates are as they were, each by itself and among each other."""
    return tuple(
        (item.name, len(points), *(tuple(points[i].co) for i in (0, -1) if points), tuple(item.tackwright_plate.home))
        for item in plate_objects(envelope) for points in (mesh_of(item).vertices,))


def unshare(envelope: bpy.types.Object) -> None:
    """Give every plate a mesh of its own. As a part of what the user does, to be undone with it."""
    for item in plate_objects(envelope):
        if item.data.users > 1 and item.mode != "EDIT":
            item.data = item.data.copy()


def adopt(envelope: bpy.types.Object) -> None:
    """What was made for the envelope is part of an undo step from now on."""
    for item in plate_objects(envelope):
        _made.difference_update({item.session_uid, item.data.session_uid})
        _made.difference_update(collection.session_uid for collection in item.users_collection)


def sweep(envelope: bpy.types.Object) -> None:
    """Take away what stayed of plates that there are no more. As a part of what the user does."""
    for item in plate_objects(envelope):
        if not item.tackwright_plate.placement and not len(mesh_of(item).vertices):
            bpy.data.objects.remove(item)


def let_go() -> None:
    """Take away what was made between undo steps: Blender is about to forget it."""
    if not _made:
        return
    for item in bpy.data.objects:
        plate = item.tackwright_plate
        if item.session_uid in _made and plate.envelope is not None:
            _looks[plate.envelope.name, plate.panel] = _looks_of(item)
    for mesh in [mesh for mesh in bpy.data.meshes if mesh.session_uid in _made]:
        original = bpy.data.meshes.get(mesh.get(COPIED, ""))
        if original is not None:
            mesh.user_remap(original)
    kinds: tuple[Any, ...] = (bpy.data.objects, bpy.data.meshes, bpy.data.collections)
    for items in kinds:
        for item in [item for item in items if item.session_uid in _made]:
            items.remove(item)
    _made.clear()
    # Asking for the active object has a view layer go without what is gone. Blender 4.2 would do so while it reads the
    # step, by pointers that mean nothing yet, and crash.
    _ = [layer.objects.active for scene in bpy.data.scenes for layer in scene.view_layers]


def brought_back(envelope: bpy.types.Object) -> None:
    """Have the plates that an undo brought back looked at again: Blender still shows those that were let go."""
    for item in plate_objects(envelope):
        item.update_tag()
        item.data.update_tag()


def forget_made() -> None:
    """Another file is open: nothing of before is left."""
    _made.clear()
    _looks.clear()


def _new(envelope: bpy.types.Object, panel: str) -> bpy.types.Object:
    mesh = bpy.data.meshes.new("~")
    item = bpy.data.objects.new("~", mesh)
    item.tackwright_plate.panel, item.tackwright_plate.envelope = panel, envelope
    _made.update({mesh.session_uid, item.session_uid})
    looks = _looks.pop((envelope.name, panel), None)
    if looks is not None:
        item.color, item.hide_viewport = looks.colour, looks.disabled
        for name in looks.materials:
            mesh.materials.append(bpy.data.materials.get(name))
    return item


def _looks_of(item: bpy.types.Object) -> _Looks:
    return _Looks(
        colour=tuple(item.color), disabled=item.hide_viewport,
        materials=tuple(slot.name for slot in item.material_slots))


def _own_mesh(item: bpy.types.Object) -> bpy.types.Mesh:
    """The object's mesh, which no other object has: what shared it would follow too."""
    if item.data.users > 1:
        shared = item.data
        item.data = shared.copy()
        item.data[COPIED] = shared.name
        _made.add(item.data.session_uid)
    return mesh_of(item)


def _empty(item: bpy.types.Object) -> None:
    """Show nothing of a plate that there is no more. The object stays: something may be moving it now."""
    if item.mode == "OBJECT" and len(mesh_of(item).vertices):
        _own_mesh(item).clear_geometry()
        item.name = item.data.name = GONE                # its name is another plate's now
        item.tackwright_plate.placement, item.tackwright_plate.made_as = "", item.name


def _name(placed: list[tuple[bpy.types.Object, Placement]]) -> None:
    wrong = [(item, at) for item, at in placed if item.name != at.id or item.tackwright_plate.placement != at.id]
    for item, _ in wrong:
        item.name = item.data.name = "~"                # frees the names, which the new marks may deal out otherwise
    for item, placement in wrong:
        item.name = item.data.name = placement.id
        tag = item.tackwright_plate
        tag.placement, tag.made_as = placement.id, item.name
