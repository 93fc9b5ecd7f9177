"""The meshes that are edited, and what is selected there."""

from __future__ import annotations

from typing import Final, Literal

import bpy

from .active_envelope import made_plate

__all__ = ["IS_A_PLATE", "edited_meshes", "poll_selected"]

IS_A_PLATE: Final = "This is a plate, which is made anew each time: edit its envelope"
_SELECT: Final = {
    "vert": ("Go to Edit Mode and select vertices first", "Select vertices first"),
    "edge": ("Go to Edit Mode and select edges first", "Select the edges where plates meet first"),
    "face": ("Go to Edit Mode and select faces first", "Select faces first"),
}


def edited_meshes(context: bpy.types.Context) -> list[bpy.types.Object]:
    """The mesh objects in Edit Mode that draw something, each mesh once, the active one first: not plates, which are
    made anew."""
    items = [item for item in context.objects_in_mode_unique_data if item.type == "MESH" and not made_plate(item)]
    return sorted(items, key=lambda item: item != context.object)


def poll_selected(
    operator: type[bpy.types.Operator], context: bpy.types.Context, kind: Literal["vert", "edge", "face"]
) -> bool:
    """Whether elements of a kind are selected in Edit Mode; if not, the greyed button says what to do. Blender lets
    nobody edit a mesh that is linked from another file."""
    enter, select = _SELECT[kind]
    if context.mode != "EDIT_MESH":
        operator.poll_message_set(enter)
    elif not edited_meshes(context):
        operator.poll_message_set(IS_A_PLATE)
    elif not any(getattr(item.data, f"total_{kind}_sel") for item in edited_meshes(context)):
        operator.poll_message_set(select)
    else:
        return True
    return False
