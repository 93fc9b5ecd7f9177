"""Bringing a place into the middle of the 3D views, as large as fits, without turning them."""

from __future__ import annotations

from collections.abc import Iterator

import bpy
from mathutils import Vector

__all__ = ["frame_place", "frame_selected"]

SENSOR = 72.0
"""mm: width of the picture of which Blender's views take their lens."""
FILL = 0.7
"""Share of the view's shorter side that a place takes."""


def frame_selected(context: bpy.types.Context) -> bool:
    """Frame what is selected in every 3D view of the window; whether there is one."""
    framed = False
    for area, region, _ in _views(context):
        with context.temp_override(window=context.window, area=area, region=region):
            if bpy.ops.view3d.view_selected.poll():  # type: ignore[call-arg]
                framed = bpy.ops.view3d.view_selected() == {"FINISHED"} or framed
    return framed


def frame_place(context: bpy.types.Context, at: Vector, radius: float) -> bool:
    """Frame a ball about a place, in the world, in every 3D view of the window; whether there is one. What looks
    through a camera is left alone: to move it would turn the view, or move the camera."""
    framed = False
    for area, region, view in _views(context):
        if view.view_perspective == "CAMERA":
            continue
        view.view_location = at
        view.view_distance = distance_for(radius, area.spaces.active.lens, region.width, region.height)
        area.tag_redraw()
        framed = True
    return framed


def distance_for(radius: float, lens: float, width: int, height: int) -> float:
    """How far a view must stand off so that a ball takes FILL of the view's shorter side.

    A view's lens sees SENSOR mm of the longer side at that distance (from the source of Blender's view matrices).
    """
    longer, shorter = max(width, height, 1), max(min(width, height), 1)
    return 2.0 * radius / FILL * lens / SENSOR * longer / shorter


def _views(
    context: bpy.types.Context,
) -> Iterator[tuple[bpy.types.Area, bpy.types.Region, bpy.types.RegionView3D]]:
    """The 3D views of the window; none in the background. Of the four of a quad view each."""
    if context.window is None or bpy.app.background:
        return
    for area in context.window.screen.areas:
        if area.type != "VIEW_3D":
            continue
        regions = [region for region in area.regions if region.type == "WINDOW"]
        space = area.spaces.active
        quads = list(space.region_quadviews)
        for region, view in zip(regions, quads or [space.region_3d], strict=False):
            yield area, region, view
