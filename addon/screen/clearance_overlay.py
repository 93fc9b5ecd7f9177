"""The room between the envelope and the scan, drawn on the envelope: patches by how much there is, the tightest places
by a line to the scan and a number, and what that means in a corner of the view."""

from __future__ import annotations

from typing import Any

import bpy
import numpy as np
from mathutils import Vector
from numpy.typing import NDArray

from ...core.stock.said_units import length_said
from ..host.overlay import Overlay
from ..host.shown_lengths import mm_per_unit, units_of
from ..scene.active_envelope import envelope_of
from ..scene.views import view_of
from ..space.clearance_work import age_of, found_of
from .plate_marks import Label, labels_without_overlap

__all__ = ["patch_kinds", "register", "unregister"]

COLOURS = {
    "in the way": (0.80, 0.10, 0.15, 0.60),
    "tight": (0.95, 0.60, 0.10, 0.50),
    "room": (0.25, 0.60, 0.75, 0.25),
}
"""What is in the way is hatched too and what is tight outlined: nobody need tell the colours apart."""
LABELS = 5
"""Places that have a number."""
SIZE = 12.0
"""Of the numbers, in points at scale 1."""
OFF = 0.003
"""Of the envelope's extent, that patches are drawn off it: enough for the depth of the view to tell them apart."""
LEGEND = 64
"""Pixels at scale 1 from the view's lower edge to the legend: over the panel of the last operator."""
HATCH = 5
"""Lines across a patch that is in the way."""

_batches: dict[str, Any] = {}
_batches_of: tuple[object, ...] = ()


def patch_kinds(room: NDArray[np.float64], tight: float) -> NDArray[np.str_]:
    """What each patch is, by its room in mm."""
    return np.where(room <= 0.0, "in the way", np.where(room < tight, "tight", "room"))


def lifted_off(patches: NDArray[np.float64]) -> NDArray[np.float64]:
    """(k, 1, 3) mm by which patches are drawn off their faces, outward, so that these do not show through."""
    normal = np.cross(patches[:, 1] - patches[:, 0], patches[:, 2] - patches[:, 0])
    normal /= np.maximum(np.linalg.norm(normal, axis=1), 1e-300)[:, None]
    extent = float(np.ptp(patches.reshape(-1, 3), axis=0).max()) if len(patches) else 0.0
    return (OFF * extent * normal)[:, None]


def hatch(patches: NDArray[np.float64]) -> NDArray[np.float64]:
    """(n, 2, 3) lines across patches (k, 3, 3), alongside their first sides."""
    shares = (np.arange(HATCH) + 0.5) / HATCH
    a, b, c = (patches[:, None, i] for i in range(3))
    share = shares[None, :, None]
    return np.stack([a + share * (c - a), b + share * (c - b)], axis=2).reshape(-1, 2, 3)


def outlines(patches: NDArray[np.float64]) -> NDArray[np.float64]:
    """(n, 2, 3) the sides of patches (k, 3, 3)."""
    return np.stack([patches, np.roll(patches, -1, axis=1)], axis=2).reshape(-1, 2, 3)


def _shown(context: bpy.types.Context) -> tuple[bpy.types.Object, Any] | None:
    """The envelope whose room is to be drawn, and what was found."""
    envelope = envelope_of(context)
    if envelope is None or not envelope.tackwright_space.show:
        return None
    found = found_of(envelope)
    apart = view_of(envelope) in {"SPREAD", "FLAT"}       # the plates are not where there is that room
    return None if found is None or apart else (envelope, found)


def _age(context: bpy.types.Context, envelope: bpy.types.Object) -> str:
    """Why the colours are not shown any more: what they told of has changed. Where they follow, new ones are coming."""
    return "" if envelope.tackwright_space.follow else age_of(context, envelope)


def _draw_patches(context: bpy.types.Context) -> None:
    import gpu

    global _batches_of
    if (shown := _shown(context)) is None or _age(context, shown[0]):
        return
    envelope, found = shown
    mm, tight = mm_per_unit(context.scene), envelope.tackwright_space.tight_mm
    if _batches_of[:3] != (found, mm, tight):
        _batches.clear()
        _batches.update(_made(found, mm, tight))
        _batches_of = (found, mm, tight)
    gpu.state.blend_set("ALPHA")
    gpu.state.depth_test_set("LESS_EQUAL")
    gpu.state.face_culling_set("NONE")
    fill, line = gpu.shader.from_builtin("UNIFORM_COLOR"), gpu.shader.from_builtin("POLYLINE_UNIFORM_COLOR")
    line.uniform_float("viewportSize", gpu.state.viewport_get()[2:])
    line.uniform_float("lineWidth", 1.5 * context.preferences.system.pixel_size)
    for name, colour in COLOURS.items():
        if name in _batches:
            fill.uniform_float("color", colour)
            _batches[name].draw(fill)
        if f"{name} lines" in _batches:
            line.uniform_float("color", (*colour[:3], 1.0))
            _batches[f"{name} lines"].draw(line)
    gpu.state.depth_test_set("NONE")
    if "places" in _batches:
        line.uniform_float("color", (*context.preferences.themes[0].view_3d.object_active[:3], 1.0))
        _batches["places"].draw(line)
    gpu.state.blend_set("NONE")


def _made(found: Any, mm: float, tight: float) -> dict[str, Any]:
    import gpu
    from gpu_extras.batch import batch_for_shader

    fill, line = gpu.shader.from_builtin("UNIFORM_COLOR"), gpu.shader.from_builtin("POLYLINE_UNIFORM_COLOR")
    result = found.clearance
    kinds = patch_kinds(result.patch_room, tight)
    off = lifted_off(result.patches)
    out = {}
    for name in COLOURS:
        own = (result.patches[kinds == name] + off[kinds == name]) / mm
        if not len(own):
            continue
        out[name] = batch_for_shader(fill, "TRIS", {"pos": own.reshape(-1, 3).astype(np.float32)})
        if name != "room":
            drawn = hatch(own) if name == "in the way" else outlines(own)
            out[f"{name} lines"] = batch_for_shader(
                line, "LINES", {"pos": drawn.reshape(-1, 3).astype(np.float32)})
    ways = np.array([(place.at, place.scan) for place in result.places[:LABELS]]).reshape(-1, 3) / mm
    if len(ways):
        out["places"] = batch_for_shader(line, "LINES", {"pos": ways.astype(np.float32)})
    return out


def _draw_numbers(context: bpy.types.Context) -> None:
    import blf
    from bpy_extras.view3d_utils import location_3d_to_region_2d

    if (shown := _shown(context)) is None:
        return
    envelope, found = shown
    units, mm, scale = units_of(context.scene), mm_per_unit(context.scene), context.preferences.system.ui_scale
    blf.size(0, SIZE * scale)
    blf.enable(0, blf.SHADOW)
    blf.shadow(0, 5, 0.0, 0.0, 0.0, 0.9)
    blf.color(0, 1.0, 1.0, 1.0, 1.0)
    bottom = _over_the_redo_panel(context, LEGEND * scale)
    left = next((r.width for r in context.area.regions if r.type == "TOOLS" and r.width > 1), 0) + 24 * scale
    if age := _age(context, envelope):
        blf.position(0, left, bottom, 0)
        blf.draw(0, f"{age}: check the clearance again")
        blf.disable(0, blf.SHADOW)
        return
    labels: list[Label] = []
    for number, place in enumerate(found.clearance.places):
        at = location_3d_to_region_2d(context.region, context.space_data.region_3d, Vector(place.at) / mm)
        if at is not None and len(labels) < LABELS:
            text = length_said(round(place.room, 1), units)
            size = blf.dimensions(0, text)
            labels.append(Label(
                text=text, centre=(at.x + 6 * scale + size[0] / 2, at.y + 6 * scale + size[1] / 2), size=size,
                depth=number))
    for label in labels_without_overlap(labels):         # of two that would run into each other the tighter stays
        (x, y), (wide, high) = label.centre, label.size
        blf.position(0, x - wide / 2, y - high / 2, 0)
        blf.draw(0, label.text)
    tight = length_said(envelope.tackwright_space.tight_mm, units)
    rows = [("room", f"more than {tight}"), ("tight", f"less than {tight}, outlined"), ("in the way", "none, hatched")]
    for number, (name, text) in enumerate(rows):
        blf.color(0, *COLOURS[name][:3], 1.0)
        blf.position(0, left, bottom + 18 * number * scale, 0)
        blf.draw(0, "■")
        blf.color(0, 1.0, 1.0, 1.0, 1.0)
        blf.position(0, left + 20 * scale, bottom + 18 * number * scale, 0)
        blf.draw(0, text)
    blf.position(0, left, bottom + 18 * len(rows) * scale, 0)
    heading = bpy.app.translations.pgettext_iface("Room to the scan")
    if found.weld_room > 0.0:
        heading = f"{heading}, less {length_said(found.weld_room, units)} for welding"
    blf.draw(0, heading)
    blf.disable(0, blf.SHADOW)


def _over_the_redo_panel(context: bpy.types.Context, bottom: float) -> float:
    """Where the legend begins: above the panel that Blender opens in this corner after an operator."""
    region = context.region
    tops = [one.y + one.height - region.y for one in context.area.regions if one.type == "HUD" and one.height > 1]
    return max([bottom, *(top + bottom / 2 for top in tops)])


_overlays = (Overlay(_draw_patches, "POST_VIEW"), Overlay(_draw_numbers, "POST_PIXEL"))


def register() -> None:
    for overlay in _overlays:
        overlay.show()


def unregister() -> None:
    global _batches_of
    for overlay in _overlays:
        overlay.hide()
    _batches.clear()
    _batches_of = ()
