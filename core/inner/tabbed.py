"""Plates with the tabs of their tees, settled as solids: a tab that trimming took is planned anew."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray

from ..plates.plates import Plate, plate_shapes
from ..plates.solve import WHOLE
from ..plates.trimming import Assembly, settle
from ..shapes.outline import Outline
from ..shapes.ring_features import Step, featured
from ..shapes.rings import shared
from ..terms.choices import Settings
from ..terms.memo import Remember
from .inner_plates import Inside
from .tee_tabs import TabPlan, Tee, TeeTab, plan_tee_tabs, refuse_short, slot_contour

__all__ = ["Tabbed", "tab_and_settle"]

Floats = NDArray[np.float64]

SEAM = 0.5
"""mm: so much of a plate along a tee's side must be there for the tee to be."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Tabbed:
    """All plates settled, the inner ones before tabs, the tabs, and the tees that trimming took."""

    assembly: Assembly
    inside: Inside
    tabs: TabPlan
    former: tuple[Tee, ...]


def tab_and_settle(
    walls: Assembly, plates: tuple[Plate, ...], inside: Inside, settings: Settings, remember: Remember,
    planning: Callable[[int, int], None], settling: Callable[[int, int], None],
) -> Tabbed:
    """Tabs for every tee, their slots in the walls, and all plates settled: again, without the tabs that trimming
    took, until it takes none. plates: the walls, then the inner ones, with their openings. Raises InputError where
    tabs cannot stay below the wall's face by as much as is asked for."""
    refuse_short(inside.tees, [p.name for p in plates])
    shapes = list(plate_shapes([p.outline for p in plates])) if inside.tees else []
    thickness = [p.thickness for p in plates]
    banned: list[TeeTab] = []
    trimmed: frozenset[int] = frozenset()
    while True:
        tabs = plan_tee_tabs(inside.tees, shapes, thickness, banned, trimmed, remember, planning)
        tabbed = _with_tabs(plates, inside, tabs, settings.slot_relief)
        assembly = _settled(walls, tabbed, inside, settling)
        left = _trimmed(assembly)
        lost, gone = _lost_tabs(left, tabs, inside.tees), _lost_tees(left, inside.tees)
        if not lost and gone <= trimmed:
            break
        banned += lost
        trimmed |= gone
    former = tuple(tee for row, tee in enumerate(inside.tees) if row in trimmed)
    inside, tabs = _without_tees(inside, tabs, trimmed)
    return Tabbed(assembly=assembly, inside=inside, tabs=tabs, former=former)


def _with_tabs(
    plates: Sequence[Plate], inside: Inside, tabs: TabPlan, relief: float
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
        index = inner.plate.number
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
    if not inside.plates:
        return replace(walls, plates=plates)
    inner = [own.plate.number for own in inside.plates]
    ranks = [*range(len(walls.plates)), *(inner[r] for r in inside.ranks)]
    found = settle(plates, ranks, progress, only=inner)
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
