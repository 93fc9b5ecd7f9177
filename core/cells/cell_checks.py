"""What the cells of an envelope will do to people: closed ones can burst when heated, others keep their liquid."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

import numpy as np
import shapely
from manifold3d import Manifold
from numpy.typing import NDArray

from ..shapes.solid_parts import triangles
from ..terms.findings import Finding, Level
from ..terms.messages import Length, Liquid, raw
from ..terms.places import place
from .cells import Cell, Vent
from .pools import OUTLETS, Pool, trapped_liquid
from .vent_holes import vent_hole

__all__ = ["box_sides", "check_cells", "least_pool"]

Floats = NDArray[np.float64]

CLINGS: Final = 2000.0
CLINGING_SHARE: Final = 1e-4
"""mm3, and share of the cell: less than this stays as a film on the plates anyway. Our choice."""

_MOST: Final = 4
"""Pools that are told one by one."""


def check_cells(
    cells: Sequence[Cell], vents: Sequence[Vent], *, sealed_meant: bool = False,
    galvanised: bool = True,
) -> tuple[Finding, ...]:
    """Findings about the cells of one envelope, in their order. vents: all openings in its walls, as given to
    find_cells. sealed_meant: closed cells are
    meant, so that they are warnings. galvanised: of a metal that may be. +z is up as it stands."""
    carries = any(vent.purpose in OUTLETS for vent in vents)
    found: list[Finding] = []
    for cell in cells:
        own = [vents[row] for row in cell.vents]
        found += _undrained(cell, own, carries) if own else [_sealed(cell, sealed_meant, galvanised)]
    return tuple(found)


def _sealed(cell: Cell, meant: bool, galvanised: bool) -> Finding:
    """Heat from welding alone can bring the air of a hollow body to a pressure that bursts it: US Army, TC 9-237,
    explosion hazards. Hollow spaces are vented before they are heated: OSHA, 29 CFR 1910.252(a)(3) (from memory)."""
    advice = vent_hole(box_sides(cell.solid), cell.volume)
    heat, who, bath, last = "Welding", "Local", "", ", closed last" if meant else ""
    holes = "one side or both ends open"
    if advice.galvanising is not None:
        holes = (f"{advice.count} holes of at least {Length(advice.galvanising):.0f}, half of them where it is "
                 "highest as "
                 "it hangs and half where it is lowest")
    if galvanised:
        heat, who = "Welding or galvanising", "The galvaniser, local"
        bath = f"; before it is galvanised, {holes}. Assumed: {raw(advice.assumption)}"
    return _finding(
        "sealed_cell", "warning" if meant else "error",
        f"A closed space of {_about(cell)} has no opening{', as the settings say is meant' if meant else ''}. "
        f"{heat} heats the air and any moisture in it, and the pressure can burst it. Let it out "
        "through a wall, or through a plate into a space that is open: a hole of at least "
        f"{Length(advice.welding):g} while it is welded (common practice, no source){last}{bath}. {who} "
        "codes and licensed practice decide.",
        cell.at)


def _undrained(cell: Cell, own: Sequence[Vent], carries: bool) -> Iterator[Finding]:
    drains = [vent for vent in own if vent.purpose in OUTLETS]
    least = least_pool(cell.volume)
    # without a drain or port the other openings still say what would stay
    pools = [pool for pool in trapped_liquid(cell.solid, drains or own) if pool.volume > least]
    stays = sum(pool.volume for pool in pools)
    if drains and pools:
        yield _finding(
            "cannot_drain", "warning",
            f"{Liquid(stays)} in the space of {_about(cell)} cannot run to {_names(drains)} as it stands: "
            f"{_where(pools)}. Put a drain there or lower the port; where a plate holds it back, give that "
            "plate limber holes.",
            pools[0].at)
    elif carries and not drains:
        also = f"; by {_names(own)} all but {Liquid(stays)} could leave" if stays < 0.999 * cell.volume else ""
        yield _finding(
            "cannot_drain", "warning",
            f"No drain or port leads into the space of {_about(cell)}, so all of it is trapped as it "
            f"stands{also}. Give it a drain at its lowest point, or limber holes into its neighbour.",
            _lowest(pools, cell))
    elif pools:
        yield _finding(
            "cannot_drain", "note",
            f"{Liquid(stays)} of rain or condensation can stay in the space of {_about(cell)}: "
            f"{_where(pools)}, below the lowest edge of {_names(own)}. An opening there would let it out.",
            pools[0].at)


def least_pool(volume: float) -> float:
    """mm3: a pool of less in a space of that volume is a film that clings."""
    return max(CLINGS, CLINGING_SHARE * volume)


def _where(pools: Sequence[Pool]) -> str:
    told = [f"{Liquid(p.volume)}, {Length(p.depth):.1f} deep, lowest at {_place(p.at)}" for p in pools[:_MOST]]
    more = f"; and {len(pools) - _MOST} smaller pools" if len(pools) > _MOST else ""
    return "; ".join(told) + more


def _names(vents: Sequence[Vent]) -> str:
    names = list(dict.fromkeys(f"'{vent.name}'" for vent in vents))
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} or {names[-1]}"


def _lowest(pools: Sequence[Pool], cell: Cell) -> tuple[float, float, float]:
    return pools[0].at if pools else trapped_liquid(cell.solid, [])[0].at


def box_sides(solid: Manifold) -> tuple[float, float, float]:
    """Sides of a box round a solid: along its main direction, and the tightest rectangle square to that."""
    points = triangles(solid)[0]
    axes = np.linalg.svd(points - points.mean(axis=0), full_matrices=False)[2]
    along = points @ axes[0]
    corners = shapely.MultiPoint(points @ axes[1:].T).minimum_rotated_rectangle.exterior.coords
    x, y = (float(np.hypot(*np.subtract(corners[i + 1], corners[i]))) for i in (0, 1))
    return x, y, float(np.ptp(along))


def _place(at: tuple[float, float, float]) -> str:
    return place(np.round(np.asarray(at), 1))


def _about(cell: Cell) -> str:
    return f"{Liquid(cell.volume)} round {_place(cell.at)}"


def _finding(rule: str, level: Level, text: str, at: tuple[float, float, float]) -> Finding:
    return Finding(rule=rule, level=level, message=text, at=at)
