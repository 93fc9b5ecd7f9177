"""Make Plates: the kit's plates as objects beside the envelope."""

from __future__ import annotations

from typing import Final

import bpy

from ..gather.shop_habits import settle_new
from ..host.editor_types import Ended
from ..scene.active_envelope import envelope_of, poll_envelope
from ..scene.plate_objects import plate_is_edited
from .asked_kit import count_of, solved_kit
from .live_watch import made_on_demand
from .shown_plates import plates_of, show_plates
from .told_age import remember

__all__ = ["TACKWRIGHT_OT_make_plates", "makes_selected"]


MOST_FACES: Final = 25_000
"""Faces of a drawing: for as many the window stands still for some ten seconds."""


def makes_selected(envelope: bpy.types.Object) -> bool:
    """Whether plates are made of the selected faces alone. What Live follows is always the whole drawing."""
    return envelope.mode == "EDIT" and not envelope.tackwright.live


class TACKWRIGHT_OT_make_plates(bpy.types.Operator):
    """Make an object for each plate, in a collection beside the envelope. In Edit Mode only the selected faces count"""

    bl_idname = "tackwright.make_plates"
    bl_label = "Make Plates"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if not poll_envelope(cls, context):
            return False
        if plate_is_edited(context, envelope_of(context)):
            cls.poll_message_set("A plate is in Edit Mode, and would be made anew: leave Edit Mode first")
            return False
        return True

    def execute(self, context: bpy.types.Context) -> Ended:
        envelope = envelope_of(context)
        settle_new(self, envelope)
        in_part = makes_selected(envelope)
        kit = solved_kit(self, context, envelope, in_part=in_part, most=MOST_FACES)
        if kit is None:
            return {"CANCELLED"}
        before = plates_of(envelope)
        collection = show_plates(context, envelope, kit)
        made_on_demand(envelope)
        remember(context, envelope, in_part=in_part)
        count = sum(plate.quantity for plate in kit.plates)
        made = f"{count} {'plate' if count == 1 else 'plates'} in {collection.name}"
        fewer = in_part and count < before
        if fewer:
            made += f", of the selected faces only, in place of {before}. Leave Edit Mode to make all"
        said = ", ".join(filter(None, (count_of(kit, "error"), count_of(kit, "warning"))))
        made += f"; {said}, see Findings" if said else ""
        self.report({"WARNING" if said or fewer else "INFO"}, made)
        return {"FINISHED"}


CLASSES = (TACKWRIGHT_OT_make_plates,)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
