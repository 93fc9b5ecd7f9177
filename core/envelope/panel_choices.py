"""What the user chose for each panel: which faces may not merge, what a panel is called, how thick it is."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..terms.choices import Choices, MetalSide, PanelChoice
from ..terms.errors import InputError
from ..terms.messages import Length
from .mesh import Mesh
from .panels import Regions

__all__ = [
    "Metal", "check_choices", "face_kinds", "faces_left_out", "faces_marked", "name_inner_panels", "name_panels",
    "panel_metal", "rename_panels",
]

Index = NDArray[np.int64]

_NOTHING = PanelChoice()


@dataclass(frozen=True, slots=True, kw_only=True)
class Metal:
    """What one panel is made of, all choices resolved. inner: None where nothing is chosen."""

    left_out: bool
    inner: bool | None
    thickness: float
    metal_side: MetalSide
    limber: float


def check_choices(mesh: Mesh, choices: Choices) -> None:
    """Refuse thicknesses and sizes that are none, and choices for faces that do not exist (InputError)."""
    given: list[tuple[str, float | None, tuple[int, ...]]] = [("The thickness", choices.settings.thickness, ())]
    given += [(f"The thickness of panel '{n}'", c.thickness, ()) for n, c in sorted(choices.panels.items())]
    given += [(f"The thickness of face {f}", c.thickness, (f,)) for f, c in sorted(choices.faces.items())]
    errors = [
        InputError(f"{what} is {Length(value):g}", do=f"It must be more than {Length(0.0)}.", faces=faces)
        for what, value, faces in given
        if value is not None and not (math.isfinite(value) and value > 0)
    ]
    sizes: list[tuple[str, float | None, tuple[int, ...]]] = [("The limber size", choices.settings.limber, ())]
    sizes += [(f"The limber size of panel '{n}'", c.limber, ()) for n, c in sorted(choices.panels.items())]
    sizes += [(f"The limber size of face {f}", c.limber, (f,)) for f, c in sorted(choices.faces.items())]
    errors += [
        InputError(f"{what} is {Length(value):g}", do=f"It must be {Length(0.0)}, for none, or more.", faces=faces)
        for what, value, faces in sizes
        if value is not None and not (math.isfinite(value) and value >= 0)
    ]
    errors += [
        InputError(f"There is a choice for face {face}, but the mesh has {mesh.face_count} faces, counted from 0")
        for face in sorted(choices.faces)
        if not 0 <= face < mesh.face_count
    ]
    if errors:
        raise InputError.several(errors)


def faces_left_out(mesh: Mesh, choices: Choices) -> NDArray[np.bool_]:
    """(f,) faces left out by themselves or by the group they belong to."""
    out = np.zeros(mesh.face_count, dtype=bool)
    out[[face for face, choice in choices.faces.items() if choice.left_out]] = True
    groups = {name for name, choice in choices.panels.items() if choice.left_out}
    if groups and mesh.face_names:
        out |= np.fromiter((name.strip() in groups for name in mesh.face_names), dtype=bool, count=mesh.face_count)
    return out


def faces_marked(mesh: Mesh, choices: Choices) -> Index:
    """(f,) 1 for faces chosen as inner plates, by themselves or by their group; -1 for those chosen as walls;
    0 where the drawing decides."""
    said = {None: 0, True: 1, False: -1}
    marks = np.zeros(mesh.face_count, dtype=np.int64)
    groups = {name: said[choice.inner] for name, choice in choices.panels.items() if choice.inner is not None}
    if groups and mesh.face_names:
        marks[:] = [groups.get(name.strip(), 0) for name in mesh.face_names]
    for face, choice in choices.faces.items():
        if choice.inner is not None:
            marks[face] = said[choice.inner]
    return marks


def face_kinds(mesh: Mesh, choices: Choices, sources: Index) -> Index:
    """(f,) numbers that differ where two faces may not be one panel: other name, thickness or side, or a
    group that something was chosen for. Groups alone keep nothing apart: they name panels, they do not cut."""
    if not (mesh.face_names and choices.panels) and not choices.faces:
        return np.zeros(len(sources), dtype=np.int64)
    seen: dict[tuple[str, str | None, float | None, str | None], int] = {}
    kinds = np.empty(len(sources), dtype=np.int64)
    for i, source in enumerate(sources.tolist()):
        choice = choices.faces.get(source, _NOTHING)
        group = _group(mesh, source)
        key = (group if group in choices.panels else "", choice.name, choice.thickness, choice.metal_side)
        kinds[i] = seen.setdefault(key, len(seen))
    return kinds


def name_panels(mesh: Mesh, choices: Choices, regions: Regions, face_of: Index) -> tuple[str, ...]:
    """The name that a choice finds each panel by, unique: from the choice or the group of its faces, else
    from where it looks.

    face_of: (p,) a mesh face of each panel. Of several panels with one given name the largest keeps it
    bare; others, and panels that look the same way, are numbered from 2 in the order of the panels.
    """
    given = [choices.faces.get(face, _NOTHING).name or _group(mesh, face) for face in face_of.tolist()]
    taken: set[str] = set()
    names, count = _given_names(given, regions, taken)
    for panel, direction in enumerate(_directions(regions.planes.normals)):
        if not given[panel]:
            names[panel] = _numbered(direction, count, taken)
    return tuple(names)


def name_inner_panels(
    mesh: Mesh, choices: Choices, regions: Regions, face_of: Index, called: Mapping[int, str], taken: Iterable[str]
) -> tuple[str, ...]:
    """The same for inner panels, after the walls: those that nothing names are "inner 1", "inner 2" and so on.

    called: by mesh face, the name by which a choice made a panel an inner one. taken: the walls' names.
    """
    given = [
        called.get(face) or choices.faces.get(face, _NOTHING).name or _group(mesh, face) for face in face_of.tolist()
    ]
    used = set(taken)
    names, _ = _given_names(given, regions, used)
    number = 0
    for panel, name in enumerate(names):
        while not name:
            number += 1
            name = "" if f"inner {number}" in used else f"inner {number}"
        names[panel] = name
    return tuple(names)


def panel_metal(
    mesh: Mesh, choices: Choices, names: Sequence[str], face_of: Index, *, metal_side: MetalSide
) -> tuple[Metal, ...]:
    """The metal of each panel: the choice of its faces, over the choice by its name, over that by the name
    of its group, over the settings; metal_side where none is chosen."""
    metals = []
    for name, face in zip(names, face_of.tolist(), strict=True):
        by_face = choices.faces.get(face, _NOTHING)
        chosen = [by_face, choices.panels.get(name, _NOTHING), choices.panels.get(_group(mesh, face), _NOTHING)]
        metals.append(Metal(
            left_out=any(c.left_out for c in chosen),
            inner=next((c.inner for c in chosen if c.inner is not None), None),
            thickness=next((c.thickness for c in chosen if c.thickness is not None), choices.settings.thickness),
            metal_side=next((c.metal_side for c in chosen if c.metal_side is not None), metal_side),
            limber=next((c.limber for c in chosen if c.limber is not None), choices.settings.limber),
        ))
    return tuple(metals)


def rename_panels(mesh: Mesh, choices: Choices, names: Sequence[str]) -> tuple[str, ...]:
    """The names with those that a choice by name changes. Raises InputError for a choice that names no
    panel and no group of faces, and for two panels that would be called the same."""
    unknown = sorted(set(choices.panels) - set(names) - {name.strip() for name in mesh.face_names})
    if unknown:
        known = ", ".join(f"'{n}'" for n in names[:24]) + (" …" if len(names) > 24 else "")
        raise InputError(
            "There are choices for " + ", ".join(f"'{n}'" for n in unknown) + ", but no panel is called that",
            do=f"The panels are {known}.",
        )
    renamed = tuple(choices.panels.get(name, _NOTHING).name or name for name in names)
    twice = sorted(name for name, times in Counter(renamed).items() if times > 1)
    if twice:
        raise InputError(
            "More than one panel would be called " + ", ".join(f"'{n}'" for n in twice),
            do="Choose another name for one of them.",
        )
    return renamed


def _given_names(given: Sequence[str], regions: Regions, taken: set[str]) -> tuple[list[str], Counter[str]]:
    """One name a panel, "" where none is given: of several with one name the largest keeps it bare. Also up to
    which number each name is used. Names used are added to `taken`."""
    names = [""] * len(given)
    members: dict[str, list[int]] = {}
    for panel, name in enumerate(given):
        if name:
            members.setdefault(name, []).append(panel)
    for name, panels in members.items():
        panels.sort(key=lambda p: (-round(float(regions.planes.areas[p]), 1), p))
        if name not in taken:
            names[panels.pop(0)] = name
            taken.add(name)
    count: Counter[str] = Counter()
    for name, panels in members.items():
        count[name] = 1
        for panel in sorted(panels):
            names[panel] = _numbered(name, count, taken)
    return names, count


def _group(mesh: Mesh, face: int) -> str:
    return mesh.face_names[face].strip() if mesh.face_names else ""


def _numbered(name: str, count: Counter[str], taken: set[str]) -> str:
    """The next free name of its kind, noted as taken."""
    while True:
        count[name] += 1
        candidate = name if count[name] == 1 else f"{name} {count[name]}"
        if candidate not in taken:
            taken.add(candidate)
            return candidate


def _directions(normals: NDArray[np.float64]) -> list[str]:
    """Where each panel looks, by the largest part of its normal; up and down win a tie, then front and back."""
    size = np.round(np.abs(normals), 6)[:, ::-1]
    axis = 2 - np.argmax(size, axis=1)
    positive = normals[np.arange(len(normals)), axis] > 0
    words = (("left", "right"), ("front", "back"), ("bottom", "top"))
    return [words[a][int(p)] for a, p in zip(axis, positive, strict=True)]
