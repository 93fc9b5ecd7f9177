"""Cutting away what the closed forms cannot see: the part of a plate that stands in another one's place.

Of two plates the less important gives way, unless that would cut a piece of it off and cutting the other
would not. The shared solid is projected on the plate's plane and cut from its outline through the whole
sheet. Trimming is for corners; where a plate would lose much of itself the envelope is too narrow for its
plates, and that is reported instead.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray

from ..shapes.motions import undone
from ..shapes.outline import Contour, Hole, Outline
from ..shapes.rings import grown, opened, polygon_parts
from ..terms import tolerance
from .clashes import Clash, find_clashes, near_pairs
from .plates import Plate
from .solids import Solids

__all__ = ["Assembly", "Trim", "settle"]

Ints = NDArray[np.int64]

MOST_LOST = 0.25
"""Share of a plate that trimming may take; beyond it the plates do not fit and must be drawn otherwise."""
ROUNDS = 64
"""A plate is cut once a round, so that every cut is made against what is there; no plate has had as many
clashes as this."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Trim:
    """What was cut off a plate: its index, the one that stayed, the volume they shared, the volume cut (mm3),
    the area of what came off with it because nothing held it any longer (mm2), and where."""

    plate: int
    keeper: int
    shared: float
    volume: float
    severed: float
    at: tuple[float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Assembly:
    """Plates that have been checked as solids. pairs: (k, 2) the plates near enough to clash. left: the
    clashes that trimming could not cure."""

    plates: tuple[Plate, ...]
    pairs: Ints
    trims: tuple[Trim, ...]
    left: tuple[Clash, ...]
    solids: Solids


def settle(
    plates: Sequence[Plate], importance: Sequence[int], progress: Callable[[int, int], None] | None = None,
    *, only: Sequence[int] | None = None,
) -> Assembly:
    """The plates with every clash trimmed that can be. importance: rank of each plate, 0 gives way last.
    progress: called with how many pairs have been checked, and of how many. only: plates that are new: pairs
    without any of them are known to be clear."""
    current = tuple(plates)
    solids = Solids(current)
    pairs = near_pairs(current, only)
    trims: list[Trim] = []
    hopeless: dict[tuple[int, int], Clash] = {}
    found = find_clashes(current, solids, pairs, progress)
    for _ in range(ROUNDS):
        clashes = [c for c in found if c.plates not in hopeless]
        if not clashes:
            break
        changed: set[int] = set()
        cut = list(current)
        for clash in clashes:
            if changed.intersection(clash.plates):
                continue                                  # cut already: looked at again in the next round
            keeper, loser = sorted(clash.plates, key=lambda p: importance[p])
            ways = [(loser, keeper, _without(cut[loser], clash))]
            if ways[0][2].severed > 0:
                ways.append((keeper, loser, _without(cut[keeper], clash)))
            ways = [w for w in ways if w[2].outline.area() >= (1 - MOST_LOST) * plates[w[0]].outline.area()]
            if not ways:
                hopeless[clash.plates] = clash
                continue
            plate, other, way = min(ways, key=lambda w: w[2].severed)
            lost = (cut[plate].outline.area() - way.outline.area()) * cut[plate].thickness
            cut[plate] = replace(cut[plate], outline=way.outline)
            trims.append(Trim(plate=plate, keeper=other, shared=clash.volume, volume=lost, severed=way.severed,
                              at=clash.at))
            changed.add(plate)
        current = tuple(cut)
        solids = solids.replaced(current, changed)
        touched = np.isin(pairs, list(changed)).any(axis=1)
        found = find_clashes(current, solids, pairs[touched])
    left = [c for c in found if c.volume > tolerance.CLASH]
    known = {c.plates for c in left}
    left += [c for key, c in sorted(hopeless.items()) if key not in known]
    return Assembly(plates=current, pairs=pairs, trims=tuple(trims), left=tuple(left), solids=solids)


def _without_hairs(rest: shapely.Geometry, cut: shapely.Geometry) -> shapely.Geometry:
    """What is left beside a cut, less what is too narrow for a beam to leave where the cut all but reaches the
    plate's edge: it is a notch then, not a hole."""
    rings = [(part.exterior, ring) for part in polygon_parts(rest) for ring in part.interiors]
    if not any(edge.dwithin(ring, tolerance.SHORTEST_RUN) for edge, ring in rings):
        return rest
    beside = shapely.intersection(rest, grown(cut, 10 * tolerance.SHORTEST_RUN))
    narrow = shapely.get_parts(shapely.difference(beside, opened(beside, tolerance.SHORTEST_RUN)))
    hairs = [part for part in narrow if part.area > 0 and part.dwithin(cut, tolerance.TOUCH)]
    return shapely.difference(rest, grown(shapely.union_all(hairs), tolerance.TOUCH)) if hairs else rest


@dataclass(frozen=True, slots=True, eq=False)
class _Cut:
    """What is left of a plate, and the area of the pieces that came off, mm2."""

    outline: Outline
    severed: float


def _without(plate: Plate, clash: Clash) -> _Cut:
    """The plate less the clash: the largest piece (of no area if nothing is left)."""
    into = undone(plate.place())[:3]
    # where faces touch, the intersection has sheets without volume: they are no clash and cast no shadow
    solid = [s for s in clash.solid.decompose() if s.volume() > tolerance.SPECK]
    rings = [ring for s in solid for ring in s.transform(into).project().to_polygons()]
    shadow = shapely.unary_union([shapely.Polygon(ring) for ring in rings if len(ring) >= 3])
    shadow = shapely.buffer(shadow, tolerance.TRIM_ROOM, join_style="mitre")
    # holes that the cut does not reach stay as exact as they are
    shapes = [shapely.Polygon(h.flatten()) for h in plate.outline.holes]
    reached = [shapely.intersects(shadow, shape) for shape in shapes]
    clear = [(h, s) for h, s, cut in zip(plate.outline.holes, shapes, reached, strict=True) if not cut]
    whole = shapely.Polygon(
        plate.outline.outer.flatten(),
        [s.exterior.coords for s, cut in zip(shapes, reached, strict=True) if cut])
    rest = _without_hairs(shapely.difference(whole, shadow), shadow)
    parts = [g for g in shapely.get_parts(rest) if g.geom_type == "Polygon"]
    largest = max(parts, key=lambda g: g.area, default=shapely.Polygon()).simplify(tolerance.TOUCH)
    if largest.area < tolerance.VANISH:
        return _Cut(Outline(outer=Contour(points=np.zeros((3, 2)))), float(rest.area))
    severed = float(rest.area - largest.area)
    largest = shapely.geometry.polygon.orient(largest)
    kept: list[Hole] = [Contour(points=np.array(r.coords[:-1])) for r in largest.interiors]
    kept += [hole for hole, shape in clear if shapely.contains(largest, shape)]
    outline = Outline(outer=Contour(points=np.array(largest.exterior.coords[:-1])), holes=tuple(kept))
    return _Cut(outline, severed if severed > tolerance.VANISH else 0.0)
