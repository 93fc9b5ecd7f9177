"""An inner plate as it was drawn, fitted to what it stands between: lengthened to walls that are near, cut where
they stand in its way, left alone elsewhere."""

from __future__ import annotations

import math

import numpy as np
import shapely
from numpy.typing import NDArray

from . import tolerance
from .rings import HAIR, cleaned, met_again, polygon_parts, rings_of, side_normals

__all__ = ["fit_outline", "lengthened"]

Floats = NDArray[np.float64]

FACING = math.cos(math.radians(45.0))
"""A side is brought to a wall that faces it within 45 degrees; one that leans more is beside it, not before it."""

def fit_outline(drawn: shapely.Geometry, blocked: shapely.Geometry, reach: float) -> list[shapely.Polygon]:
    """What the plate becomes, in its plane: usually one part; several where walls part it. blocked: where
    something stands in its way. Empty where nothing of the drawn plate is free.

    What was drawn past a wall, and no farther than the reach, was meant to end there.
    """
    free = cleaned(shapely.difference(lengthened(drawn, blocked, reach), blocked))
    parts = [part for part in free if shapely.area(shapely.intersection(part, drawn)) > tolerance.VANISH]
    edge = shapely.buffer(blocked, reach + HAIR, join_style="mitre")
    return [part for n, part in enumerate(parts) if n == 0 or not shapely.covers(edge, part)]


def lengthened(drawn: shapely.Geometry, blocked: shapely.Geometry, reach: float) -> shapely.Geometry:
    """The drawn shape with every side, or part of a side, that ends within `reach` of what is blocked moved out
    to it. Neighbouring sides meet again on their own lines."""
    edges = _outlines(blocked)
    if reach < tolerance.TOUCH or not len(edges[0]):
        return drawn
    out = [drawn]
    for part in polygon_parts(drawn):
        for ring in rings_of(part):
            wider = _lengthened_ring(ring, *edges, reach)
            if wider is not None:
                hole = not shapely.LinearRing(ring).is_ccw
                grown = shapely.make_valid(shapely.Polygon(wider))
                # a hole's sides move into it: what they gain is the hole less what remains of it
                out.append(shapely.difference(shapely.Polygon(ring), grown) if hole else grown)
    # where sides meet again at a sharp corner they may enclose ground that is near to nothing
    gained = shapely.difference(shapely.difference(shapely.union_all(out), drawn), blocked)
    ground = shapely.intersection(gained, shapely.buffer(blocked, 2 * reach))
    return shapely.union_all([drawn, *(p for p in polygon_parts(ground) if shapely.dwithin(p, blocked, HAIR))])


def _outlines(shape: shapely.Geometry) -> tuple[Floats, Floats]:
    """(m, 2) starts and ends of all sides, the shape on their left."""
    starts, ends = [np.empty((0, 2))], [np.empty((0, 2))]
    for part in polygon_parts(shape):
        for ring in rings_of(part):
            starts.append(ring)
            ends.append(np.roll(ring, -1, axis=0))
    return np.concatenate(starts), np.concatenate(ends)


def _lengthened_ring(ring: Floats, starts: Floats, ends: Floats, reach: float) -> Floats | None:
    """The ring with its sides broken where they begin and cease to be near, and the near ones moved out; None
    where none is near."""
    normals = side_normals(ring)
    corners: list[Floats] = []
    lines: list[Floats] = []
    out: list[float] = []
    for i, (here, normal) in enumerate(zip(ring, normals, strict=True)):
        there = ring[(i + 1) % len(ring)]
        length = float(np.linalg.norm(there - here))
        along = (there - here) / max(length, 1e-300)
        for begin, gap in _near(here, along, normal, length, starts, ends, reach):
            corners.append(here + along * begin)
            lines.append(normal)
            out.append(gap)
    if not any(out):
        return None
    points, across = np.array(corners), np.array(lines)
    offsets = np.einsum("ij,ij->i", points, across) + np.array(out)
    return met_again(points, across, offsets)[0]


def _near(
    here: Floats, along: Floats, normal: Floats, length: float, starts: Floats, ends: Floats, reach: float
) -> list[tuple[float, float]]:
    """A side cut into stretches: (where it begins, how far out the wall is, 0 where none is near)."""
    x0, x1 = (starts - here) @ along, (ends - here) @ along
    y0, y1 = (starts - here) @ normal, (ends - here) @ normal
    run = np.hypot(x1 - x0, y1 - y0)
    # a wall's edge faces the side when, with the wall on its left, it runs against the side's direction
    facing = (x0 - x1) > FACING * run
    low, high = np.zeros(len(run)), np.ones(len(run))
    for at, step, least, most in ((x0, x1 - x0, 0.0, length), (y0, y1 - y0, 1e-9, reach)):
        with np.errstate(divide="ignore", invalid="ignore"):
            one, two = (least - at) / step, (most - at) / step
        flat = np.abs(step) < 1e-12
        inside = (at >= least) & (at <= most)
        low = np.maximum(low, np.where(flat, np.where(inside, 0.0, 2.0), np.minimum(one, two)))
        high = np.minimum(high, np.where(flat, np.where(inside, 1.0, -1.0), np.maximum(one, two)))
    hit = np.flatnonzero(facing & (high > low))
    # they run against each other, so where the wall's edge is left is where the stretch begins
    lead, tail = (x0 + share * (x1 - x0) for share in (high, low))
    out_by = np.maximum(y0 + low * (y1 - y0), y0 + high * (y1 - y0))
    # a side at a slant to the wall must go farther where its neighbour prolongs it
    slant = np.abs(y1 - y0) / np.maximum(np.abs(x1 - x0), 1e-12)
    spans: list[list[float]] = np.column_stack([lead, tail, out_by * (1 + 2 * slant)])[hit].tolist()
    merged: list[list[float]] = []
    for begin, end, gap in sorted(spans):
        if merged and begin <= merged[-1][1] + reach:
            merged[-1][1] = max(merged[-1][1], end)
            merged[-1][2] = max(merged[-1][2], gap)
        else:
            merged.append([begin, end, gap])
    # a wall met in passing, at the end of a side that it does not face along its length, is left to the neighbour
    merged = [m for m in merged if m[1] - m[0] > min(0.25 * length, reach)]
    out: list[tuple[float, float]] = []
    done = 0.0
    for begin, end, gap in merged:
        # a stretch that ends as near to the side's end as walls count as near goes on to it: at a hollow corner the
        # wall ends before the side does
        onset = 0.0 if begin < reach else begin
        if onset > done:
            out.append((done, 0.0))
        out.append((onset, gap + HAIR))
        done = length if end > length - reach else end
    if done < length:
        out.append((done, 0.0))
    return out
