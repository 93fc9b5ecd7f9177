"""The sidebar's panel for the opening that the active empty marks. What is active comes first in the sidebar."""

from __future__ import annotations

import bpy

from ..gather.add_opening import draw_size
from ..scene.active_envelope import envelope_of, is_opening
from ..scene.opening_objects import hole_of
from ..scene.sidebar import Sidebar

__all__: list[str] = []


class TACKWRIGHT_PT_opening(Sidebar, bpy.types.Panel):
    bl_label = "Opening"
    bl_order = 25

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return context.object is not None and is_opening(context.object)

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        layout.use_property_split = True
        layout.use_property_decorate = False
        item = context.object
        marked = item.tackwright_opening
        layout.prop(item, "name", text="Name")
        if envelope_of(context) is None:
            layout.prop(marked, "envelope")
        layout.prop(marked, "purpose")
        layout.prop(marked, "fitting")
        if not marked.fitting:
            layout.prop(marked, "shape")
            draw_size(layout, marked)
            if marked.shape == "RECTANGLE":
                layout.prop(marked, "radius")
        elif hole_of(marked.fitting) is not None:
            layout.prop(marked, "hole")
        layout.prop(marked, "all_along")
        if not marked.all_along:
            layout.prop(marked, "along_axis")
        layout.prop(marked, "bolts")
        if marked.bolts:
            for name in ("bolt_count", "bolt_circle", "bolt_hole", "bolt_turn"):
                layout.prop(marked, name)


CLASSES = (TACKWRIGHT_PT_opening,)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
