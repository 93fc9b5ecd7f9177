"""The sidebar's first panels: the settings of the whole envelope, in the order of the work."""

from __future__ import annotations

import bpy

from ..edit.metal_operators import TACKWRIGHT_MT_gauges, draw_missing_metal
from ..scene.active_envelope import envelope_of
from ..scene.properties import TackwrightSettings
from ..scene.sidebar import SettingsPanel

__all__: list[str] = []


class TACKWRIGHT_PT_metal(SettingsPanel, bpy.types.Panel):
    bl_label = "Metal"
    bl_order = 70

    def draw_settings(self, layout: bpy.types.UILayout, settings: TackwrightSettings) -> None:
        layout.prop(settings, "material", text="")  # the names are long: let them have the whole width
        draw_missing_metal(layout, settings)
        row = layout.row(align=True)
        row.prop(settings, "thickness")
        row.menu(TACKWRIGHT_MT_gauges.__name__, text="", icon="DOWNARROW_HLT")
        layout.prop(settings, "metal_side")


class TACKWRIGHT_PT_corners(SettingsPanel, bpy.types.Panel):
    bl_label = "Corners"
    bl_order = 72
    bl_options = {"DEFAULT_CLOSED"}

    def draw_settings(self, layout: bpy.types.UILayout, settings: TackwrightSettings) -> None:
        layout.prop(settings, "corner")
        if settings.corner == "HALF_OPEN":
            layout.prop(settings, "overlap")
        layout.prop(settings, "root_gap")


class TACKWRIGHT_PT_tabs(SettingsPanel, bpy.types.Panel):
    bl_label = "Tabs"
    bl_order = 74
    bl_options = {"DEFAULT_CLOSED"}

    def draw_header(self, context: bpy.types.Context) -> None:
        self.layout.prop(envelope_of(context).tackwright, "tabs", text="")

    def draw_settings(self, layout: bpy.types.UILayout, settings: TackwrightSettings) -> None:
        layout.active = settings.tabs
        layout.prop(settings, "fit_gap")
        layout.prop(settings, "thickness_gap")
        layout.prop(settings, "tab_width")
        layout.prop(settings, "tab_spacing")
        layout.prop(settings, "tab_share")
        if settings.tab_width == 0 or settings.tab_spacing == 0 or settings.thickness_gap == 0:
            layout.label(text="0: automatic")
        layout.prop(settings, "jog")
        layout.prop(settings, "keyed")


class TACKWRIGHT_PT_welds(SettingsPanel, bpy.types.Panel):
    bl_label = "Welds"
    bl_order = 76
    bl_options = {"DEFAULT_CLOSED"}

    def draw_settings(self, layout: bpy.types.UILayout, settings: TackwrightSettings) -> None:
        layout.prop(settings, "weld_process")
        layout.prop(settings, "weld_leg")
        layout.prop(settings, "stitch")
        if settings.stitch > 0:
            layout.prop(settings, "stitch_pitch")


CLASSES = (TACKWRIGHT_PT_metal, TACKWRIGHT_PT_corners, TACKWRIGHT_PT_tabs, TACKWRIGHT_PT_welds)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
