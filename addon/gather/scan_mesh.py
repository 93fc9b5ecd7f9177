"""A scan's mesh as arrays: millions of points and triangles, read at once."""

from __future__ import annotations

from contextlib import nullcontext
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import bmesh
import bpy
import numpy as np
from mathutils import Matrix
from numpy.typing import NDArray

from ..host.drawn_mesh import drawn_mesh
from ..host.editor_types import mesh_of
from ..host.shown_lengths import mm_per_unit

if TYPE_CHECKING:
    from ...core.scan.scan_index import ScanIndex
    from ...core.terms.progress import Progress

__all__ = [
    "SAMPLES", "ScanMesh", "Stamp", "corner_edges", "corner_points", "drawn_points", "drawn_stamp", "in_world_mm",
    "placed", "points_in_world_mm", "read_scan", "seen_modifiers", "selected_points", "stamp_of",
]  # fmt: skip

SAMPLES = 64
"""Points that tell whether a scan was edited meanwhile, besides how many it has."""

LOOKS = {"is_active", "show_expanded", "show_in_editmode", "show_on_cage", "show_render", "use_pin_to_last"}
"""Settings of every modifier that change nothing of the mesh in the viewport."""

Stamp = tuple[object, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ScanMesh:
    """points: (n, 3) in the object's own coordinates. world: (4, 4) from there to the world, in the scene's units of
    mm each. triangles: (t, 3). faces: (t,) the face of the object's own mesh that each is part of, None where modifiers
    made the faces."""

    points: NDArray[np.float32]
    world: NDArray[np.float64]
    mm: float
    triangles: NDArray[np.int32]
    faces: NDArray[np.int32] | None

    def sorted(self, progress: Progress | None = None) -> ScanIndex:
        """The scan in the world, in mm, sorted: seconds of work for millions, none of it in the editor."""
        from ...core.scan.scan_index import index_scan

        return index_scan(points_in_world_mm(self.points, self.world, self.mm), self.triangles, progress)


def drawn_points(mesh: bpy.types.Mesh) -> NDArray[np.float32]:
    """(n, 3) the points of a mesh in its own coordinates; of one in Edit Mode as they were last brought up to date."""
    points = np.empty(3 * len(mesh.vertices), dtype=np.float32)
    mesh.vertices.foreach_get("co", points)
    return points.reshape(-1, 3)


def points_in_world_mm(
    points: NDArray[np.float32] | NDArray[np.float64], world: NDArray[np.float64], mm: float
) -> NDArray[np.float64]:
    """(n, 3) points moved by a (4, 4) matrix, in mm."""
    return np.asarray((points.astype(np.float64) @ world[:3, :3].T + world[:3, 3]) * mm)


def in_world_mm(
    points: NDArray[np.float32] | NDArray[np.float64], item: bpy.types.Object, mm: float
) -> NDArray[np.float64]:
    """Points of an object in the world, mm."""
    return points_in_world_mm(points, np.array(item.matrix_world, dtype=np.float64), mm)


def read_scan(context: bpy.types.Context, item: bpy.types.Object) -> ScanMesh:
    """The scan as it is seen. Raises InputError where nobody applies its modifiers."""
    if mesh_of(item).is_editmode:
        item.update_from_editmode()
    own = not seen_modifiers(item)
    with nullcontext(mesh_of(item)) if own else drawn_mesh(context, item) as mesh:
        triangles, faces = _triangles(mesh)
        return ScanMesh(
            points=drawn_points(mesh), world=np.array(item.matrix_world, dtype=np.float64),
            mm=mm_per_unit(context.scene), triangles=triangles.reshape(-1, 3), faces=faces if own else None)


def seen_modifiers(item: bpy.types.Object) -> Stamp:
    """The modifiers that change what is seen, and their settings."""
    return tuple(_settings_of(modifier) for modifier in item.modifiers if modifier.show_viewport)


def _settings_of(modifier: bpy.types.Modifier) -> Stamp:
    kept = [
        one for one in modifier.bl_rna.properties
        if one.type in {"BOOLEAN", "INT", "FLOAT", "ENUM"} and not one.is_readonly and one.identifier not in LOOKS
    ]
    values = [getattr(modifier, one.identifier) for one in kept]
    return modifier.type, tuple(tuple(v) if getattr(one, "is_array", False) else str(v) if isinstance(v, set) else v
                                for one, v in zip(kept, values, strict=True))


def corner_points(mesh: bpy.types.Mesh) -> NDArray[np.int32]:
    """(c,) the point of every corner of every face."""
    return _of_corners(mesh, ".corner_vert")


def corner_edges(mesh: bpy.types.Mesh) -> NDArray[np.int32]:
    """(c,) the edge from every corner of every face to the next."""
    return _of_corners(mesh, ".corner_edge")


def _of_corners(mesh: bpy.types.Mesh, name: str) -> NDArray[np.int32]:
    """Blender's own attributes: to ask the corners themselves takes two hundred times as long."""
    values = np.empty(len(mesh.loops), dtype=np.int32)
    if len(values):
        mesh.attributes[name].data.foreach_get("value", values)
    return values


def _triangles(mesh: bpy.types.Mesh) -> tuple[NDArray[np.int32], NDArray[np.int32]]:
    """The corners of a mesh's triangles, and the face of each. Blender hands out cut-up faces slowly, 0.2 s a million;
    those of a scan nearly always are triangles already."""
    count = len(mesh.polygons)
    # no face has less than three corners; a mesh that modifiers make in Edit Mode has no such attribute
    if len(mesh.loops) == 3 * count and ".corner_vert" in mesh.attributes:
        return corner_points(mesh), np.arange(count, dtype=np.int32)
    mesh.calc_loop_triangles()
    count = len(mesh.loop_triangles)
    corners, faces = np.empty(3 * count, dtype=np.int32), np.empty(count, dtype=np.int32)
    mesh.loop_triangles.foreach_get("vertices", corners)
    mesh.loop_triangles.foreach_get("polygon_index", faces)
    return corners, faces


def stamp_of(context: bpy.types.Context, item: bpy.types.Object) -> Stamp:
    """What tells that a scan is as it was: cheap, so that it can be asked at every turn."""
    world = tuple(round(value, 9) for row in item.matrix_world for value in row)
    return item.session_uid, world, mm_per_unit(context.scene), *drawn_stamp(item)


def drawn_stamp(item: bpy.types.Object) -> Stamp:
    """How many points and faces there are, and some of the points, as they are drawn at this moment."""
    drawn = mesh_of(item)
    points: Any = drawn.vertices                         # of the mesh, or of what is being edited
    faces: Any = drawn.polygons
    if drawn.is_editmode:
        edited = bmesh.from_edit_mesh(drawn)
        edited.verts.ensure_lookup_table()
        points, faces = edited.verts, edited.faces
    count = len(points)
    # by their numbers: to go through a million points takes 50 ms, and every redraw asks
    some = tuple(tuple(points[i].co) for i in range(0, count, max(1, count // SAMPLES)))
    return count, len(faces), some, seen_modifiers(item)


def placed(matrix: Matrix) -> Stamp:
    """A matrix as numbers to compare: what single precision makes of the same place is the same."""
    return tuple(round(value, 6) for row in matrix for value in row)


def selected_points(item: bpy.types.Object) -> NDArray[np.float32]:
    """(n, 3) the selected points of an object in Edit Mode, in its own coordinates."""
    item.update_from_editmode()
    mesh = mesh_of(item)
    selected = np.empty(len(mesh.vertices), dtype=np.bool_)
    mesh.vertices.foreach_get("select", selected)
    return drawn_points(mesh)[selected]
