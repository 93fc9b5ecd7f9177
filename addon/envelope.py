"""Which object is the envelope that the user is working on, and whether it can be made."""

from __future__ import annotations

import bpy

__all__ = ["envelope_of", "made_plate", "poll_envelope"]


def envelope_of(context: bpy.types.Context) -> bpy.types.Object | None:
    """The active mesh; where that is a plate made from an envelope, the envelope."""
    active = context.object
    if active is None or active.type != "MESH":
        return None
    if not made_plate(active):
        return active
    owners = (collection.tackwright_plates.envelope for collection in active.users_collection)
    return next((o for o in owners if o is not None and context.view_layer.objects.get(o.name) == o), None)


def made_plate(item: bpy.types.Object) -> bool:
    """Whether Make Plates made this object and it is still its own: renamed or copied, it is the user's."""
    return bool(item.tackwright_plate.made_as) and item.name == item.tackwright_plate.made_as


def poll_envelope(operator: type[bpy.types.Operator], context: bpy.types.Context) -> bool:
    """Whether there is an envelope to work on; if not, the greyed button says why."""
    envelope = envelope_of(context)
    if envelope is None:
        operator.poll_message_set("Select a mesh object: its flat faces become plates")
    elif context.mode not in {"OBJECT", "EDIT_MESH"}:
        operator.poll_message_set("Go to Object Mode or Edit Mode first")
    elif context.mode == "EDIT_MESH" and envelope.mode != "EDIT":
        operator.poll_message_set("Leave Edit Mode of the plate first")
    elif context.mode == "EDIT_MESH" and envelope.data.total_face_sel == 0:
        operator.poll_message_set("Select the faces to make, or leave Edit Mode to make all of them")
    elif context.mode == "OBJECT" and not envelope.data.polygons and not envelope.modifiers:
        operator.poll_message_set("Draw some faces first: each flat one becomes a plate")
    else:
        return True
    return False
