"""Remedies written into the scene: each kind of change to where the editor keeps what it changes."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from typing import Any, Final

import bmesh
import bpy
import numpy as np
from mathutils import Matrix, Vector

from ...core.terms.choices import SIDES, MarkedOpening
from ...core.terms.errors import InputError
from ...core.terms.remedies import (
    AddedOpening,
    Change,
    ChangedField,
    ChangedJoints,
    ChangedMesh,
    ChangedOpening,
    ChangedPanels,
    ChangedSetting,
)
from ..gather.add_opening import looking_as_nearest, new_opening
from ..gather.drawn_faces import read_drawn_faces, write_points
from ..gather.selected_places import select_places
from ..host.editor_types import mesh_of
from ..host.mesh_numbers import numbers_of
from ..host.shown_lengths import mm_per_unit
from ..scene.active_envelope import openings_of
from ..scene.edge_choices import write_edge_choice
from ..scene.face_choices import write_face_choice
from ..scene.field_settings import FIELD_ATTRIBUTE
from ..scene.opening_objects import PURPOSES, SHAPES
from .told_moves import tell_moves

__all__ = ["mark_opening", "write_change"]

_CHANGED = "The drawing has changed since"


def write_change(
    context: bpy.types.Context, envelope: bpy.types.Object, item: bpy.types.Object | None, change: Change
) -> str:
    """Write one change; what there is to tell of it, in mm, empty for nothing. item: the object whose faces or edges it
    names, None where it names none.

    Raises InputError where it cannot be written: what it changes is gone, or is linked from another file.
    """
    if item is not None and item.data.library is not None:
        raise InputError(f"The mesh of {item.name} is linked from another file", do="Make it local first.")
    return _WRITERS[type(change)](context, envelope, item, change) or ""


def mark_opening(
    context: bpy.types.Context, envelope: bpy.types.Object, opening: MarkedOpening
) -> bpy.types.Object:
    """An empty for an opening that the core proposes, in mm, looking as the nearest face of the envelope does."""
    mm = mm_per_unit(context.scene)
    at = Vector(opening.at) / mm
    place = looking_as_nearest(context, envelope, at) or Matrix.Translation(at)
    item = new_opening(context, envelope, opening.name.title(), place)
    marked = item.tackwright_opening
    marked.purpose = next(key for key, value in PURPOSES.items() if value == opening.purpose)
    marked.shape = next(key for key, value in SHAPES.items() if value == opening.shape)
    _write_size(marked, opening.size or ())
    item.empty_display_size = max(opening.size or (50.0,)) / mm
    return item


def _add_opening(
    context: bpy.types.Context, envelope: bpy.types.Object, item: None, change: AddedOpening
) -> None:
    mark_opening(context, envelope, change.opening)


def _change_opening(
    context: bpy.types.Context, envelope: bpy.types.Object, item: None, change: ChangedOpening
) -> None:
    found = next((one for one in openings_of(context, envelope) if one.name == change.name), None)
    if found is None:
        raise InputError(f"The opening {change.name} is no longer there", do="Make the plates again.")
    if found.library is not None:
        raise InputError(f"The opening {change.name} is linked from another file", do="Make it local first.")
    marked = found.tackwright_opening
    if change.move is not None:
        parent = found.parent.matrix_world @ found.matrix_parent_inverse if found.parent else Matrix()
        found.location += parent.to_3x3().inverted_safe() @ (Vector(change.move) / mm_per_unit(context.scene))
    _write_size(marked, change.size or ())
    if change.square:
        marked.along_axis = False


def _write_size(marked: bpy.types.PropertyGroup, size: tuple[float, ...]) -> None:
    for name, value in zip(("size_x_mm", "size_y_mm"), size, strict=False):
        setattr(marked, name, value)


def _change_setting(
    context: bpy.types.Context, envelope: bpy.types.Object, item: None, change: ChangedSetting
) -> None:
    # of a fit gap, files keep both sides together
    setattr(envelope.tackwright, f"{change.name}_mm", change.value * (SIDES if change.name == "fit_gap" else 1))


def _change_joints(
    context: bpy.types.Context, envelope: bpy.types.Object, item: bpy.types.Object, change: ChangedJoints
) -> None:
    if not write_edge_choice(item, change.edges, change.choice):
        raise InputError(_CHANGED, do="Make the plates again.")


def _change_panels(
    context: bpy.types.Context, envelope: bpy.types.Object, item: bpy.types.Object, change: ChangedPanels
) -> None:
    if not write_face_choice(item, change.faces, change.choice):
        raise InputError(_CHANGED, do="Make the plates again.")


def _change_field(
    context: bpy.types.Context, envelope: bpy.types.Object, item: bpy.types.Object, change: ChangedField
) -> None:
    numbers = numbers_of(mesh_of(item), FIELD_ATTRIBUTE, "FACE")
    number = int(numbers[change.panel]) if isinstance(change.panel, int) and change.panel < len(numbers) else 0
    field = next((entry for entry in envelope.tackwright.fields if entry.number == number), None)
    if field is None:
        raise InputError(_CHANGED, do="Make the plates again.")
    field.margin_mm = change.margin


def _change_mesh(
    context: bpy.types.Context, envelope: bpy.types.Object, item: bpy.types.Object, change: ChangedMesh
) -> str:
    if change.action == "flatten":
        return _flatten(context, item, change.faces)
    with _edited(item) as mesh:
        mesh.faces.ensure_lookup_table()
        mesh.verts.ensure_lookup_table()
        if change.action == "fill":
            _fill(mesh, change)
            return ""
        faces = [mesh.faces[i] for i in change.faces if i < len(mesh.faces)]
        if change.action == "delete":
            bmesh.ops.delete(mesh, geom=[*faces], context="FACES_ONLY")
        else:
            bmesh.ops.reverse_faces(mesh, faces=faces)
    return ""


def _flatten(context: bpy.types.Context, item: bpy.types.Object, faces: tuple[int, ...]) -> str:
    from ...core.true_faces.true_faces import true_faces

    if item.mode == "EDIT":
        select_places(context, [(item, list(faces), [])])
    drawn = read_drawn_faces(context, item, keep_selected=False)
    found = true_faces(drawn.mesh, faces=faces, pinned=drawn.pinned.tolist(), storage=drawn.storage)
    write_points(item, found.stored, np.flatnonzero(found.moved > 0).tolist())
    tell_moves(item, found.told)
    return found.told


def _fill(mesh: bmesh.types.BMesh, change: ChangedMesh) -> None:
    ends = [(mesh.verts[a], mesh.verts[b]) for a, b in change.edges if max(a, b) < len(mesh.verts)]
    edges = [edge for edge in map(mesh.edges.get, ends) if edge is not None]
    made = bmesh.ops.holes_fill(mesh, edges=edges, sides=0)["faces"]
    if len(edges) < len(change.edges) or not made or any(edge.is_boundary for edge in edges):
        bmesh.ops.delete(mesh, geom=made, context="FACES_ONLY")
        raise InputError(
            "The free edges make no clean loops: a face is drawn twice there, or points lie on each other unjoined",
            do="Delete the one, merge the others by distance.", edges=change.edges)


@contextmanager
def _edited(item: bpy.types.Object) -> Iterator[bmesh.types.BMesh]:
    """The object's mesh to be changed, in either mode; written back only when all went well."""
    if item.mode == "EDIT":
        edited = bmesh.from_edit_mesh(mesh_of(item))
        yield edited
        edited.normal_update()
        bmesh.update_edit_mesh(mesh_of(item))
        return
    mesh = bmesh.new()
    try:
        mesh.from_mesh(mesh_of(item))
        yield mesh
        mesh.normal_update()
        mesh.to_mesh(mesh_of(item))
        mesh_of(item).update()
    finally:
        mesh.free()


_WRITERS: Final[Mapping[type[Any], Callable[..., str | None]]] = {
    AddedOpening: _add_opening, ChangedOpening: _change_opening, ChangedSetting: _change_setting,
    ChangedJoints: _change_joints, ChangedPanels: _change_panels, ChangedField: _change_field,
    ChangedMesh: _change_mesh,
}  # fmt: skip
