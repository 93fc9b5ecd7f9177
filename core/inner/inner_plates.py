"""Inner plates: from the drawing inside an envelope to plates that stand on its walls and cross each other.

Everything here is before tabs: the outlines fitted to the room there is, crossings slotted, corners sniped,
and every side that stands on something known as a tee.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from manifold3d import Manifold
from numpy.typing import NDArray

from ..envelope.envelope import DrawnHole, Envelope, InnerPanel, importance_key
from ..shapes.rings import joined, less, polygon_parts
from ..terms.choices import Choices
from ..terms.errors import InputError
from ..terms.findings import Finding
from ..terms.progress import Counting, uncounted
from .cross_slots import Crossing
from .crossed_plates import Part, cut_crossings
from .inner_checks import (
    find_apart,
    find_loose,
    mostly_outside,
    no_room,
    note_idle_cuts,
    note_lengthened,
    note_trims,
    refuse_sharp,
)
from .inner_meetings import Meetings, inner_polygon, meetings_of, order_of
from .inner_outlines import fit_outline
from .room import Room, blocked, prism, shadow
from .standing import Ground, InnerPlate, stand_plate
from .tee_choices import TeeRules
from .tee_tabs import Tee
from .tees import Faces, faces_of_plate, joined_faces, wall_faces

__all__ = ["Inside", "fit_inner_plates"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

SAME_HOLE = 1e-3
"""mm2: a hole that differs by less from the drawn one is the drawn one."""

MOST_OUTSIDE = 0.5
"""Share of a drawn inner plate that may lie where nothing of it can be; with more the drawing is mistaken."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Inside:
    """All that is inside an envelope. Plates are numbered after the walls, in the order of `plates`.

    crossings: with plate numbers in place of panel numbers. tees: of all inner plates; sides: (t, 3) for each the
    inner plate (row of `plates`), the ring and the side of it. ranks: by importance, one a plate. drawn_holes: that
    were drawn in them, to be cut like those in walls; `panel` is the plate's number.
    """

    plates: tuple[InnerPlate, ...]
    tees: tuple[Tee, ...]
    sides: Ints
    crossings: tuple[Crossing, ...]
    ranks: tuple[int, ...]
    findings: tuple[Finding, ...]
    drawn_holes: tuple[DrawnHole, ...]


def fit_inner_plates(envelope: Envelope, room: Room, choices: Choices, progress: Counting = uncounted) -> Inside:
    """The inner plates of an envelope. Raises InputError, naming faces, for one that lies mostly outside, one
    that has no room, and cuts of crossings that run into each other. progress: called with how many are done, and of
    how many."""
    panels, reach = envelope.inner, choices.settings.reach
    meetings = meetings_of(panels, reach)
    rules = TeeRules(envelope, choices)
    shapes, stops, said = _fitted(envelope, room, meetings, reach, progress)
    fitted = [(i, n, shape) for i in range(len(panels)) for n, shape in enumerate(shapes[i])]
    parts = [
        Part(panel=i, number=number, name=_name(envelope, i, n), whole=shape, shape=shape)
        for number, (i, n, shape) in enumerate(fitted, len(envelope.panels))
    ]
    refuse_sharp(envelope, parts)
    parts, crossings = cut_crossings(envelope, parts, meetings, rules)
    parts, holes = _drawn_holes(envelope, parts)
    faces = _all_faces(envelope, parts)
    plates: list[InnerPlate] = []
    tees: list[Tee] = []
    sides: list[tuple[int, int, int]] = []
    names = [p.name for p in envelope.panels] + [panels[p.panel].name for p in parts]
    notes: list[Finding] = []
    errors: list[InputError] = []
    for row, part in enumerate(parts):
        progress(len(parts) + row, 2 * len(parts))
        partners = {p for c in crossings for p in c.panels if part.number in c.panels}
        usable = ~np.isin(faces.plate, sorted({*partners, part.number}))
        ground = Ground(faces=faces, usable=usable, stop=stops[part.panel], names=names)
        stood = stand_plate(envelope, part, row, ground, rules)
        if stood is None:
            errors.append(no_room(envelope, panels[part.panel]))
            continue
        plates.append(stood.inner)
        tees += stood.tees
        sides += stood.sides
        notes += stood.notes
    if errors:
        raise InputError.several(errors)
    rules.refuse_unused(
        [(names[t.plate], names[t.wall]) for t in tees] + [(names[c.panels[0]], names[c.panels[1]]) for c in crossings])
    findings = [
        replace(f, panels=tuple(part.number for part in parts if part.panel == i)) for i, f in said]
    findings += notes
    findings += note_idle_cuts(envelope, parts, crossings)
    findings += find_apart(envelope, parts, meetings, tees, crossings)
    findings += find_loose(envelope, plates, tees, crossings, reach)
    order = sorted(range(len(parts)), key=lambda r: (
        importance_key(panels[parts[r].panel], parts[r].panel), -parts[r].shape.area, r))
    ranks = np.empty(len(parts), dtype=np.int64)
    ranks[np.array(order, dtype=np.int64)] = np.arange(len(parts))
    return Inside(
        plates=tuple(plates), tees=tuple(tees), sides=np.array(sides, dtype=np.int64).reshape(-1, 3),
        crossings=tuple(crossings), ranks=tuple(ranks.tolist()), findings=tuple(findings), drawn_holes=tuple(holes),
    )


def _name(envelope: Envelope, panel: int, part: int) -> str:
    """The panel's name; further parts of it are numbered from 2."""
    name = envelope.inner[panel].name
    if part == 0:
        return name
    taken = {p.name for p in envelope.panels} | {p.name for p in envelope.inner}
    numbered = f"{name} {part + 1}"
    while numbered in taken:
        numbered += "'"
    return numbered


def _fitted(
    envelope: Envelope, room: Room, meetings: Meetings, reach: float, progress: Counting
) -> tuple[list[list[shapely.Polygon]], list[shapely.Geometry], list[tuple[int, Finding]]]:
    """For every inner panel the parts that it becomes, what blocks it, and what there is to say about it."""
    panels = envelope.inner
    shapes: list[list[shapely.Polygon]] = [[] for _ in panels]
    stops: list[shapely.Geometry] = [shapely.Polygon() for _ in panels]
    said: list[tuple[int, Finding]] = []
    errors: list[InputError] = []
    walls = max(p.thickness for p in envelope.panels)
    for done, i in enumerate(order_of(panels, meetings)):
        progress(done, 2 * len(panels))
        panel = panels[i]
        drawn = inner_polygon(panel)
        found = blocked(room, panel.frame, panel.low, panel.low + panel.thickness, drawn,
                        2 * reach + walls + panel.thickness)
        free = less(drawn, found.stop)
        others = [_solid(panels[b], shapes[b]) for a, b in sorted(meetings.ends) if a == i]
        stop = joined([found.stop, *(shadow(found.slab ^ solid, panel.frame) for solid in others)])
        if free.area < (1 - MOST_OUTSIDE) * drawn.area:
            errors.append(mostly_outside(envelope, panel, 1 - free.area / drawn.area))
            continue
        shapes[i], stops[i] = fit_outline(drawn, stop, reach), stop
        if not shapes[i]:
            errors.append(no_room(envelope, panel))
            continue
        said += [(i, f) for f in note_lengthened(envelope, panel, drawn, shapes[i])]
        said += [(i, f) for f in note_trims(envelope, panel, drawn, free, reach + walls, len(shapes[i]))]
    if errors:
        raise InputError.several(errors)
    return shapes, stops, said


def _solid(panel: InnerPanel, shapes: Sequence[shapely.Polygon]) -> Manifold:
    """The metal of an inner panel, as fitted, or as drawn where that is not known yet."""
    whole = shapely.union_all(list(shapes)) if shapes else inner_polygon(panel)
    return prism(whole, panel.frame, panel.low, panel.low + panel.thickness)


def _drawn_holes(envelope: Envelope, parts: Sequence[Part]) -> tuple[list[Part], list[DrawnHole]]:
    """The parts without the holes that are as they were drawn, and those holes."""
    out: list[Part] = []
    holes: list[DrawnHole] = []
    for row, part in enumerate(parts):
        drawn = [ring for ring in envelope.inner[part.panel].rings if not shapely.LinearRing(ring).is_ccw]
        kept = [
            ring for ring in drawn
            if any(_differ(shapely.Polygon(ring), shapely.Polygon(own)) < SAME_HOLE for own in part.shape.interiors)
        ]
        closed = joined([part.shape, *map(shapely.Polygon, kept)])
        out.append(replace(part, shape=polygon_parts(closed)[0]))
        holes += [DrawnHole(panel=len(envelope.panels) + row, points=ring, mesh_edges=()) for ring in kept]
    return out, holes


def _differ(one: shapely.Polygon, two: shapely.Polygon) -> float:
    """mm2 that lie in one of two shapes alone."""
    return float(less(one, two).area + less(two, one).area)


def _all_faces(envelope: Envelope, parts: Sequence[Part]) -> Faces:
    """Everything an inner plate can stand on."""
    own = [
        faces_of_plate(part.number, p.frame, p.low, p.thickness, part.whole)
        for part in parts for p in (envelope.inner[part.panel],)
    ]
    return joined_faces([wall_faces(envelope), *own])
