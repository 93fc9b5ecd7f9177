"""How inner plates meet each other: one ends on the other, or they cross.

Decided on the drawing: a plate passes through another one's plane where it has metal on both sides of it,
farther out than the reach within which an edge counts as ending there.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from ..envelope.envelope import InnerPanel, importance_key
from ..terms import tolerance

__all__ = [
    "CrossLine", "Meetings", "cross_line", "inner_polygon", "meetings_of", "order_of", "spans_along", "upward",
]

Floats = NDArray[np.float64]

SIDE = 0.2
"""Share of a meeting's length along which a plate must have metal on one side to count as passing through."""

LEAST = 1.0
"""mm: a meeting shorter than this is two corners that touch."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CrossLine:
    """Where the middle planes of two plates cross. point (3,), along (3,) unit. across: for each of the two the
    (3,) unit direction in its plane square to the line. angle: between them, degrees, at most 90."""

    point: Floats
    along: Floats
    across: tuple[Floats, Floats]
    angle: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Meetings:
    """Pairs of indices of inner panels. ends: (one that ends, the one it ends on). crosses: (a, b), a < b."""

    ends: tuple[tuple[int, int], ...]
    crosses: tuple[tuple[int, int], ...]


def inner_polygon(panel: InnerPanel) -> shapely.Geometry:
    """The panel as drawn, in its own plane."""
    rings = [shapely.LinearRing(ring) for ring in panel.rings]
    outer = shapely.union_all([shapely.Polygon(r) for r in rings if r.is_ccw])
    return shapely.difference(outer, shapely.union_all([shapely.Polygon(r) for r in rings if not r.is_ccw]))


def cross_line(one: InnerPanel, two: InnerPanel) -> CrossLine | None:
    """None for planes that are parallel, or nearly."""
    n1, n2 = one.frame.axes[2], two.frame.axes[2]
    along = np.cross(n1, n2)
    sine = float(np.linalg.norm(along))
    if sine < np.sin(np.radians(tolerance.SHARPEST - tolerance.ANGLE_NOISE)):
        return None
    along = along / sine
    along = along * upward(along)
    heights = [n @ p.frame.origin + p.low + p.thickness / 2 for n, p in ((n1, one), (n2, two))]
    middle = (one.frame.origin + two.frame.origin) / 2
    point = np.linalg.solve(np.array([n1, n2, along]), np.array([*heights, along @ middle]))
    angle = float(np.degrees(np.arctan2(sine, abs(n1 @ n2))))
    return CrossLine(point=point, along=along, across=(np.cross(n1, along), np.cross(n2, along)), angle=angle)


def upward(along: Floats) -> float:
    """The sign that makes a direction point up, or where it is level along y, or x: from geometry alone."""
    for value in along[::-1]:
        if abs(value) > tolerance.SAME_WAY:
            return float(np.sign(value))
    return 1.0


def meetings_of(panels: Sequence[InnerPanel], reach: float) -> Meetings:
    """Every pair of inner panels that meet, near enough."""
    shapes = [inner_polygon(p) for p in panels]
    rank = {i: r for r, i in enumerate(sorted(range(len(panels)), key=lambda i: importance_key(panels[i], i)))}
    boxes = np.array([_box(p) for p in panels]).reshape(-1, 2, 3)
    ends: list[tuple[int, int]] = []
    crosses: list[tuple[int, int]] = []
    for i in range(len(panels)):
        room = reach + panels[i].thickness
        near = (boxes[i, 0] - room <= boxes[i + 1 :, 1]).all(axis=1) & (boxes[i + 1 :, 0] - room <= boxes[i, 1]).all(1)
        for j in (np.flatnonzero(near) + i + 1).tolist():
            line = cross_line(panels[i], panels[j])
            if line is None:
                continue
            sides = _passing(line, (panels[i], panels[j]), (shapes[i], shapes[j]), reach)
            if sides is None:
                continue
            if all(sides):
                crosses.append((i, j))
            elif sides[0] or (not sides[1] and rank[i] < rank[j]):
                ends.append((j, i))
            else:
                ends.append((i, j))
    return Meetings(ends=tuple(ends), crosses=tuple(crosses))


def order_of(panels: Sequence[InnerPanel], meetings: Meetings) -> list[int]:
    """All panels so that a plate comes after those it ends on; in a ring of them the most important goes first."""
    waiting = sorted(range(len(panels)), key=lambda i: importance_key(panels[i], i))
    out: list[int] = []
    while waiting:
        left = set(waiting)
        ready = [i for i in waiting if not any(a == i and b in left for a, b in meetings.ends)]
        out.append(ready[0] if ready else waiting[0])
        waiting.remove(out[-1])
    return out


def _box(panel: InnerPanel) -> Floats:
    points = np.concatenate([panel.frame.solid(ring) for ring in panel.rings])
    return np.array([points.min(axis=0), points.max(axis=0)])


def _passing(
    line: CrossLine, panels: tuple[InnerPanel, InnerPanel], shapes: tuple[shapely.Geometry, shapely.Geometry],
    reach: float,
) -> tuple[bool, bool] | None:
    """For each of two panels, whether it passes through the other's plane where they meet; None if they do not."""
    sine = np.sin(np.radians(line.angle))
    cosine = np.cos(np.radians(line.angle))
    spans = []
    for side in (0, 1):
        wider = shapely.buffer(shapes[side], reach + panels[1 - side].thickness, join_style="mitre")
        spans.append(_along(line, panels[side], wider, side, 0.0))
    common = shapely.intersection(*spans)
    if common.length < LEAST:
        return None
    passes = []
    for side in (0, 1):
        own, other = panels[side], panels[1 - side]
        off = reach + (other.thickness + own.thickness * cosine) / 2 / sine
        covered = [
            shapely.intersection(_along(line, own, shapes[side], side, sign * off), common).length
            for sign in (-1.0, 1.0)
        ]
        passes.append(min(covered) > SIDE * common.length)
    return passes[0], passes[1]


def _along(
    line: CrossLine, panel: InnerPanel, shape: shapely.Geometry, side: int, off: float
) -> shapely.Geometry:
    """The stretches of `spans_along` on the x axis."""
    spans = spans_along(line, panel, shape, off * line.across[side])
    return shapely.union_all([shapely.LineString([(low, 0.0), (high, 0.0)]) for low, high in spans])


def spans_along(
    line: CrossLine, panel: InnerPanel, shape: shapely.Geometry, off: Floats | float = 0.0
) -> list[tuple[float, float]]:
    """From where to where the crossing, or a line parallel to it and `off` (3,) away in the panel's plane, runs over
    a shape of that plane; measured along the crossing from its point, ascending."""
    at = panel.frame.flat((line.point + off)[None])[0]
    way = panel.frame.axes[:2] @ line.along
    far = 2.0 * (shape.length + float(np.linalg.norm(at))) + 1.0
    run = shapely.intersection(shapely.LineString([at - far * way, at + far * way]), shape)
    spans = []
    for part in shapely.get_parts(run):
        if part.geom_type == "LineString" and not part.is_empty:
            x = (np.asarray(part.coords) - at) @ way
            spans.append((float(x.min()), float(x.max())))
    return sorted(spans)
