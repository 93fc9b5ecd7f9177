"""The sidebar's first panel: making the plates and how they are seen."""

from __future__ import annotations

import bpy

from .envelope import envelope_of
from .make_plates import TACKWRIGHT_OT_make_plates
from .sidebar import Sidebar

__all__: list[str] = []


class TACKWRIGHT_PT_plates(Sidebar, bpy.types.Panel):
    bl_label = "Plates"
    bl_order = 10

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        envelope = envelope_of(context)
        buttons = layout.column()
        buttons.scale_y = 1.3
        if envelope is not None and envelope.mode == "EDIT":
            count = envelope.data.total_face_sel
            buttons.label(text="Of the selected face:" if count == 1 else f"Of the {count} selected faces:")
        buttons.operator(TACKWRIGHT_OT_make_plates.bl_idname, icon="MOD_SOLIDIFY")
        if envelope is not None and envelope.display_type == "WIRE":  # as Make Plates left it, to show the plates in it
            layout.prop(envelope, "display_type", text="Envelope")


CLASSES = (TACKWRIGHT_PT_plates,)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
