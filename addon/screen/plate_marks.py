"""The piece marks of plates that are spread or laid flat, written on them in the 3D view."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import bpy
from mathutils import Vector

from ..host.editor_types import mesh_of
from ..host.overlay import Overlay
from ..scene.active_envelope import made_plate
from ..scene.views import view_of
from .in_sight import places_in_sight

__all__ = ["Label", "labels_without_overlap", "marked_plates", "register", "unregister"]

SIZE = 13
"""Height of the letters in points, before the interface's scale."""

ROOM = 3
"""Pixels left free round a label."""

FAR = 100.0
"""How far off the viewer is taken to be in a view without perspective, in distances to what it turns about."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """A text to be written. centre, size: in pixels. depth: how far from the viewer."""

    text: str
    centre: tuple[float, float]
    size: tuple[float, float]
    depth: float


def labels_without_overlap(labels: Sequence[Label]) -> list[Label]:
    """Those that can be read: of labels that would run into each other the nearest one stays."""
    kept: list[Label] = []
    for label in sorted(labels, key=lambda one: (one.depth, one.text)):
        if not any(_overlap(label, other) for other in kept):
            kept.append(label)
    return kept


def _overlap(one: Label, two: Label) -> bool:
    return all(
        abs(a - b) < (c + d) / 2 + ROOM
        for a, b, c, d in zip(one.centre, two.centre, one.size, two.size, strict=True)
    )


def marked_plates(context: bpy.types.Context) -> list[tuple[bpy.types.Object, str]]:
    """The plates to be written on, with their marks: those in view whose envelope asks for it."""
    out = []
    for item in context.visible_objects:
        if item.type != "MESH" or not made_plate(item) or not len(mesh_of(item).vertices):
            continue
        envelope = item.tackwright_plate.envelope
        if envelope is None or not envelope.tackwright_view.marks or view_of(envelope) not in {"SPREAD", "FLAT"}:
            continue
        out.append((item, item.tackwright_plate.placement.rpartition("-")[0]))
    return out


def _viewer(view: bpy.types.RegionView3D) -> Callable[[Vector], Vector]:
    """From where a place is looked at: from one point, or in a view without perspective from far off."""
    back = view.view_matrix.inverted_safe()
    if view.is_perspective:
        eye = back.translation.copy()
        return lambda place: eye
    far = back.to_3x3().col[2] * (FAR * max(1.0, view.view_distance))
    return lambda place: place + far


def _draw_marks(context: bpy.types.Context) -> None:
    import blf
    from bpy_extras.view3d_utils import location_3d_to_region_2d

    space, region = context.space_data, context.region
    plates = marked_plates(context)
    if not plates:
        return
    view = space.region_3d
    blf.size(0, SIZE * context.preferences.system.ui_scale)
    places = places_in_sight([item for item, _ in plates], context.view_layer.depsgraph, _viewer(view))
    labels = []
    for (_, mark), place in zip(plates, places, strict=True):
        at = None if place is None else location_3d_to_region_2d(region, view, place)
        if at is not None:
            depth = -(view.view_matrix @ place).z
            labels.append(Label(text=mark, centre=(at.x, at.y), size=blf.dimensions(0, mark), depth=depth))
    blf.enable(0, blf.SHADOW)
    blf.shadow(0, 5, 0.0, 0.0, 0.0, 0.9)
    blf.shadow_offset(0, 0, 0)
    blf.color(0, 1.0, 1.0, 1.0, 1.0)
    for label in labels_without_overlap(labels):
        (x, y), (wide, high) = label.centre, label.size
        blf.position(0, x - wide / 2, y - high / 2, 0)
        blf.draw(0, label.text)
    blf.disable(0, blf.SHADOW)


_overlay = Overlay(_draw_marks, "POST_PIXEL")
register, unregister = _overlay.show, _overlay.hide
