"""The sidebar's panel with what helps to draw an envelope."""

from __future__ import annotations

import bpy

from ..edit.flatten import TACKWRIGHT_OT_true_faces
from ..scene.pins import TACKWRIGHT_OT_pin_vertices, TACKWRIGHT_OT_unpin_vertices
from ..scene.sidebar import SettingsPanel

__all__: list[str] = []


class TACKWRIGHT_PT_drawing(SettingsPanel, bpy.types.Panel):
    bl_label = "Drawing"
    bl_order = 50
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        if context.mode == "EDIT_MESH":
            column = layout.column(align=True)
            column.operator(TACKWRIGHT_OT_true_faces.bl_idname, text="True Selected Faces").keep_selected = False
            column.operator(TACKWRIGHT_OT_true_faces.bl_idname, text="True Faces, Keep Selected").keep_selected = True
            row = layout.row(align=True)
            row.operator(TACKWRIGHT_OT_pin_vertices.bl_idname, text="Pin", icon="PINNED")
            row.operator(TACKWRIGHT_OT_unpin_vertices.bl_idname, text="Unpin", icon="UNPINNED")
        else:
            layout.operator(TACKWRIGHT_OT_true_faces.bl_idname).keep_selected = False


CLASSES = (TACKWRIGHT_PT_drawing,)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
