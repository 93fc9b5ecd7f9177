"""The cells of a fitted-out envelope: what parts them once it is welded, what opens them, and what that means."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
import shapely
from manifold3d import Manifold, OpType
from numpy.typing import NDArray

from ..envelope.envelope import Envelope
from ..inner.interior import Interior
from ..inner.room import prism, room_of, shell_solid
from ..inner.tee_checks import foot_of
from ..openings.placed_openings import PlacedOpening
from ..plates.plates import Plate
from ..plates.solve import Solved
from ..plates.trimming import Assembly
from ..stock.materials import material_of
from ..terms.choices import Choices, Settings
from ..terms.findings import Finding
from .cell_checks import check_cells
from .cell_remedies import CellCures
from .cells import SLIVER, Cell, Vent, find_cells
from .welded import Beside, welded_plates, welds_of

__all__ = ["check_interior_cells"]

Floats = NDArray[np.float64]

ROUND = 10.0
"""mm of room round open shells, by which what is outside of them is known."""

BESIDE = 1.0
"""mm: a plate this near to a cell bounds it: a root gap lies between, or a plate that leans."""

MOST_ROUND = 4
"""Plates named with a cell."""


def check_interior_cells(
    solved: Solved, interior: Interior, choices: Choices, progress: Callable[[int, int], None] | None = None
) -> tuple[Finding, ...]:
    """Findings about the cells of the closed shells, and about what inner plates close off in open ones. progress:
    called with how many steps are done, and of how many."""
    say = progress or (lambda done, total: None)
    envelope, plates, settings = solved.envelope, interior.assembly.plates, choices.settings
    walls = [plate for plate in plates if plate.role == "wall"]
    closed = [s for s in range(len(envelope.shells)) if envelope.shells[s].closed]
    if not closed and not interior.inside.plates:
        return ()
    vents = _vents(walls, interior.openings)
    space: Manifold | None = None
    if not vents and not interior.inside.plates:
        # each shell is one cell without an opening, whatever its walls take: no need to cut them out of it
        cells = tuple(
            replace(cell, volume=solved.capacities[s] or 0.0)
            for s in closed for cell in find_cells(shell_solid(envelope, s), (), ()))
    else:
        space = (interior.room or room_of(envelope)).space
        open_walls = _open_walls(envelope, walls)
        barriers = welded_plates(
            plates, interior.assembly.solids, Beside(room=space, walls=open_walls),
            welds_of(interior.inside, interior.tabs, len(walls), settings.slot_relief), say)
        # where plates cross, a void no larger than a cube of the sheet is the weld's
        least = max([SLIVER, *(plate.thickness**3 for plate in plates if plate.role == "inner")])
        cells = find_cells(space, barriers, vents, least) if space is not None else ()
        if open_walls is not None and barriers:
            cells += _closed_off(open_walls, barriers, vents, least)
    cures: CellCures | None = None                        # they cost time, and a sound drawing wants none
    galvanised = material_of(choices).family == "steel"
    out: list[Finding] = []
    for number, cell in enumerate(cells):
        say(len(cells) + number, 2 * len(cells))
        for finding in check_cells([cell], vents, sealed_meant=settings.sealed, galvanised=galvanised):
            cures = cures or _cures(solved, space, interior, vents, settings)
            out.append(replace(
                finding, panels=_round(cell, interior.assembly), remedy=cures.remedy(finding.rule, cell)))
    return tuple(out)


def _cures(
    solved: Solved, space: Manifold | None, interior: Interior, vents: Sequence[Vent], settings: Settings
) -> CellCures:
    plates, solids = interior.assembly.plates, interior.assembly.solids
    feet: dict[int, list[shapely.Geometry]] = {}
    for tee in interior.inside.tees:
        feet.setdefault(tee.wall, []).append(foot_of(tee))
    inner = [(own.plate.number, solved.envelope.inner[own.panel].limber) for own in interior.inside.plates]
    return CellCures(
        walls=[plate for plate in plates if plate.role == "wall"], vents=vents, space=space, settings=settings,
        feet={index: shapely.union_all(own) for index, own in feet.items()},
        bare=[(plates[number], solids[number]) for number, limber in inner if limber <= 0.0])


def _open_walls(envelope: Envelope, walls: Sequence[Plate]) -> Manifold | None:
    """The walls of open shells with every opening and slot shut, a little wider, so that welds close their corners."""
    solids = [
        prism(shapely.buffer(shapely.Polygon(wall.outline.outer.flatten()), wall.thickness, join_style="mitre"),
              wall.frame, wall.low, wall.low + wall.thickness)
        for wall in walls if not envelope.shells[envelope.panels[wall.number].shell].closed
    ]
    return Manifold.batch_boolean(solids, OpType.Add) if solids else None


def _closed_off(
    walls: Manifold, barriers: Sequence[Manifold], vents: Sequence[Vent], least: float
) -> tuple[Cell, ...]:
    """The spaces in open shells that inner plates close off: what is left of a block round everything, but for what
    hangs together with its skin."""
    solids = [walls, *barriers]
    boxes = np.array([s.bounding_box() for s in solids if not s.is_empty()])
    low, high = boxes[:, :3].min(axis=0) - ROUND, boxes[:, 3:].max(axis=0) + ROUND
    block = Manifold.cube((high - low).tolist()).translate(low.tolist())
    cells = find_cells(block, solids, vents, least)
    return tuple(cell for cell in cells if (np.array(cell.low) > low + ROUND / 2).all())


def _round(cell: Cell, assembly: Assembly) -> tuple[int, ...]:
    """A few of the plates round a cell: inner plates before walls, the largest first."""
    near = []
    low, high = np.array(cell.low) - BESIDE, np.array(cell.high) + BESIDE
    order = [
        (plate.role == "wall", -float(f"{plate.outline.area():.6g}"), plate.number) for plate in assembly.plates]
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
