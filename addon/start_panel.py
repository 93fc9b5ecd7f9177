"""The sidebar's panel for whoever has nothing to make plates of yet, and for what a file's age has to say."""

from __future__ import annotations

import bpy

from . import migrate
from .envelope import envelope_of, why_no_envelope
from .first_scene import TACKWRIGHT_OT_first_scene, TACKWRIGHT_OT_new_envelope, TACKWRIGHT_OT_open_job
from .sentences import draw_sentence
from .sidebar import Sidebar

__all__: list[str] = []


class TACKWRIGHT_PT_start(Sidebar, bpy.types.Panel):
    bl_label = "Start"
    bl_order = 0

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return envelope_of(context) is None or bool(migrate.file_note())

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        if note := migrate.file_note():
            draw_sentence(layout, context, note, icon="ERROR")
        if envelope_of(context) is not None:
            return
        if context.object is not None:
            draw_sentence(layout, context, why_no_envelope(context), icon="INFO")
        draw_sentence(layout, context, "Draw the outside of the thing as a closed shape of flat faces, and select it")
        draw_sentence(layout, context, "Then choose metal, corners and tabs here, and press Make Plates")
        buttons = layout.column(align=True)
        buttons.operator(TACKWRIGHT_OT_first_scene.bl_idname, icon="HOME")
        buttons.operator(TACKWRIGHT_OT_new_envelope.bl_idname, icon="MESH_CUBE")
        buttons.operator(TACKWRIGHT_OT_open_job.bl_idname, text="Open Job...", icon="FILE_FOLDER")


CLASSES = (TACKWRIGHT_PT_start,)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
