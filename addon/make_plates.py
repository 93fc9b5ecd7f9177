"""Make Plates: the kit's plates as objects beside the envelope."""

from __future__ import annotations

import bpy

from .envelope import envelope_of, poll_envelope
from .plates import show_plates
from .solve import count_of, solve

__all__ = ["TACKWRIGHT_OT_make_plates"]


class TACKWRIGHT_OT_make_plates(bpy.types.Operator):
    """Make an object for each plate, in a collection beside the envelope. In Edit Mode only the selected faces count"""

    bl_idname = "tackwright.make_plates"
    bl_label = "Make Plates"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return poll_envelope(cls, context)

    def execute(self, context: bpy.types.Context) -> set[str]:
        envelope = envelope_of(context)
        kit = solve(self, context, envelope)
        if kit is None:
            return {"CANCELLED"}
        collection = show_plates(context, envelope, kit)
        said = ", ".join(filter(None, (count_of(kit, "error"), count_of(kit, "warning"))))
        made = f"{sum(plate.quantity for plate in kit.plates)} plates in {collection.name}"
        self.report({"WARNING" if said else "INFO"}, f"{made}; {said}, see the Kit panel" if said else made)
        return {"FINISHED"}


CLASSES = (TACKWRIGHT_OT_make_plates,)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
