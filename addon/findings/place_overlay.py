"""The place of the finding that was clicked last, drawn over the plates for a while: the drawn edges or
faces, and a mark where on them it is."""

from __future__ import annotations

import math
import time
from typing import Any

import bmesh
import bpy
import numpy as np
from mathutils import Matrix, Vector
from numpy.typing import NDArray

from ..host.editor_types import mesh_of
from ..host.overlay import Overlay, draw_lines
from ..host.shown_lengths import mm_per_unit
from ..scene.active_envelope import envelope_of
from ..scene.finding_group import TackwrightFinding
from ..scene.views import view_of
from .kept_findings import kept_places, place_of

__all__ = ["mark_lines", "pixel_at", "place_lines", "point_out", "pointed_out", "register", "unregister"]

SECONDS = 8.0
"""How long the mark is drawn; it goes at the next redraw after that."""
RADIUS = 14.0
"""Of its ring, in pixels at scale 1."""
STEPS = 32
MOST = 400
"""Lines of a place that are drawn."""

_shown: tuple[int, str, str, float] | None = None
"""The envelope by session_uid, the finding's rule and message, and until when it is drawn."""


def point_out(envelope: bpy.types.Object, kept: TackwrightFinding) -> None:
    """Draw the place of a finding from now on, for a while."""
    global _shown
    _shown = envelope.session_uid, kept.rule, kept.message, time.monotonic() + SECONDS


def pointed_out(envelope: bpy.types.Object | None, now: float) -> TackwrightFinding | None:
    """The finding whose place is to be drawn; None where it is no longer the chosen one, its time is over, or the
    plates are not where they belong."""
    if envelope is None or _shown is None or envelope.session_uid != _shown[0] or now > _shown[3]:
        return None
    settings = envelope.tackwright
    if settings.active_finding >= len(settings.findings) or view_of(envelope) in {"SPREAD", "FLAT"}:
        return None
    kept = settings.findings[settings.active_finding]
    return kept if (kept.rule, kept.message) == _shown[1:3] else None


def place_lines(envelope: bpy.types.Object, kept: TackwrightFinding) -> NDArray[np.float64]:
    """(n, 2, 3) the drawn edges of a finding's place, else the outlines of its faces, in the world."""
    lines: list[list[Vector]] = []
    for item, faces, edges in kept_places(envelope, kept):
        points, rings = _drawn(mesh_of(item), faces if not edges else [])
        pairs = edges or [ends for ring in rings for ends in zip(ring, [*ring[1:], ring[0]], strict=True)]
        for ends in pairs[: MOST - len(lines)]:
            if max(ends) < len(points):
                lines.append([item.matrix_world @ points[end].co for end in ends])
    return np.array(lines, dtype=np.float64).reshape(-1, 2, 3)


def _drawn(mesh: bpy.types.Mesh, faces: list[int]) -> tuple[Any, list[list[int]]]:
    """The points of a mesh, and those of some of its faces by number, as they are now."""
    if mesh.is_editmode:
        edited = bmesh.from_edit_mesh(mesh)
        edited.verts.ensure_lookup_table()
        edited.faces.ensure_lookup_table()
        here = [edited.faces[face] for face in faces if face < len(edited.faces)]
        return edited.verts, [[corner.index for corner in face.verts] for face in here]
    polygons = [mesh.polygons[face] for face in faces if face < len(mesh.polygons)]
    return mesh.vertices, [list(face.vertices) for face in polygons]


def pixel_at(at: Vector, perspective: Matrix, window: Matrix, width: int) -> float:
    """How long one pixel is at a place, in the scene's units. perspective, window: the view's matrices of these names;
    width: of the region, pixels."""
    depth = (perspective @ at.to_4d()).w
    return 2.0 * depth / (window[0][0] * width)


def mark_lines(at: Vector, right: Vector, up: Vector, size: float) -> NDArray[np.float64]:
    """(n, 2, 3) segments of a ring round a place and four strokes towards it. size: radius of the ring."""
    turn = np.linspace(0.0, 2.0 * math.pi, STEPS, endpoint=False)
    ring = np.column_stack([np.cos(turn), np.sin(turn)])
    ways = ring[:: STEPS // 4]
    flat = np.concatenate([
        np.stack([ring, np.roll(ring, -1, axis=0)], axis=1), np.stack([0.6 * ways, 1.7 * ways], axis=1)])
    return np.array(at) + size * flat @ np.array([right, up])


def _draw_place(context: bpy.types.Context) -> None:
    if _shown is None:
        return
    envelope = envelope_of(context)
    kept = pointed_out(envelope, time.monotonic())
    if kept is None:
        return
    lines = [place_lines(envelope, kept)]
    place = place_of(kept)
    if place is not None:
        view, at = context.region_data, Vector(place) / mm_per_unit(context.scene)
        size = RADIUS * context.preferences.system.ui_scale
        size *= pixel_at(at, view.perspective_matrix, view.window_matrix, context.region.width)
        if size > 0.0:                                   # it lies behind the viewer otherwise
            turn = view.view_rotation
            lines.append(mark_lines(at, turn @ Vector((1, 0, 0)), turn @ Vector((0, 1, 0)), size))
    points = np.concatenate(lines).reshape(-1, 3)
    if len(points):
        draw_lines(points, context.preferences.themes[0].view_3d.object_active)


_overlay = Overlay(_draw_place, "POST_VIEW")


def register() -> None:
    global _shown
    _shown = None
    _overlay.show()


def unregister() -> None:
    _overlay.hide()
