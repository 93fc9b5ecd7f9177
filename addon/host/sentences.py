"""Sentences in the sidebar: broken into lines that fit, in the user's language."""

from __future__ import annotations

from collections.abc import Callable

import bpy

from .editor_types import Icon
from .row_text import interface_width

__all__ = ["draw_sentence", "lines_that_fit"]

TAKEN = 66.0
"""Of the sidebar's width, in its pixels at scale 1: tabs, borders of panel and box, and a little air."""
ICON = 20.0
"""The same, of an icon."""
LEAST = 60.0
"""A line is this wide at least, however narrow the sidebar."""


def draw_sentence(layout: bpy.types.UILayout, context: bpy.types.Context, text: str, *, icon: Icon = "NONE") -> None:
    """A sentence as lines of a column. text: English, looked up whole in Blender's translations."""
    scale = context.preferences.system.ui_scale or 1.0   # without a window it is 0
    room = context.region.width - (TAKEN + (ICON if icon != "NONE" else 0.0)) * scale
    lines = lines_that_fit(
        bpy.app.translations.pgettext_iface(text), max(room, LEAST * scale), interface_width(context))
    column = layout.column(align=True)
    column.scale_y = 0.8
    for number, line in enumerate(lines):
        column.label(text=line, icon=icon if number == 0 else "NONE" if icon == "NONE" else "BLANK1", translate=False)


def lines_that_fit(text: str, room: float, width: Callable[[str], float]) -> list[str]:
    """A text broken between its words, and within those that are wider than `room` by themselves. width: of a text.

    >>> lines_that_fit("The edge is blunt", 8, len), lines_that_fit("unbreakable", 4, len)
    (['The edge', 'is blunt'], ['unbr', 'eaka', 'ble'])
    """
    lines: list[str] = []
    for word in text.split():
        if lines and width(f"{lines[-1]} {word}") <= room:
            lines[-1] += f" {word}"
            continue
        while width(word) > room and len(word) > 1:
            keep = next((n for n in range(len(word) - 1, 1, -1) if width(word[:n]) <= room), 1)
            lines.append(word[:keep])
            word = word[keep:]
        lines.append(word)
    return lines
