"""Sentences in the sidebar: broken into lines that fit, in the user's language."""

from __future__ import annotations

import textwrap

import bpy

__all__ = ["draw_sentence", "letters_across"]

LETTER = 6.5
"""Width of a letter of Blender's interface font, in its pixels at scale 1: the mean of running English text."""
MARGIN = 6
"""Letters that the panel's own borders and an icon take."""


def draw_sentence(layout: bpy.types.UILayout, context: bpy.types.Context, text: str, *, icon: str = "NONE") -> None:
    """A sentence as lines of a column. text: English, looked up whole in Blender's translations."""
    lines = textwrap.wrap(bpy.app.translations.pgettext_iface(text), width=letters_across(context))
    column = layout.column(align=True)
    column.scale_y = 0.8
    for number, line in enumerate(lines):
        column.label(text=line, icon=icon if number == 0 else "NONE" if icon == "NONE" else "BLANK1", translate=False)


def letters_across(context: bpy.types.Context) -> int:
    """About how many letters fit across the sidebar."""
    return max(20, int(context.region.width / (LETTER * context.preferences.system.ui_scale)) - MARGIN)
