"""The sidebar's panel of the plates: making them, letting them follow, and how they are seen."""

from __future__ import annotations

import bpy

from .envelope import envelope_of
from .live import REFUSED, SAID, state_of
from .make_plates import TACKWRIGHT_OT_make_plates
from .sentences import draw_sentence
from .sidebar import Sidebar
from .views import draw_views

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
            words = "Of the selected face:" if count == 1 else "Of the {:d} selected faces:"
            buttons.label(text=bpy.app.translations.pgettext_iface(words).format(count), translate=False)
        buttons.operator(TACKWRIGHT_OT_make_plates.bl_idname, icon="MOD_SOLIDIFY")
        if envelope is not None:
            _draw_live(layout, context, envelope)
            draw_views(layout, envelope)


def _draw_live(layout: bpy.types.UILayout, context: bpy.types.Context, envelope: bpy.types.Object) -> None:
    """The switch, how it stands, and why a drawing is not followed."""
    row = layout.row()
    row.prop(envelope.tackwright, "live")
    if not envelope.tackwright.live:
        return
    state, why = state_of(envelope)
    said, icon = SAID[state]
    row.label(text=said, icon=icon)
    if state == REFUSED:
        draw_sentence(layout, context, why.splitlines()[0])


CLASSES = (TACKWRIGHT_PT_plates,)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
