"""Outlines that a beam can follow: no run of a contour shorter than what the machine resolves.

Short runs come from everywhere: two setbacks that differ by a rounding, sides that all but vanish, the corner of a
trim beside an older one. So they are taken out in one place, of whatever plate, where its drawing is made. A run
goes in the way that keeps the contour nearest to where it was, among the ways that only take metal off: what did
not stand in another plate's way does not then either.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

import numpy as np
import shapely

from ..terms import tolerance
from .outline import Circle, Contour, Hole, Outline

__all__ = ["followed", "shortest_run"]

Point = tuple[float, float]

_LEAST: Final = 1.01 * tolerance.SHORTEST_RUN
"""mm: runs shorter than this go, so that a length that people draw, and what rounding makes of it, stays."""

_MADE: Final = 1.02 * tolerance.SHORTEST_RUN
"""mm: how long a run is made that is made longer."""

_GAIN: Final = 1e-9
"""mm2 that a way may add: the rounding of a triangle's area."""


def shortest_run(outline: Outline) -> float:
    """Length of the shortest run of the outline's contours, mm; infinite where it is all circles."""
    shapes = (outline.outer, *outline.holes, *(one.shape for one in outline.fields))
    return min((float(_lengths(c).min()) for c in shapes if isinstance(c, Contour)), default=math.inf)


def followed(outline: Outline) -> Outline:
    """The outline without runs shorter than tolerance.SHORTEST_RUN; the same object where it has none.

    Metal is only taken off, but for holes too small to have a run that is long enough: those are not cut.
    """
    if shortest_run(outline) >= _LEAST:
        return outline
    holes = [_hole(hole) for hole in outline.holes]
    fields = [(one, _hole(one.shape)) for one in outline.fields]
    return Outline(
        outer=_followed(outline.outer, outer=True) or outline.outer,
        holes=tuple([hole for hole in holes if hole is not None]),
        fields=tuple([replace(one, shape=shape) for one, shape in fields if shape is not None]))


def _hole(hole: Hole) -> Hole | None:
    return hole if isinstance(hole, Circle) else _followed(hole, outer=False)


def _lengths(contour: Contour) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """(k,) the length of every run; of an arc its chord, which is what a beam sees of so short a one."""
    ahead = np.concatenate([contour.points[1:], contour.points[:1]]) - contour.points
    return np.asarray(np.hypot(ahead[:, 0], ahead[:, 1]))


@dataclass(frozen=True, slots=True)
class _Run:
    """From a point to the next one. bulge: of the run. carried: points of the drawn contour that it stands for."""

    start: Point
    bulge: float = 0.0
    carried: tuple[Point, ...] = ()


@dataclass(frozen=True, slots=True)
class _Way:
    """What three runs become. off: the most that the contour is then off what was drawn, mm. gain: metal added, mm2."""

    runs: tuple[_Run, ...]
    off: float
    gain: float


def _followed(contour: Contour, *, outer: bool) -> Contour | None:
    """The contour without short runs, or None where nothing is left of it."""
    if _lengths(contour).min() >= _LEAST:
        return contour
    backward = (contour.area() > 0) != outer
    runs = _runs_of(contour.reversed() if backward else contour)         # the metal on their left
    sound = _sound(runs)
    while True:
        lengths = [math.dist(run.start, after.start) for run, after in zip(runs, [*runs[1:], runs[0]], strict=True)]
        at = min(range(len(runs)), key=lengths.__getitem__)
        if lengths[at] >= _LEAST:
            break
        if len(runs) <= (2 if any(run.bulge for run in runs) else 3):
            return None
        turned = [*runs[at - 1:], *runs[:at - 1]]
        before, short, after, *rest = turned
        end = rest[0].start if rest else before.start
        ways = sorted(_ways(before, short, after, end), key=_worth)
        runs = next(
            (made for way in ways if _sound(made := [*way.runs, *rest]) or not sound), [*ways[0].runs, *rest])
    done = _contour_of(runs)
    return done.reversed() if backward else done


def _runs_of(contour: Contour) -> list[_Run]:
    bulges = np.zeros(len(contour.points)) if contour.bulges is None else contour.bulges
    return [_Run((x, y), bulge) for (x, y), bulge in zip(contour.points.tolist(), bulges.tolist(), strict=True)]


def _contour_of(runs: list[_Run]) -> Contour:
    curved = any(run.bulge for run in runs)
    return Contour(points=np.array([run.start for run in runs]),
                   bulges=np.array([run.bulge for run in runs]) if curved else None)


def _sound(runs: list[_Run]) -> bool:
    ring = _contour_of(runs).flatten()
    return len(ring) >= 3 and bool(shapely.Polygon(ring).is_valid)


def _worth(way: _Way) -> tuple[bool, bool, int, float]:
    """Ways that add no metal first; of those that stay near, the one with the fewest runs, else the nearest."""
    far = way.off > tolerance.RUN_SHIFT
    return way.gain > _GAIN, far, 0 if far else len(way.runs), way.off


def _ways(before: _Run, short: _Run, after: _Run, end: Point) -> Iterator[_Way]:
    """What the runs p to a, a to b and b to `end` can become, where a to b is too short."""
    p, a, b = before.start, short.start, after.start
    drawn = [p, a, b, end]
    inside = (*short.carried, *(_summit(a, b, short.bulge) if short.bulge else ()))
    hollow = short.bulge < 0                               # an arc that bites into the metal, filled by its chord

    def way(gain: float, *runs: _Run, bent: bool = False) -> _Way:
        return _Way(runs, _off(runs, end, drawn), math.inf if bent else gain)

    # a goes, or b goes; an arc keeps its bend over another chord, which may add metal as well as take it off
    yield way(-_area(p, a, b), replace(before, carried=(*before.carried, a, *inside)), after,
              bent=before.bulge != 0 or hollow)
    yield way(-_area(a, b, end), before, _Run(a, after.bulge, (*inside, b, *after.carried)),
              bent=after.bulge != 0 or hollow)
    if before.bulge or short.bulge or after.bulge:
        return
    # both neighbours' lines go on until they meet
    x = _meeting(p, a, b, end)
    if x is not None and _along(p, a, x) > 0 and _along(end, b, x) > 0:
        yield way(_area(a, x, b), replace(before, carried=(*before.carried, a, *inside)),
                  _Run(x, 0.0, (b, *after.carried)))
    # a convex corner moves back along its neighbour until the run is long enough
    if (there := _back(a, b, p)) is not None:
        yield way(-_area(p, a, b), before, _Run(there, 0.0, (a, *inside)), after)
    if (there := _back(b, a, end)) is not None:
        yield way(-_area(a, b, end), before, replace(short, carried=(*inside, b)), replace(after, start=there))
    # a re-entrant one moves on, deeper into the metal
    size = math.dist(a, b)
    more = _MADE / max(size, tolerance.TOUCH)
    there = (a[0] + (b[0] - a[0]) * more, a[1] + (b[1] - a[1]) * more)
    if math.dist(a, there) >= _LEAST and math.dist(there, end) >= _MADE:
        yield way(_area(b, there, end), before, short, replace(after, start=there))
    there = (b[0] + (a[0] - b[0]) * more, b[1] + (a[1] - b[1]) * more)
    if math.dist(b, there) >= _LEAST and math.dist(there, p) >= _MADE:
        yield way(_area(p, there, a), before, replace(short, start=there), after)


def _off(runs: tuple[_Run, ...], end: Point, drawn: list[Point]) -> float:
    """How far what was carried lies from the runs, and the runs' new points from what was drawn."""
    off = max(_distance(run.start, drawn) for run in runs)
    for run, there in zip(runs, [*(r.start for r in runs[1:]), end], strict=True):
        path = [run.start, *(_summit(run.start, there, run.bulge) if run.bulge else ()), there]
        off = max([off, *(_distance(point, path) for point in run.carried)])
    return off


def _area(a: Point, b: Point, c: Point) -> float:
    """mm2, positive where a, b, c turn left."""
    return 0.5 * ((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]))


def _summit(a: Point, b: Point, bulge: float) -> tuple[Point, ...]:
    """The middle of an arc: half its chord times the bulge off it, to the right where it turns left."""
    return (((a[0] + b[0]) / 2 + (b[1] - a[1]) / 2 * bulge, (a[1] + b[1]) / 2 - (b[0] - a[0]) / 2 * bulge),)


def _along(start: Point, through: Point, point: Point) -> float:
    """How far `point` lies from `start` in the direction of `through`."""
    size = math.dist(start, through)
    if size == 0:
        return 0.0
    return ((point[0] - start[0]) * (through[0] - start[0]) + (point[1] - start[1]) * (through[1] - start[1])) / size


def _meeting(p: Point, a: Point, b: Point, n: Point) -> Point | None:
    """Where the line through p and a crosses the one through b and n, if that can be told."""
    u, v = (a[0] - p[0], a[1] - p[1]), (n[0] - b[0], n[1] - b[1])
    cross = u[0] * v[1] - u[1] * v[0]
    if abs(cross) <= tolerance.TOUCH * math.hypot(*u) * math.hypot(*v):
        return None
    t = ((b[0] - a[0]) * v[1] - (b[1] - a[1]) * v[0]) / cross
    return a[0] + t * u[0], a[1] + t * u[1]


def _back(corner: Point, other: Point, away: Point) -> Point | None:
    """The point on the run from `corner` to `away` that is far enough from `other`, with enough of the run left."""
    size = math.dist(corner, away)
    if size == 0:
        return None
    ux, uy = (away[0] - corner[0]) / size, (away[1] - corner[1]) / size
    x, y = corner[0] - other[0], corner[1] - other[1]
    half = x * ux + y * uy
    by = -half + math.sqrt(max(0.0, half * half - x * x - y * y + _MADE**2))
    return (corner[0] + ux * by, corner[1] + uy * by) if size - by >= _MADE else None


def _distance(point: Point, path: list[Point]) -> float:
    """From a point to a path of straight runs."""
    best = math.inf
    for (ax, ay), (bx, by) in pairwise(path):
        dx, dy = bx - ax, by - ay
        size = dx * dx + dy * dy
        t = 0.0 if size == 0 else min(1.0, max(0.0, ((point[0] - ax) * dx + (point[1] - ay) * dy) / size))
        best = min(best, math.hypot(point[0] - ax - t * dx, point[1] - ay - t * dy))
    return best
