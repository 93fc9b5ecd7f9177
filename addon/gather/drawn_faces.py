"""One object's own mesh as true faces are found from it, and written back: its points in mm in the world's frame."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import bmesh
import bpy
import numpy as np
from numpy.typing import NDArray

from ...core.envelope.mesh import Mesh
from ...core.terms.errors import InputError
from ..host.editor_types import mesh_of
from ..host.mesh_numbers import column, numbers_of, states_of
from ..host.shown_lengths import mm_per_unit
from ..scene.pins import pinned_vertices

__all__ = ["DrawnFaces", "read_drawn_faces", "write_points"]

_FLATTENED = 1e-9
"""Of an object's greatest scale: one that is smaller by so much leaves nothing of what it scales."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DrawnFaces:
    """mesh: without modifiers, in mm, in the world's frame. faces: those to flatten. pinned: points that stay.
    storage: (4, 4), from mm to the object's own coordinates. axes: (3, 3) rows, the object's, in the world. origin:
    (3,) mm."""

    mesh: Mesh
    faces: NDArray[np.int64]
    pinned: NDArray[np.int64]
    storage: NDArray[np.float64]
    axes: NDArray[np.float64]
    origin: NDArray[np.float64]


def read_drawn_faces(context: bpy.types.Context, item: bpy.types.Object, *, keep_selected: bool) -> DrawnFaces:
    """What to flatten of an object: in Object Mode all faces that are not left out; in Edit Mode the selected ones, or,
    to keep the selected points, all that are not hidden.

    Raises InputError for an object that cannot be written to, or where there is nothing to flatten.
    """
    mesh = mesh_of(item)
    _check_writable(item)
    editing = item.mode == "EDIT"
    if editing:
        item.update_from_editmode()
    world = np.array(item.matrix_world, dtype=np.float64)
    sizes = np.linalg.svd(world[:3, :3], compute_uv=False)
    if not sizes[2] > _FLATTENED * sizes[0]:
        raise InputError(f"{item.name} has a scale of zero: points cannot be moved along it", do="Scale it first.")
    mm = mm_per_unit(context.scene)
    world[:3] *= mm
    points = column(mesh.vertices, "co", np.float32, 3).reshape(-1, 3).astype(np.float64)
    counts = column(mesh.polygons, "loop_total", np.int32)
    wanted = numbers_of(mesh, "tackwright_left_out", "FACE") == 0
    pinned = pinned_vertices(mesh)
    if editing and keep_selected:
        wanted &= ~states_of(mesh, "FACE", "hide")
        pinned |= states_of(mesh, "POINT", "select")
    elif editing:
        wanted &= states_of(mesh, "FACE", "select")
    if not wanted.any():
        raise InputError(f"No face of {item.name} to flatten", do="Select faces, or leave Edit Mode to flatten all.")
    starts = np.concatenate([[0], np.cumsum(counts)]).astype(np.int64)
    drawn = Mesh(
        points=points @ world[:3, :3].T + world[:3, 3],
        corners=column(mesh.loops, "vertex_index", np.int32).astype(np.int64), starts=starts, name=item.name,
    )
    return DrawnFaces(
        mesh=drawn, faces=np.flatnonzero(wanted), pinned=np.flatnonzero(pinned), storage=np.linalg.inv(world),
        axes=np.array(item.matrix_world.to_quaternion().to_matrix().transposed(), dtype=np.float64),
        origin=world[:3, 3].copy(),
    )


def write_points(item: bpy.types.Object, stored: NDArray[np.float32], moved: Sequence[int]) -> None:
    """Give the numbered vertices their new places, in Edit Mode too. stored: (n, 3) in the object's coordinates."""
    mesh = mesh_of(item)
    if mesh.is_editmode:
        edited = bmesh.from_edit_mesh(mesh)
        edited.verts.ensure_lookup_table()
        for i in moved:
            edited.verts[i].co = stored[i].tolist()
        edited.normal_update()
        bmesh.update_edit_mesh(mesh, loop_triangles=True, destructive=False)
        return
    points = column(mesh.vertices, "co", np.float32, 3).reshape(-1, 3)
    points[moved] = stored[moved]
    mesh.vertices.foreach_set("co", points.reshape(-1))
    mesh.update()


def _check_writable(item: bpy.types.Object) -> None:
    mesh = mesh_of(item)
    if mesh.library is not None:
        raise InputError(f"The mesh of {item.name} is linked from another file", do="Make it local first.")
    if mesh.shape_keys is not None:
        raise InputError(
            f"{item.name} has shape keys: moving its vertices would leave the other keys as they were",
            do="Remove its shape keys first.")
    if len(mesh.polygons) == 0 and not mesh.is_editmode:
        raise InputError(f"{item.name} has no faces", do="Draw some: each flat face becomes a plate.")
