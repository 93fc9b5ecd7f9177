"""Cutting openings into plates: whether there is room for them, and what to say where there is not."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from ..plates.plates import Plate
from ..shapes.outline import Hole
from ..terms import tolerance
from ..terms.findings import Finding, Level
from ..terms.messages import Length
from ..terms.remedies import Remedy
from .opening_remedies import find_move, move_remedy
from .placed_openings import PlacedOpening

__all__ = ["Note", "Pierced", "Wanted", "hole_shape", "pierce"]

Floats = NDArray[np.float64]

FINE: Final = 0.002
"""mm: the sagitta of arcs flattened to measure the metal left beside an opening; a tenth of what is drawn of them."""

LEFT: Final = tolerance.SHORTEST_RUN
"""mm: less metal than this between two cuts is none: a beam is wider."""

ROUNDING: Final = 1e-6
"""mm: metal that falls short by less is as much as was asked for."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pierced:
    """plates: with the openings cut, in their order. openings: those that were cut. findings: about all of them;
    `panels` holds the plate's index."""

    plates: tuple[Plate, ...]
    openings: tuple[PlacedOpening, ...]
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """What is worth knowing about an opening, if it is cut: a finding in the making."""

    rule: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Wanted:
    """An opening that has its place but is not cut yet. said: what messages call it, as in "opening 'fill'".
    edges: of the mesh, where it was drawn as some."""

    opening: PlacedOpening
    said: str
    notes: tuple[Note, ...] = ()
    edges: tuple[tuple[int, int], ...] = ()


@dataclass(slots=True, kw_only=True, eq=False)
class _Sheet:
    """A plate while it is being pierced: its edge, its outer ring, and every hole in it with what messages call it.
    boxes: (h, 4) of the holes, so that only those at hand are measured."""

    plate: Plate
    edge: shapely.Polygon
    rim: shapely.LinearRing
    holes: list[shapely.Polygon]
    said: list[str]
    boxes: Floats
    cuts: list[Hole] = field(default_factory=list)

    def add(self, shapes: Sequence[shapely.Polygon], said: Sequence[str], cuts: Sequence[Hole]) -> None:
        self.holes += shapes
        self.said += said
        self.cuts += cuts
        self.boxes = np.concatenate([self.boxes, shapely.bounds(np.array(shapes, dtype=object))])

    def at_hand(self, shape: shapely.Polygon, reach: float) -> Iterator[tuple[shapely.Polygon, str]]:
        """The holes whose boxes come within `reach` of a shape's."""
        low, high = np.array(shape.bounds[:2]) - reach, np.array(shape.bounds[2:]) + reach
        for index in np.flatnonzero((self.boxes[:, :2] <= high).all(axis=1) & (self.boxes[:, 2:] >= low).all(axis=1)):
            yield self.holes[index], self.said[index]


def pierce(plates: Sequence[Plate], wanted: Sequence[Wanted], web: float) -> Pierced:
    """The plates with every wanted opening cut that there is room for, one after another.

    An opening over the plate's edge, over a hole or over an earlier opening is left out whole, bolt holes and all,
    with an `error`. Less metal beside it than `web` times the thickness is a `warning`. Perforation fields are not
    looked at: they keep clear of openings themselves.
    """
    sheets: dict[int, _Sheet] = {}
    openings: list[PlacedOpening] = []
    findings: list[Finding] = []
    for number, one in enumerate(wanted):
        index = one.opening.plate
        if index not in sheets:
            sheets[index] = _sheet(plates[index])
        sheet = sheets[index]
        shapes = [hole_shape(cut) for cut in one.opening.cuts]
        said = _parts(one)
        wrong = next(_misplaced(sheet, shapes, said), None)
        if wrong is not None:
            rule, text = wrong
            cure = None if rule == "opening_too_big" else _moved(wanted, number, sheet, shapes, said, web)
            findings.append(_finding(one, sheet.plate, rule, "error", text, cure))
            continue
        for note in one.notes:
            findings.append(_finding(one, sheet.plate, note.rule, "note", note.text))
        near = list(_near(sheet, shapes, said, web))
        cure = _moved(wanted, number, sheet, shapes, said, web) if near else None
        for text in near:
            findings.append(_finding(one, sheet.plate, "opening_near_cut", "warning", text, cure))
        sheet.add(shapes, said, one.opening.cuts)
        openings.append(one.opening)
    return Pierced(
        plates=tuple(_cut(plate, sheets[i].cuts) if i in sheets else plate for i, plate in enumerate(plates)),
        openings=tuple(openings), findings=tuple(findings))


def hole_shape(hole: Hole) -> shapely.Polygon:
    """A hole as a shapely polygon, its arcs within FINE of true."""
    return shapely.Polygon(hole.flatten(FINE))


def _cut(plate: Plate, cuts: Sequence[Hole]) -> Plate:
    return replace(plate, outline=replace(plate.outline, holes=(*plate.outline.holes, *cuts))) if cuts else plate


def _sheet(plate: Plate) -> _Sheet:
    holes = [hole_shape(hole) for hole in plate.outline.holes]
    edge = shapely.Polygon(plate.outline.outer.flatten(FINE))
    rim = edge.exterior
    shapely.prepare([edge, rim])
    boxes = shapely.bounds(np.array(holes, dtype=object)).reshape(-1, 4)
    said = ["a slot or hole that is there already"] * len(holes)
    return _Sheet(plate=plate, edge=edge, rim=rim, holes=holes, said=said, boxes=boxes)


def _parts(one: Wanted) -> list[str]:
    """What messages call each cut of an opening."""
    bolts = range(1, len(one.opening.cuts))
    return [one.said, *(f"bolt hole {number} of {one.said}" for number in bolts)]


def _misplaced(
    sheet: _Sheet, shapes: Sequence[shapely.Polygon], said: Sequence[str]
) -> Iterator[tuple[str, str]]:
    """The rule that is broken and what to say, for every cut that cannot be where it is."""
    name = sheet.plate.name
    for shape, what in zip(shapes, said, strict=True):
        what = _capital(what)
        if not sheet.edge.covers(shape):
            if (room := _no_room(shape, sheet.edge)) is not None:
                yield "opening_too_big", (
                    f"{what} is bigger than '{name}': {room}. It is left out: make it smaller, or pierce another "
                    "plate.")
                continue
            beyond = shape.difference(sheet.edge)
            past = _reach(beyond, sheet.edge)
            where = "a notch or inward corner in the edge" if _within_hull(beyond, sheet.edge) else "the edge"
            yield "opening_over_edge", (
                f"{what} lies over {where} of '{name}', past it by {Length(past):.2f}. It is left out: move it inward "
                "by "
                "that and the metal to be left beside it, or make it smaller.")
        elif sheet.rim.dwithin(shape, LEFT):
            left = sheet.rim.distance(shape)
            yield "opening_over_edge", (
                f"{what} touches the edge of '{name}': {Length(left):.2f} of metal would be left between them, which "
                "no beam leaves. It is left out: move it inward, make it smaller, or draw it as a notch, open at the "
                "edge.")
        for hole, other in sheet.at_hand(shape, LEFT):
            if shape.intersects(hole):
                yield "opening_overlap", (
                    f"{what} overlaps {other} in '{name}' by {Length(_overlap(shape, hole)):.2f}. It is left out: "
                    "move it "
                    "away by that and the metal to be left between them, or make it smaller.")
            elif shape.dwithin(hole, LEFT):
                yield "opening_overlap", (
                    f"{what} touches {other} in '{name}': {Length(shape.distance(hole)):.2f} of metal would be left "
                    "between "
                    "them, which no beam leaves. It is left out: move it away, or make it smaller.")


def _near(
    sheet: _Sheet, shapes: Sequence[shapely.Polygon], said: Sequence[str], web: float
) -> Iterator[str]:
    """What to say of metal left too narrow: to the edge, to other holes, and between the opening's own."""
    least = web * sheet.plate.thickness
    for number, (shape, what) in enumerate(zip(shapes, said, strict=True)):
        places = []
        if sheet.rim.dwithin(shape, least):
            places.append((sheet.rim.distance(shape), f"the edge of '{sheet.plate.name}'"))
        others = [*sheet.at_hand(shape, least), *zip(shapes[:number], said[:number], strict=True)]
        if others:
            gaps = shapely.distance(shape, np.array([hole for hole, _ in others], dtype=object))
            nearest = int(np.argmin(gaps))
            places.append((float(gaps[nearest]), others[nearest][1]))
        for gap, where in places:
            if gap < least - ROUNDING:
                yield (f"{_capital(what)} leaves {Length(gap):.2f} of metal to {where}; {Length(least):g} ({web:g} "
                       "times the "
                       f"thickness) is wanted. Move it by {Length(least - gap):.2f}, or make it smaller.")


def _moved(
    wanted: Sequence[Wanted], number: int, sheet: _Sheet, shapes: Sequence[shapely.Polygon], said: Sequence[str],
    web: float,
) -> Remedy | None:
    """The marked opening moved to where there is room for it beside all others, and for all that it cuts."""
    one = wanted[number].opening
    if wanted[number].edges:
        return None
    others = [
        hole_shape(cut) for i, other in enumerate(wanted) if i != number and other.opening.plate == one.plate
        for cut in other.opening.cuts]
    way = find_move(sheet.edge, [*sheet.holes, *others], shapes, one.centre, web * sheet.plate.thickness)
    if way is None:
        return None
    there = [shapely.transform(shape, lambda points: points + way) for shape in shapes]
    if any(_misplaced(sheet, there, said)) or any(_near(sheet, there, said, web)):
        return None
    return move_remedy(one.name, way, sheet.plate.frame)


def _no_room(shape: shapely.Polygon, edge: shapely.Polygon) -> str | None:
    """Why a shape fits nowhere on a plate, or None where it may."""
    wide, room = (2 * shapely.maximum_inscribed_circle(s).length for s in (shape, edge))
    if wide > room:
        return f"it is {Length(wide):.1f} wide, and the plate has room for {Length(room):.1f}"
    length, most = (2 * float(shapely.minimum_bounding_radius(s)) for s in (shape, edge))
    if length > most:
        return f"it is {Length(length):.1f} from end to end, and the plate {Length(most):.1f}"
    return None


def _reach(beyond: shapely.Geometry, edge: shapely.Polygon) -> float:
    """How far what lies beyond the metal reaches from it, mm."""
    return float(shapely.distance(shapely.points(shapely.get_coordinates(beyond)), edge).max(initial=0.0))


def _within_hull(beyond: shapely.Geometry, edge: shapely.Polygon) -> bool:
    return bool(edge.convex_hull.buffer(ROUNDING).covers(beyond))


def _overlap(one: shapely.Polygon, other: shapely.Polygon) -> float:
    """Width of what two shapes share, mm: the shorter side of the rectangle round it."""
    box = shapely.get_coordinates(shapely.minimum_rotated_rectangle(one.intersection(other)))
    if len(box) < 4:
        return 0.0
    return float(np.linalg.norm(np.diff(box[:3], axis=0), axis=1).min())


def _finding(
    one: Wanted, plate: Plate, rule: str, level: Level, text: str, remedy: Remedy | None = None
) -> Finding:
    place = plate.frame.solid(np.array([one.opening.centre]), plate.low + plate.thickness / 2)[0]
    return Finding(rule=rule, level=level, message=text, at=(float(place[0]), float(place[1]), float(place[2])),
                   panels=(one.opening.plate,), edges=one.edges, openings=() if one.edges else (one.opening.name,),
                   remedy=remedy)


def _capital(text: str) -> str:
    return text[0].upper() + text[1:]
