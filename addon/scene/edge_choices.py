"""Choices for joints, kept on the edges of a mesh: they follow the edges through cutting, saving, copying and undo.

Which plate runs through is kept as a mark that the edge shares with the corners of that plate's face, at both of the
edge's ends and on both ways round. Whatever the editor makes of the mesh, marks that no longer agree choose nothing.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, fields
from typing import Any, Final

import bmesh
import bpy

from ...core.terms.choices import SIDES, Corner, JointChoice, TabRule
from ...core.terms.errors import InputError
from ..host.shown_lengths import as_kept
from ..host.written_mesh import layer_for, written_mesh

__all__ = [
    "CHOSEN_ATTRIBUTE", "CORNER_ATTRIBUTE", "CORNER_NUMBERS", "EDGE_PARTS", "INTO_ATTRIBUTE", "MARK_ATTRIBUTE",
    "NUMBERS", "OUT_ATTRIBUTE", "TABS_ATTRIBUTE", "TABS_NUMBERS", "choice_from", "clear_edges",
    "edge_choice_of", "make_layers", "new_marks", "put_edge_choice", "through_face", "write_edge_choice",
]  # fmt: skip

CORNER_ATTRIBUTE = "tackwright_corner"
"""Edge attribute: how the plates meet, by the numbers below. 0, which edges made new get, chooses nothing."""
CORNER_NUMBERS: Final[Mapping[int, Corner]] = {1: "open", 2: "half-open", 3: "closed"}

TABS_ATTRIBUTE = "tackwright_tabs"
"""Edge attribute: whether there are tabs, by the numbers below."""
TABS_NUMBERS: Final = {1: True, 2: False}

CHOSEN_ATTRIBUTE = "tackwright_edge_chosen"
"""Edge attribute: the bits of those numbers that are chosen; a chosen one may be 0."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Number:
    """One number that can be chosen for an edge. kind: of the attribute, int or float; lengths are in mm. times: by
    what a chosen one is multiplied to be kept."""

    attribute: str
    bit: int
    kind: str = "float"
    times: int = 1


NUMBERS: Final[Mapping[str, Number]] = {
    "overlap": Number(attribute="tackwright_overlap", bit=1),
    "root_gap": Number(attribute="tackwright_root_gap", bit=2),
    "fit_gap": Number(attribute="tackwright_fit_gap", bit=4, times=SIDES),
    "tabs.count": Number(attribute="tackwright_tab_count", bit=8, kind="int"),
    "tabs.width": Number(attribute="tackwright_tab_width", bit=16),
    "tabs.spacing": Number(attribute="tackwright_tab_spacing", bit=32),
    "tabs.flank": Number(attribute="tackwright_tab_flank", bit=64),
    "tabs.keep_out": Number(attribute="tackwright_tab_keep_out", bit=128),
    "tabs.share": Number(attribute="tackwright_tab_share", bit=256),
}
"""By the name of what it is in a JointChoice. A bit never changes its meaning: files keep it."""

MARK_ATTRIBUTE = "tackwright_joint_mark"
"""Edge attribute: a number that no other edge of the mesh was given, where a plate was chosen to run through."""
OUT_ATTRIBUTE = "tackwright_through"
"""Corner attribute: the mark of the edge that leaves the corner, in the face whose plate runs through there."""
INTO_ATTRIBUTE = "tackwright_through_in"
"""Corner attribute: likewise of the edge that comes to the corner, so that a face turned over keeps its mark."""

EDGE_PARTS: Final = ("corner", "through", "tabs.on", *NUMBERS)
"""What can be chosen for an edge."""

_MARKS: Final = 1 << 24
"""Marks are below this: the editor mixes numbers of corners in single precision, which keeps them whole so far."""
_STRIDE: Final = 0x9E3779
"""Odd, so that its multiples take every mark before one comes again, and far from any mix of two neighbours."""


def write_edge_choice(
    item: bpy.types.Object, edges: Iterable[tuple[int, int]], choice: JointChoice, *, through: Collection[int] = ()
) -> int:
    """Choose for edges of an object's mesh, each by its two vertices, in Edit or Object Mode; how many there are.

    What the choice leaves open stays as it is. through: faces of the plate that runs through, beside the one that the
    choice may name by its number. Raises InputError for what an edge has no place for.
    """
    if isinstance(choice.through, str) or choice.tab_on is not None:
        raise InputError("An edge keeps neither the names of panels nor which plate has the single tab",
                         do="Name a face as the one that runs through.")
    wanted = {*through, *([choice.through] if choice.through is not None else [])}
    done = 0
    with written_mesh(item) as mesh:
        make_layers(item, mesh, choice, through=bool(wanted))
        mesh.verts.ensure_lookup_table()
        marks = new_marks(mesh)
        for edge in list(_edges(mesh, edges)):
            face = next((one for one in edge.link_faces if one.index in wanted), None)
            put_edge_choice(mesh, edge, choice, face, marks)
            done += 1
    return done


def make_layers(item: bpy.types.Object, mesh: bmesh.types.BMesh, choice: JointChoice, *, through: bool) -> None:
    """Make the attributes that a choice is kept in, where they are not there. Elements that were looked up before must
    be looked up again. Raises InputError where the mesh has something else of one of the names."""
    given = {name for name, value in _parts_of(choice).items() if value is not None}
    for name, attribute in (("corner", CORNER_ATTRIBUTE), ("tabs.on", TABS_ATTRIBUTE)):
        if name in given:
            layer_for(item, mesh.edges, attribute)
    for name in given & set(NUMBERS):
        layer_for(item, mesh.edges, CHOSEN_ATTRIBUTE)
        layer_for(item, mesh.edges, NUMBERS[name].attribute, NUMBERS[name].kind)
    if through:
        layer_for(item, mesh.edges, MARK_ATTRIBUTE)
        for name in (OUT_ATTRIBUTE, INTO_ATTRIBUTE):
            layer_for(item, mesh.loops, name)


def put_edge_choice(
    mesh: bmesh.types.BMesh, edge: bmesh.types.BMEdge, choice: JointChoice, through: bmesh.types.BMFace | None,
    marks: Iterator[int],
) -> None:
    """Choose for one edge, once the layers are made; what the choice leaves open stays as it is, but a corner brings
    its overlap along, and an overlap that does not go with the corner takes it off.

    through: the face of it that runs through. marks: new ones.
    """
    given = {name: value for name, value in _parts_of(choice).items() if value is not None}
    whole, real = mesh.edges.layers.int, mesh.edges.layers.float
    if "corner" in given:
        clear_edges(mesh, [edge], ["overlap"])
    elif "overlap" in given and edge_choice_of(mesh, edge).corner != "half-open":
        clear_edges(mesh, [edge], ["corner"])
    for name, value in given.items():
        if name == "corner":
            edge[whole[CORNER_ATTRIBUTE]] = next(i for i, corner in CORNER_NUMBERS.items() if corner == value)
        elif name == "tabs.on":
            edge[whole[TABS_ATTRIBUTE]] = 1 if value else 2
        else:
            kept = NUMBERS[name]
            edge[(whole if kept.kind == "int" else real)[kept.attribute]] = value * kept.times
            edge[whole[CHOSEN_ATTRIBUTE]] |= kept.bit
    if through is not None:
        mark = next(marks)
        loop = next(loop for loop in edge.link_loops if loop.face == through)
        edge[whole[MARK_ATTRIBUTE]] = mark  # old ones left on corners now mean nothing
        loop[mesh.loops.layers.int[OUT_ATTRIBUTE]] = mark
        loop.link_loop_next[mesh.loops.layers.int[INTO_ATTRIBUTE]] = mark


def clear_edges(mesh: bmesh.types.BMesh, edges: Iterable[bmesh.types.BMEdge], parts: Collection[str]) -> None:
    """Take these parts of their choices from edges."""
    bits = sum(NUMBERS[name].bit for name in parts if name in NUMBERS)
    chosen = mesh.edges.layers.int.get(CHOSEN_ATTRIBUTE)
    whole = {"corner": CORNER_ATTRIBUTE, "tabs.on": TABS_ATTRIBUTE, "through": MARK_ATTRIBUTE}
    zeroed = [mesh.edges.layers.int.get(whole[name]) for name in parts if name in whole]
    for edge in edges:
        for layer in zeroed:
            if layer is not None:
                edge[layer] = 0
        if chosen is not None:
            edge[chosen] &= ~bits


def edge_choice_of(mesh: bmesh.types.BMesh, edge: bmesh.types.BMEdge) -> JointChoice:
    """What is chosen for one edge; `through` as the number of the face."""
    layers = mesh.edges.layers
    names = [(CORNER_ATTRIBUTE, "int"), (TABS_ATTRIBUTE, "int"), (CHOSEN_ATTRIBUTE, "int")]
    names += [(number.attribute, number.kind) for number in NUMBERS.values()]
    found = {name: getattr(layers, kind).get(name) for name, kind in names}
    face = through_face(mesh, edge)
    return choice_from({name: edge[layer] for name, layer in found.items() if layer is not None},
                       face.index if face is not None else None)


def choice_from(values: Mapping[str, float], through: int | None) -> JointChoice:
    """What the numbers of an edge choose, by the names of the attributes."""
    bits = int(values.get(CHOSEN_ATTRIBUTE, 0))
    given: dict[str, Any] = {}
    for name, number in NUMBERS.items():
        if bits & number.bit:
            value = values.get(number.attribute, 0)
            given[name] = int(value) if number.kind == "int" else as_kept(float(value)) / number.times
    rule = {name.removeprefix("tabs."): value for name, value in given.items() if name.startswith("tabs.")}
    return JointChoice(
        corner=CORNER_NUMBERS.get(int(values.get(CORNER_ATTRIBUTE, 0))),
        through=through,
        tabs=TabRule(on=TABS_NUMBERS.get(int(values.get(TABS_ATTRIBUTE, 0))), **rule),
        **{name: value for name, value in given.items() if not name.startswith("tabs.")},
    )


def through_face(mesh: bmesh.types.BMesh, edge: bmesh.types.BMEdge) -> bmesh.types.BMFace | None:
    """The face whose plate runs through at an edge; None where no face, or more than one, has the edge's mark."""
    marks = mesh.edges.layers.int.get(MARK_ATTRIBUTE)
    corners = [mesh.loops.layers.int.get(name) for name in (OUT_ATTRIBUTE, INTO_ATTRIBUTE)]
    if marks is None or not edge[marks]:
        return None
    ends = ((loop, end[layer]) for loop in edge.link_loops for end in (loop, loop.link_loop_next)
            for layer in corners if layer is not None)
    faces = {loop.face for loop, mark in ends if mark == edge[marks]}
    return faces.pop() if len(faces) == 1 else None


def new_marks(mesh: bmesh.types.BMesh) -> Iterator[int]:
    """Marks that nothing of the mesh has, not even as a leftover."""
    edges = mesh.edges.layers.int.get(MARK_ATTRIBUTE)
    corners = [layer for name in (OUT_ATTRIBUTE, INTO_ATTRIBUTE)
               if (layer := mesh.loops.layers.int.get(name)) is not None]
    taken = {0} | ({edge[edges] for edge in mesh.edges} if edges is not None else set())
    if corners:
        taken |= {loop[layer] for face in mesh.faces for loop in face.loops for layer in corners}
    for number in range(1, _MARKS):
        if (mark := number * _STRIDE % _MARKS) not in taken:
            yield mark


def _edges(mesh: bmesh.types.BMesh, pairs: Iterable[tuple[int, int]]) -> Iterator[bmesh.types.BMEdge]:
    for a, b in pairs:
        if max(a, b) < len(mesh.verts):
            edge = mesh.edges.get((mesh.verts[a], mesh.verts[b]))
            if edge is not None:
                yield edge


def _parts_of(choice: JointChoice) -> dict[str, Any]:
    """What a choice says, by the names of EDGE_PARTS, without the plate that runs through."""
    rule = {f"tabs.{one.name}": getattr(choice.tabs, one.name) for one in fields(TabRule)}
    return {"corner": choice.corner, "overlap": choice.overlap, "root_gap": choice.root_gap,
            "fit_gap": choice.fit_gap, **rule}
