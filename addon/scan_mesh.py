"""A scan's mesh as arrays: millions of points and triangles, read at once."""

from __future__ import annotations

from dataclasses import dataclass

import bpy
import numpy as np
from numpy.typing import NDArray

from .units import mm_per_unit

__all__ = ["ScanMesh", "Stamp", "drawn_points", "in_world_mm", "read_scan", "selected_points", "stamp_of"]

SAMPLES = 64
"""Points that tell whether a scan was edited meanwhile, besides how many it has."""

Stamp = tuple[object, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ScanMesh:
    """points: (n, 3) mm in the world. triangles: (t, 3). faces: (t,) the face of the mesh that each is part of."""

    points: NDArray[np.float64]
    triangles: NDArray[np.int32]
    faces: NDArray[np.int32]


def drawn_points(mesh: bpy.types.Mesh) -> NDArray[np.float32]:
    """(n, 3) the points of a mesh in its own coordinates; of one in Edit Mode as they were last brought up to date."""
    points = np.empty(3 * len(mesh.vertices), dtype=np.float32)
    mesh.vertices.foreach_get("co", points)
    return points.reshape(-1, 3)


def in_world_mm(points: NDArray[np.floating], item: bpy.types.Object, mm: float) -> NDArray[np.float64]:  # type: ignore[type-arg]
    """Points of an object in the world, mm."""
    world = np.array(item.matrix_world, dtype=np.float64)
    return np.asarray((points.astype(np.float64) @ world[:3, :3].T + world[:3, 3]) * mm)


def read_scan(context: bpy.types.Context, item: bpy.types.Object) -> ScanMesh:
    """The scan as it is drawn; its modifiers do not count."""
    if item.mode == "EDIT":
        item.update_from_editmode()
    mesh = item.data
    mesh.calc_loop_triangles()
    count = len(mesh.loop_triangles)
    triangles, faces = np.empty(3 * count, dtype=np.int32), np.empty(count, dtype=np.int32)
    mesh.loop_triangles.foreach_get("vertices", triangles)
    mesh.loop_triangles.foreach_get("polygon_index", faces)
    return ScanMesh(
        points=in_world_mm(drawn_points(mesh), item, mm_per_unit(context.scene)),
        triangles=triangles.reshape(-1, 3), faces=faces)


def stamp_of(context: bpy.types.Context, item: bpy.types.Object) -> Stamp:
    """What tells that a scan is as it was: cheap, so that it can be asked at every turn."""
    mesh = item.data
    count = len(mesh.vertices)
    some = [tuple(mesh.vertices[i].co) for i in range(0, count, max(1, count // SAMPLES))]
    world = tuple(round(value, 9) for row in item.matrix_world for value in row)
    return item.session_uid, count, len(mesh.polygons), world, mm_per_unit(context.scene), tuple(some)


def selected_points(item: bpy.types.Object) -> NDArray[np.float32]:
    """(n, 3) the selected points of an object in Edit Mode, in its own coordinates."""
    item.update_from_editmode()
    mesh = item.data
    selected = np.empty(len(mesh.vertices), dtype=np.bool_)
    mesh.vertices.foreach_get("select", selected)
    return drawn_points(mesh)[selected]
