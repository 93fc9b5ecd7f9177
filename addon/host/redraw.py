"""The 3D views drawn again, whichever window they are in."""

from __future__ import annotations

import bpy

__all__ = ["redraw_views"]


def redraw_views() -> None:
    """Have every 3D view drawn again, sidebar included; without a window nothing."""
    manager = bpy.context.window_manager
    for window in manager.windows if manager else ():
        for area in window.screen.areas:
            if area.type == "VIEW_3D":
                area.tag_redraw()
