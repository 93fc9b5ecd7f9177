"""The sidebar's panel with what the checks said."""

from __future__ import annotations

import textwrap

import bpy

from .envelope import envelope_of
from .export_kit import TACKWRIGHT_OT_export_kit
from .findings import TACKWRIGHT_OT_select_finding
from .sidebar import Sidebar

__all__: list[str] = []

LEVEL_ICONS = {"error": "CANCEL", "warning": "ERROR", "note": "INFO"}


class TACKWRIGHT_UL_findings(bpy.types.UIList):
    def draw_item(self, context, layout, data, item, icon, active_data, active_property, index=0, flt_flag=0) -> None:  # type: ignore[no-untyped-def]
        title = item.rule.replace("_", " ").capitalize()
        text = f"{title}: {item.about}" if item.about else title
        layout.label(text=text, icon=LEVEL_ICONS[item.level], translate=False)


class TACKWRIGHT_PT_findings(Sidebar, bpy.types.Panel):
    bl_label = "Findings"
    bl_order = 20

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        envelope = envelope_of(context)
        return envelope is not None and bool(envelope.tackwright.findings)

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        settings = envelope_of(context).tackwright
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


CLASSES = (TACKWRIGHT_UL_findings, TACKWRIGHT_PT_findings)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
