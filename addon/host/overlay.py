"""What is drawn over the 3D views, there only while the extension is enabled."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

import bpy
import numpy as np
from numpy.typing import NDArray

__all__ = ["Overlay", "draw_lines"]

WIDTH: Final = 2.0
"""Pixels at scale 1, of a line."""


class Overlay:
    """Something to draw over every 3D view whose overlays are on, from `show` to `hide`. when: POST_VIEW or
    POST_PIXEL, as Blender has it."""

    def __init__(self, draw: Callable[[bpy.types.Context], None], when: str) -> None:
        self._draw_it, self._when = draw, when
        self._handle: Any = None
        self._broken = False

    def show(self) -> None:
        self._broken = False
        if self._handle is None and not bpy.app.background:
            self._handle = bpy.types.SpaceView3D.draw_handler_add(self._draw, (), "WINDOW", self._when)

    def hide(self) -> None:
        if self._handle is not None:
            bpy.types.SpaceView3D.draw_handler_remove(self._handle, "WINDOW")
            self._handle = None

    def _draw(self) -> None:
        """Draw, or fail once and be still: a draw handler that raises would do so at every redraw."""
        context = bpy.context
        space = context.space_data
        if self._broken or space is None or not space.overlay.show_overlays:
            return
        self._broken = True
        self._draw_it(context)
        self._broken = False


def draw_lines(points: NDArray[np.float64], colour: Any) -> None:
    """Lines between each two of the points, (2n, 3), over all that is there: what is inside is seen through the
    metal."""
    import gpu
    from gpu_extras.batch import batch_for_shader

    shader = gpu.shader.from_builtin("POLYLINE_UNIFORM_COLOR")
    batch = batch_for_shader(shader, "LINES", {"pos": points.astype(np.float32)})
    gpu.state.depth_test_set("NONE")
    shader.uniform_float("viewportSize", gpu.state.viewport_get()[2:])
    shader.uniform_float("lineWidth", WIDTH * bpy.context.preferences.system.pixel_size)
    shader.uniform_float("color", (*colour[:3], 1.0))
    batch.draw(shader)
