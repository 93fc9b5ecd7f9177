"""Fitting out an envelope: inner plates, openings, locating tabs in their slots, perforation fields; and what the
spaces between all of them are like.

Each comes after what it has to keep clear of: openings are where the user put them, tabs go where there is
room left, holes by the thousand come last. Then the plates are checked as solids once more.
"""

from __future__ import annotations

import difflib
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from manifold3d import Manifold, OpType
from numpy.typing import NDArray

from .cell_checks import check_cells
from .cells import Cell, Vent, find_cells
from .choices import Choices
from .drawn_holes import place_drawn_holes
from .envelope import Envelope
from .errors import InputError
from .findings import Finding
from .inner_plates import Inside, fit_inner_plates
from .openings import place_openings
from .outline import Outline
from .perforated_plates import perforate_plates
from .placed_openings import PlacedOpening
from .plates import Plate, plate_shapes
from .ring_features import Step, featured
from .room import Room, prism, room_of, shell_solid
from .skins import capacities
from .solve import Solved
from .tee_tabs import WEB, TabPlan, Tee, plan_tee_tabs, slot_contour
from .trimming import Assembly, settle

__all__ = ["Interior", "fit_out"]

Floats = NDArray[np.float64]

WHOLE = 0.98
"""Share of a tab that must be left after trimming for it to locate anything."""

MOST_FIELD_HOLES = 400
"""Holes of a perforation field that are cut when the spaces on both sides of it are looked for: a field connects
them by its first hole already; the lowest and highest decide what drains."""

BESIDE = 1.0
"""mm: a plate this near to a cell bounds it: a root gap lies between, or a plate that leans."""

MOST_ROUND = 4
"""Plates named with a cell."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Interior:
    """An envelope fitted out. assembly: all plates, the walls first, then the inner plates. inside: the inner ones
    before tabs. tabs: of their tees. openings: on any plate. findings: what was found on the way."""

    assembly: Assembly
    inside: Inside
    tabs: TabPlan
    openings: tuple[PlacedOpening, ...]
    findings: tuple[Finding, ...]


def fit_out(
    solved: Solved, walls: Assembly, choices: Choices, progress: Callable[[int, int], None] | None = None
) -> Interior:
    """The walls with everything in and on them. Raises InputError for what cannot be: see the modules called."""
    envelope = solved.envelope
    room = room_of(envelope) if envelope.inner else None
    inside = _nothing()
    if room is not None:
        inside = fit_inner_plates(envelope, room, choices)
    pierced, openings, findings = _pierced(envelope, [*walls.plates, *(p.plate for p in inside.plates)], choices)
    first = len(walls.plates)
    banned: frozenset[tuple[int, float]] = frozenset()
    shapes = list(plate_shapes([p.outline for p in pierced])) if inside.tees else []
    thickness = [p.thickness for p in pierced]
    while True:
        tabs = plan_tee_tabs(inside.tees, shapes, thickness, choices.settings.tab_short, banned)
        plates = _with_tabs(pierced, first, inside, tabs, choices.settings.slot_relief)
        assembly = _settled(walls, plates, inside, progress)
        lost = _lost_tabs(assembly, tabs, inside.tees)
        if not lost:
            break
        banned |= lost
    perforated = perforate_plates(
        assembly.plates, choices.fields, _strict(_finder(envelope, assembly.plates), assembly.plates),
        _beads(solved, inside), envelope.origin)
    assembly = replace(assembly, plates=perforated.plates)
    openings = (*openings, *_limbers(inside), *perforated.openings)
    return Interior(
        assembly=assembly, inside=inside, tabs=tabs, openings=openings,
        findings=(
            *inside.findings, *findings, *perforated.findings, *_bare(inside, tabs, pierced, envelope),
            *_cells(solved, room, assembly, inside, openings, choices),
        ),
    )


def _nothing() -> Inside:
    return Inside(plates=(), tees=(), sides=np.empty((0, 3), dtype=np.int64), crossings=(), ranks=(), findings=())


def _pierced(
    envelope: Envelope, plates: Sequence[Plate], choices: Choices
) -> tuple[tuple[Plate, ...], tuple[PlacedOpening, ...], tuple[Finding, ...]]:
    """All plates with the drawn and the marked openings cut."""
    drawn = place_drawn_holes(
        envelope.drawn_holes, plates, choices.settings.hole_radius, envelope.origin, WEB)
    marked = place_openings(
        drawn.plates, choices.openings, _finder(envelope, drawn.plates), choices.fittings, envelope.origin, WEB)
    return marked.plates, (*drawn.openings, *marked.openings), (*drawn.findings, *marked.findings)


def _finder(envelope: Envelope, plates: Sequence[Plate]) -> Callable[[str | int], Sequence[int]]:
    """Which plates a panel's name, or one of its faces, stands for."""
    faces = [p.faces for p in envelope.panels]
    inner = {p.name: p.faces for p in envelope.inner}

    def find(panel: str | int) -> Sequence[int]:
        if isinstance(panel, str):
            return [i for i, plate in enumerate(plates) if plate.name == panel]
        return [i for i, plate in enumerate(plates)
                if panel in (faces[i] if i < len(faces) else inner.get(plate.name, ()))]

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


def _lost_tabs(assembly: Assembly, tabs: TabPlan, tees: Sequence[Tee]) -> frozenset[tuple[int, float]]:
    """Tabs of which trimming took something."""
    trimmed = {trim.plate for trim in assembly.trims}
    lost = set()
    for tab in tabs.tabs:
        tee = tees[tab.tee]
        if tee.plate in trimmed:
            along = (tee.end - tee.start) / tee.length
            middle = tee.start + along * tab.at
            half, out = along * tab.width / 2, tee.away * (tab.reach + tee.setback)
            own = shapely.Polygon([middle - half, middle + half, middle + half + out, middle - half + out])
            left = shapely.intersection(own, plate_shapes([assembly.plates[tee.plate].outline])[0]).area
            if left < WHOLE * own.area:
                lost.add((tab.tee, tab.at))
    return frozenset(lost)


def _beads(solved: Solved, inside: Inside) -> dict[int, shapely.Geometry]:
    """For plates on which others stand, the lines where they do: fields keep clear of the beads there. Edges are
    kept clear of by the outline itself."""
    lines: dict[int, list[shapely.Geometry]] = {}
    for tee in inside.tees:
        foot = tee.thickness / np.sin(np.radians(tee.angle))
        lines.setdefault(tee.wall, []).append(
            shapely.Polygon([*tee.flat, tee.flat[1] + tee.lean * foot, tee.flat[0] + tee.lean * foot]))
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


def _bare(
    inside: Inside, tabs: TabPlan, plates: Sequence[Plate], envelope: Envelope
) -> list[Finding]:
    """A note on every tee that should have tabs and has none."""
    out = []
    for index, why in tabs.bare:
        tee = inside.tees[index]
        at = tee.line.mean(axis=0) + envelope.origin
        out.append(Finding(
            rule="tee_without_tabs", level="note", panels=(tee.plate, tee.wall), edges=tee.mesh_edges,
            at=(float(at[0]), float(at[1]), float(at[2])),
            message=f"'{plates[tee.plate].name}' has no tab on '{plates[tee.wall].name}' there: {why}. Hold it by its "
            "other joints, or measure it in."))
    return out


def _cells(
    solved: Solved, room: Room | None, assembly: Assembly, inside: Inside,
    openings: Sequence[PlacedOpening], choices: Choices,
) -> tuple[Finding, ...]:
    """What the closed spaces are like."""
    envelope = solved.envelope
    closed = [s for s in range(len(envelope.shells)) if envelope.shells[s].closed]
    if not closed:
        return ()
    vents = _vents(assembly.plates[: len(envelope.panels)], openings)
    if not vents and not inside.plates:
        # each shell is one cell without an opening, whatever its walls take: no need to cut them out of it
        volumes = capacities(envelope, solved.joints, solved.sides)
        cells = tuple(
            replace(cell, volume=volumes[s] or 0.0)
            for s in closed for cell in find_cells(shell_solid(envelope, s), (), ()))
    else:
        space = (room or room_of(envelope)).space or Manifold()
        cells = find_cells(space, [_barrier(assembly, inside, row) for row in range(len(inside.plates))], vents)
    return tuple(
        replace(finding, panels=_round(cell, assembly, len(envelope.panels)))
        for cell in cells
        for finding in check_cells([cell], vents, origin=envelope.origin, sealed_meant=choices.settings.sealed)
    )


def _round(cell: Cell, assembly: Assembly, first: int) -> tuple[int, ...]:
    """A few of the plates round a cell: inner plates before walls (from `first` on), the largest first."""
    near = []
    low, high = np.array(cell.low) - BESIDE, np.array(cell.high) + BESIDE
    order = [(i < first, -float(f"{p.outline.area():.6g}"), i) for i, p in enumerate(assembly.plates)]
    for *_, index in sorted(order):
        box = np.array(assembly.solids[index].bounding_box())
        beside = (box[:3] <= high).all() and (box[3:] >= low).all()
        if beside and cell.solid.min_gap(assembly.solids[index], 2 * BESIDE) < BESIDE:
            near.append(index)
        if len(near) == MOST_ROUND:
            break
    return tuple(near)


def _vents(walls: Sequence[Plate], openings: Sequence[PlacedOpening]) -> list[Vent]:
    """The openings in walls, on the walls' inner surfaces. A perforation field counts by its lowest hole: it is
    an opening if one of its holes is."""
    out = []
    for number, opening in enumerate(openings):
        if opening.plate >= len(walls):
            continue
        wall = walls[opening.plate]
        if opening.purpose == "perforation":
            rings = np.concatenate([f.rings() for f in wall.outline.fields])
            heights = [wall.frame.solid(ring, wall.low)[:, 2].min() for ring in rings]
            corners = rings[int(np.argmin(heights))]
        else:
            corners = opening.cuts[0].flatten()
        shape = shapely.Polygon(corners)
        radius = shapely.maximum_inscribed_circle(shape).length
        centre = np.array([[shape.centroid.x, shape.centroid.y]])
        out.append(Vent(
            at=wall.frame.solid(centre, wall.low)[0], inward=-wall.frame.axes[2], radius=float(radius),
            corners=wall.frame.solid(corners, wall.low), purpose=opening.purpose, name=opening.name, index=number))
    return out


def _barrier(assembly: Assembly, inside: Inside, row: int) -> Manifold:
    """An inner plate as it parts the room once it is welded: crossings closed, every side that stands on something
    run into it; its openings, limber holes and snipes open."""
    inner = inside.plates[row]
    index = inner.plate.panel
    plate = assembly.plates[index]
    whole = plate_shapes([plate.outline])[0]
    slots = [c.slots[c.panels.index(index)] for c in inside.crossings if index in c.panels]
    if slots:
        whole = shapely.union(whole, shapely.intersection(shapely.union_all(slots), inner.whole))
    rows = np.flatnonzero(inside.sides[:, 0] == row)
    depth = {}
    for tee_row in rows.tolist():
        tee = inside.tees[tee_row]
        _, ring, side = inside.sides[tee_row].tolist()
        depth[ring, side] = tee.setback + tee.thickness / np.tan(np.radians(tee.angle)) + 0.5
    strips = []
    for tee_row in rows.tolist():
        tee = inside.tees[tee_row]
        _, ring, side = inside.sides[tee_row].tolist()
        count = len(inner.rings[ring].points)
        along, out = (tee.end - tee.start) / tee.length, tee.away * depth[ring, side]
        back = -tee.away * 0.1
        # where the next side stands on something too, the corner between the two strips is closed as well
        start = tee.start - along * depth.get((ring, (side - 1) % count), 0.0)
        end = tee.end + along * depth.get((ring, (side + 1) % count), 0.0)
        corners = np.array([tee.start + back, tee.end + back, end, end + out, start + out, start])
        strips.append(shapely.MultiPoint(corners).convex_hull)
    bites = [featured_bite(inner.rings[r].points, b.side, b.at, b.diameter) for r, b in inner.bites]
    whole = shapely.difference(shapely.union_all([whole, *strips]), shapely.union_all(bites))
    solid = prism(whole, plate.frame, plate.low, plate.low + plate.thickness)
    holes = [hole for field in plate.outline.fields for hole in _some(field.rings(0.2), plate)]
    if not holes:
        return solid
    cut = prism(shapely.multipolygons([shapely.Polygon(h) for h in holes]), plate.frame, plate.low - 1.0,
                plate.low + plate.thickness + 1.0)
    return Manifold.batch_boolean([solid, cut], OpType.Subtract)


def _some(rings: Floats, plate: Plate) -> Floats:
    """The rings of a field's holes, or the lowest and the highest where there are very many."""
    if len(rings) <= MOST_FIELD_HOLES:
        return rings
    heights = rings.mean(axis=1) @ plate.frame.axes[:2, 2]
    order = np.argsort(heights, kind="stable")
    half = MOST_FIELD_HOLES // 2
    return np.asarray(rings[np.concatenate([order[:half], order[-half:]])])


def featured_bite(ring: Floats, side: int, at: float, diameter: float) -> shapely.Polygon:
    """The half disc that a limber hole takes from the plate."""
    start, end = ring[side], ring[(side + 1) % len(ring)]
    centre = start + (end - start) / np.linalg.norm(end - start) * at
    away = np.array([(end - start)[1], -(end - start)[0]]) / np.linalg.norm(end - start)
    disc = shapely.Point(centre).buffer(diameter / 2, quad_segs=8)
    along = (end - start) / np.linalg.norm(end - start)
    far = shapely.Polygon([centre - along * diameter, centre + along * diameter,
                           centre + along * diameter + away * diameter, centre - along * diameter + away * diameter])
    return shapely.difference(disc, far)

