"""Findings shown: a click on one selects its place and brings it into view."""

# No `from __future__ import annotations`: Blender reads the annotations as properties.

from collections.abc import Sequence

import bpy
from bpy.props import IntProperty
from mathutils import Vector

from .envelope import envelope_of, select_only
from .finding_group import TackwrightFinding
from .framing import frame_place, frame_selected
from .kept_findings import keep_findings, keep_refusal, openings_meant, place_of, places, places_in
from .place_overlay import point_out
from .plate_objects import plate_objects
from .selected_places import select_places
from .units import mm_per_unit
from .views import view_of
from .whole_step import whole_step

__all__ = [
    "active_finding", "keep_findings", "keep_refusal", "openings_meant", "places", "places_in", "select_places",
    "show_place",
]  # fmt: skip

SURROUNDINGS = 0.35
"""Of the envelope's size: so much round a place is shown with it."""


def active_finding(envelope: bpy.types.Object | None) -> TackwrightFinding | None:
    """The finding that is chosen in the list."""
    if envelope is None:
        return None
    settings = envelope.tackwright
    return settings.findings[settings.active_finding] if settings.active_finding < len(settings.findings) else None


def show_place(context: bpy.types.Context, envelope: bpy.types.Object, kept: TackwrightFinding) -> str:
    """Select what a finding is about and bring it into view: in Object Mode openings, and plates where they are made;
    in Edit Mode, and where there is nothing else, faces and edges. Why it cannot be shown, empty where it can."""
    if context.mode == "OBJECT":
        items = openings_meant(context, envelope, kept) or _plates_meant(context, envelope, kept)
        if items:
            _select_beside(context, envelope, items)
            drawn_apart = items[0].type != "EMPTY" and view_of(envelope) in {"SPREAD", "FLAT"}
            if drawn_apart or not _frame_point(context, envelope, kept, items):
                frame_selected(context)
            return ""
    if places(envelope, kept):
        if not _select_drawn(context, envelope, kept):
            return "The drawing has changed since: its place is gone"
        frame_selected(context)
        return ""
    openings = openings_meant(context, envelope, kept)
    if _frame_point(context, envelope, kept, openings):
        return ""
    return "This finding is about the whole drawing, or its place is no longer there"


def _plates_meant(
    context: bpy.types.Context, envelope: bpy.types.Object, kept: TackwrightFinding
) -> list[bpy.types.Object]:
    """The plate objects that a finding names, as far as they are seen."""
    names = kept.about.split()
    return [item for item in plate_objects(envelope) if item.name in names and item.visible_get()]


def _select_beside(context: bpy.types.Context, envelope: bpy.types.Object, items: Sequence[bpy.types.Object]) -> None:
    """Select objects that belong to the envelope. It stays the active one, but for a single opening, which has settings
    of its own to be changed."""
    if items[0].type == "EMPTY":
        select_only(context, items)
        return
    for other in context.selected_objects:
        other.select_set(False)
    for item in items:
        item.select_set(True)
    context.view_layer.objects.active = envelope


def _select_drawn(context: bpy.types.Context, envelope: bpy.types.Object, kept: TackwrightFinding) -> bool:
    """Select faces and edges in Edit Mode; whether any is still there."""
    found = places(envelope, kept)
    if context.mode != "OBJECT" and any(item.mode != "EDIT" for item, _, _ in found):
        bpy.ops.object.mode_set(mode="OBJECT")
    marked = [item for item in select_places(context, found) if context.view_layer.objects.get(item.name) == item]
    if marked and context.mode == "OBJECT":
        select_only(context, marked)
        bpy.ops.object.mode_set(mode="EDIT")
    return bool(marked)


def _frame_point(
    context: bpy.types.Context, envelope: bpy.types.Object, kept: TackwrightFinding,
    openings: Sequence[bpy.types.Object],
) -> bool:
    """Frame the point that a finding is at, or its opening, with its surroundings; whether there is one."""
    if openings and openings[0].type == "EMPTY":
        at = openings[0].matrix_world.translation
    elif (point := place_of(kept)) is not None:
        at = Vector(point) / mm_per_unit(context.scene)
    else:
        return False
    frame_place(context, at, SURROUNDINGS * max(envelope.dimensions.length, 1e-6))
    return True


class TACKWRIGHT_OT_show_finding(bpy.types.Operator):
    """Select what this finding is about and bring it into view: plates and openings in Object Mode, faces and """ \
        """edges in Edit Mode"""

    bl_idname = "tackwright.show_finding"
    bl_label = "Show Finding"
    bl_options = {"REGISTER", "UNDO"}

    index: IntProperty(name="Finding", description="Its place in the list, from 0", min=0, options={"HIDDEN"})

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return _poll_findings(cls, context)

    def execute(self, context: bpy.types.Context) -> set[str]:
        envelope = envelope_of(context)
        settings = envelope.tackwright
        if self.index >= len(settings.findings):
            self.report({"WARNING"}, "The list of findings has changed since: this one is gone")
            return {"CANCELLED"}
        if settings.active_finding != self.index:
            settings.active_finding = self.index
        point_out(envelope, settings.findings[self.index])
        if missing := show_place(context, envelope, settings.findings[self.index]):
            self.report({"INFO"}, missing)
        whole_step(context)  # which finding is chosen is undone with the selection
        return {"FINISHED"}


class TACKWRIGHT_OT_select_finding(bpy.types.Operator):
    """Select what the finding is about and bring it into view: faces and edges in Edit Mode, openings in Object Mode"""

    bl_idname = "tackwright.select_finding"
    bl_label = "Select in Edit Mode"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if not _poll_findings(cls, context):
            return False
        envelope = envelope_of(context)
        kept = active_finding(envelope)
        if kept is None or (not places(envelope, kept) and not openings_meant(context, envelope, kept)):
            cls.poll_message_set("This finding has no place on the drawing as it is without its modifiers")
            return False
        return True

    def execute(self, context: bpy.types.Context) -> set[str]:
        envelope = envelope_of(context)
        kept = active_finding(envelope)
        if not places(envelope, kept):
            if context.mode != "OBJECT":
                bpy.ops.object.mode_set(mode="OBJECT")
            meant = openings_meant(context, envelope, kept)
            select_only(context, meant)
            _frame_point(context, envelope, kept, meant)
            return {"FINISHED"}
        if not _select_drawn(context, envelope, kept):
            self.report({"WARNING"}, "The drawing has changed since: its place is gone")
            return {"CANCELLED"}
        frame_selected(context)
        whole_step(context)  # the selection of a mesh that was not edited yet is undone with it
        return {"FINISHED"}


def _poll_findings(operator: type[bpy.types.Operator], context: bpy.types.Context) -> bool:
    envelope = envelope_of(context)
    if envelope is None or not envelope.tackwright.findings:
        operator.poll_message_set("No finding to show")
        return False
    return True


CLASSES = (TACKWRIGHT_OT_show_finding, TACKWRIGHT_OT_select_finding)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
