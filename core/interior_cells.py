"""The cells of a fitted-out envelope: what parts them once it is welded, what opens them, and what that means."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

import numpy as np
import shapely
from manifold3d import Manifold, OpType
from numpy.typing import NDArray

from .cell_checks import check_cells
from .cell_remedies import CellCures
from .cells import Cell, Vent, find_cells
from .choices import Settings
from .envelope import Envelope
from .findings import Finding
from .inner_plates import Inside
from .placed_openings import PlacedOpening
from .plates import Plate, plate_shapes
from .rings import side_normals
from .room import Room, panel_polygon, prism, room_of, shell_solid
from .skins import capacities
from .solve import Solved
from .standing import InnerPlate
from .tee_checks import foot_of
from .tee_tabs import TabPlan, Tee
from .tees import FREE
from .trimming import Assembly

__all__ = ["check_interior_cells"]

Floats = NDArray[np.float64]

MOST_FIELD_HOLES = 400
"""Holes of a perforation field that are cut when the spaces on both sides of it are looked for: a field connects
them by its first hole already; the lowest and highest decide what drains."""

WELD = 0.5
"""mm: how far a welded side is run into what it stands on, so that rounding leaves no way between them."""

ROUND = 10.0
"""mm of room round open shells, by which what is outside of them is known."""

BESIDE = 1.0
"""mm: a plate this near to a cell bounds it: a root gap lies between, or a plate that leans."""

MOST_ROUND = 4
"""Plates named with a cell."""


def check_interior_cells(
    solved: Solved, room: Room | None, assembly: Assembly, inside: Inside, tabs: TabPlan,
    openings: Sequence[PlacedOpening], *, settings: Settings, galvanised: bool,
    progress: Callable[[int, int], None] | None = None,
) -> tuple[Finding, ...]:
    """Findings about the cells of the closed shells, and about what inner plates close off in open ones. room: where
    it is known already. assembly: all plates. settings: of the whole kit. galvanised: of a metal that may be.
    progress: called with how many steps are done, and of how many."""
    say = progress or (lambda done, total: None)
    envelope = solved.envelope
    closed = [s for s in range(len(envelope.shells)) if envelope.shells[s].closed]
    if not closed and not inside.plates:
        return ()
    vents = _vents(assembly.plates[: len(envelope.panels)], openings)
    space: Manifold | None = None
    if not vents and not inside.plates:
        # each shell is one cell without an opening, whatever its walls take: no need to cut them out of it
        volumes = capacities(envelope, solved.joints, solved.sides)
        cells = tuple(
            replace(cell, volume=volumes[s] or 0.0)
            for s in closed for cell in find_cells(shell_solid(envelope, s), (), ()))
    else:
        found = room or room_of(envelope)
        barriers = []
        for row in range(len(inside.plates)):
            say(row, 2 * len(inside.plates))
            barriers.append(_barrier(assembly, inside, tabs, row))
        space = found.space
        cells = find_cells(space, barriers, vents) if space is not None else ()
        if found.walls is not None and barriers:
            cells += _closed_off(envelope, barriers, vents)
    cures: CellCures | None = None                        # they cost time, and a sound drawing wants none
    out: list[Finding] = []
    for number, cell in enumerate(cells):
        say(len(cells) + number, 2 * len(cells))
        for finding in check_cells(
            [cell], vents, origin=envelope.origin, sealed_meant=settings.sealed, galvanised=galvanised
        ):
            cures = cures or _cures(solved, space, assembly, inside, vents, settings)
            out.append(replace(
                finding, panels=_round(cell, assembly, len(envelope.panels)),
                remedy=cures.remedy(finding.rule, cell)))
    return tuple(out)


def _cures(
    solved: Solved, space: Manifold | None, assembly: Assembly, inside: Inside, vents: Sequence[Vent],
    settings: Settings,
) -> CellCures:
    envelope, first = solved.envelope, len(solved.envelope.panels)
    feet: dict[int, list[shapely.Geometry]] = {}
    for tee in inside.tees:
        feet.setdefault(tee.wall, []).append(foot_of(tee))
    return CellCures(
        walls=assembly.plates[:first], vents=vents, space=space, settings=settings, origin=envelope.origin,
        feet={index: shapely.union_all(own) for index, own in feet.items()},
        bare=[
            (assembly.plates[first + row], assembly.solids[first + row])
            for row, inner in enumerate(inside.plates) if envelope.inner[inner.panel].limber <= 0.0])


def _closed_off(envelope: Envelope, barriers: Sequence[Manifold], vents: Sequence[Vent]) -> tuple[Cell, ...]:
    """The spaces in open shells that inner plates close off: what is left of a block round everything, but for what
    hangs together with its skin. The walls are taken a little wider, so that welds close their corners."""
    panels = [p for p in envelope.panels if not envelope.shells[p.shell].closed]
    walls = [
        prism(shapely.buffer(panel_polygon(envelope, p), p.thickness, join_style="mitre"), p.frame, -p.inner, -p.outer)
        for p in panels
    ]
    solids = [*walls, *barriers]
    boxes = np.array([s.bounding_box() for s in solids if not s.is_empty()])
    low, high = boxes[:, :3].min(axis=0) - ROUND, boxes[:, 3:].max(axis=0) + ROUND
    block = Manifold.cube((high - low).tolist()).translate(low.tolist())
    cells = find_cells(block, solids, vents)
    return tuple(cell for cell in cells if (np.array(cell.low) > low + ROUND / 2).all())


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


def _barrier(assembly: Assembly, inside: Inside, tabs: TabPlan, row: int) -> Manifold:
    """An inner plate as it parts the room once it is welded: crossings and the slots of others' tabs closed, every
    side that stands on something run into it; its openings, limber holes and snipes open."""
    inner = inside.plates[row]
    index = inner.plate.panel
    plate = assembly.plates[index]
    whole = plate_shapes([plate.outline])[0]
    slots = [c.slots[c.panels.index(index)] for c in inside.crossings if index in c.panels]
    if slots:
        whole = shapely.union(whole, shapely.intersection(shapely.union_all(slots), inner.whole))
    plugs = [shapely.Polygon(tab.slot) for tab in tabs.tabs if inside.tees[tab.tee].wall == index]
    tees = {
        (ring, side): inside.tees[number]
        for number, (owner, ring, side) in enumerate(inside.sides.tolist()) if owner == row
    }
    strips = [strip for number in range(len(inner.rings)) for strip in _strips(inner, number, tees)]
    whole = shapely.union_all([whole, *plugs, *strips])
    bites = [_bitten(inner.rings[r].points, b.side, b.at, b.diameter) for r, b in inner.bites]
    whole = shapely.difference(whole, shapely.union_all(bites))
    solid = prism(whole, plate.frame, plate.low, plate.low + plate.thickness)
    holes = [hole for field in plate.outline.fields for hole in _some(field.rings(0.2), plate)]
    if not holes:
        return solid
    cut = prism(shapely.multipolygons([shapely.Polygon(h) for h in holes]), plate.frame, plate.low - 1.0,
                plate.low + plate.thickness + 1.0)
    return Manifold.batch_boolean([solid, cut], OpType.Subtract)


def _strips(inner: InnerPlate, number: int, tees: Mapping[tuple[int, int], Tee]) -> list[shapely.Geometry]:
    """What welds add to a ring's sides that stand on something: strips that run into it."""
    ring, thickness = inner.rings[number], inner.plate.thickness
    ends = np.roll(ring.points, -1, axis=0)
    away = side_normals(ring.points)
    along = np.column_stack([-away[:, 1], away[:, 0]])
    depth = np.where(ring.face == FREE, 0.0, thickness + WELD)
    for side in range(len(depth)):
        if (tee := tees.get((number, side))) is not None and not tee.on_edge:
            depth[side] = tee.setback + thickness / np.tan(np.radians(tee.angle)) + WELD
    out = []
    for side in np.flatnonzero(depth > 0).tolist():
        # where the next side stands on something too, the corner between the two strips is closed as well
        start = ring.points[side] - along[side] * depth[side - 1]
        end = ends[side] + along[side] * depth[(side + 1) % len(depth)]
        off, back = away[side] * depth[side], -away[side] * 0.1
        corners = np.array([ring.points[side] + back, ends[side] + back, end, end + off, start + off, start])
        out.append(shapely.MultiPoint(corners).convex_hull)
    return out


def _some(rings: Floats, plate: Plate) -> Floats:
    """The rings of a field's holes, or the lowest and the highest where there are very many."""
    if len(rings) <= MOST_FIELD_HOLES:
        return rings
    heights = rings.mean(axis=1) @ plate.frame.axes[:2, 2]
    order = np.argsort(heights, kind="stable")
    half = MOST_FIELD_HOLES // 2
    return np.asarray(rings[np.concatenate([order[:half], order[-half:]])])


def _bitten(ring: Floats, side: int, at: float, diameter: float) -> shapely.Polygon:
    """The half disc that a limber hole takes from the plate."""
    start, end = ring[side], ring[(side + 1) % len(ring)]
    centre = start + (end - start) / np.linalg.norm(end - start) * at
    away = np.array([(end - start)[1], -(end - start)[0]]) / np.linalg.norm(end - start)
    disc = shapely.Point(centre).buffer(diameter / 2, quad_segs=8)
    along = (end - start) / np.linalg.norm(end - start)
    far = shapely.Polygon([centre - along * diameter, centre + along * diameter,
                           centre + along * diameter + away * diameter, centre - along * diameter + away * diameter])
    return shapely.difference(disc, far)

