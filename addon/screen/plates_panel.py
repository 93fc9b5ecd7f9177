"""The sidebar's panel of the plates: making them, letting them follow, and how they are seen."""

from __future__ import annotations

import bpy

from ...core.stock.said_units import said
from ...core.terms.messages import Message
from ..findings.told_moves import draw_moves
from ..host.editor_types import mesh_of
from ..host.sentences import draw_sentence
from ..host.shown_lengths import units_of
from ..kit.edit_envelope import TACKWRIGHT_OT_edit_envelope, on_a_plate
from ..kit.live import REFUSED, draw_state, follows, state_of
from ..kit.make_plates import TACKWRIGHT_OT_make_plates, makes_selected
from ..kit.told_age import draw_age
from ..scene.active_envelope import envelope_of
from ..scene.plate_objects import plate_objects
from ..scene.sidebar import Sidebar
from ..scene.views import draw_views, view_of

__all__: list[str] = []


class TACKWRIGHT_PT_plates(Sidebar, bpy.types.Panel):
    bl_label = "Plates"
    bl_order = 10

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        envelope = envelope_of(context)
        if on_a_plate(context):
            draw_sentence(
                layout, context, "This is a plate: it is made anew each time, and what is changed here is lost",
                icon="ERROR")
            layout.operator(TACKWRIGHT_OT_edit_envelope.bl_idname, icon="EDITMODE_HLT")
            return
        buttons = layout.column()
        buttons.scale_y = 1.3
        if envelope is not None and makes_selected(envelope):
            count = mesh_of(envelope).total_face_sel
            ways = ("Select faces, or leave Edit Mode", "Of the selected face:", "Of the {:d} selected faces:")
            words = bpy.app.translations.pgettext_iface(ways[min(count, 2)])
            buttons.label(text=words.format(count), translate=False)
        buttons.operator(TACKWRIGHT_OT_make_plates.bl_idname, icon="MOD_SOLIDIFY")
        if envelope is not None:
            _draw_live(layout, context, envelope)
            if not follows(envelope):
                draw_age(layout, context, envelope)
            draw_moves(layout, context, envelope)
            draw_views(layout, envelope)
            if envelope.mode == "EDIT" and view_of(envelope) != "BARE" and plate_objects(envelope):
                # Blender's own setting: else the faces and the plates in them fight for the same place
                space = bpy.context.space_data
                if space is not None and space.type == "VIEW_3D":
                    layout.prop(space.overlay, "show_retopology", text="Drawing over the Plates")


def _draw_live(layout: bpy.types.UILayout, context: bpy.types.Context, envelope: bpy.types.Object) -> None:
    """The switch, how it stands, and why a drawing is not followed."""
    row = layout.row()
    row.prop(envelope.tackwright, "live")
    if not envelope.tackwright.live:
        return
    state, why = state_of(envelope)
    draw_state(row, envelope)
    if state == REFUSED:
        draw_sentence(layout, context, said(next(Message(why).lines()), units_of(context.scene)))


CLASSES = (TACKWRIGHT_PT_plates,)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
