"""The sidebar's last panel: the kit's own settings, the buttons, and what the checks said."""

from __future__ import annotations

import textwrap

import bpy

from .envelope import envelope_of
from .export_kit import TACKWRIGHT_OT_export_kit
from .findings import TACKWRIGHT_OT_select_finding
from .make_plates import TACKWRIGHT_OT_make_plates
from .sidebar import Sidebar

__all__: list[str] = []

LEVEL_ICONS = {"error": "CANCEL", "warning": "ERROR", "note": "INFO"}


class TACKWRIGHT_UL_findings(bpy.types.UIList):
    def draw_item(self, context, layout, data, item, icon, active_data, active_property, index=0, flt_flag=0) -> None:  # type: ignore[no-untyped-def]
        title = item.rule.replace("_", " ").capitalize()
        text = f"{title}: {item.about}" if item.about else title
        layout.label(text=text, icon=LEVEL_ICONS[item.level], translate=False)


class TACKWRIGHT_PT_kit(Sidebar, bpy.types.Panel):
    bl_label = "Kit"

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        layout.use_property_split = True
        layout.use_property_decorate = False
        envelope = envelope_of(context)
        if envelope is not None:
            self._draw_settings(layout, envelope)
        buttons = layout.column()
        buttons.scale_y = 1.3
        if envelope is not None and envelope.mode == "EDIT":
            count = envelope.data.total_face_sel
            buttons.label(text="Of the selected face:" if count == 1 else f"Of the {count} selected faces:")
        buttons.operator(TACKWRIGHT_OT_make_plates.bl_idname, icon="MOD_SOLIDIFY")
        buttons.operator(TACKWRIGHT_OT_export_kit.bl_idname, icon="EXPORT")
        if envelope is not None:
            self._draw_findings(context, layout, envelope.tackwright)

    def _draw_settings(self, layout: bpy.types.UILayout, envelope: bpy.types.Object) -> None:
        settings = envelope.tackwright
        layout.prop(settings, "kit_name", placeholder=envelope.name)
        layout.prop(settings, "folder")
        layout.prop(settings, "dxf_units")
        layout.prop(settings, "etch")
        if envelope.display_type == "WIRE":  # as Make Plates left it, to show the plates in it
            layout.prop(envelope, "display_type", text="Envelope")

    def _draw_findings(
        self, context: bpy.types.Context, layout: bpy.types.UILayout, settings: bpy.types.PropertyGroup
    ) -> None:
        made = layout.column(align=True)
        for line in settings.summary.splitlines():
            made.label(text=line, translate=False)
        if not settings.findings:
            return
        layout.template_list(
            "TACKWRIGHT_UL_findings", "", settings, "findings", settings, "active_finding", rows=3, maxrows=4
        )
        if settings.active_finding >= len(settings.findings):
            return
        kept = settings.findings[settings.active_finding]
        text = layout.column(align=True)
        text.scale_y = 0.8
        for line in textwrap.wrap(kept.message, width=_letters(context)):
            text.label(text=line, translate=False)
        of_opening = kept.openings and not (kept.faces or kept.edges or kept.elsewhere)
        layout.operator(
            TACKWRIGHT_OT_select_finding.bl_idname, icon="RESTRICT_SELECT_OFF",
            text="Select the Opening" if of_opening else TACKWRIGHT_OT_select_finding.bl_label)
        if any(finding.level == "error" and finding.rule != "refused" for finding in settings.findings):
            layout.operator(TACKWRIGHT_OT_export_kit.bl_idname, text="Export Even So").even_so = True


def _letters(context: bpy.types.Context) -> int:
    """About how many letters fit across the sidebar."""
    return max(20, int(context.region.width / (6.5 * context.preferences.system.ui_scale)) - 6)


CLASSES = (TACKWRIGHT_UL_findings, TACKWRIGHT_PT_kit)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
