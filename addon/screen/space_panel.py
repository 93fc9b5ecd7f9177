"""The sidebar's panel for the space that an envelope goes into: its scan, squared up, and the room in it."""

from __future__ import annotations

import bpy

from ...core.stock.said_units import length_said
from ..host.row_text import left_aligned
from ..host.sentences import draw_sentence
from ..host.shown_lengths import units_of
from ..scene.active_envelope import envelope_of
from ..scene.sidebar import Sidebar
from ..scene.space import scan_of
from ..space.clearance_work import age_of, found_of, state_of
from ..space.look_for_room import (
    TACKWRIGHT_OT_check_clearance,
    TACKWRIGHT_OT_select_collisions,
    TACKWRIGHT_OT_show_tight_place,
)
from ..space.scan_operators import (
    TACKWRIGHT_OT_clear_scan,
    TACKWRIGHT_OT_known_distance,
    TACKWRIGHT_OT_set_patch,
    TACKWRIGHT_OT_square_up,
    TACKWRIGHT_OT_use_scan,
)

__all__: list[str] = []

ROW = 126.0
"""As in the list of findings: what frame, scroll bar and icon take of a row."""


class TACKWRIGHT_UL_tight_places(bpy.types.UIList):
    """Where there is little room, the tightest first"""

    def draw_item(self, context, layout, data, item, icon, active_data, active_property, index=0, flt_flag=0) -> None:  # type: ignore[no-untyped-def]
        where = item.of or f"face {item.face}"
        text = f"{length_said(round(item.room, 1), units_of(context.scene))}: {where}"
        icon = "CANCEL" if item.room <= 0.0 else "ERROR" if item.room < data.tight_mm else "INFO"
        layout.operator(
            TACKWRIGHT_OT_show_tight_place.bl_idname, text=left_aligned(context, text, ROW), emboss=False,
            translate=False, icon=icon,
        ).index = index


class TACKWRIGHT_PT_space(Sidebar, bpy.types.Panel):
    bl_label = "Space"
    bl_order = 40
    bl_options = {"DEFAULT_CLOSED"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return envelope_of(context) is not None

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        layout.use_property_split = True
        layout.use_property_decorate = False
        envelope = envelope_of(context)
        space, scan = envelope.tackwright_space, scan_of(context, envelope)
        row = layout.row(align=True)
        row.prop(space, "scan")
        if space.scan is not None:
            row.operator(TACKWRIGHT_OT_clear_scan.bl_idname, text="", icon="X")
        elif context.mode == "OBJECT":
            layout.operator(TACKWRIGHT_OT_use_scan.bl_idname)
        if scan is None:
            return
        self.draw_square_up(context, layout, scan)
        layout.prop(space, "weld_room")
        layout.prop(space, "tight")
        layout.operator(TACKWRIGHT_OT_check_clearance.bl_idname, icon="VIEWZOOM").kind = "ENVELOPE"
        layout.operator(TACKWRIGHT_OT_check_clearance.bl_idname, text="Check Plates").kind = "PLATES"
        layout.prop(space, "follow")
        layout.prop(space, "show")
        if state := state_of(context, envelope):
            draw_sentence(layout, context, state)
        if space.checked:
            self.draw_found(context, layout, envelope)

    def draw_square_up(
        self, context: bpy.types.Context, layout: bpy.types.UILayout, scan: bpy.types.Object
    ) -> None:
        column = layout.column(align=True)
        if context.object == scan and context.mode == "EDIT_MESH":
            row = column.row(align=True)
            for patch, name, kept in (("FLOOR", "Set Floor", "floor"), ("WALL", "Set Wall", "wall")):
                done = bool(getattr(scan.tackwright_scan, kept))
                row.operator(
                    TACKWRIGHT_OT_set_patch.bl_idname, text=name, icon="CHECKMARK" if done else "NONE").patch = patch
            column.operator(TACKWRIGHT_OT_known_distance.bl_idname)
        elif not (scan.tackwright_scan.floor and scan.tackwright_scan.wall):
            draw_sentence(column, context, "To square it up, set floor and wall in Edit Mode of the scan")
        column.operator(TACKWRIGHT_OT_square_up.bl_idname)

    def draw_found(
        self, context: bpy.types.Context, layout: bpy.types.UILayout, envelope: bpy.types.Object
    ) -> None:
        units, space, found = units_of(context.scene), envelope.tackwright_space, found_of(envelope)
        if age := age_of(context, envelope):
            box = layout.box()
            box.alert = True
            draw_sentence(box, context, f"{age}: check again")
        least = "More room than is measured"
        if space.places:
            least = f"Least room: {length_said(round(space.least, 1), units)}"
        elif found is not None:
            least = f"More than {length_said(found.clearance.farthest - found.weld_room, units)} everywhere"
        layout.label(text=least, translate=False)
        if found is not None and found.weld_room > 0.0:
            layout.label(text=f"Taken off for welding: {length_said(found.weld_room, units)}", translate=False)
        if space.places:
            layout.template_list(
                "TACKWRIGHT_UL_tight_places", "", space, "places", space, "active_place", rows=3, maxrows=6)
        if space.collisions:
            layout.operator(TACKWRIGHT_OT_select_collisions.bl_idname, icon="RESTRICT_SELECT_OFF")


CLASSES = (TACKWRIGHT_UL_tight_places, TACKWRIGHT_PT_space)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
