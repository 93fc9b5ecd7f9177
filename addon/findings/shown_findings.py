"""Findings shown: a click on one selects its place and brings it into view."""

# No `from __future__ import annotations`: Blender reads the annotations as properties.

import bpy
from bpy.props import IntProperty
from mathutils import Vector

from ..gather.selected_places import select_places
from ..host.editor_types import Ended
from ..host.framing import frame_place, frame_selected
from ..host.shown_lengths import mm_per_unit
from ..host.whole_step import whole_step
from ..scene.active_envelope import envelope_of, select_only
from ..scene.finding_group import TackwrightFinding
from ..scene.plate_objects import plate_objects
from .kept_findings import keep_findings, keep_refusal, kept_places, openings_meant, place_of, places_in
from .place_overlay import place_lines, point_out

__all__ = [
    "active_finding", "keep_findings", "keep_refusal", "kept_places", "openings_meant", "places_in", "select_places",
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
    """Select what a finding is about and bring it into view: openings, else faces and edges. These are selected in Edit
    Mode; in Object Mode, where plates would cover them, they are drawn over the plates and lie selected for when Edit
    Mode is entered. Why it cannot be shown, empty where it can."""
    openings = openings_meant(context, envelope, kept)
    if openings and context.mode == "OBJECT":
        select_only(context, openings)
        _frame_around(context, envelope, openings[0].matrix_world.translation)
        return ""
    if kept_places(envelope, kept):
        stay = context.mode == "OBJECT" and any(item.visible_get() for item in plate_objects(envelope))
        if not _select_drawn(context, envelope, kept, enter=not stay):
            return "The drawing has changed since: its place is gone"
        if not stay:
            frame_selected(context)
        elif not _frame_point(context, envelope, kept):
            _frame_lines(context, envelope, kept)
        return ""
    if openings:
        _frame_around(context, envelope, openings[0].matrix_world.translation)
        return ""
    return "" if _frame_point(context, envelope, kept) else (
        "This finding is about the whole drawing, or its place is no longer there")


def _select_drawn(
    context: bpy.types.Context, envelope: bpy.types.Object, kept: TackwrightFinding, *, enter: bool = True
) -> bool:
    """Select faces and edges, and enter Edit Mode; whether any is still there."""
    found = kept_places(envelope, kept)
    if context.mode != "OBJECT" and any(item.mode != "EDIT" for item, _, _ in found):
        bpy.ops.object.mode_set(mode="OBJECT")
    marked = [item for item in select_places(context, found) if context.view_layer.objects.get(item.name) == item]
    if marked and context.mode == "OBJECT":
        select_only(context, marked)
        if enter and marked[0].visible_get():            # what is disabled in viewports cannot be edited
            bpy.ops.object.mode_set(mode="EDIT")
    return bool(marked)


def _frame_point(context: bpy.types.Context, envelope: bpy.types.Object, kept: TackwrightFinding) -> bool:
    """Frame the point that a finding is at, with its surroundings; whether there is one."""
    point = place_of(kept)
    if point is not None:
        _frame_around(context, envelope, Vector(point) / mm_per_unit(context.scene))
    return point is not None


def _frame_around(context: bpy.types.Context, envelope: bpy.types.Object, at: Vector) -> None:
    frame_place(context, at, SURROUNDINGS * max(envelope.dimensions.length, 1e-6))


def _frame_lines(context: bpy.types.Context, envelope: bpy.types.Object, kept: TackwrightFinding) -> None:
    """Frame all that is drawn of a finding's place."""
    points = place_lines(envelope, kept).reshape(-1, 3)
    if not len(points):
        return
    low, high = Vector(points.min(axis=0)), Vector(points.max(axis=0))
    frame_place(context, (low + high) / 2, max((high - low).length / 2, 1e-6))


class TACKWRIGHT_OT_show_finding(bpy.types.Operator):
    """Select what this finding is about and bring it into view. """ \
        """In Object Mode the place is drawn over the plates for a while, and is selected when you enter Edit Mode"""

    bl_idname = "tackwright.show_finding"
    bl_label = "Show Finding"
    bl_options = {"REGISTER", "UNDO"}

    index: IntProperty(name="Finding", description="Its place in the list, from 0", min=0, options={"HIDDEN"})

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return _poll_findings(cls, context)

    def execute(self, context: bpy.types.Context) -> Ended:
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
        if kept is None or (not kept_places(envelope, kept) and not openings_meant(context, envelope, kept)):
            cls.poll_message_set("This finding has no place on the drawing as it is without its modifiers")
            return False
        return True

    def execute(self, context: bpy.types.Context) -> Ended:
        envelope = envelope_of(context)
        kept = active_finding(envelope)
        point_out(envelope, kept)                            # it may lie behind the plates
        if not kept_places(envelope, kept):
            if context.mode != "OBJECT":
                bpy.ops.object.mode_set(mode="OBJECT")
            meant = openings_meant(context, envelope, kept)
            select_only(context, meant)
            _frame_around(context, envelope, meant[0].matrix_world.translation)
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
