"""Choices in the 3D view: lines along the chosen edges, ticks into the plate that runs through, texts, a legend."""

from __future__ import annotations

from typing import Final

import blf
import bpy
import numpy as np
from bpy.app.handlers import persistent
from bpy.props import BoolProperty
from numpy.typing import NDArray

from ..host.handlers import Handlers, hear, stop_hearing
from ..host.overlay import Overlay
from ..host.redraw import redraw_views
from ..host.shown_lengths import units_of
from ..scene.active_envelope import envelope_of
from ..scene.edited_meshes import edited_meshes
from ..scene.views import view_of
from .choice_lines import PATTERNS, STYLES, ChoiceLines, choice_lines, dashes
from .plate_marks import Label, labels_without_overlap

__all__ = ["draw_switch", "legend_rows", "on_screen", "register", "shown_lines", "strokes_of", "unregister"]

Floats = NDArray[np.float64]

LINE: Final = (0.35, 0.95, 0.85, 1.0)
SHADE: Final = (0.02, 0.06, 0.06, 0.9)
"""Colours of the lines and of what is drawn under them: seen on bright and dark backgrounds and metal alike."""
TICK: Final = 12.0
"""Length of a tick, pixels at scale 1."""
AT: Final = (0.3, 0.7)
"""Where on an edge its ticks are."""
SIZE: Final = 12
"""Height of the letters in points."""
SAMPLE: Final = 46.0
"""Length of a line in the legend, pixels at scale 1."""
NEAR: Final = 1e-6
"""What lies nearer to the viewer's plane than this is behind the viewer."""

_stamp = 0
_cache: dict[int, tuple[tuple[object, ...], ChoiceLines | None]] = {}


def draw_switch(layout: bpy.types.UILayout, context: bpy.types.Context) -> None:
    layout.prop(context.scene, "tackwright_show_choices", text="Show Choices")


def shown_lines(context: bpy.types.Context) -> list[tuple[bpy.types.Object, ChoiceLines]]:
    """What is drawn now: of all meshes in Edit Mode, else of the active envelope; read anew only when something was
    changed since."""
    if context.mode == "EDIT_MESH":
        items = edited_meshes(context)
    elif context.mode == "OBJECT":
        envelope = envelope_of(context)
        items = [envelope] if envelope is not None and view_of(envelope) not in {"SPREAD", "FLAT"} else []
    else:
        return []
    units = units_of(context.scene)
    found = []
    for item in items:
        stamp = (_stamp, units, item.mode, item.data.session_uid)
        kept = _cache.get(item.session_uid)
        if kept is None or kept[0] != stamp:
            _cache[item.session_uid] = kept = stamp, choice_lines(item, units)
        if kept[1] is not None:
            found.append((item, kept[1]))
    return found


def on_screen(points: Floats, perspective: Floats, size: tuple[float, float]) -> tuple[Floats, Floats]:
    """(n, 2) pixels, (n,) depths of points (n, 3) in the world; depths up to NEAR are behind the viewer."""
    seen = np.column_stack([points, np.ones(len(points))]) @ perspective.T
    depth = seen[:, 3]
    with np.errstate(divide="ignore", invalid="ignore"):
        flat = (seen[:, :2] / depth[:, None] + 1.0) / 2.0 * np.array(size)
    return flat, depth


def _before_viewer(ends: Floats, perspective: Floats) -> Floats:
    """(n, 2, 3) lines cut off at the viewer's plane; those wholly behind it become points there."""
    depth = ends @ perspective[3, :3] + perspective[3, 3]
    reach = 2 * NEAR
    gap = depth[:, ::-1] - depth
    with np.errstate(divide="ignore", invalid="ignore"):
        part = np.clip(np.where(depth < reach, (reach - depth) / gap, 0.0), 0.0, 1.0)
    return np.asarray(ends + np.nan_to_num(part)[:, :, None] * (ends[:, ::-1] - ends))


def strokes_of(
    lines: ChoiceLines, world: Floats, perspective: Floats, size: tuple[float, float], scale: float
) -> Floats:
    """(k, 2, 2) all strokes of an object's chosen edges, pixels. world, perspective: (4, 4). size: of the region,
    pixels. scale: of the interface."""
    if not len(lines.ends):
        return np.empty((0, 2, 2))
    ends = _before_viewer(lines.ends @ world[:3, :3].T + world[:3, 3], perspective)
    flat, depth = on_screen(ends.reshape(-1, 3), perspective, size)
    flat, ahead = flat.reshape(-1, 2, 2), (depth > NEAR).reshape(-1, 2).all(axis=1)
    found = [np.empty((0, 2, 2))]
    for i in np.flatnonzero(ahead):
        start, end = flat[i]
        found.append(dashes(start, end, tuple(scale * length for length in PATTERNS[lines.styles[i]])))
        if lines.ways[i].any():
            found.append(_ticks(ends[i], world[:3, :3] @ lines.ways[i], perspective, size, scale))
    return np.concatenate(found)


def _ticks(ends: Floats, way: Floats, perspective: Floats, size: tuple[float, float], scale: float) -> Floats:
    """(2, 2, 2) two strokes from an edge in the direction of a plate, or none where that is seen from its end."""
    feet = np.array([ends[0] + at * (ends[1] - ends[0]) for at in AT])
    step = 1e-3 * np.linalg.norm(ends[1] - ends[0])
    flat, depth = on_screen(np.concatenate([feet, feet + step * way / np.linalg.norm(way)]), perspective, size)
    towards = flat[2:] - flat[:2]
    long = np.linalg.norm(towards, axis=1)
    if not (depth > NEAR).all() or not (long > 1e-9).all():
        return np.empty((0, 2, 2))
    return np.stack([flat[:2], flat[:2] + TICK * scale * towards / long[:, None]], axis=1)


def legend_rows(found: list[tuple[bpy.types.Object, ChoiceLines]]) -> list[tuple[str, str]]:
    """What the legend explains: style, or "through", and what it means; only what is there to be seen."""
    styles = {style for _, lines in found for style in lines.styles}
    rows = [(style, text) for style, text in STYLES.items() if style in styles]
    if any(lines.ways.any() for _, lines in found):
        rows.append(("through", "Ticks: This Plate Runs Through"))
    return rows


def _draw_choices(context: bpy.types.Context) -> None:
    space = context.space_data
    if not context.scene.tackwright_show_choices:
        return
    found = [(item, lines) for item, lines in shown_lines(context) if item.visible_get(viewport=space)]
    if not found:
        return
    size = (float(context.region.width), float(context.region.height))
    perspective = np.array(context.region_data.perspective_matrix, dtype=np.float64)
    scale = context.preferences.system.ui_scale
    strokes, labels = [], []
    for item, lines in found:
        world = np.array(item.matrix_world, dtype=np.float64)
        strokes.append(strokes_of(lines, world, perspective, size, scale))
        labels += _labels(lines, world, perspective, size, scale)
    legend, texts = _legend(context, legend_rows(found), scale)
    drawn = np.concatenate([*strokes, legend])
    if len(drawn):                                       # else there are texts alone
        _draw_lines(drawn, scale)
    for label in labels_without_overlap(labels):
        _write(label.text, label.centre[0] - label.size[0] / 2, label.centre[1] - label.size[1] / 2, scale)
    for text, x, y in texts:
        _write(text, x, y, scale)


def _labels(
    lines: ChoiceLines, world: Floats, perspective: Floats, size: tuple[float, float], scale: float
) -> list[Label]:
    points = np.concatenate([lines.ends.mean(axis=1), lines.centres]) @ world[:3, :3].T + world[:3, 3]
    flat, depth = on_screen(points, perspective, size)
    blf.size(0, SIZE * scale)
    return [
        Label(text=text, centre=(float(x), float(y)), size=blf.dimensions(0, text), depth=float(away))
        for text, (x, y), away in zip((*lines.texts, *lines.names), flat, depth, strict=True)
        if text and away > NEAR and 0 <= x <= size[0] and 0 <= y <= size[1]
    ]


def _legend(
    context: bpy.types.Context, rows: list[tuple[str, str]], scale: float
) -> tuple[Floats, list[tuple[str, float, float]]]:
    """The legend's strokes and texts, in the lower right corner beside the sidebar."""
    if not rows:
        return np.empty((0, 2, 2)), []
    blf.size(0, SIZE * scale)
    words = [bpy.app.translations.pgettext_iface(text) for _, text in rows]
    wide = max(blf.dimensions(0, text)[0] for text in words)
    beside = [region for region in context.area.regions if region.type == "UI" and region.alignment == "RIGHT"]
    lies_over = context.preferences.system.use_region_overlap
    taken = sum(region.width for region in beside if region.width > 1) if lies_over else 0
    left = context.region.width - taken - wide - (SAMPLE + 40) * scale
    line, strokes, texts = 1.7 * SIZE * scale, [], []
    for i, ((style, _), text) in enumerate(zip(rows, words, strict=True)):
        y = 24 * scale + (len(rows) - 1 - i) * line
        start, end = np.array([left, y]), np.array([left + SAMPLE * scale, y])
        strokes.append(dashes(start, end, tuple(scale * length for length in PATTERNS.get(style, ()))))
        if style == "through":
            feet = np.array([start + at * (end - start) for at in AT])
            strokes.append(np.stack([feet, feet + np.array([0.0, 0.6 * TICK * scale])], axis=1))
        texts.append((text, float(end[0] + 10 * scale), float(y - SIZE * scale / 3)))
    return np.concatenate(strokes), texts


def _write(text: str, x: float, y: float, scale: float) -> None:
    blf.size(0, SIZE * scale)
    blf.enable(0, blf.SHADOW)
    blf.shadow(0, 5, 0.0, 0.0, 0.0, 1.0)
    blf.color(0, 1.0, 1.0, 1.0, 1.0)
    blf.position(0, x, y, 0.0)
    blf.draw(0, text)
    blf.disable(0, blf.SHADOW)


def _draw_lines(strokes: Floats, scale: float) -> None:
    import gpu
    from gpu_extras.batch import batch_for_shader

    points = np.zeros((2 * len(strokes), 3), dtype=np.float32)
    points[:, :2] = strokes.reshape(-1, 2)
    shader = gpu.shader.from_builtin("POLYLINE_UNIFORM_COLOR")
    batch = batch_for_shader(shader, "LINES", {"pos": points})
    gpu.state.blend_set("ALPHA")
    for width, colour in ((5.0, SHADE), (2.5, LINE)):
        shader.uniform_float("viewportSize", gpu.state.viewport_get()[2:])
        shader.uniform_float("lineWidth", width * scale)
        shader.uniform_float("color", colour)
        batch.draw(shader)
    gpu.state.blend_set("NONE")


@persistent
def _on_change(scene: bpy.types.Scene, depsgraph: bpy.types.Depsgraph) -> None:
    global _stamp
    if any(update.is_updated_geometry or isinstance(update.id, bpy.types.Mesh) for update in depsgraph.updates):
        _stamp += 1


@persistent
def _on_load(path: str, *_: object) -> None:
    _cache.clear()


def _redraw(scene: bpy.types.Scene, context: bpy.types.Context) -> None:
    redraw_views()


def _handlers() -> Handlers:
    return [(bpy.app.handlers.depsgraph_update_post, _on_change), (bpy.app.handlers.load_post, _on_load)]


_overlay = Overlay(_draw_choices, "POST_PIXEL")


def register() -> None:
    bpy.types.Scene.tackwright_show_choices = BoolProperty(
        name="Show Choices", default=True, update=_redraw,
        description="Show in the 3D view what is chosen for single edges and faces, with a legend of the lines",
    )
    hear(_handlers())
    _overlay.show()


def unregister() -> None:
    _overlay.hide()
    stop_hearing(_handlers())
    del bpy.types.Scene.tackwright_show_choices
    _cache.clear()
