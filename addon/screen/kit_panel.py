"""The sidebar's last panel: the kit's own settings, its export, and where it went."""

from __future__ import annotations

import bpy

from ..kit import export_job
from ..kit.export_kit import TACKWRIGHT_OT_export_kit
from ..kit.export_watch import TACKWRIGHT_OT_cancel_export
from ..kit.open_kit import TACKWRIGHT_OT_open_kit
from ..scene.active_envelope import envelope_of
from ..scene.properties import DEFAULTS
from ..scene.sidebar import Sidebar

__all__: list[str] = []


class TACKWRIGHT_PT_kit(Sidebar, bpy.types.Panel):
    bl_label = "Kit"
    bl_order = 120

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        layout.use_property_split = True
        layout.use_property_decorate = False
        envelope = envelope_of(context)
        if envelope is not None:
            settings = envelope.tackwright
            layout.prop(settings, "kit_name", placeholder=envelope.name)
            layout.prop(settings, "folder")
            layout.prop(settings, "dxf_units")
            layout.prop(settings, "etch")
            layout.prop(settings, "note")
            layout.prop(settings, "file_names", placeholder=DEFAULTS.file_names)
        buttons = layout.column()
        export = export_job.under_way()
        if export is not None:
            buttons.progress(text=export.said, factor=export.share)
            buttons.operator(TACKWRIGHT_OT_cancel_export.bl_idname, icon="X")
            return
        row = buttons.row()
        row.scale_y = 1.3
        row.operator(TACKWRIGHT_OT_export_kit.bl_idname, icon="EXPORT")
        if envelope is not None and envelope.tackwright.folder:
            buttons.operator(TACKWRIGHT_OT_open_kit.bl_idname, icon="FILE_FOLDER")


CLASSES = (TACKWRIGHT_PT_kit,)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
