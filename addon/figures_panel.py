"""The sidebar's panel with the kit's figures."""

from __future__ import annotations

import bpy

from .envelope import envelope_of
from .sidebar import Sidebar

__all__: list[str] = []


class TACKWRIGHT_PT_figures(Sidebar, bpy.types.Panel):
    bl_label = "Figures"
    bl_order = 30

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        envelope = envelope_of(context)
        return envelope is not None and bool(envelope.tackwright.summary)

    def draw(self, context: bpy.types.Context) -> None:
        made = self.layout.column(align=True)
        for line in envelope_of(context).tackwright.summary.splitlines():
            made.label(text=line, translate=False)


CLASSES = (TACKWRIGHT_PT_figures,)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
