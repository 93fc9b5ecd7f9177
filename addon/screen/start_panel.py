"""The sidebar's panel for whoever has no plates yet, and for what a file's age has to say."""

from __future__ import annotations

import bpy

from ..edit.first_scene import TACKWRIGHT_OT_first_scene, TACKWRIGHT_OT_new_envelope, TACKWRIGHT_OT_open_job
from ..host.sentences import draw_sentence
from ..scene import migrate
from ..scene.active_envelope import envelope_of, why_no_envelope, why_not_made
from ..scene.sidebar import Sidebar

__all__: list[str] = []


class TACKWRIGHT_PT_start(Sidebar, bpy.types.Panel):
    bl_label = "Start"
    bl_order = 0

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        envelope = envelope_of(context)
        beginning = envelope is None or (context.mode == "OBJECT" and not _made(envelope))
        return beginning or bool(migrate.file_note())

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        if note := migrate.file_note():
            draw_sentence(layout, context, note, icon="ERROR")
        envelope = envelope_of(context)
        if envelope is not None and (context.mode != "OBJECT" or _made(envelope)):
            return
        if envelope is None:
            if context.object is not None:
                draw_sentence(layout, context, why_no_envelope(context), icon="INFO")
            draw_sentence(
                layout, context, "Draw the outside of the thing as a closed shape of flat faces, and select it"
            )
            draw_sentence(layout, context, "Then choose metal, corners and tabs here, and press Make Plates")
        elif reason := why_not_made(context):
            draw_sentence(layout, context, reason, icon="INFO")
        else:
            draw_sentence(layout, context, "Choose metal, corners and tabs below, then press Make Plates")
        units = context.scene.unit_settings
        if units.system != "NONE":
            layout.prop(units, "length_unit", text="Lengths")
        buttons = layout.column(align=True)
        buttons.operator(TACKWRIGHT_OT_first_scene.bl_idname, icon="HOME")
        buttons.operator(TACKWRIGHT_OT_new_envelope.bl_idname, icon="MESH_CUBE")
        buttons.operator(TACKWRIGHT_OT_open_job.bl_idname, text="Open Job...", icon="FILE_FOLDER")


def _made(envelope: bpy.types.Object) -> bool:
    """Whether plates were made of the envelope before, or something was said of it."""
    return bool(envelope.tackwright.summary or envelope.tackwright.findings)


CLASSES = (TACKWRIGHT_PT_start,)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
