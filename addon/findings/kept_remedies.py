"""Remedies of kept findings: as JSON, with the faces and edges that they change kept beside it, object by object."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import bmesh
import bpy

from ...core.terms.plain import Plain
from ...core.terms.remedies import Change, ChangedField, ChangedJoints, ChangedMesh, ChangedPanels, Remedy
from ...core.terms.remedy_data import remedy_data, remedy_from_data
from ..gather.gather import DrawnObject
from ..host.editor_types import mesh_of
from ..scene.finding_group import TackwrightFinding, TackwrightPlace

__all__ = ["KeptPlace", "PlacedChange", "placed_changes", "remedy_as_kept", "remedy_of", "why_not_intact"]

Pair = tuple[int, int]
_PLACED = (ChangedJoints, ChangedPanels, ChangedMesh, ChangedField)


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptPlace:
    """Faces and edges of one object, as a place of the file keeps them."""

    item: bpy.types.Object | None
    faces: str = ""
    edges: str = ""
    size: str = ""

    @classmethod
    def of(cls, item: bpy.types.Object, faces: Iterable[int], edges: Iterable[Pair], size: str = "") -> KeptPlace:
        return cls(item=item, faces=" ".join(map(str, faces)), edges=" ".join(f"{a} {b}" for a, b in edges), size=size)

    @classmethod
    def read(cls, place: TackwrightPlace) -> KeptPlace:
        return cls(item=place.item, faces=place.faces, edges=place.edges, size=place.size)

    def write(self, place: TackwrightPlace) -> None:
        place.item, place.faces, place.edges, place.size = self.item, self.faces, self.edges, self.size

    @property
    def numbers(self) -> tuple[tuple[int, ...], tuple[Pair, ...]]:
        ends = [int(i) for i in self.edges.split()]
        return tuple(int(i) for i in self.faces.split()), tuple(zip(ends[::2], ends[1::2], strict=True))


PlacedChange = tuple[bpy.types.Object | None, Change]
"""A change, and the object whose faces or edges it names; None where it names none."""


def remedy_as_kept(
    remedy: Remedy | None, parts: Sequence[DrawnObject], find: Callable[..., list[tuple[bpy.types.Object, Any, Any]]]
) -> tuple[str, tuple[KeptPlace, ...]]:
    """JSON and places of a remedy; nothing where a part of its place is not to be found in the objects' own meshes.

    Each place of a change that names faces or edges has a place of the file, in the order of the changes. find: as
    places_in.
    """
    if remedy is None:
        return "", ()
    data, kept = remedy_data(remedy), list[KeptPlace]()
    by_name = {part.name: part for part in parts}
    for change, entry in zip(remedy.changes, data["changes"], strict=True):
        if not isinstance(change, _PLACED):
            continue
        faces, edges = _numbers_of(change)
        found = find(parts, faces, edges)
        if sum(len(f) + len(e) for _, f, e in found) < len(faces) + len(edges) or not found:
            return "", ()
        for name in ("faces", "edges", "panel"):
            entry.pop(name, None)
        entry["places"] = len(found)
        kept += [KeptPlace.of(item, f, e, size=_size_of(by_name[item.name])) for item, f, e in found]
    return json.dumps(data), tuple(kept)


def remedy_of(kept: TackwrightFinding) -> Remedy | None:
    """The remedy of a kept finding without its places, for its label; None where it has none that is known here."""
    if not kept.remedy:
        return None
    try:
        data = json.loads(kept.remedy)
        for entry in data["changes"]:
            _give(entry, KeptPlace(item=None))
        return remedy_from_data(data)
    except (ValueError, KeyError, TypeError):        # of a later version
        return None


def placed_changes(kept: TackwrightFinding) -> list[PlacedChange]:
    """Every change of a kept finding's remedy, once for each object that it is in."""
    places = iter([KeptPlace.read(place) for place in kept.remedy_places])
    found: list[PlacedChange] = []
    for entry in json.loads(kept.remedy)["changes"]:
        if "places" not in entry:
            found.append((None, _change(entry)))
        for _ in range(entry.get("places", 0)):
            place = next(places)
            found.append((place.item, _change(_give(dict(entry), place))))
    return found


def why_not_intact(kept: TackwrightFinding) -> str:
    """Why what a remedy is to change is no longer as it was, empty where it is: numbers of faces and points would be
    those of others."""
    for place in map(KeptPlace.read, kept.remedy_places):
        if place.item is None or place.item.type != "MESH":
            return "The object that it is about is gone: make the plates again"
        if place.size and place.size != _size_now(mesh_of(place.item)):
            return "The drawing has changed since: make the plates again"
    return ""


def _numbers_of(change: ChangedJoints | ChangedPanels | ChangedMesh | ChangedField) -> tuple[list[int], list[Pair]]:
    if isinstance(change, ChangedField):
        return ([change.panel] if isinstance(change.panel, int) else []), []
    return list(getattr(change, "faces", ())), list(getattr(change, "edges", ()))


def _give(entry: Plain, place: KeptPlace) -> Plain:
    """The data of a change with the faces and edges of a place; what it has no use for is ignored."""
    if "places" in entry:
        faces, edges = place.numbers
        entry.update(faces=list(faces), edges=[list(pair) for pair in edges], panel=faces[0] if faces else 0)
    return entry


def _change(entry: Plain) -> Change:
    return remedy_from_data({"label": "", "changes": [entry]}).changes[0]


def _size_of(part: DrawnObject) -> str:
    return f"{len(part.points)} {len(part.faces)}"


def _size_now(mesh: bpy.types.Mesh) -> str:
    if mesh.is_editmode:
        edited = bmesh.from_edit_mesh(mesh)
        return f"{len(edited.verts)} {len(edited.faces)}"
    return f"{len(mesh.vertices)} {len(mesh.polygons)}"
