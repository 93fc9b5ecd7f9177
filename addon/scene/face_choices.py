"""Choices for plates, kept on the faces of a mesh: they follow the faces through cutting, saving, copying and undo."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from typing import Any, Final

import bmesh
import bpy

from ...core.terms.choices import PanelChoice
from ...core.terms.errors import InputError
from ..host.shown_lengths import as_kept
from ..host.written_mesh import layer_for, written_mesh
from .face_metal import SIDE_ATTRIBUTE, SIDE_NUMBERS, THICKNESS_ATTRIBUTE
from .inner_marks import INNER_ATTRIBUTE, INNER_NUMBERS
from .plate_names import NAME_ATTRIBUTE, name_number, names_by_number

__all__ = [
    "FACE_ATTRIBUTES", "LEFT_OUT_ATTRIBUTE", "clear_faces", "face_choice_from", "face_choice_of",
    "keeps_choices", "make_face_layers", "put_face_choice", "write_face_choice",
]  # fmt: skip

LEFT_OUT_ATTRIBUTE = "tackwright_left_out"
"""Face attribute: other than 0 for a face that no plate is made of."""

MARK_ATTRIBUTE = "tackwright_etch_mark"
"""Face attribute: whether the piece mark is etched on the plate, by the numbers below."""
MARK_NUMBERS: Final = {1: True, 2: False}

FACE_ATTRIBUTES: Final[Mapping[str, str]] = {
    THICKNESS_ATTRIBUTE: "thickness", SIDE_ATTRIBUTE: "metal_side", LEFT_OUT_ATTRIBUTE: "left_out",
    INNER_ATTRIBUTE: "inner", NAME_ATTRIBUTE: "name", MARK_ATTRIBUTE: "mark",
}  # fmt: skip
"""Attribute to the part of a PanelChoice that it keeps. 0, which faces made new get, chooses nothing."""


def write_face_choice(item: bpy.types.Object, faces: Iterable[int], choice: PanelChoice) -> int:
    """Choose for faces of an object's mesh, by their numbers, in Edit or Object Mode; how many there are.

    What the choice leaves open stays as it is; so does left out, which a choice can only ask for. Raises InputError for
    what a face has no place for.
    """
    if choice.limber is not None:
        raise InputError("A face keeps no limber size of its own", do="Set it for all inner plates of the envelope.")
    if choice.mark_at is not None:
        raise InputError("A face keeps no place for a mark", do="Give it in a job, or leave the mark out.")
    with written_mesh(item) as mesh:
        make_face_layers(item, mesh, choice)
        mesh.faces.ensure_lookup_table()
        found = [mesh.faces[face] for face in faces if 0 <= face < len(mesh.faces)]
        put_face_choice(item, mesh, found, choice)
    return len(found)


def make_face_layers(item: bpy.types.Object, mesh: bmesh.types.BMesh, choice: PanelChoice) -> None:
    """Make the attributes that a choice is kept in, where they are not there. Elements that were looked up before must
    be looked up again. Raises InputError where the mesh has something else of one of the names."""
    for name, _ in _given(choice):
        if name != LEFT_OUT_ATTRIBUTE or next(_layers(mesh, name), None) is None:  # any kind of number will do there
            layer_for(item, mesh.faces, name, "float" if name == THICKNESS_ATTRIBUTE else "int")


def put_face_choice(
    item: bpy.types.Object, mesh: bmesh.types.BMesh, faces: Iterable[bmesh.types.BMFace], choice: PanelChoice
) -> None:
    """Choose for faces, once the layers are made; what the choice leaves open stays as it is."""
    given = [(next(_layers(mesh, name)), _number(item, FACE_ATTRIBUTES[name], value)) for name, value in _given(choice)]
    for face in faces:
        for layer, number in given:
            face[layer] = number


def clear_faces(mesh: bmesh.types.BMesh, faces: Iterable[bmesh.types.BMFace], parts: Collection[str]) -> None:
    """Take these parts of their choices from faces."""
    layers = [layer for name, part in FACE_ATTRIBUTES.items() if part in parts for layer in _layers(mesh, name)]
    for face in faces:
        for layer in layers:
            face[layer] = 0


def face_choice_of(item: bpy.types.Object, mesh: bmesh.types.BMesh, face: bmesh.types.BMFace) -> PanelChoice:
    """What is chosen for one face."""
    values = {name: face[layer] for name in FACE_ATTRIBUTES for layer in _layers(mesh, name)}
    return face_choice_from(values, names_by_number(item))


def face_choice_from(values: Mapping[str, float], names: Mapping[int, str]) -> PanelChoice:
    """What the numbers of a face choose, by the names of the attributes. names: by their numbers."""
    thickness = as_kept(float(values.get(THICKNESS_ATTRIBUTE, 0)))
    return PanelChoice(
        name=names.get(int(values.get(NAME_ATTRIBUTE, 0))),
        thickness=thickness if thickness > 0 else None,
        metal_side=SIDE_NUMBERS.get(int(values.get(SIDE_ATTRIBUTE, 0))),
        left_out=bool(values.get(LEFT_OUT_ATTRIBUTE, 0)),
        inner=INNER_NUMBERS.get(int(values.get(INNER_ATTRIBUTE, 0))),
        mark=MARK_NUMBERS.get(int(values.get(MARK_ATTRIBUTE, 0))),
    )


def keeps_choices(mesh: bmesh.types.BMesh) -> bool:
    """Whether the mesh has any attribute that a choice for faces is kept in."""
    return any(True for name in FACE_ATTRIBUTES for _ in _layers(mesh, name))


def _layers(mesh: bmesh.types.BMesh, name: str) -> Iterator[Any]:
    """The layer of an attribute, of whatever kind of number."""
    for kind in ("float", "int", "bool"):                # older Blenders show no bool layers
        layer = getattr(mesh.faces.layers, kind, {}).get(name)
        if layer is not None:
            yield layer


def _given(choice: PanelChoice) -> Iterator[tuple[str, Any]]:
    """The attributes of what a choice does not leave open, and what it says."""
    for name, part in FACE_ATTRIBUTES.items():
        value = getattr(choice, part)
        if value is not None and not (part == "left_out" and not value):
            yield name, value


def _number(item: bpy.types.Object, part: str, value: Any) -> float:
    if part == "metal_side":
        return next(number for number, side in SIDE_NUMBERS.items() if side == value)
    if part == "inner":
        return next(number for number, inner in INNER_NUMBERS.items() if inner == value)
    if part == "mark":
        return next(number for number, mark in MARK_NUMBERS.items() if mark == value)
    return name_number(item, value) if part == "name" else float(value) if part == "thickness" else int(value)
