"""Cutting the slots of all crossings into the inner plates, and refusing cuts that run into each other."""

from __future__ import annotations

import graphlib
import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import shapely

from ..envelope.envelope import Envelope, InnerPanel, importance_key
from ..shapes.rings import cleaned
from ..terms import tolerance
from ..terms.errors import InputError
from ..terms.places import place
from .cross_slots import Crossing, cross_plates
from .inner_meetings import Meetings
from .tee_choices import TeeRules

__all__ = ["Part", "cut_crossings"]

_MOST = 20
"""Faults that are told one by one."""

WEB = 1.0
"""Least metal between two cuts of a plate, over its thickness. Common practice, no source."""

SPARED = 1.0
"""mm of cut beyond a crossing, which stays open, that is worth another order of putting the plates in. Our choice."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Part:
    """A fitted part of an inner panel, which becomes a plate. number: the plate's, among all. shape: with the slots of
    crossings cut; whole: without."""

    panel: int
    number: int
    name: str
    whole: shapely.Polygon
    shape: shapely.Polygon


def cut_crossings(
    envelope: Envelope, parts: Sequence[Part], meetings: Meetings, rules: TeeRules
) -> tuple[list[Part], list[Crossing]]:
    """The parts with the slots of their crossings cut, and the crossings, between plate numbers. Raises InputError
    where the cuts in a plate run into each other or part it."""
    crossings = _crossings(envelope, parts, meetings, rules)
    row_of = {part.number: row for row, part in enumerate(parts)}
    cuts: list[list[tuple[int, shapely.Polygon]]] = [[] for _ in parts]
    for crossing in crossings:
        one, two = (row_of[number] for number in crossing.panels)
        cuts[one].append((two, crossing.slots[0]))
        cuts[two].append((one, crossing.slots[1]))
    errors = []
    out = []
    for row, (part, own) in enumerate(zip(parts, cuts, strict=True)):
        web = WEB * envelope.inner[part.panel].thickness
        errors += [
            _cuts_meet(envelope, parts, (row, s, t), one, two)
            for k, (s, one) in enumerate(own) for t, two in own[k + 1 :] if s != t and one.distance(two) < web
        ]
        pieces = cleaned(shapely.difference(part.whole, shapely.union_all([slot for _, slot in own])))
        if len(pieces) > 1 and pieces[1].area > tolerance.VANISH:
            errors.append(_falls_apart(envelope, part))
        out.append(replace(part, shape=pieces[0]))
    if errors:
        raise InputError.several(errors[:_MOST])
    return out, crossings


def _crossings(
    envelope: Envelope, parts: Sequence[Part], meetings: Meetings, rules: TeeRules
) -> list[Crossing]:
    """Of two plates that cross the more important is put first; the other where that spares cuts that would stay open,
    as where it ends within the first, and where no round of plates comes of it that each wait for the next."""
    panels = envelope.inner
    rows: list[list[int]] = [[] for _ in panels]
    for row, part in enumerate(parts):
        rows[part.panel].append(row)
    pairs = [sorted(pair, key=lambda i: importance_key(panels[i], i)) for pair in meetings.crosses]
    before = {(a, b) for a, b in pairs}
    out: list[Crossing] = []
    for a, b in pairs:
        gap = rules.fit_gap(rules.choice(panels[a].name, panels[b].name))
        gaps = {i: rules.thickness_gap(panels[i].thickness) for i in (a, b)}
        ways = [_crossed(panels, parts, rows, order, gap, gaps) for order in ((a, b), (b, a))]
        idle = [sum(sum(crossing.idle) for crossing in way) for way in ways]
        turned = before - {(a, b)} | {(b, a)}
        swap = idle[0] - idle[1] > SPARED and _in_turn(turned)
        before = turned if swap else before
        out += ways[swap]
    return out


def _crossed(
    panels: Sequence[InnerPanel], parts: Sequence[Part], rows: Sequence[Sequence[int]], order: tuple[int, int],
    gap: float, gaps: Mapping[int, float],
) -> list[Crossing]:
    """The crossings of all parts of two panels, between plates' numbers."""
    a, b = order
    return [
        replace(crossing, panels=(parts[r].number, parts[s].number))
        for r, s in itertools.product(rows[a], rows[b])
        for crossing in cross_plates(panels, (parts[r].whole, parts[s].whole), order, gap, (gaps[a], gaps[b]))
    ]


def _in_turn(before: set[tuple[int, int]]) -> bool:
    """Whether plates can be put one after the other so that the first of every pair is there before the second."""
    graph: dict[int, set[int]] = {}
    for one, two in sorted(before):
        graph.setdefault(two, set()).add(one)
    try:
        graphlib.TopologicalSorter(graph).prepare()
    except graphlib.CycleError:
        return False
    return True


def _cuts_meet(
    envelope: Envelope, parts: Sequence[Part], rows: tuple[int, int, int], one: shapely.Polygon, two: shapely.Polygon
) -> InputError:
    plate, *others = (parts[row] for row in rows)
    shared = shapely.intersection(one, two) if one.intersects(two) else shapely.shortest_line(one, two)
    at = envelope.inner[plate.panel].frame.solid(shapely.get_coordinates(shared.centroid))[0]
    names = " and ".join(f"'{other.name}'" for other in others)
    return InputError(
        f"Three inner plates meet: in '{plate.name}' the cuts for {names} run into each other",
        where=place(at),
        do="Move one of them away, or end one on another instead of crossing it.",
        faces=[face for part in (plate, *others) for face in envelope.inner[part.panel].faces],
    )


def _falls_apart(envelope: Envelope, part: Part) -> InputError:
    panel = envelope.inner[part.panel]
    middle = panel.frame.solid(shapely.get_coordinates(part.whole.centroid))[0]
    return InputError(
        f"The cuts for the plates that cross it make inner plate '{part.name}' fall apart",
        where=place(middle),
        do="Draw it larger than the crossing, or let it end on the other plate.",
        faces=panel.faces,
    )
