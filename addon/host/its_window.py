"""Where an object is worked on from a timer: in a window that shows it, while nothing runs that must not be
disturbed."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import bpy

__all__ = ["disturbed", "in_its_scene"]


def disturbed() -> bool:
    """Whether the editor is at something that must find everything as it left it."""
    playing = any(window.screen.is_animation_playing for window in bpy.context.window_manager.windows)
    return playing or bpy.app.is_job_running("RENDER")


@contextmanager
def in_its_scene(item: bpy.types.Object) -> Iterator[bpy.types.Context | None]:
    """A context whose view layer has the object; None where no window shows one."""
    context = bpy.context
    if not context.window_manager.windows:
        yield context if _has(context.view_layer, item) else None
        return
    window = next((w for w in context.window_manager.windows if _has(w.view_layer, item)), None)
    if window is None:
        yield None
        return
    with context.temp_override(window=window, scene=window.scene, view_layer=window.view_layer):
        yield bpy.context


def _has(view_layer: bpy.types.ViewLayer, item: bpy.types.Object) -> bool:
    return bool(view_layer.objects.get(item.name) == item)
