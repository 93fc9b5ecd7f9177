"""The sidebar's panel with the kit's figures."""

from __future__ import annotations

import bpy

from ..kit.live import catching_up, draw_state
from ..scene.active_envelope import envelope_of
from ..scene.kept_figures import kept_rows
from ..scene.sidebar import CONTEXT, Sidebar

__all__: list[str] = []

_NAMES = 0.38
"""The part of the width that the names take."""


class TACKWRIGHT_PT_figures(Sidebar, bpy.types.Panel):
    bl_label = "Figures"
    bl_order = 30

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        envelope = envelope_of(context)
        return envelope is not None and bool(envelope.tackwright.figures or envelope.tackwright.summary)

    def draw(self, context: bpy.types.Context) -> None:
        envelope = envelope_of(context)
        if catching_up(envelope):
            draw_state(self.layout, envelope)
            return
        table = self.layout.column(align=True)
        rows = kept_rows(context.scene, envelope)
        for name, value in rows:
            row = table.split(factor=_NAMES)
            names = row.row()
            names.alignment = "RIGHT"
            names.label(text=name, text_ctxt=CONTEXT)
            row.label(text=value, translate=False)
        for line in envelope.tackwright.summary.splitlines() if not rows else ():
            table.label(text=line, translate=False)


CLASSES = (TACKWRIGHT_PT_figures,)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
