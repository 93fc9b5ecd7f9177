"""Text for buttons that fill a row of a list. Blender centres the text of a button: here all are made as wide as each
other, so that they begin at one line and the whole row can be clicked."""

from __future__ import annotations

from collections.abc import Callable

import blf
import bpy

__all__ = ["fitted", "interface_width", "left_aligned"]

INTERFACE_FONT = 0


def left_aligned(context: bpy.types.Context, text: str, taken: float) -> str:
    """A text cut at its end or filled up with spaces until it is as wide as all others in the sidebar. taken: of the
    sidebar's width, in its pixels at scale 1, what else is in the row."""
    room = context.region.width - taken * (context.preferences.system.ui_scale or 1.0)
    return fitted(text, room, interface_width(context))


def interface_width(context: bpy.types.Context) -> Callable[[str], float]:
    """How wide a text is in Blender's own font, pixels."""
    scale = context.preferences.system.ui_scale or 1.0   # without a window it is 0
    styles = getattr(context.preferences, "ui_styles", None)
    blf.size(INTERFACE_FONT, (styles[0].widget.points if styles else 11.0) * scale)
    return lambda part: float(blf.dimensions(INTERFACE_FONT, part)[0])


def fitted(text: str, room: float, width: Callable[[str], float]) -> str:
    """A text cut at its end to `room`, or filled up with spaces to it. width: of a text.

    >>> fitted("Crevice: P01-1", 10, len), fitted("Crevice", 10, len)
    ('Crevice:… ', 'Crevice   ')
    """
    if width(text) > room:
        keep = len(text)
        while keep > 1 and width(text[:keep].rstrip() + "…") > room:
            keep -= 1
        text = text[:keep].rstrip() + "…"
    space = width(". .") - width("..")                   # a space alone may be measured as nothing
    return text + " " * max(0, int((room - width(text)) / space)) if space > 0 else text
