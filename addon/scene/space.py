"""The space that an envelope goes into: its scan, what room is asked for, and where it is tight."""

# No `from __future__ import annotations`: Blender reads the annotations as properties.

import bpy
from bpy.props import (
    BoolProperty,
    CollectionProperty,
    FloatProperty,
    FloatVectorProperty,
    IntProperty,
    PointerProperty,
    StringProperty,
)

from ..host.changes import SPACE, tell_of
from ..host.overrides import OVERRIDABLE, overridable
from ..host.shown_lengths import kept_mm, shown_length
from .active_envelope import made_plate

__all__ = ["TackwrightScan", "TackwrightSpace", "scan_of"]

WELD_ROOM = 0.0
"""mm: none is taken off unless asked for: whether a seam is welded in place or on the bench only the user knows."""
TIGHT = 10.0
"""mm: what counts as tight. Common practice, no source: a hand's width of drawing error, paint and a bent bracket."""


def _scan_chosen(self: "TackwrightSpace", context: bpy.types.Context) -> None:
    """The scan knows whose it is, so that what is said of it is said of the envelope."""
    if self.scan is not None and self.scan.library is None:
        self.scan.tackwright_scan.envelope = self.id_data


def _asked_anew(self: bpy.types.PropertyGroup, context: bpy.types.Context) -> None:
    """What was found does not count any more: look again where that is wanted."""
    tell_of(SPACE, context, self.id_data)


def _may_be_scan(self: bpy.types.PropertyGroup, item: bpy.types.Object) -> bool:
    return item.type == "MESH" and item != self.id_data and not made_plate(item)


@overridable
class TackwrightTightPlace(bpy.types.PropertyGroup):
    """A place where there is little room: lengths in mm, in the world."""

    of: StringProperty(description="The plate, empty for the envelope itself")
    face: IntProperty(default=-1, description="Index of the face of the envelope")
    room: FloatProperty(description="Room in mm, below 0 where the scan is in the way")
    at: FloatVectorProperty(size=3)
    scan_at: FloatVectorProperty(size=3)


@overridable
class TackwrightSpace(bpy.types.PropertyGroup):
    """What an envelope knows of the space around it."""

    scan: PointerProperty(
        name="Scan", description="The mesh of the space that this envelope goes into", type=bpy.types.Object,
        poll=_may_be_scan, update=_scan_chosen,
    )  # fmt: skip
    weld_room_mm: kept_mm(WELD_ROOM)
    weld_room: shown_length(
        "Weld Room", "What is taken off the room everywhere, for beads, a torch or a hand", "weld_room_mm",
        update=_asked_anew)
    tight_mm: kept_mm(TIGHT)
    tight: shown_length("Tight Below", "Room of less than this counts as tight, and is coloured so", "tight_mm")
    follow: BoolProperty(
        name="Follow", description="Look for the room again while the envelope is being drawn", default=False,
        update=_asked_anew)
    show: BoolProperty(name="Show", description="Draw the room on the envelope in the 3D view", default=True)
    places: CollectionProperty(type=TackwrightTightPlace)
    active_place: IntProperty(name="Place")
    least: FloatProperty(default=-1.0, description="The least room in mm")
    checked: BoolProperty(description="Whether the room was looked for")
    collisions: IntProperty(description="How many of the scan's triangles are in the way")


@overridable
class TackwrightScan(bpy.types.PropertyGroup):
    """What was picked on a scan. Points in the object's own coordinates, three numbers each, blanks between."""

    envelope: PointerProperty(type=bpy.types.Object)
    floor: StringProperty()
    wall: StringProperty()


def scan_of(context: bpy.types.Context, envelope: bpy.types.Object | None) -> bpy.types.Object | None:
    """The scan of an envelope, as long as it is still in the view layer."""
    scan = envelope.tackwright_space.scan if envelope is not None else None
    return scan if scan is not None and context.view_layer.objects.get(scan.name) == scan else None


CLASSES = (TackwrightTightPlace, TackwrightSpace, TackwrightScan)
_register_classes, _unregister_classes = bpy.utils.register_classes_factory(CLASSES)


def register() -> None:
    _register_classes()
    bpy.types.Object.tackwright_space = PointerProperty(
        type=TackwrightSpace, name="Tackwright Space", override=OVERRIDABLE)
    bpy.types.Object.tackwright_scan = PointerProperty(
        type=TackwrightScan, name="Tackwright Scan", override=OVERRIDABLE)


def unregister() -> None:
    del bpy.types.Object.tackwright_scan
    del bpy.types.Object.tackwright_space
    _unregister_classes()
