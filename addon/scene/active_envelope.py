"""Which object is the envelope that the user is working on, what belongs to it, and whether it can be made."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import bmesh
import bpy

from ..host.editor_types import mesh_of

__all__ = [
    "envelope_of", "home_of", "inner_meshes_of", "is_opening", "is_scan", "made_plate", "openings_of", "owner_of",
    "poll_envelope", "poll_settings", "select_only", "why_no_envelope", "why_not_changed", "why_not_made",
]  # fmt: skip

CONVERTIBLE: Final = {"CURVE", "SURFACE", "FONT", "META", "CURVES", "GPENCIL", "GREASEPENCIL"}
"""Kinds of object that the editor itself can turn into a mesh."""


def envelope_of(context: bpy.types.Context) -> bpy.types.Object | None:
    """The active mesh; where that is a plate, an opening, inner plates or a scan, the envelope it belongs to."""
    active = context.object
    if active is None:
        return None
    if active.type == "MESH" and made_plate(active):
        beside = (collection.tackwright_plates.envelope for collection in active.users_collection)
        owners = (active.tackwright_plate.envelope, *beside)
        return next((owner for owner in owners if _in_view(context, owner)), None)
    spaced = _envelope_in(active)
    if spaced is not None and _in_view(context, spaced):
        active = spaced
    owner = owner_of(context, active)
    return owner if owner is not None and owner.type == "MESH" else None


def is_scan(item: bpy.types.Object) -> bool:
    """Whether this is the scan of the space of some envelope."""
    return _envelope_in(item) is not None


def _envelope_in(scan: bpy.types.Object) -> bpy.types.Object | None:
    """The envelope whose space an object is, the last that was given it of several. None for what is an envelope too: a
    tank may be what stands in the way of another."""
    last = scan.tackwright_scan.envelope
    if last is None or scan.tackwright.summary or len(scan.tackwright.findings):
        return None
    if last.tackwright_space.scan == scan:
        return last
    return next((o for o in bpy.data.objects if o.type == "MESH" and o.tackwright_space.scan == scan), None)


def owner_of(context: bpy.types.Context, item: bpy.types.Object) -> bpy.types.Object | None:
    """The envelope that an opening or a mesh of inner plates belongs to; any other mesh is an envelope itself.

    Inner plates that are an envelope's can have openings and inner plates of their own: all are the envelope's.
    """
    seen = {item}
    if item.type == "EMPTY":
        owner = item.tackwright_opening.envelope if is_opening(item) else None
        if not _in_view(context, owner):
            return None
        item = owner
    while item.type == "MESH":
        owner = item.tackwright_inner.envelope
        if owner in seen or not _in_view(context, owner):
            return item
        seen.add(item)
        item = owner
    return None


def is_opening(item: bpy.types.Object) -> bool:
    """Whether this is an empty that marks an opening."""
    return item.type == "EMPTY" and item.tackwright_opening.enabled


def made_plate(item: bpy.types.Object) -> bool:
    """Whether Make Plates made this object and it is still its own: renamed or copied, it is the user's."""
    return bool(item.tackwright_plate.made_as) and item.name == item.tackwright_plate.made_as


def home_of(context: bpy.types.Context, envelope: bpy.types.Object) -> bpy.types.Collection:
    """The collection of the scene where the envelope is, and where what belongs to it goes."""
    in_scene = {context.scene.collection, *context.scene.collection.children_recursive}
    return next((c for c in envelope.users_collection if c in in_scene), context.scene.collection)


def inner_meshes_of(context: bpy.types.Context, envelope: bpy.types.Object) -> list[bpy.types.Object]:
    """The other mesh objects whose faces are inner plates of the envelope, by name."""
    return [
        item
        for item in _counting(context)
        if item.type == "MESH" and item.tackwright_inner.envelope is not None and item != envelope
        if not made_plate(item) and owner_of(context, item) == envelope
    ]


def openings_of(context: bpy.types.Context, envelope: bpy.types.Object) -> list[bpy.types.Object]:
    """The empties that mark openings of the envelope, by name."""
    return [item for item in _counting(context) if is_opening(item) and owner_of(context, item) == envelope]


def _counting(context: bpy.types.Context) -> list[bpy.types.Object]:
    """The objects that count, by name: hidden ones too, but not those disabled in viewports, which stay behind
    when what they belong to is moved. In place of one that was just removed there is None."""
    there = (o for o in context.view_layer.objects if o is not None)
    return sorted((o for o in there if not o.hide_viewport), key=lambda o: o.name)


def _in_view(context: bpy.types.Context, item: bpy.types.Object | None) -> bool:
    """Whether an object that others point to is still there to be worked on: a deleted one is kept by its pointers."""
    return item is not None and context.view_layer.objects.get(item.name) == item


def poll_envelope(operator: type[bpy.types.Operator], context: bpy.types.Context) -> bool:
    """Whether there is an envelope to make plates of; if not, the greyed button says why."""
    return _poll(operator, why_not_made(context))


def poll_settings(operator: type[bpy.types.Operator], context: bpy.types.Context) -> bool:
    """Whether there is an envelope that can be changed; if not, the greyed button says why."""
    return _poll(operator, why_no_envelope(context) or why_not_changed(envelope_of(context)))


def _poll(operator: type[bpy.types.Operator], reason: str) -> bool:
    if reason:
        operator.poll_message_set(reason)
    return not reason


def why_no_envelope(context: bpy.types.Context) -> str:
    """Why what is active is no envelope and belongs to none, and what to do; empty where there is one."""
    active = context.object
    if envelope_of(context) is not None:
        return ""
    if active is not None and is_opening(active):
        return "The opening belongs to no envelope: choose one in the Opening panel"
    if active is not None and active.type == "MESH":
        return "The envelope of this plate is not in this view layer: select another mesh object"
    if active is not None and active.type in CONVERTIBLE:
        return "This kind of object has no flat faces to make plates of: convert it first, in Object, Convert, Mesh"
    if active is not None and active.type == "EMPTY" and active.instance_collection is not None:
        return "This only shows what is elsewhere: make it real first, in Object, Apply, Make Instances Real"
    return "Select a mesh object: its flat faces become plates"


def why_not_made(context: bpy.types.Context) -> str:
    """Why no plates can be made now, and what to do; empty where they can."""
    if reason := why_no_envelope(context):
        return reason
    envelope = envelope_of(context)
    if reason := why_not_changed(envelope):
        return reason
    if _disabled(envelope):
        return "The envelope is disabled in viewports: turn it on again in the Outliner, at the screen beside its name"
    if context.mode not in {"OBJECT", "EDIT_MESH"}:
        return "Go to Object Mode or Edit Mode first"
    if context.mode == "OBJECT":
        drawn = bool(mesh_of(envelope).polygons or envelope.modifiers)
        return "" if drawn else "Draw some faces first: each flat one becomes a plate"
    if envelope.mode != "EDIT":
        if is_scan(context.object):
            return "Leave Edit Mode of the scan first"
        kind = made_plate(context.object)
        return "Leave Edit Mode of the plate first" if kind else "Leave Edit Mode of the inner plates first"
    if not bmesh.from_edit_mesh(mesh_of(envelope)).faces:
        return "Draw some faces first: each flat one becomes a plate"
    if mesh_of(envelope).total_face_sel == 0:
        return "Select the faces to make, or leave Edit Mode to make all of them"
    return ""


def why_not_changed(envelope: bpy.types.Object) -> str:
    """Why the envelope's settings cannot be changed here. An override of a linked object can be."""
    if envelope.library is not None:
        return (
            "The envelope is linked from another file, and so are its settings: first choose Object, Library Override, "
            "Make, or Object, Relations, Make Local"
        )
    return ""


def _disabled(item: bpy.types.Object) -> bool:
    """Whether the object is switched off in viewports, which stops its modifiers; one that the eye hides is alive."""
    return item.hide_viewport or all(collection.hide_viewport for collection in item.users_collection)


def select_only(context: bpy.types.Context, items: Sequence[bpy.types.Object]) -> None:
    """Select these objects and no others, the first of them active. In Object Mode."""
    for other in context.selected_objects:
        other.select_set(False)
    for item in items:
        item.hide_set(False)
        item.select_set(True)
    context.view_layer.objects.active = items[0]
