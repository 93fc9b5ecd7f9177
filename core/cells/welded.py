"""Inner plates as they part the space once they are welded: what is cut, and the welds along it.

A weld fills the gap between the edge of one plate and the metal beside it, so it is what lies near to both. Found
from the plates as they are cut: the same solids are closed in the same places, however they were drawn.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Final

import numpy as np
import shapely
from manifold3d import Manifold, OpType
from numpy.typing import NDArray

from ..inner.cross_slots import Crossing
from ..inner.room import prism, shadow
from ..inner.tee_tabs import TabPlan, Tee, slot_contour
from ..plates.plates import Plate, plate_shapes
from ..plates.solids import Solids
from ..shapes.rings import grown, joined, shared

__all__ = ["WELD", "gaps_of", "slots_of", "welded_plates"]

Floats = NDArray[np.float64]
Pair = tuple[int, int]

WELD: Final = 0.5
"""mm: a gap that is no wider than this closes wherever two plates are welded near by, and where a joint is made with a
gap, one that is so much wider than made. Our choice: no way for liquid or air that anybody means is so narrow."""

MOST_FIELD_HOLES: Final = 400
"""Holes of a perforation field that are cut when the spaces on both sides of it are looked for: a field connects
them by its first hole already; the lowest and highest decide what drains."""


def gaps_of(tees: Sequence[Tee], crossings: Sequence[Crossing], first: int) -> dict[Pair, float]:
    """How wide the gaps are made between plates that are welded, mm in the plane of the plate whose edge it is:
    (plate, other) both ways round. All walls, which are numbered below `first`, are -1."""
    out: dict[Pair, float] = {}

    def note(one: int, two: int, gap: float) -> None:
        for pair in ((one, two), (two, one)):
            out[pair] = max(out.get(pair, 0.0), gap)

    for tee in tees:
        note(tee.plate, tee.wall if tee.wall >= first else -1, tee.setback)
    for crossing in crossings:
        note(*crossing.panels, crossing.fit_gap / float(np.sin(np.radians(crossing.angle))))
    return out


def slots_of(tees: Sequence[Tee], tabs: TabPlan, relief: float) -> dict[int, list[shapely.Polygon]]:
    """By plate, the slots that others' tabs fill, reliefs and all: they are welded shut."""
    out: dict[int, list[shapely.Polygon]] = {}
    for tab in tabs.tabs:
        out.setdefault(tees[tab.tee].wall, []).append(shapely.Polygon(slot_contour(tab.slot, relief).flatten()))
    return out


def welded_plates(
    plates: Sequence[Plate], solids: Solids, first: int, room: Manifold | None, walls: Manifold | None,
    gaps: Mapping[Pair, float], slots: Mapping[int, Sequence[shapely.Polygon]], progress: Callable[[int, int], None],
) -> list[Manifold]:
    """The plates from `first` on, each with what welds close at its edges; openings, limber holes and cut corners
    are open as they are cut.

    plates, solids: all, as cut. room: the space that closed walls leave; walls: the metal of open ones. gaps: of
    gaps_of; slots: of slots_of. progress: called with how many are done, and of twice how many: looking at the spaces
    is the other half.
    """
    boxes = {index: np.array(solids[index].bounding_box()) for index in range(first, len(plates))}
    out = []
    for index in range(first, len(plates)):
        progress(index - first, 2 * (len(plates) - first))
        out.append(_welded(index, plates, solids, first, room, walls, gaps, slots.get(index, ()), boxes))
    return out


def _welded(
    index: int, plates: Sequence[Plate], solids: Solids, first: int, room: Manifold | None,
    walls: Manifold | None, gaps: Mapping[Pair, float], slots: Sequence[shapely.Polygon],
    boxes: Mapping[int, Floats],
) -> Manifold:
    plate = plates[index]
    cut = joined([plate_shapes([plate.outline])[0], *slots])
    widest = WELD + max((gap for (own, _), gap in gaps.items() if own == index), default=0.0)
    high = plate.low + plate.thickness
    slab = prism(grown(cut, widest), plate.frame, plate.low - widest, high + widest)
    box = np.array(slab.bounding_box())
    beside = [
        (other, solids[other])
        for other, its in boxes.items()
        if other != index and (its[:3] <= box[3:]).all() and (its[3:] >= box[:3]).all()
    ]
    near = [(gaps.get((index, other), 0.0), slab ^ solid) for other, solid in beside]
    to_walls = gaps.get((index, -1), 0.0)
    near += [(to_walls, slab - room)] if room is not None else []
    near += [(to_walls, slab ^ walls)] if walls is not None else []
    welds = [
        shared(grown(cut, WELD + gap), grown(shadow(metal, plate.frame), WELD + gap))
        for gap, metal in near if not metal.is_empty()
    ]
    solid = prism(joined([cut, *welds]), plate.frame, plate.low, high)
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
