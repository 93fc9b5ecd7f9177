"""What flattening moved, told in the sidebar for as long as the drawing is as it left it."""

from __future__ import annotations

import bpy

from ...core.stock.said_units import said
from ..gather.scan_mesh import Stamp, drawn_stamp
from ..host.sentences import draw_sentence
from ..host.shown_lengths import units_of

__all__ = ["draw_moves", "forget_moves", "tell_moves"]

_told: dict[int, tuple[Stamp, str]] = {}
"""By session_uid of the object: some numbers of its mesh as it was left, and what was said, in mm."""


def tell_moves(item: bpy.types.Object, text: str) -> None:
    """Tell it of the object until its mesh is another one; an undo brings back what was told of the mesh before."""
    _told[item.session_uid] = (drawn_stamp(item), text)


def draw_moves(layout: bpy.types.UILayout, context: bpy.types.Context, envelope: bpy.types.Object) -> None:
    """What was told of the envelope, or of its inner plates that are active."""
    for item in dict.fromkeys((envelope, context.object)):
        stamp, text = _told.get(item.session_uid, (None, ""))
        if stamp is not None and stamp == drawn_stamp(item):
            draw_sentence(layout, context, said(text, units_of(context.scene)), icon="INFO")


def forget_moves() -> None:
    """Another file is open."""
    _told.clear()
