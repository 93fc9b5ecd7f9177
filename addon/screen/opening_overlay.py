"""The outlines of openings in the 3D view: an empty alone shows where an opening is, not how large."""

from __future__ import annotations

import math

import bpy
import numpy as np
from numpy.typing import NDArray

from ..host.overlay import Overlay, draw_lines
from ..host.shown_lengths import mm_per_unit
from ..scene.active_envelope import is_opening
from ..scene.opening_objects import TackwrightOpening, hole_of

__all__ = ["lines_of_opening", "outline_of", "register", "unregister"]

STEPS = 48
"""Segments of a full circle on the screen."""


def outline_of(marked: TackwrightOpening) -> NDArray[np.float64]:
    """(n, 2, 2) segments round the opening and its bolts, mm, in the empty's own x and y."""
    loops = []
    if not marked.fitting:
        x, y = marked.size_x_mm, marked.size_y_mm
        wide, high, radius = {
            "ROUND": (x, x, x / 2),
            "SLOT": (max(x, y), y, y / 2),
            "RECTANGLE": (x, y, min(marked.radius_mm, x / 2, y / 2)),
        }[marked.shape]
        loops.append(_rounded_box(wide, high, radius))
    elif (hole := hole_of(marked.fitting)) is not None:
        loops.append(_rounded_box(hole, hole, hole / 2))
    if marked.bolts:
        for i in range(marked.bolt_count):
            turn = marked.bolt_turn + 2 * math.pi * i / marked.bolt_count
            middle = marked.bolt_circle_mm / 2 * np.array([math.cos(turn), math.sin(turn)])
            loops.append(middle + _rounded_box(marked.bolt_hole_mm, marked.bolt_hole_mm, marked.bolt_hole_mm / 2))
    segments = [np.stack([loop, np.roll(loop, -1, axis=0)], axis=1) for loop in loops]
    return np.concatenate(segments) if segments else np.empty((0, 2, 2))


def _rounded_box(wide: float, high: float, radius: float) -> NDArray[np.float64]:
    """(n, 2) points round a box about the origin, its corners rounded: a circle where the radius takes it all."""
    turn = np.linspace(0.0, 2 * math.pi, STEPS, endpoint=False) + math.pi / STEPS
    way = np.column_stack([np.cos(turn), np.sin(turn)])
    return np.sign(way) * (np.array([wide, high]) / 2 - radius) + radius * way


def lines_of_opening(
    context: bpy.types.Context, item: bpy.types.Object
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """(n, 2, 3) segments in the world of an opening's outline, and of the arrow that Blender draws of its empty, from
    its centre."""
    axes = np.array(item.matrix_world.to_3x3(), dtype=np.float64)
    tip = axes[:, 2] * item.empty_display_size
    axes /= np.maximum(np.linalg.norm(axes, axis=0), np.finfo(np.float64).tiny)  # a hole keeps its size when scaled
    middle = np.array(item.matrix_world.translation)
    ring = outline_of(item.tackwright_opening) / mm_per_unit(context.scene) @ axes[:, :2].T + middle
    return ring, np.array([[middle, middle + tip]])


def _draw_openings(context: bpy.types.Context) -> None:
    lines: dict[bool, list[NDArray[np.float64]]] = {True: [], False: []}
    for item in context.visible_objects:
        if not is_opening(item):
            continue
        lines[item.select_get()].append(lines_of_opening(context, item)[0].reshape(-1, 3))
    theme = context.preferences.themes[0].view_3d
    for selected, found in lines.items():
        if found:
            draw_lines(np.concatenate(found), theme.object_selected if selected else theme.empty)


_overlay = Overlay(_draw_openings, "POST_VIEW")
register, unregister = _overlay.show, _overlay.hide
