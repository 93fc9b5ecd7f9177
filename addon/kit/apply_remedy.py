"""The one right remedy of a finding, applied at the press of a button, and the findings made anew."""

from __future__ import annotations

import bpy

from ...core.stock.said_units import said
from ...core.terms.errors import TackwrightError
from ...core.terms.messages import raw
from ..findings.kept_findings import keep_findings
from ..findings.kept_remedies import placed_changes, remedy_of, why_not_intact
from ..findings.remedy_writers import write_change
from ..findings.shown_findings import active_finding
from ..gather.gather import DrawnObject, read_drawing
from ..host.editor_types import Ended
from ..host.reports import report_error
from ..host.shown_lengths import units_of
from ..host.whole_step import whole_step
from ..scene.active_envelope import envelope_of, poll_settings
from .asked_kit import alone, keep_kit, kit_name, tell_refusal
from .live_watch import made_on_demand
from .shown_plates import plates_of, show_plates
from .told_age import forget_drawings, remember

__all__ = ["TACKWRIGHT_OT_apply_remedy"]


class TACKWRIGHT_OT_apply_remedy(bpy.types.Operator):
    """Cure the chosen finding by its one right remedy, and check the drawing again. """ \
        """One step of undo takes all of it back"""

    bl_idname = "tackwright.apply_remedy"
    bl_label = "Apply Remedy"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if not poll_settings(cls, context):
            return False
        kept = active_finding(envelope_of(context))
        if context.mode not in {"OBJECT", "EDIT_MESH"}:
            cls.poll_message_set("Go to Object Mode or Edit Mode first")
        elif kept is None:
            cls.poll_message_set("No finding to cure")
        elif not kept.remedy:
            cls.poll_message_set("No single remedy is right for this finding: its text says what can be done")
        elif remedy_of(kept) is None:
            cls.poll_message_set("This remedy is of a later version: make the plates again")
        elif reason := why_not_intact(kept):
            cls.poll_message_set(reason)
        else:
            return True
        return False

    def execute(self, context: bpy.types.Context) -> Ended:
        envelope = envelope_of(context)
        kept = active_finding(envelope)
        label, before = raw(remedy_of(kept).label), _alike(envelope, kept.rule, kept.message)
        rule, message, units = kept.rule, kept.message, units_of(context.scene)
        try:
            told = [write_change(context, envelope, item, change) for item, change in placed_changes(kept)]
        except TackwrightError as error:
            report_error(self, error)
            return {"CANCELLED"}
        context.view_layer.update()
        why = check_again(context, envelope)
        whole_step(context)
        done = said(". ".join([f"{label}: done", *map(raw, filter(None, told))]), units)
        if why:
            self.report({"WARNING"}, f"{done}, but the drawing is refused: {said(why, units)}")
        elif before and _alike(envelope, rule, message) >= before:
            self.report({"WARNING"}, f"{done}, but the finding is still there")
        else:
            self.report({"INFO"}, f"{done}. {_left(envelope)}")
        return {"FINISHED"}


def check_again(context: bpy.types.Context, envelope: bpy.types.Object) -> str:
    """Make the whole drawing's kit anew and keep what is found, and show its plates where there are some and nothing is
    edited. Why it is refused, empty where it is not."""
    from ...core.make_kit import make_kit  # here, so that Blender starts without loading the solid library

    parts: tuple[DrawnObject, ...] = (alone(envelope),)
    try:
        drawing = read_drawing(context, envelope, all_faces=True)
        parts = drawing.parts
        kit = make_kit(drawing.mesh, drawing.choices, name=kit_name(envelope))
    except TackwrightError as error:
        tell_refusal(context, envelope, error, parts)
        return next(error.message.lines()).raw
    keep_kit(envelope, drawing, kit)
    keep_findings(envelope, kit, parts)
    if not plates_of(envelope):
        remember(context, envelope)
    elif context.mode == "OBJECT":
        show_plates(context, envelope, kit)
        made_on_demand(envelope)
        remember(context, envelope)
    elif not envelope.tackwright.live:
        forget_drawings(envelope)
    return ""


def _alike(envelope: bpy.types.Object, rule: str, message: str) -> int:
    """How many findings say just the same."""
    return sum((kept.rule, kept.message) == (rule, message) for kept in envelope.tackwright.findings)


def _left(envelope: bpy.types.Object) -> str:
    levels = [kept.level for kept in envelope.tackwright.findings]
    counts = {level: levels.count(level) for level in ("error", "warning")}
    said_counts = [f"{count} {level}{'s' if count > 1 else ''}" for level, count in counts.items() if count]
    return f"{' and '.join(said_counts)} left" if said_counts else "Neither errors nor warnings left"


CLASSES = (TACKWRIGHT_OT_apply_remedy,)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
