"""Fitting out an envelope: inner plates, openings, locating tabs in their slots, perforation fields; and what the
spaces between all of them are like.

Each comes after what it has to keep clear of: openings are where the user put them, tabs go where there is
room left, holes by the thousand come last. Then the plates are checked as solids once more.
"""

from __future__ import annotations

import difflib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray

from ..cells.interior_cells import check_interior_cells
from ..envelope.envelope import Envelope
from ..openings.drawn_holes import place_drawn_holes
from ..openings.openings import place_openings
from ..openings.perforated_plates import perforate_plates
from ..openings.placed_openings import PlacedOpening
from ..plates.plates import Plate, plate_shapes
from ..plates.solve import WHOLE, Solved
from ..plates.tabs import WEB, web_of
from ..plates.trimming import Assembly, settle
from ..shapes.outline import Outline
from ..shapes.ring_features import Step, featured
from ..shapes.rings import shared
from ..terms.choices import Choices
from ..terms.errors import InputError
from ..terms.findings import Finding
from ..terms.memo import Remember, afresh
from ..terms.places import point_at
from ..terms.progress import Counting, uncounted
from .inner_plates import Inside, fit_inner_plates
from .limber import limber_bites
from .room import Room, room_of
from .tee_checks import check_tees, foot_of
from .tee_tabs import TabPlan, Tee, TeeTab, plan_tee_tabs, refuse_short, slot_contour

__all__ = ["Interior", "fit_out", "inspect_interior"]

Floats = NDArray[np.float64]

SEAM = 0.5
"""mm: so much of a plate along a tee's side must be there for the tee to be."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Interior:
    """An envelope fitted out. assembly: all plates, the walls first, then the inner plates. inside: the inner ones
    before tabs. tabs: of their tees. openings: on any plate. findings: what was found on the way. room: where inner
    plates needed it. untabbed: all plates as they were before tabs. former: tees that trimming took."""

    assembly: Assembly
    inside: Inside
    tabs: TabPlan
    openings: tuple[PlacedOpening, ...]
    findings: tuple[Finding, ...]
    room: Room | None
    untabbed: tuple[Plate, ...]
    former: tuple[Tee, ...]


def fit_out(
    solved: Solved, walls: Assembly, choices: Choices, progress: Counting | None = None,
    remember: Remember = afresh,
) -> Interior:
    """The walls with everything in and on them. Raises InputError for what cannot be: see the modules called."""
    envelope = solved.envelope
    room = remember(room_of, replace(envelope, inner=(), notes=(), drawn_holes=())) if envelope.inner else None
    inside = _nothing()
    if room is not None:
        inside = fit_inner_plates(envelope, room, choices, _share(progress, 0))
    pierced, openings, findings = _pierced(envelope, inside, walls.plates, choices)
    first = len(walls.plates)
    inside, pierced, undrained = _drained(envelope, inside, pierced, first)
    banned: list[TeeTab] = []
    trimmed: frozenset[int] = frozenset()
    refuse_short(inside.tees, [p.name for p in pierced], choices.settings.tab_short)
    shapes = list(plate_shapes([p.outline for p in pierced])) if inside.tees else []
    thickness = [p.thickness for p in pierced]
    while True:
        tabs = plan_tee_tabs(
            inside.tees, shapes, thickness, choices.settings.tab_short, banned, trimmed, remember,
            _share(progress, 1))
        plates = _with_tabs(pierced, first, inside, tabs, choices.settings.slot_relief)
        assembly = _settled(walls, plates, inside, _share(progress, 2))
        left = _trimmed(assembly)
        lost, gone = _lost_tabs(left, tabs, inside.tees), _lost_tees(left, inside.tees)
        if not lost and gone <= trimmed:
            break
        banned += lost
        trimmed |= gone
    former = tuple(tee for row, tee in enumerate(inside.tees) if row in trimmed)
    inside, tabs = _without_tees(inside, tabs, trimmed)
    perforated = perforate_plates(
        assembly.plates, choices.fields, _strict(_finder(envelope, inside, assembly.plates), assembly.plates),
        _beads(solved, inside), envelope.origin, choices.settings.cutter, remember)
    assembly = replace(assembly, plates=perforated.plates)
    openings = (*openings, *_limbers(inside), *perforated.openings)
    return Interior(
        assembly=assembly, inside=inside, tabs=tabs, openings=openings, room=room, untabbed=pierced, former=former,
        findings=(*inside.findings, *findings, *undrained, *perforated.findings))


def _share(progress: Counting | None, third: int) -> Counting:
    """Progress of one of three steps as that of the whole."""
    if progress is None:
        return uncounted
    return lambda done, total: progress(third * max(total, 1) + done, 3 * max(total, 1))


def inspect_interior(
    solved: Solved, interior: Interior, choices: Choices, progress: Callable[[int, int], None] | None = None
) -> tuple[Finding, ...]:
    """What hurts at the tees, and what the spaces between all plates are like."""
    return (
        *check_tees(interior.inside, interior.tabs, interior.former, interior.openings, interior.untabbed,
                    solved.envelope.origin),
        *check_interior_cells(
            solved, interior.room, interior.assembly, interior.inside, interior.tabs, interior.openings,
            settings=choices.settings, galvanised=choices.material.family == "steel", progress=progress),
    )


def _nothing() -> Inside:
    return Inside(plates=(), tees=(), sides=np.empty((0, 3), dtype=np.int64), crossings=(), ranks=(), findings=(),
                  drawn_holes=())


def _pierced(
    envelope: Envelope, inside: Inside, walls: Sequence[Plate], choices: Choices
) -> tuple[tuple[Plate, ...], tuple[PlacedOpening, ...], tuple[Finding, ...]]:
    """All plates with the drawn and the marked openings cut."""
    plates = [*walls, *(inner.plate for inner in inside.plates)]
    drawn = place_drawn_holes(
        (*envelope.drawn_holes, *inside.drawn_holes), plates, choices.settings.hole_radius, envelope.origin, WEB)
    marked = place_openings(
        drawn.plates, choices.openings, _finder(envelope, inside, drawn.plates), choices.fittings, envelope.origin, WEB)
    return marked.plates, (*drawn.openings, *marked.openings), (*drawn.findings, *marked.findings)


def _finder(envelope: Envelope, inside: Inside, plates: Sequence[Plate]) -> Callable[[str | int], Sequence[int]]:
    """Which plates a panel's name, or one of its faces, stands for; a panel that walls part stands for all parts."""
    inner = [envelope.inner[own.panel] for own in inside.plates]
    names = [p.name for p in envelope.panels] + [p.name for p in inner]
    faces = [p.faces for p in envelope.panels] + [p.faces for p in inner]

    def find(panel: str | int) -> Sequence[int]:
        return [
            row for row, plate in enumerate(plates)
            if panel in (plate.name, names[row]) or panel in faces[row]
        ]

    return find


def _strict(
    find: Callable[[str | int], Sequence[int]], plates: Sequence[Plate]
) -> Callable[[str | int], Sequence[int]]:
    """The same, but an unknown name or a face without a plate is refused (InputError)."""

    def found(panel: str | int) -> Sequence[int]:
        rows = find(panel)
        if not rows:
            names = sorted({plate.name for plate in plates})
            close = difflib.get_close_matches(str(panel), names, n=1)
            hint = f"Did you mean '{close[0]}'? " if close else ""
            what = f"no panel is named '{panel}'" if isinstance(panel, str) else f"face {panel} is no part of a plate"
            raise InputError(what, do=f"{hint}The panels are: {', '.join(names)}.",
                             faces=() if isinstance(panel, str) else (panel,))
        return rows

    return found


def _drained(
    envelope: Envelope, inside: Inside, plates: Sequence[Plate], first: int
) -> tuple[Inside, tuple[Plate, ...], list[Finding]]:
    """The inner plates with their limber holes, and all plates with them: where the openings left room for them."""
    out = list(plates)
    drained = []
    findings = []
    for row, inner in enumerate(inside.plates):
        plate, panel = out[first + row], envelope.inner[inner.panel]
        bites, left_out = limber_bites(
            inner.rings[0], plate_shapes([plate.outline])[0], plate.frame, panel.limber, web_of(plate.thickness))
        outer = featured(inner.rings[0].points, (), bites)
        out[first + row] = replace(plate, outline=replace(plate.outline, outer=outer))
        drained.append(replace(inner, bites=tuple((0, bite) for bite in bites)))
        findings += [Finding(
            rule="limber_left_out", level="note", panels=(first + row,), faces=panel.faces,
            at=point_at(plate.frame.solid(middle[None])[0] + envelope.origin),
            message=f"'{plate.name}' has no limber hole here: one of {panel.limber:g} mm would leave too little metal "
            "to another cut or edge, wherever along the side it is. Make it smaller, or move the opening beside it.",
        ) for middle in left_out]
    return replace(inside, plates=tuple(drained)), tuple(out), findings


def _with_tabs(
    plates: Sequence[Plate], first: int, inside: Inside, tabs: TabPlan, relief: float
) -> tuple[Plate, ...]:
    """The plates with every tab of the plan, and its slot."""
    steps: dict[tuple[int, int], list[Step]] = {}
    slots: dict[int, list[Floats]] = {}
    for tab in tabs.tabs:
        tee = inside.tees[tab.tee]
        row, ring, side = inside.sides[tab.tee].tolist()
        steps.setdefault((row, ring), []).append(Step(
            side=side, begin=tab.at - tab.width / 2, end=tab.at + tab.width / 2, out=tab.reach + tee.setback))
        slots.setdefault(tee.wall, []).append(tab.slot)
    out = list(plates)
    for row, inner in enumerate(inside.plates):
        index = first + row
        rings = [
            featured(ring.points, steps.get((row, r), ()), [b for q, b in inner.bites if q == r])
            for r, ring in enumerate(inner.rings)
        ]
        openings = out[index].outline.holes[len(inner.rings) - 1 :]
        out[index] = replace(out[index], outline=Outline(outer=rings[0], holes=(*rings[1:], *openings)))
    for index, corners in slots.items():
        outline = out[index].outline
        cuts = tuple(slot_contour(c, relief) for c in corners)
        out[index] = replace(out[index], outline=replace(outline, holes=(*outline.holes, *cuts)))
    return tuple(out)


def _settled(
    walls: Assembly, plates: tuple[Plate, ...], inside: Inside, progress: Callable[[int, int], None] | None
) -> Assembly:
    """The plates checked as solids: the walls among themselves have been, and slots only take metal away."""
    first = len(walls.plates)
    if not inside.plates:
        return replace(walls, plates=plates)
    ranks = [*range(first), *(first + r for r in inside.ranks)]
    found = settle(plates, ranks, progress, only=range(first, len(plates)))
    return replace(found, trims=(*walls.trims, *found.trims), left=(*walls.left, *found.left))


def _trimmed(assembly: Assembly) -> dict[int, shapely.Geometry]:
    """The plates that have been trimmed, with what is left of them."""
    numbers = sorted({trim.plate for trim in assembly.trims})
    return {i: plate_shapes([assembly.plates[i].outline])[0] for i in numbers}


def _lost_tabs(left: Mapping[int, shapely.Geometry], tabs: TabPlan, tees: Sequence[Tee]) -> list[TeeTab]:
    """Tabs of which trimming took something. left: of the plates that were trimmed."""
    lost = []
    for tab in tabs.tabs:
        tee = tees[tab.tee]
        if tee.plate in left:
            along = (tee.end - tee.start) / tee.length
            middle = tee.start + along * tab.at
            half, out = along * tab.width / 2, tee.away * (tab.reach + tee.setback)
            own = shapely.Polygon([middle - half, middle + half, middle + half + out, middle - half + out])
            if shared(own, left[tee.plate]).area < WHOLE * own.area:
                lost.append(tab)
    return lost


def _lost_tees(left: Mapping[int, shapely.Geometry], tees: Sequence[Tee]) -> frozenset[int]:
    """Tees of which trimming has taken most of the metal at their side. left: of the plates that were trimmed."""
    lost = set()
    for row, tee in enumerate(tees):
        if tee.plate in left:
            edge = -tee.away * min(SEAM, tee.thickness)
            seam = shapely.Polygon([tee.start, tee.end, tee.end + edge, tee.start + edge])
            if shared(seam, left[tee.plate]).area < seam.area / 2:
                lost.add(row)
    return frozenset(lost)


def _without_tees(inside: Inside, tabs: TabPlan, lost: frozenset[int]) -> tuple[Inside, TabPlan]:
    """The same without some tees, the others numbered anew."""
    kept = [row for row in range(len(inside.tees)) if row not in lost]
    number = {row: n for n, row in enumerate(kept)}
    return (
        replace(inside, tees=tuple(inside.tees[row] for row in kept), sides=inside.sides[kept]),
        TabPlan(
            tabs=tuple(replace(tab, tee=number[tab.tee]) for tab in tabs.tabs if tab.tee in number),
            bare=tuple((number[row], why) for row, why in tabs.bare if row in number),
            fewer=tuple((number[row], count) for row, count in tabs.fewer if row in number)),
    )


def _beads(solved: Solved, inside: Inside) -> dict[int, shapely.Geometry]:
    """For plates on which others stand, the lines where they do: fields keep clear of the beads there. Edges are
    kept clear of by the outline itself."""
    lines: dict[int, list[shapely.Geometry]] = {}
    for tee in inside.tees:
        lines.setdefault(tee.wall, []).append(foot_of(tee))
    first = len(solved.plates)
    for crossing in inside.crossings:
        for index in crossing.panels:
            frame = inside.plates[index - first].plate.frame
            width = max(inside.plates[i - first].plate.thickness for i in crossing.panels)
            lines.setdefault(index, []).append(
                shapely.LineString(frame.flat(crossing.line)).buffer(width / 2, cap_style="flat"))
    return {index: shapely.union_all(own) for index, own in sorted(lines.items())}


def _limbers(inside: Inside) -> tuple[PlacedOpening, ...]:
    """The limber holes as openings; snipes are corners, not openings."""
    out = []
    for inner in inside.plates:
        for ring, bite in inner.bites:
            points = inner.rings[ring].points
            start, end = points[bite.side], points[(bite.side + 1) % len(points)]
            centre = start + (end - start) / np.linalg.norm(end - start) * bite.at
            out.append(PlacedOpening(
                plate=inner.plate.panel, name="limber hole", shape="round", purpose="limber",
                centre=(float(centre[0]), float(centre[1])), rotation=0.0, size=(bite.diameter,), cuts=()))
    return tuple(out)
