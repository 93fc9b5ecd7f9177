"""What the panels of the sidebar have in common."""

from __future__ import annotations

from typing import Final

import bpy

from ..host.editor_types import OfPanel
from .active_envelope import envelope_of
from .properties import TackwrightSettings

__all__ = ["CONTEXT", "SettingsPanel", "Sidebar"]


CONTEXT: Final = "Tackwright"
"""Of translations: what Blender's own words of the same spelling mean is something else (Space is a key there)."""


class Sidebar(OfPanel):
    bl_translation_context = CONTEXT
    bl_space_type = "VIEW_3D"
    bl_region_type = "UI"
    bl_category = "Tackwright"


class SettingsPanel(Sidebar):
    """A panel of settings of the envelope, shown where there is one."""

    def draw_settings(self, layout: bpy.types.UILayout, settings: TackwrightSettings) -> None:
        """What the panel shows of them."""
        raise NotImplementedError

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return envelope_of(context) is not None

    def draw(self, context: bpy.types.Context) -> None:
        self.layout.use_property_split = True
        self.layout.use_property_decorate = False
        self.draw_settings(self.layout, envelope_of(context).tackwright)
