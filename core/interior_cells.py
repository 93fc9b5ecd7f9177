"""The cells of a fitted-out envelope: what parts them once it is welded, what opens them, and what that means."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely
from manifold3d import Manifold, OpType
from numpy.typing import NDArray

from .cell_checks import check_cells
from .cells import Cell, Vent, find_cells
from .findings import Finding
from .inner_plates import Inside
from .placed_openings import PlacedOpening
from .plates import Plate, plate_shapes
from .room import Room, prism, room_of, shell_solid
from .skins import capacities
from .solve import Solved
from .trimming import Assembly

__all__ = ["check_interior_cells"]

Floats = NDArray[np.float64]

MOST_FIELD_HOLES = 400
"""Holes of a perforation field that are cut when the spaces on both sides of it are looked for: a field connects
them by its first hole already; the lowest and highest decide what drains."""

BESIDE = 1.0
"""mm: a plate this near to a cell bounds it: a root gap lies between, or a plate that leans."""

MOST_ROUND = 4
"""Plates named with a cell."""


def check_interior_cells(
    solved: Solved, room: Room | None, assembly: Assembly, inside: Inside, openings: Sequence[PlacedOpening], *,
    sealed_meant: bool,
) -> tuple[Finding, ...]:
    """Findings about the cells of the closed shells. room: where it is known already. assembly: all plates."""
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
        for finding in check_cells([cell], vents, origin=envelope.origin, sealed_meant=sealed_meant)
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
    bites = [_bitten(inner.rings[r].points, b.side, b.at, b.diameter) for r, b in inner.bites]
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

