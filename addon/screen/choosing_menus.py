"""Where choices are at hand beside the sidebar: the right-click menu of Edit Mode, and a pie menu with a key."""

from __future__ import annotations

from typing import Any

import bpy

from ..edit.face_operators import TACKWRIGHT_OT_clear_face, TACKWRIGHT_OT_select_like_face, TACKWRIGHT_OT_set_face_metal
from ..edit.joint_operators import (
    TACKWRIGHT_OT_clear_joint,
    TACKWRIGHT_OT_select_like_joint,
    TACKWRIGHT_OT_set_joint,
    TACKWRIGHT_OT_swap_through,
)

__all__ = ["KEY"]

KEY: dict[str, Any] = {"type": "J", "value": "PRESS", "shift": True}
"""J as in joint. With Shift alone the editor uses it for nothing while a mesh is edited: a test looks."""

_keys: list[tuple[Any, Any]] = []


class TACKWRIGHT_MT_joint_pie(bpy.types.Menu):
    bl_label = "Joint"

    def draw(self, context: bpy.types.Context) -> None:
        pie = self.layout.menu_pie()
        for corner, text in (("OPEN", "Open"), ("CLOSED", "Closed"), ("HALF_OPEN", "Half-Open")):
            pie.operator(TACKWRIGHT_OT_set_joint.bl_idname, text=text).corner = corner
        pie.operator(TACKWRIGHT_OT_swap_through.bl_idname)
        pie.operator(TACKWRIGHT_OT_clear_joint.bl_idname)
        pie.operator(TACKWRIGHT_OT_set_joint.bl_idname, text="Set...")
        pie.operator(TACKWRIGHT_OT_set_joint.bl_idname, text="No Tabs").tabs = "OFF"
        pie.operator(TACKWRIGHT_OT_select_like_joint.bl_idname)


def _draw_entries(self: bpy.types.Menu, context: bpy.types.Context) -> None:
    edges, faces = context.tool_settings.mesh_select_mode[1:]
    layout = self.layout
    layout.operator_context = "INVOKE_DEFAULT"
    if edges:
        layout.separator()
        layout.operator(TACKWRIGHT_OT_set_joint.bl_idname, text="Set Joint...")
        layout.operator(TACKWRIGHT_OT_swap_through.bl_idname)
        layout.operator(TACKWRIGHT_OT_select_like_joint.bl_idname)
        layout.operator(TACKWRIGHT_OT_clear_joint.bl_idname)
    if faces:
        layout.separator()
        layout.operator(TACKWRIGHT_OT_set_face_metal.bl_idname, text="Set Face...")
        layout.operator(TACKWRIGHT_OT_select_like_face.bl_idname)
        layout.operator(TACKWRIGHT_OT_clear_face.bl_idname)


CLASSES = (TACKWRIGHT_MT_joint_pie,)
_register_classes, _unregister_classes = bpy.utils.register_classes_factory(CLASSES)


def register() -> None:
    _register_classes()
    bpy.types.VIEW3D_MT_edit_mesh_context_menu.append(_draw_entries)
    manager = bpy.context.window_manager
    own = manager.keyconfigs.addon if manager is not None else None
    if own is not None:                                  # there are no keys in the background
        keymap = own.keymaps.new(name="Mesh", space_type="EMPTY")
        item = keymap.keymap_items.new("wm.call_menu_pie", **KEY)
        item.properties.name = TACKWRIGHT_MT_joint_pie.__name__
        _keys.append((keymap, item))


def unregister() -> None:
    for keymap, item in _keys:
        keymap.keymap_items.remove(item)
    _keys.clear()
    bpy.types.VIEW3D_MT_edit_mesh_context_menu.remove(_draw_entries)
    _unregister_classes()
