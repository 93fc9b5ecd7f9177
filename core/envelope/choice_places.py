"""Where the panels and joints that choices name are in a mesh: an editor keeps choices on faces and edges."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from itertools import pairwise
from types import MappingProxyType

from ..terms.choices import Choices
from ..terms.errors import InputError
from .mesh import Mesh
from .read_envelope import read_envelope

__all__ = ["ChoicePlaces", "find_places"]

Pair = tuple[int, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class ChoicePlaces:
    """panels: name to faces of the mesh. joints: the two names, sorted, to sorted pairs of point indices of mesh edges
    where both panels are."""

    panels: Mapping[str, tuple[int, ...]]
    joints: Mapping[tuple[str, str], tuple[Pair, ...]]


def find_places(mesh: Mesh, choices: Choices) -> ChoicePlaces:
    """Every panel by the name that choices find it by, also one they leave out or rename, and every joint of two.

    In a drawing that is refused the names of its faces decide, so that it can be opened and mended.
    """
    bare = {name: replace(choice, name=None, left_out=False) for name, choice in choices.panels.items()}
    try:
        envelope = read_envelope(mesh, replace(choices, panels=MappingProxyType(bare)))
        panels = {panel.name: panel.faces for panel in envelope.panels}
        panels |= {panel.name: panel.faces for panel in envelope.inner}
    except InputError:
        panels = _by_face_names(mesh)
    return ChoicePlaces(panels=MappingProxyType(panels), joints=MappingProxyType(_joints(mesh, panels)))


def _by_face_names(mesh: Mesh) -> dict[str, tuple[int, ...]]:
    found: dict[str, list[int]] = {}
    for face, name in enumerate(mesh.face_names):
        if name.strip():
            found.setdefault(name.strip(), []).append(face)
    return {name: tuple(faces) for name, faces in found.items()}


def _joints(mesh: Mesh, panels: Mapping[str, Iterable[int]]) -> dict[tuple[str, str], tuple[Pair, ...]]:
    """The mesh edges that faces of two panels share. Points that merely lie on one another do not count: the editor
    has an edge of its own on each side there."""
    at: dict[Pair, set[str]] = {}
    for name, faces in panels.items():
        for face in faces:
            ring = mesh.face(face).tolist()
            for a, b in pairwise([*ring, ring[0]]):
                at.setdefault((min(a, b), max(a, b)), set()).add(name)
    found: dict[tuple[str, str], list[Pair]] = {}
    for edge, names in sorted(at.items()):
        if len(names) == 2:
            first, second = sorted(names)
            found.setdefault((first, second), []).append(edge)
    return {pair: tuple(edges) for pair, edges in found.items()}
