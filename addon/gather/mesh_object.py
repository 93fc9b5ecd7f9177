"""One mesh object as it is seen in the viewport: its mesh in mm, and the choices on its faces and edges."""

from __future__ import annotations

from collections.abc import Sized
from dataclasses import dataclass, replace
from typing import Any, Final

import bpy
import numpy as np
from numpy.typing import NDArray

from ...core.envelope.mesh import Mesh
from ...core.files.face_names import telling
from ...core.terms.choices import JointChoice, PanelChoice
from ...core.terms.errors import InputError
from ..host.drawn_mesh import drawn_mesh
from ..host.editor_types import mesh_of
from ..host.shown_lengths import mm_per_unit
from ..scene.edge_choices import (
    CHOSEN_ATTRIBUTE,
    CORNER_ATTRIBUTE,
    INTO_ATTRIBUTE,
    MARK_ATTRIBUTE,
    NUMBERS,
    OUT_ATTRIBUTE,
    TABS_ATTRIBUTE,
    choice_from,
)
from ..scene.face_choices import FACE_ATTRIBUTES, face_choice_from
from ..scene.field_settings import FIELD_ATTRIBUTE
from ..scene.plate_names import names_by_number

__all__ = ["MeshObject", "read_mesh_object"]

_NOTHING: Final = PanelChoice()
_UNCHOSEN: Final = JointChoice()

@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MeshObject:
    """What one object says.

    mesh: in mm, in the world's frame, modifiers applied, wound so that faces look outward even where
    the object is mirrored by a negative scale. faces, edges: choices by the mesh's own numbers. fields: (f,) the
    number of each face's perforation, 0 for none. as_drawn: whether faces and points are numbered as in the
    object's own mesh, so that a finding's places can be selected there; a modifier that adds or removes
    some makes it False.
    """

    mesh: Mesh
    faces: dict[int, PanelChoice]
    edges: dict[tuple[int, int], JointChoice]
    fields: NDArray[np.int64]
    as_drawn: bool


def read_mesh_object(context: bpy.types.Context, item: bpy.types.Object, *, selected_only: bool) -> MeshObject:
    """The object's mesh and choices. selected_only: leave out all faces but those selected in edit mode.

    The choices are attributes of its faces and edges, see face_choices.py and edge_choices.py. Raises InputError when
    there is no face.
    """
    with drawn_mesh(context, item) as seen:
        if len(seen.polygons) == 0:
            raise InputError(f"{item.name} has no faces", do="Draw some: each flat face becomes a plate.")
        return MeshObject(
            mesh=_read_mesh(seen, item, mm_per_unit(context.scene)),
            faces=_read_face_choices(seen, item, _counting(seen, item) if selected_only else None),
            edges=_read_edge_choices(seen),
            fields=_attribute(seen, FIELD_ATTRIBUTE, "FACE").astype(np.int64),
            as_drawn=_numbered_alike(seen, mesh_of(item)),
        )


def _read_mesh(seen: bpy.types.Mesh, item: bpy.types.Object, mm: float) -> Mesh:
    points = _column(seen.vertices, "co", np.float32, 3).astype(np.float64)
    starts = np.append(_column(seen.polygons, "loop_start", np.int32), len(seen.loops)).astype(np.int64)
    corners = _column(seen.loops, "vertex_index", np.int32).astype(np.int64)
    world = np.array(item.matrix_world, dtype=np.float64)
    if np.linalg.det(world[:3, :3]) < 0:
        corners = _turned_over(corners, starts)
    points = (points @ world[:3, :3].T + world[:3, 3]) * mm
    for array in (points, corners, starts):
        array.setflags(write=False)
    return Mesh(
        points=points, corners=corners, starts=starts, face_names=_face_names(seen, item), name=item.name,
        unit_from="the scene's Unit Scale",
    )


def _turned_over(corners: NDArray[np.int64], starts: NDArray[np.int64]) -> NDArray[np.int64]:
    """Every face's corners the other way round."""
    counts = np.diff(starts)
    within = np.arange(len(corners)) - np.repeat(starts[:-1], counts)
    return corners[np.repeat(starts[1:], counts) - 1 - within]


def _face_names(seen: bpy.types.Mesh, item: bpy.types.Object) -> tuple[str, ...]:
    """A name for each face from its material, where there is more than one."""
    slots = [slot.material.name if slot.material else "" for slot in item.material_slots]
    used = _column(seen.polygons, "material_index", np.int32)
    return telling([slots[i] if i < len(slots) else "" for i in used.tolist()])


def _counting(seen: bpy.types.Mesh, item: bpy.types.Object) -> NDArray[np.bool_]:
    """(f,) the faces that are selected in edit mode."""
    selected = _column(seen.polygons, "select", np.bool_)
    return selected if item.mode == "EDIT" else np.zeros_like(selected)


def _read_face_choices(
    seen: bpy.types.Mesh, item: bpy.types.Object, counting: NDArray[np.bool_] | None
) -> dict[int, PanelChoice]:
    found = {name: _attribute(seen, name, "FACE") for name in FACE_ATTRIBUTES}
    names = names_by_number(item)
    chosen = np.zeros(len(seen.polygons), dtype=bool)
    for values in found.values():
        chosen |= values != 0
    out = np.zeros(len(chosen), dtype=bool) if counting is None else ~counting
    choices = {}
    for i in np.flatnonzero(chosen | out).tolist():
        choice = face_choice_from({name: values[i] for name, values in found.items()}, names)
        choice = replace(choice, left_out=True) if out[i] else choice
        if choice != _NOTHING:
            choices[i] = choice
    return choices


def _read_edge_choices(seen: bpy.types.Mesh) -> dict[tuple[int, int], JointChoice]:
    names = (CORNER_ATTRIBUTE, TABS_ATTRIBUTE, CHOSEN_ATTRIBUTE, *(number.attribute for number in NUMBERS.values()))
    found = {name: _attribute(seen, name, "EDGE") for name in names}
    through = _through_faces(seen)
    chosen = (found[CORNER_ATTRIBUTE] != 0) | (found[TABS_ATTRIBUTE] != 0) | (found[CHOSEN_ATTRIBUTE] != 0)
    chosen[list(through)] = True
    ends = np.sort(_column(seen.edges, "vertices", np.int32, 2), axis=1)
    choices = {}
    for i in np.flatnonzero(chosen).tolist():
        choice = choice_from({name: values[i] for name, values in found.items()}, through.get(i))
        if choice != _UNCHOSEN:
            choices[int(ends[i, 0]), int(ends[i, 1])] = choice
    return choices


def _through_faces(seen: bpy.types.Mesh) -> dict[int, int]:
    """By edge, the one face with the edge's mark at either of its ends."""
    marks = _attribute(seen, MARK_ATTRIBUTE, "EDGE")
    if not marks.any():
        return {}
    corners = [_attribute(seen, name, "CORNER") for name in (OUT_ATTRIBUTE, INTO_ATTRIBUTE)]
    edges = _column(seen.loops, "edge_index", np.int32)
    starts = _column(seen.polygons, "loop_start", np.int32)
    counts = _column(seen.polygons, "loop_total", np.int32)
    following = np.arange(1, len(edges) + 1)
    following[starts + counts - 1] = starts
    own = marks[edges]
    agree = np.zeros(len(edges), dtype=bool)
    for values in corners:
        agree |= (values == own) | (values[following] == own)
    owner = np.repeat(np.arange(len(starts)), counts)
    faces: dict[int, set[int]] = {}
    for loop in np.flatnonzero(agree & (own != 0)).tolist():
        faces.setdefault(int(edges[loop]), set()).add(int(owner[loop]))
    return {edge: found.pop() for edge, found in faces.items() if len(found) == 1}


def _numbered_alike(seen: bpy.types.Mesh, drawn: bpy.types.Mesh) -> bool:
    """Whether both have the same faces on the same points, in the same order."""
    starts = [_column(mesh.polygons, "loop_start", np.int32) for mesh in (seen, drawn)]
    corners = [_column(mesh.loops, "vertex_index", np.int32) for mesh in (seen, drawn)]
    return len(seen.vertices) == len(drawn.vertices) and all(
        np.array_equal(here, there) for here, there in (starts, corners))


def _column(items: Any, name: str, kind: type[np.generic], width: int = 1) -> NDArray[Any]:
    """One property of every item: (n,), or (n, width)."""
    out = np.empty(len(items) * width, dtype=kind)
    items.foreach_get(name, out)
    return out.reshape(-1, width) if width > 1 else out


def _attribute(mesh: bpy.types.Mesh, name: str, domain: str) -> NDArray[Any]:
    """The values of a number attribute, zeros where the mesh has none of that name and domain."""
    items: dict[str, Sized] = {"FACE": mesh.polygons, "EDGE": mesh.edges, "CORNER": mesh.loops}
    attribute = mesh.attributes.get(name)
    kinds: dict[str, type[np.generic]] = {"FLOAT": np.float32, "INT": np.int32, "INT8": np.int32, "BOOLEAN": np.bool_}
    if attribute is None or attribute.domain != domain or attribute.data_type not in kinds:
        return np.zeros(len(items[domain]))
    return _column(attribute.data, "value", kinds[attribute.data_type]).astype(np.float64)
