"""The sidebar's panels for what is inside the envelope and for what goes through it: inner plates, openings,
perforations."""

from __future__ import annotations

import bpy

from ...core.stock.said_units import said
from ..edit.perforate_faces import (
    TACKWRIGHT_OT_add_band,
    TACKWRIGHT_OT_clear_perforation,
    TACKWRIGHT_OT_perforate_faces,
    TACKWRIGHT_OT_remove_band,
    TACKWRIGHT_OT_remove_perforation,
    active_field,
)
from ..gather.add_opening import TACKWRIGHT_OT_add_opening
from ..host.shown_lengths import units_of
from ..scene.active_envelope import envelope_of, openings_of
from ..scene.face_marks import mark_of_active
from ..scene.field_settings import TackwrightField
from ..scene.inner_marks import (
    INNER_ATTRIBUTE,
    KINDS,
    TACKWRIGHT_OT_assign_inner,
    TACKWRIGHT_OT_mark_faces,
    TACKWRIGHT_OT_unassign_inner,
)
from ..scene.opening_objects import in_words
from ..scene.properties import TackwrightSettings
from ..scene.sidebar import SettingsPanel
from .pick_opening import TACKWRIGHT_OT_select_opening

__all__: list[str] = []

NAMES = 0.45
"""The part of the list's width that the names of openings take."""


class TACKWRIGHT_PT_inner(SettingsPanel, bpy.types.Panel):
    bl_label = "Inner Plates"
    bl_order = 80
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        layout.use_property_split = True
        layout.use_property_decorate = False
        if context.mode == "EDIT_MESH":
            layout.label(text="Selected Faces Are")
            row = layout.row(align=True)
            now = mark_of_active(context.object, INNER_ATTRIBUTE)
            for kind, name, _, number in KINDS:
                row.operator(TACKWRIGHT_OT_mark_faces.bl_idname, text=name, depress=number == now).kind = kind
        else:
            row = layout.row(align=True)
            row.operator(TACKWRIGHT_OT_assign_inner.bl_idname, text="Assign")
            row.operator(TACKWRIGHT_OT_unassign_inner.bl_idname, text="Unassign")
        active = context.object
        if active.type == "MESH" and active.tackwright_inner.envelope is not None:
            own = layout.column()
            own.label(text=f"{active.name}:", translate=False)
            own.prop(active.tackwright_inner, "envelope")
            own.prop(active.tackwright_inner, "thickness")
            own.prop(active.tackwright_inner, "metal_side")
        self.draw_settings(layout, envelope_of(context).tackwright)

    def draw_settings(self, layout: bpy.types.UILayout, settings: TackwrightSettings) -> None:
        layout.prop(settings, "reach")
        layout.prop(settings, "nose")
        layout.prop(settings, "tab_short")
        if settings.tab_short == 0.0:
            layout.prop(settings, "tabs_flush")
        layout.prop(settings, "slot_relief")
        layout.prop(settings, "limber")


class TACKWRIGHT_PT_openings(SettingsPanel, bpy.types.Panel):
    bl_label = "Openings"
    bl_order = 82
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        layout.use_property_split = True
        layout.use_property_decorate = False
        envelope = envelope_of(context)
        self._draw_list(layout, context, openings_of(context, envelope))
        self.draw_settings(layout, envelope.tackwright)

    def _draw_list(
        self, layout: bpy.types.UILayout, context: bpy.types.Context, items: list[bpy.types.Object]
    ) -> None:
        """Every opening of the envelope; a click on one selects it."""
        rows, units = layout.column(align=True), units_of(context.scene)
        for item in items:
            row = rows.split(factor=NAMES, align=True)
            chosen = item == context.object and item.select_get()
            row.operator(
                TACKWRIGHT_OT_select_opening.bl_idname, text=item.name, translate=False, depress=chosen,
                icon="RADIOBUT_ON" if item.select_get() else "RADIOBUT_OFF",
            ).name = item.name
            row.label(text=said(in_words(item.tackwright_opening), units), translate=False)

    def draw_settings(self, layout: bpy.types.UILayout, settings: TackwrightSettings) -> None:
        layout.operator(TACKWRIGHT_OT_add_opening.bl_idname, icon="ADD")
        layout.prop(settings, "hole_radius")
        layout.prop(settings, "fittings_file")
        layout.prop(settings, "sealed")


class TACKWRIGHT_UL_perforations(bpy.types.UIList):
    def draw_item(self, context, layout, data, item, icon, active_data, active_property, index=0, flt_flag=0) -> None:  # type: ignore[no-untyped-def]
        row = layout.row()
        row.prop(item, "name", text="", emboss=False)
        row.label(text=", ".join(band.code for band in item.bands), translate=False)


class TACKWRIGHT_PT_perforations(SettingsPanel, bpy.types.Panel):
    bl_label = "Perforations"
    bl_order = 84
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        envelope = envelope_of(context)
        settings = envelope.tackwright
        row = layout.row()
        row.template_list("TACKWRIGHT_UL_perforations", "", settings, "fields", settings, "active_field", rows=2)
        side = row.column(align=True)
        side.operator(TACKWRIGHT_OT_perforate_faces.bl_idname, text="", icon="ADD")
        side.operator(TACKWRIGHT_OT_remove_perforation.bl_idname, text="", icon="REMOVE")
        field = active_field(envelope)
        if context.mode == "EDIT_MESH" and field is not None:
            row = layout.row(align=True)
            row.operator(TACKWRIGHT_OT_perforate_faces.bl_idname, text="Assign").chosen = True
            row.operator(TACKWRIGHT_OT_clear_perforation.bl_idname, text="Clear")
        elif field is None:
            layout.label(text="In Edit Mode, on selected faces")
        if field is not None:
            self._draw_field(layout, field)

    def _draw_field(self, layout: bpy.types.UILayout, field: TackwrightField) -> None:
        rows = layout.column(align=True)
        for band in field.bands:
            row = rows.row(align=True)
            row.alert = not _is_pattern(band.code)
            row.prop(band, "code", text="Pattern")
            if len(field.bands) > 1:
                row.prop(band, "depth", text="")
        row = rows.row(align=True)
        row.operator(TACKWRIGHT_OT_add_band.bl_idname, text="Add Pattern")
        if len(field.bands) > 1:
            row.operator(TACKWRIGHT_OT_remove_band.bl_idname, text="Remove")
        layout.use_property_split = True
        layout.use_property_decorate = False
        layout.prop(field, "margin")
        if len(field.bands) > 1:
            layout.prop(field, "gap")
        if field.margin == 0 or (len(field.bands) > 1 and not all(band.depth for band in field.bands)):
            layout.label(text="0: automatic")
        layout.prop(field, "turn")


def _is_pattern(code: str) -> bool:
    from ...core.openings.hole_patterns import (
        hole_pattern,  # here, so that Blender starts without loading the libraries
    )
    from ...core.terms.errors import InputError

    try:
        hole_pattern(code.strip())
    except InputError:
        return False
    return True


CLASSES = (
    TACKWRIGHT_PT_inner,
    TACKWRIGHT_PT_openings,
    TACKWRIGHT_UL_perforations,
    TACKWRIGHT_PT_perforations,
)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
