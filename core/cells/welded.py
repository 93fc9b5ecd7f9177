"""Inner plates as they part the space once they are welded: what is cut, and the welds along it.

A weld fills the gap between the edge of one plate and the metal beside it, so it is what lies near to both. Found
from the plates as they are cut: the same solids are closed in the same places, however they were drawn.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from manifold3d import Manifold, OpType
from numpy.typing import NDArray

from ..inner.inner_plates import Inside
from ..inner.room import prism, shadow
from ..inner.tee_tabs import TabPlan, slot_contour
from ..plates.plates import Plate, plate_shapes
from ..plates.solids import Solids
from ..shapes.rings import grown, joined, shared

__all__ = ["WELD", "Beside", "Welds", "welded_plates", "welds_of"]

Floats = NDArray[np.float64]
Pair = tuple[int, int]

WELD: Final = 0.5
"""mm: a gap that is no wider than this closes wherever two plates are welded near by, and where a joint is made with a
gap, one that is so much wider than made. Our choice: no way for liquid or air that anybody means is so narrow."""

WALL: Final = -1
"""All walls, where plates are told apart by their numbers."""

MOST_FIELD_HOLES: Final = 400
"""Holes of a perforation field that are cut when the spaces on both sides of it are looked for: a field connects
them by its first hole already; the lowest and highest decide what drains."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Beside:
    """What inner plates are welded to besides each other. room: the space that closed walls leave; walls: the metal of
    open ones; None where there are none."""

    room: Manifold | None
    walls: Manifold | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Welds:
    """gaps: how wide the gaps are made between plates that are welded, mm in the plane of the plate whose edge it is:
    (plate, other) both ways round, WALL for all walls. slots: by plate, those that others' tabs fill, reliefs and all:
    they are welded shut."""

    gaps: Mapping[Pair, float]
    slots: Mapping[int, Sequence[shapely.Polygon]]

    def widest(self, plate: int) -> float:
        """The widest gap along a plate's edge."""
        return max((gap for (own, _), gap in self.gaps.items() if own == plate), default=0.0)


def welds_of(inside: Inside, tabs: TabPlan, walls: int, relief: float) -> Welds:
    """walls: how many there are, numbered before inner plates. relief: radius in the corners of slots, mm."""
    gaps: dict[Pair, float] = {}

    def note(one: int, two: int, gap: float) -> None:
        for pair in ((one, two), (two, one)):
            gaps[pair] = max(gaps.get(pair, 0.0), gap)

    for tee in inside.tees:
        note(tee.plate, tee.wall if tee.wall >= walls else WALL, tee.setback)
    for crossing in inside.crossings:
        note(*crossing.panels, crossing.thickness_gap / float(np.sin(np.radians(crossing.angle))))
    slots: dict[int, list[shapely.Polygon]] = {}
    for tab in tabs.tabs:
        slots.setdefault(inside.tees[tab.tee].wall, []).append(
            shapely.Polygon(slot_contour(tab.slot, relief).flatten()))
    return Welds(gaps=gaps, slots=slots)


def welded_plates(
    plates: Sequence[Plate], solids: Solids, beside: Beside, welds: Welds, progress: Callable[[int, int], None]
) -> list[Manifold]:
    """The inner plates, each with what welds close at its edges; openings, limber holes and cut corners are open as
    they are cut.

    plates, solids: all, as cut. progress: called with how many are done, and of twice how many: looking at the spaces
    is the other half.
    """
    inner = [plate for plate in plates if plate.role == "inner"]
    boxes = {plate.number: np.array(solids[plate.number].bounding_box()) for plate in inner}
    out = []
    for done, plate in enumerate(inner):
        progress(done, 2 * len(inner))
        out.append(_welded(plate, solids, boxes, beside, welds))
    return out


def _welded(
    plate: Plate, solids: Solids, boxes: Mapping[int, Floats], beside: Beside, welds: Welds
) -> Manifold:
    """One of them. boxes: of all inner plates, by number."""
    cut = joined([plate_shapes([plate.outline])[0], *welds.slots.get(plate.number, ())])
    widest = WELD + welds.widest(plate.number)
    high = plate.low + plate.thickness
    slab = prism(grown(cut, widest), plate.frame, plate.low - widest, high + widest)
    box = np.array(slab.bounding_box())
    others = [
        other for other, its in boxes.items()
        if other != plate.number and (its[:3] <= box[3:]).all() and (its[3:] >= box[:3]).all()
    ]
    near = [(welds.gaps.get((plate.number, other), 0.0), slab ^ solids[other]) for other in others]
    to_walls = welds.gaps.get((plate.number, WALL), 0.0)
    near += [(to_walls, slab - beside.room)] if beside.room is not None else []
    near += [(to_walls, slab ^ beside.walls)] if beside.walls is not None else []
    closed = [
        shared(grown(cut, WELD + gap), grown(shadow(metal, plate.frame), WELD + gap))
        for gap, metal in near if not metal.is_empty()
    ]
    solid = prism(joined([cut, *closed]), plate.frame, plate.low, high)
    holes = [hole for field in plate.outline.fields for hole in _some(field.rings(0.2), plate)]
    if not holes:
        return solid
    cuts = prism(shapely.multipolygons([shapely.Polygon(h) for h in holes]), plate.frame, plate.low - 1.0, high + 1.0)
    return Manifold.batch_boolean([solid, cuts], OpType.Subtract)


def _some(rings: Floats, plate: Plate) -> Floats:
    """The rings of a field's holes, or the lowest and the highest where there are very many."""
    if len(rings) <= MOST_FIELD_HOLES:
        return rings
    heights = rings.mean(axis=1) @ plate.frame.axes[:2, 2]
    order = np.argsort(heights, kind="stable")
    half = MOST_FIELD_HOLES // 2
    return np.asarray(rings[np.concatenate([order[:half], order[-half:]])])
