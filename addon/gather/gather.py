"""From an envelope, its inner plates and its openings, as they are seen in the viewport, to the core's mesh and
choices."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import accumulate
from types import MappingProxyType

import bpy
import numpy as np
from mathutils.bvhtree import BVHTree
from numpy.typing import NDArray

from ...core.envelope.joined_meshes import join_inner
from ...core.envelope.mesh import Mesh
from ...core.envelope.panel_choices import face_kinds
from ...core.terms.choices import Choices, Field, JointChoice, MarkedOpening, PanelChoice
from ...core.terms.errors import InputError
from ..host.editor_types import mesh_of
from ..host.shown_lengths import as_kept, mm_per_unit
from ..scene.active_envelope import inner_meshes_of, openings_of
from ..scene.face_metal import SIDES
from ..scene.field_settings import read_field
from ..scene.metals import metals_for
from ..scene.opening_objects import read_opening
from ..scene.properties import TackwrightSettings, read_own_fittings, read_settings
from .mesh_object import MeshObject, read_mesh_object
from .perforated_regions import perforated_regions

__all__ = ["DrawnObject", "GatheredDrawing", "read_drawing"]


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnObject:
    """The share of one object in the drawing: the name of the object, the numbers of its first face and first point
    and those after its last. as_drawn: whether they run as in the object's own mesh."""

    name: str
    faces: range
    points: range
    as_drawn: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class GatheredDrawing:
    """What the core is given. mesh: of all parts, in mm, in the world's frame. parts: the envelope, then its
    objects of inner plates."""

    mesh: Mesh
    choices: Choices
    parts: tuple[DrawnObject, ...]

    @property
    def as_drawn(self) -> bool:
        """Whether the envelope's own faces and points have the numbers they have in its object."""
        return self.parts[0].as_drawn

    def same_as(self, other: GatheredDrawing) -> bool:
        """Whether the core would be given the same, to the last digit, and finds it in the same places."""
        one, two = self.mesh, other.mesh
        arrays = ((one.points, two.points), (one.corners, two.corners), (one.starts, two.starts))
        return (
            all(np.array_equal(a, b) for a, b in arrays)
            and (one.face_names, one.name) == (two.face_names, two.name)
            and (self.choices, self.parts) == (other.choices, other.parts)
        )


def read_drawing(context: bpy.types.Context, envelope: bpy.types.Object, *, all_faces: bool = False) -> GatheredDrawing:
    """The envelope's mesh and choices with all that belongs to it. In edit mode only selected faces count, of
    the envelope and of the inner plates that are edited with it, and the openings on them; or all_faces.

    Raises InputError when there is no face, or none selected.
    """
    editing = envelope.mode == "EDIT" and not all_faces
    walls = read_mesh_object(context, envelope, selected_only=editing)
    if editing and not mesh_of(envelope).total_face_sel:
        raise InputError("No face is selected", do="Select the faces to make, or leave Edit Mode to make all.")
    items = [item for item in inner_meshes_of(context, envelope) if _has_faces(item)]
    inner = [_with_own_metal(read_mesh_object(context, item, selected_only=editing), item) for item in items]
    read = [walls, *inner]
    mesh, choices = join_inner(walls.mesh, [part.mesh for part in inner], _choices(context, envelope, read))
    numbers = np.concatenate([part.fields for part in read])
    choices = replace(choices, fields=_fields(envelope.tackwright, mesh, choices, numbers))
    if editing:
        choices = replace(choices, openings=_on_counting_faces(mesh, choices))
    return GatheredDrawing(mesh=mesh, choices=choices, parts=_parts([envelope, *items], read))


def _has_faces(item: bpy.types.Object) -> bool:
    if item.mode == "EDIT":
        item.update_from_editmode()
    return bool(mesh_of(item).polygons or item.modifiers)


def _choices(context: bpy.types.Context, envelope: bpy.types.Object, read: list[MeshObject]) -> Choices:
    """The choices of the envelope and of all parts, pointing at faces and points of the whole."""
    faces: dict[int, PanelChoice] = {}
    edges: dict[tuple[int, int], JointChoice] = {}
    for part, face, point in zip(read, *_firsts(read), strict=False):
        faces.update({face + i: choice for i, choice in part.faces.items()})
        edges.update({(point + a, point + b): choice for (a, b), choice in part.edges.items()})
    mm = mm_per_unit(context.scene)
    return Choices(
        settings=read_settings(envelope.tackwright),
        faces=MappingProxyType(faces),
        edges=MappingProxyType(edges),
        openings=tuple(read_opening(item, mm) for item in openings_of(context, envelope)),
        fittings=read_own_fittings(envelope.tackwright),
        materials=metals_for(envelope.tackwright),
    )


def _with_own_metal(part: MeshObject, item: bpy.types.Object) -> MeshObject:
    """Every face with the metal of its object, where it has none of its own."""
    chosen = item.tackwright_inner
    thickness, side = as_kept(chosen.thickness_mm) or None, SIDES[chosen.metal_side]
    if thickness is None and side is None:
        return part
    faces = {}
    for face in range(part.mesh.face_count):
        own = part.faces.get(face, PanelChoice())
        faces[face] = replace(own, thickness=own.thickness or thickness, metal_side=own.metal_side or side)
    return replace(part, faces=faces)


def _parts(items: list[bpy.types.Object], read: list[MeshObject]) -> tuple[DrawnObject, ...]:
    faces, points = _firsts(read)
    return tuple(
        DrawnObject(
            name=item.name,
            faces=range(faces[i], faces[i + 1]),
            points=range(points[i], points[i + 1]),
            as_drawn=read[i].as_drawn,
        )
        for i, item in enumerate(items)
    )


def _firsts(read: list[MeshObject]) -> tuple[list[int], list[int]]:
    """The number of the first face and of the first point of each part, and one past the last."""
    return (
        list(accumulate((part.mesh.face_count for part in read), initial=0)),
        list(accumulate((len(part.mesh.points) for part in read), initial=0)),
    )


def _fields(
    settings: TackwrightSettings, mesh: Mesh, choices: Choices, numbers: NDArray[np.int64]
) -> tuple[Field, ...]:
    """One field for each perforation and each panel that it is on, or part of a panel."""
    entries = {entry.number: entry for entry in settings.fields}
    numbers = np.where(np.isin(numbers, list(entries)), numbers, 0)  # a removed one may have left its number
    if not numbers.any():
        return ()
    kinds = face_kinds(mesh, choices, np.arange(mesh.face_count)).copy()
    kinds[[face for face, choice in choices.faces.items() if choice.left_out]] = -1
    found = perforated_regions(mesh, numbers, kinds)
    return tuple(read_field(entries[region.field], region.face, region.corners) for region in found)


def _on_counting_faces(mesh: Mesh, choices: Choices) -> tuple[MarkedOpening, ...]:
    """The openings without those whose nearest face is left out: nobody asked for their plates now."""
    faces = [mesh.face(face).tolist() for face in range(mesh.face_count)]
    tree = BVHTree.FromPolygons(mesh.points.tolist(), faces)
    nearest = [tree.find_nearest(opening.at)[2] for opening in choices.openings]
    left_out = {face for face, choice in choices.faces.items() if choice.left_out}
    return tuple(
        opening
        for opening, face in zip(choices.openings, nearest, strict=True)
        if opening.all_along or face not in left_out
    )
