"""An inner plate as it was drawn, fitted to what it stands between: the sides that stand on something brought to it,
cut where it is in their way, the free sides left on their own lines."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from ..shapes.rings import HAIR, cleaned, joined, less, met_again, polygon_parts, rings_of, shared, side_normals
from ..terms import tolerance

__all__ = ["fit_outline", "lengthened"]

Floats = NDArray[np.float64]

LEAN = math.tan(math.radians(10.0))
"""A side that leans more than 10 degrees from a wall is a free side that runs to it, or past it, and no side drawn
roughly along it. Common practice, no source: nobody draws the foot of a plate so far askew, and who draws a chamfer or
a sloped edge leans it more."""

ASKEW = math.tan(math.radians(1.0))
"""The same for a side of which one end lies on the wall already: it was drawn to end there."""

ON = 2 * tolerance.FLAT
"""mm: an end this near to a wall lies on it: walls as drawn may be off their planes by FLAT."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Walls:
    """What is blocked, and its outlines side by side. starts, ends: (m, 2), the blocked ground on their left."""

    ground: shapely.Geometry
    starts: Floats
    ends: Floats

    def ends_hollow(self, wall: int, at: Floats, along: Floats) -> bool:
        """Whether the line of a wall, over a point where it ends, runs on into blocked ground along a direction."""
        base = self.starts[wall]
        way = (self.ends[wall] - base) / np.linalg.norm(self.ends[wall] - base)
        x, y = base + way * float(way @ (at - base)) + way * math.copysign(HAIR, float(way @ along))
        return bool(shapely.intersects_xy(self.ground, x, y))


def fit_outline(drawn: shapely.Geometry, blocked: shapely.Geometry, reach: float) -> list[shapely.Polygon]:
    """What the plate becomes, in its plane: usually one part; several where walls part it. blocked: where
    something stands in its way. Empty where nothing of the drawn plate is free.

    What was drawn past a wall, and no farther than the reach, was meant to end there.
    """
    free = cleaned(less(lengthened(drawn, blocked, reach), blocked))
    parts = [part for part in free if shared(part, drawn).area > tolerance.VANISH]
    edge = shapely.buffer(blocked, reach + HAIR, join_style="mitre")
    return [part for n, part in enumerate(parts) if n == 0 or not shapely.covers(edge, part)]


def lengthened(drawn: shapely.Geometry, blocked: shapely.Geometry, reach: float) -> shapely.Geometry:
    """The drawn shape with every side, or part of a side, that stands on what is blocked brought to it: it lies within
    `reach` of it all along. Free sides stay on their own lines, and go along these to where the others are then."""
    walls = _walls_of(blocked)
    if reach < tolerance.TOUCH or not len(walls.starts):
        return drawn
    out = [drawn]
    for part in polygon_parts(drawn):
        for ring in rings_of(part):
            wider = _brought(ring, walls, reach)
            if wider is not None:
                hole = not shapely.LinearRing(ring).is_ccw
                grown = shapely.make_valid(shapely.Polygon(wider))
                # a hole's sides move into it: what they gain is the hole less what remains of it
                out.append(less(shapely.Polygon(ring), grown) if hole else grown)
    # where sides meet again at a sharp corner they may enclose ground that is near to nothing
    gained = less(less(joined(out), drawn), blocked)
    ground = shared(gained, shapely.buffer(blocked, 2 * reach))
    return joined([drawn, *(p for p in polygon_parts(ground) if shapely.dwithin(p, blocked, HAIR))])


def _walls_of(shape: shapely.Geometry) -> _Walls:
    rings = [ring for part in polygon_parts(shape) for ring in rings_of(part)]
    none = np.empty((0, 2))
    return _Walls(
        ground=shape, starts=np.concatenate([none, *rings]),
        ends=np.concatenate([none, *(np.roll(ring, -1, axis=0) for ring in rings)]))


def _brought(ring: Floats, walls: _Walls, reach: float) -> Floats | None:
    """The ring with the stretches that stand on a wall on that wall's line, and all others on their own; None where
    none does."""
    corners: list[Floats] = []
    across: list[Floats] = []
    offsets: list[float] = []

    def go_on(corner: Floats, normal: Floats, through: Floats) -> None:
        corners.append(corner)
        across.append(normal)
        offsets.append(float(normal @ through))

    standing = False
    for here, there, normal in zip(ring, np.roll(ring, -1, axis=0), side_normals(ring), strict=True):
        along = np.array([-normal[1], normal[0]])
        before: int | None = None
        for begin, wall in _stretches(here, there, normal, walls, reach):
            corner = here + along * begin
            if before is not None and min(before, wall) < 0:
                go_on(corner, along, corner)                 # a step: what it stands on ends here, or begins
            if wall < 0:
                go_on(corner, normal, here)
            else:
                way = walls.ends[wall] - walls.starts[wall]
                go_on(corner, np.array([-way[1], way[0]]) / np.linalg.norm(way), walls.starts[wall])
                standing = True
            before = wall
    return met_again(np.array(corners), np.array(across), np.array(offsets))[0] if standing else None


def _stretches(
    here: Floats, there: Floats, normal: Floats, walls: _Walls, reach: float
) -> list[tuple[float, int]]:
    """A side cut into stretches: (where it begins, the wall that it stands on, -1 where it stands on none)."""
    length = float(np.linalg.norm(there - here))
    along = (there - here) / max(length, tolerance.NONZERO)
    groups = _grouped(_standing(here, normal, length, walls, reach), reach)
    out: list[tuple[float, int]] = []
    done = 0.0
    for group in groups:
        # a wall met in passing, at the end of a side that does not stand on it, is left to the neighbour
        if group[-1][1] - group[0][0] <= min(0.25 * length, reach):
            continue
        # a stretch that ends as near to the side's end as walls count as near goes on to it, and at a hollow corner,
        # where the wall ends before the side does, any
        first, last = group[0], group[-1]
        near_start = first[0] < reach or (not out and walls.ends_hollow(first[2], here + along * first[0], -along))
        near_end = last[1] > length - reach or (
            group is groups[-1] and walls.ends_hollow(last[2], here + along * last[1], along))
        onset = 0.0 if near_start else first[0]
        if onset > done:
            out.append((done, -1))
        out.append((onset, first[2]))
        out += [(begin, wall) for begin, _, wall in group[1:]]
        done = length if near_end else last[1]
    if done < length:
        out.append((done, -1))
    return out


def _standing(
    here: Floats, normal: Floats, length: float, walls: _Walls, reach: float
) -> list[tuple[float, float, int]]:
    """From where to where a side lies along a wall that is before it, the nearest one, within the reach at both ends
    of what they have side by side."""
    along = np.array([-normal[1], normal[0]])
    x0, x1 = (walls.starts - here) @ along, (walls.ends - here) @ along
    y0, y1 = (walls.starts - here) @ normal, (walls.ends - here) @ normal
    # a wall's edge faces the side when, with the wall on its left, it runs against the side's direction
    back = np.maximum(x0 - x1, tolerance.RELATIVE)
    slope = (y0 - y1) / back
    low, high = np.maximum(x1, 0.0), np.minimum(x0, length)
    gaps = np.column_stack([y1 + slope * (low - x1), y1 + slope * (high - x1)])
    near = (high - low > tolerance.ROUNDING) & (gaps.max(axis=1) > tolerance.ROUNDING)
    near &= np.abs(gaps).max(axis=1) <= reach
    ends_on = (np.abs(gaps) <= ON) & np.column_stack([low <= ON, high >= length - ON])
    lean = np.abs(slope)
    meant = (lean <= LEAN) & ((lean <= ASKEW) | (ends_on[:, 0] == ends_on[:, 1]))
    rows = np.flatnonzero(near & meant)
    cuts = np.unique(np.concatenate([low[rows], high[rows]]))
    out: list[tuple[float, float, int]] = []
    for begin, end in zip(cuts[:-1].tolist(), cuts[1:].tolist(), strict=True):
        over = rows[(low[rows] <= begin) & (high[rows] >= end)]
        if len(over):
            gap = y1[over] + slope[over] * ((begin + end) / 2 - x1[over])
            wall = int(over[np.argmin(np.where(gap > 0, gap, np.inf))])
            if out and out[-1][2] == wall and out[-1][1] == begin:
                begin = out.pop()[0]
            out.append((begin, end, wall))
    return out


def _grouped(spans: list[tuple[float, float, int]], reach: float) -> list[list[tuple[float, float, int]]]:
    """The spans together that are no farther apart than the reach."""
    out: list[list[tuple[float, float, int]]] = []
    for span in spans:
        if out and span[0] <= out[-1][-1][1] + reach:
            out[-1].append(span)
        else:
            out.append([span])
    return out
