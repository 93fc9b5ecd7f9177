"""Inner plates that cross: each is cut to half the depth from opposite sides, so that one slides over the other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from ..envelope.envelope import InnerPanel
from .inner_meetings import CrossLine, cross_line, spans_along

__all__ = ["Crossing", "cross_plates"]

Floats = NDArray[np.float64]

OVER = 0.01
"""mm: a slot is cut this far past the plate's edge, so that rounding leaves no film over its mouth."""

LEAST = 1.0
"""mm: a crossing shorter than this is left to trimming."""
INTO = 0.01
"""mm beyond a crossing's middle: where the metal that is cut is looked for."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Crossing:
    """Two inner plates slotted through each other. panels: the one that is put first and the one that comes down
    over it. line: (2, 3) where their middle planes cross, as far as both have metal. thickness_gap: of the
    wider of the two cuts, mm. slots: the cut in each. idle: how much of each cut, mm of its length, lies beyond the
    line: it lets the other pass and stays open."""

    panels: tuple[int, int]
    line: Floats
    angle: float
    thickness_gap: float
    slots: tuple[shapely.Polygon, shapely.Polygon]
    idle: tuple[float, float]

    @property
    def length(self) -> float:
        return float(np.linalg.norm(self.line[1] - self.line[0]))


def cross_plates(
    panels: Sequence[InnerPanel], shapes: tuple[shapely.Polygon, shapely.Polygon], pair: tuple[int, int],
    fit_gap: float, thickness_gaps: tuple[float, float],
) -> list[Crossing]:
    """The crossings of a pair, one for every stretch in which both have metal.

    pair: panel indices, the first is cut from the upper end of the crossing down to its middle, the second from
    the lower end up: lowered along the line, the second goes over the first. fit_gap: between the ends of
    their cuts; thickness_gaps: by which a cut is wider than the first plate, and than the second: mm, both sides
    together.
    """
    one, two = (panels[i] for i in pair)
    line = cross_line(one, two)
    if line is None:
        return []
    runs = [spans_along(line, panels[i], shape) for i, shape in zip(pair, shapes, strict=True)]
    out = []
    for low, high in _common(*runs):
        if high - low < LEAST:
            continue
        middle = (low + high) / 2
        slots = tuple(
            _slot(line, side, panels[pair[side]], panels[pair[1 - side]], shapes[side], middle,
                  (fit_gap / 2, thickness_gaps[1 - side] / 2))
            for side in (0, 1)
        )
        lengths = [slot.area / _width(slot) - (high - low) / 2 for slot in slots]
        out.append(Crossing(
            panels=pair, line=np.array([line.point + low * line.along, line.point + high * line.along]),
            angle=line.angle, thickness_gap=max(thickness_gaps), slots=(slots[0], slots[1]),
            idle=(max(lengths[0], 0.0), max(lengths[1], 0.0))))
    return out


def _width(slot: shapely.Polygon) -> float:
    """Of a rectangle that `_slot` made: its first side lies across the crossing."""
    first, second = np.asarray(slot.exterior.coords)[:2]
    return float(np.linalg.norm(second - first))


def _common(one: list[tuple[float, float]], two: list[tuple[float, float]]) -> list[tuple[float, float]]:
    return [(max(a, c), min(b, d)) for a, b in one for c, d in two if min(b, d) > max(a, c)]


def _slot(
    line: CrossLine, side: int, own: InnerPanel, other: InnerPanel, shape: shapely.Geometry, middle: float,
    clear: tuple[float, float],
) -> shapely.Polygon:
    """The cut in one plate, from the middle of the crossing to where the plate ends, as wide as the other plate
    takes up at that angle, seen square to this one. side: 0 for the plate that is cut upwards, 1 for the other.
    clear: mm kept at the end of the cut, and on each face of the other plate."""
    up = side == 0
    across, way = line.across[side], line.along
    n, m = own.frame.axes[2], other.frame.axes[2]
    lean, rise = float(n @ m), float(across @ m)
    # heights of both plates' faces over the middle planes, which cross at 0
    reached = [
        (height - own_height * lean) / rise
        for own_height in (-own.thickness / 2, own.thickness / 2)
        for height in (-other.thickness / 2, other.thickness / 2)
    ]
    end, face = clear
    gap = face / abs(rise)
    left, right = min(reached) - gap, max(reached) + gap
    at = own.frame.flat(line.point[None])[0]
    x, y = own.frame.axes[:2] @ across, own.frame.axes[:2] @ way
    far = 2.0 * (shape.length + float(np.linalg.norm(at))) + 1.0

    def rectangle(begin: float, end: float) -> shapely.Polygon:
        corners = ((left, begin), (right, begin), (right, end), (left, end))
        return shapely.Polygon([at + x * a + y * b for a, b in corners])

    begin = middle - end if up else middle + end
    whole = shapely.intersection(shape, rectangle(begin, far) if up else rectangle(-far, begin))
    # only the metal that hangs together with the middle: beyond a hole there may be more that stays
    near = shapely.Point(at + y * (begin + (INTO if up else -INTO)) + x * (left + right) / 2)
    parts = [p for p in shapely.get_parts(whole) if p.geom_type == "Polygon"]
    part = min(parts, key=lambda p: p.distance(near))
    reach = (np.asarray(part.exterior.coords) - at) @ y
    return rectangle(begin, float(reach.max()) + OVER) if up else rectangle(float(reach.min()) - OVER, begin)
