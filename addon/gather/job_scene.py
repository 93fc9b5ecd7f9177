"""A job as objects of the scene: its mesh as an envelope, and on it everything that the job chooses, so that Make
Plates gives what the job gives."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import bpy
from mathutils import Matrix, Vector

from ...core.envelope.choice_places import ChoicePlaces, find_places
from ...core.envelope.mesh import Mesh
from ...core.files.job import Job
from ...core.files.read_mesh import read_mesh
from ...core.stock.materials import material_of
from ...core.terms.choices import Choices, Field, JointChoice, MarkedOpening, PanelChoice
from ..host.editor_types import mesh_of
from ..host.shown_lengths import mm_per_unit
from ..scene.edge_choices import write_edge_choice
from ..scene.face_choices import write_face_choice
from ..scene.field_settings import FIELD_ATTRIBUTE, new_field
from ..scene.metals import give_metal
from ..scene.opening_objects import PURPOSES, SHAPES
from .add_opening import looking_as_nearest, new_opening
from .job_settings import key_of, unlike, write_settings

__all__ = ["OpenedJob", "add_job"]


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenedJob:
    """envelope: the object that was added. left_behind: what the job chooses and the editor has no place for, by the
    keys of the job file."""

    envelope: bpy.types.Object
    left_behind: tuple[str, ...]


def add_job(context: bpy.types.Context, job: Job, collection: bpy.types.Collection, *, title: str = "") -> OpenedJob:
    """Add a job's meshes and openings to a collection of the scene, and its choices to them. In Object Mode.

    title: what to call the envelope; empty: as the job is called. Raises InputError, before anything is added, where
    a mesh cannot be read.
    """
    mesh = read_mesh(job.mesh_path, unit=job.unit)
    inner = [read_mesh(path, unit=job.unit) for path in job.inner_paths]
    envelope = _add_mesh(context, mesh, collection, title or job.name or mesh.name)
    settings = envelope.tackwright
    settings.kit_name = "" if title else job.name or ""
    settings.fittings_file = str(job.fittings_path or "")
    places = find_places(mesh, job.choices)
    give_metal(settings, material_of(job.choices))
    left = write_settings(settings, job.choices.settings)
    left += _mark_faces(envelope, places, job.choices.panels)
    left += _mark_joints(envelope, places, job.choices.joints)
    left += _add_fields(envelope, mesh, places, job.choices.fields)
    for part in inner:
        _add_mesh(context, part, collection, part.name).tackwright_inner.envelope = envelope
    left += _add_openings(context, envelope, job.choices)
    return OpenedJob(envelope=envelope, left_behind=tuple(left))


def _add_mesh(
    context: bpy.types.Context, drawn: Mesh, collection: bpy.types.Collection, title: str
) -> bpy.types.Object:
    """The mesh as an object, with a material for every name of its faces: by these its panels are named."""
    mm = mm_per_unit(context.scene)
    mesh = bpy.data.meshes.new(title)
    mesh.from_pydata((drawn.points / mm).tolist(), [], [drawn.face(i).tolist() for i in range(drawn.face_count)])
    slots: dict[str, int] = {}
    for polygon, name in zip(mesh.polygons, drawn.face_names, strict=False):
        if name not in slots:
            slots[name] = len(slots)
            mesh.materials.append(_material(name))
        polygon.material_index = slots[name]
    item = bpy.data.objects.new(title, mesh)
    collection.objects.link(item)
    return item


def _material(name: str) -> bpy.types.Material:
    """The file's own material of a name: a second job has its panels called alike."""
    found = bpy.data.materials.get((name, None))
    return found if found is not None else bpy.data.materials.new(name)


def _mark_faces(
    item: bpy.types.Object, places: ChoicePlaces, panels: Mapping[str, PanelChoice]
) -> list[str]:
    """What single faces are; what of it has no place."""
    left = []
    for name, choice in panels.items():
        write_face_choice(item, places.panels.get(name, ()), replace(choice, limber=None))
        left += [f"panels.{name}"] if name not in places.panels else []
        left += [f"panels.{name}.limber"] if choice.limber is not None else []
    return left


def _mark_joints(
    item: bpy.types.Object, places: ChoicePlaces, joints: Mapping[tuple[str, str], JointChoice]
) -> list[str]:
    """What single edges are; what of it has no place."""
    left = []
    for pair, choice in joints.items():
        edges = places.joints.get(pair, ())
        through = places.panels.get(choice.through, ()) if isinstance(choice.through, str) else ()
        kept = replace(choice, tab_on=None) if edges else JointChoice()
        if not through:
            kept = replace(kept, through=None)
        write_edge_choice(item, edges, replace(kept, through=None), through=through)
        left += [f"joints {' + '.join(pair)}: {key}" for key in unlike(choice, kept)]
    return left


def _number_faces(item: bpy.types.Object, name: str, numbers: Sequence[int]) -> None:
    if any(numbers):
        mesh_of(item).attributes.new(name, "INT", "FACE").data.foreach_set("value", numbers)


def _add_fields(
    item: bpy.types.Object, mesh: Mesh, places: ChoicePlaces, fields: Sequence[Field]
) -> list[str]:
    """The perforations and the faces they are on; a face has one at most."""
    on_faces, left = [0] * mesh.face_count, []
    for field in fields:
        faces = places.panels.get(str(field.panel), ())
        if not faces or any(on_faces[face] for face in faces):
            left.append(f"perforations on {field.panel}")
            continue
        left += [f"perforations on {field.panel}: region"] if field.region else []
        number = _add_field(item, field)
        for face in faces:
            on_faces[face] = number
    _number_faces(item, FIELD_ATTRIBUTE, on_faces)
    return left


def _add_field(item: bpy.types.Object, field: Field) -> int:
    added = new_field(item.tackwright, field.bands[0].code)
    for band in field.bands[1:]:
        added.bands.add().code = band.code
    for put, band in zip(added.bands, field.bands, strict=True):
        put.depth_mm = band.depth or 0.0
    added.margin_mm, added.gap_mm, added.turn = field.margin or 0.0, field.gap, math.radians(field.turn)
    return int(added.number)


def _add_openings(context: bpy.types.Context, envelope: bpy.types.Object, choices: Choices) -> list[str]:
    for opening in choices.openings:
        _add_opening(context, envelope, opening)
    return [f"openings {opening.name}: panel" for opening in choices.openings if opening.panel is not None]


def _add_opening(context: bpy.types.Context, envelope: bpy.types.Object, opening: MarkedOpening) -> None:
    """The empty of an opening, looking along its axis, or as the nearest face does where it has none."""
    at = Vector(opening.at) / mm_per_unit(context.scene)
    place = looking_as_nearest(context, envelope, at) or Matrix.Translation(at)
    turn = place.to_3x3()
    z = Vector(opening.axis or turn.col[2]).normalized()
    x = Vector(opening.across or turn.col[0])
    x = (x - x.dot(z) * z).normalized()
    if not x.length:  # along z: any other way is as good
        x = z.orthogonal().normalized()
    item = new_opening(context, envelope, opening.name, Matrix.Translation(at) @ _axes(x, z))
    marked = item.tackwright_opening
    marked.purpose, marked.shape = key_of(PURPOSES, opening.purpose), key_of(SHAPES, opening.shape)
    marked.fitting = opening.fitting or ""
    for stored, size in zip(("size_x_mm", "size_y_mm"), opening.size or (), strict=False):
        setattr(marked, stored, size)
    marked.radius_mm = opening.radius
    marked.along_axis, marked.all_along = opening.axis is not None, opening.all_along
    item.empty_display_size = marked.size_x
    if opening.bolts is not None:
        marked.bolts, marked.bolt_count = True, opening.bolts.count
        marked.bolt_circle_mm, marked.bolt_hole_mm = opening.bolts.circle, opening.bolts.hole
        marked.bolt_turn = math.radians(opening.bolts.turn)


def _axes(x: Vector, z: Vector) -> Matrix:
    return Matrix((x, z.cross(x), z)).transposed().to_4x4()
