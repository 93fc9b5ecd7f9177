"""The sidebar's panel with what the checks said: a list, and all about the finding that is chosen in it."""

from __future__ import annotations

import bpy

from ...core.stock.said_units import said
from ..findings.finding_titles import message_of, row_of, title_of
from ..findings.kept_remedies import remedy_of
from ..findings.shown_findings import TACKWRIGHT_OT_select_finding, TACKWRIGHT_OT_show_finding, active_finding
from ..host.editor_types import Icon
from ..host.row_text import left_aligned
from ..host.sentences import draw_sentence
from ..host.shown_lengths import units_of
from ..kit.apply_remedy import TACKWRIGHT_OT_apply_remedy
from ..kit.export_kit import TACKWRIGHT_OT_export_kit
from ..kit.live import catching_up, draw_state, follows
from ..kit.told_age import draw_age
from ..scene.active_envelope import envelope_of
from ..scene.finding_group import TackwrightFinding
from ..scene.sidebar import Sidebar

__all__ = ["TACKWRIGHT_UL_findings"]

LEVEL_ICONS: dict[str, Icon] = {"error": "CANCEL", "warning": "ERROR", "note": "INFO"}
LEVEL_NAMES = {"error": "Error", "warning": "Warning", "note": "Note"}

ROW = 126.0
"""Of the sidebar's width, in its pixels at scale 1, what frames, a scroll bar and the icon take of a row of the list;
rather too much, so that the text fits."""


class TACKWRIGHT_UL_findings(bpy.types.UIList):
    """Findings, the worst first. The field below the list finds words in them, and sorts them by name"""

    def draw_item(self, context, layout, data, item, icon, active_data, active_property, index=0, flt_flag=0) -> None:  # type: ignore[no-untyped-def]
        text = said(row_of(data.findings, index), units_of(context.scene))
        layout.operator(
            TACKWRIGHT_OT_show_finding.bl_idname, text=left_aligned(context, text, ROW), emboss=False, translate=False,
            icon=LEVEL_ICONS[item.level],
        ).index = index

    def filter_items(self, context, data, property) -> tuple[list[int], list[int]]:  # type: ignore[no-untyped-def]
        items = getattr(data, property)
        wanted, units = self.filter_name.lower(), units_of(context.scene)
        shown = [
            self.bitflag_filter_item
            if wanted in " ".join((
                said(title_of(item), units), item.about, item.openings, said(message_of(item), units))).lower() else 0
            for item in items
        ]
        order: list[int] = []
        if self.use_filter_sort_alpha:
            by_name = sorted(range(len(items)), key=lambda i: (title_of(items[i]), i))
            order = [by_name.index(i) for i in range(len(items))]
        return shown, order


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
        if catching_up(envelope_of(context)):
            draw_state(layout, envelope_of(context))
            return
        if not follows(envelope_of(context)):
            draw_age(layout, context, envelope_of(context))
        layout.template_list(
            "TACKWRIGHT_UL_findings", "", settings, "findings", settings, "active_finding", rows=4, maxrows=8
        )
        kept = active_finding(envelope_of(context))
        if kept is not None:
            self.draw_finding(context, layout, kept)
        if any(finding.level == "error" and finding.rule != "refused" for finding in settings.findings):
            layout.operator(TACKWRIGHT_OT_export_kit.bl_idname, text="Export Even So").even_so = True

    def draw_finding(
        self, context: bpy.types.Context, layout: bpy.types.UILayout, kept: TackwrightFinding
    ) -> None:
        """All that a finding says, and what can be done about it."""
        units = units_of(context.scene)
        buttons = layout.row(align=True)
        buttons.scale_y = 1.2
        remedy = remedy_of(kept)
        if remedy is not None:
            buttons.operator(
                TACKWRIGHT_OT_apply_remedy.bl_idname, icon="CHECKMARK",
                text=said(remedy.label, units),
                translate=False)
        of_opening = kept.openings and not (kept.faces or kept.edges or kept.elsewhere)
        select = "Select the Opening" if of_opening else TACKWRIGHT_OT_select_finding.bl_label
        buttons.operator(
            TACKWRIGHT_OT_select_finding.bl_idname, icon="RESTRICT_SELECT_OFF", text="" if remedy else select)
        box = layout.box().column()
        box.label(text=LEVEL_NAMES[kept.level], icon=LEVEL_ICONS[kept.level])
        if kept.about:
            draw_sentence(box, context, kept.about.replace(" ", ", "))
        draw_sentence(box, context, said(message_of(kept), units))


CLASSES = (TACKWRIGHT_UL_findings, TACKWRIGHT_PT_findings)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
