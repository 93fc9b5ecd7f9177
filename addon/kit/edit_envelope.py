"""Edit Envelope: from a plate, which is made anew each time, to the drawing that it is made of."""

from __future__ import annotations

import bpy

from ..host.editor_types import Ended
from ..host.whole_step import whole_step
from ..scene.active_envelope import envelope_of, made_plate, select_only, why_not_changed

__all__ = ["TACKWRIGHT_OT_edit_envelope", "on_a_plate"]


def on_a_plate(context: bpy.types.Context) -> bool:
    """Whether a plate is what is edited."""
    return context.mode == "EDIT_MESH" and context.object is not None and made_plate(context.object)


class TACKWRIGHT_OT_edit_envelope(bpy.types.Operator):
    """Go to Edit Mode of the envelope: what is changed there is in every plate made of it from then on"""

    bl_idname = "tackwright.edit_envelope"
    bl_label = "Edit Envelope"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        envelope = envelope_of(context)
        if envelope is None:
            reason = "Select an envelope or one of its plates"
        elif envelope.data.library is not None:
            reason = "The mesh is linked from another file: make it local first"
        else:
            reason = "" if context.mode in {"OBJECT", "EDIT_MESH"} else "Go to Object Mode first"
            reason = reason or why_not_changed(envelope)
        if reason:
            cls.poll_message_set(reason)
        return not reason

    def execute(self, context: bpy.types.Context) -> Ended:
        envelope = envelope_of(context)
        if context.mode != "OBJECT":
            bpy.ops.object.mode_set(mode="OBJECT")
        select_only(context, [envelope])
        if not envelope.visible_get():
            self.report({"WARNING"}, f"{envelope.name} is in a hidden collection: show that in the Outliner first")
            return {"CANCELLED"}
        bpy.ops.object.mode_set(mode="EDIT")
        whole_step(context)
        return {"FINISHED"}


register, unregister = bpy.utils.register_classes_factory((TACKWRIGHT_OT_edit_envelope,))
