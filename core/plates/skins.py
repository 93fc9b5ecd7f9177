"""The surfaces the metal ends at: the inner and outer skin of the envelope, where their planes cross.

From them come the root line of every joint, the capacity, and the void at every corner. Each is a sum over
panels, sides and corners, so that one pass serves all panels.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..envelope.envelope import Envelope
from ..terms import tolerance
from .joints import Joints
from .moved_edges import Moved, Sides, move_sides

__all__ = ["RootLines", "capacities", "corner_voids", "root_lines"]

Floats = NDArray[np.float64]

_PLAIN = 0.05
"""Sine below which a ring's corner is a point on a straight run, or a needle: it has no void of its own."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RootLines:
    """Where every edge's root line runs. start, end: (m,) along the edge's axis, mm. points: (m, 2, 3) in the
    envelope's frame (recentred). gone: (m,) lines of which nothing is left: they are a point. of_sides: (s, 2) from
    where to where along its edge's axis every side of the panels' root polygons runs."""

    start: Floats
    end: Floats
    points: Floats
    gone: NDArray[np.bool_]
    of_sides: Floats

    @property
    def length(self) -> Floats:
        return np.maximum(self.end - self.start, 0.0)


def root_lines(envelope: Envelope, joints: Joints, sides: Sides) -> RootLines:
    """The root line of every joint, from corner to corner of the skin it lies on: as far as both of its panels' skins
    reach along it. Where more than three panels meet, one of the two mostly ends before the other."""
    moved = move_sides(sides, joints.root[sides.edge, sides.column])
    count = len(joints.angle)
    one, two = sides.measure(moved.start), sides.measure(moved.end)
    ahead = sides.column == 0
    first, last = np.where(ahead, one, two), np.where(ahead, two, one)
    start, end = np.full(count, -np.inf), np.full(count, np.inf)
    np.maximum.at(start, sides.edge, first)
    np.minimum.at(end, sides.edge, last)
    gone = end - start <= tolerance.TOUCH
    start = np.where(gone, (start + end) / 2, start)
    end = np.where(gone, start, end)
    # the root lies `root` into panel a and below its surface by the depth of the skin
    origin = np.zeros((count, 3))
    frames = np.array([p.frame.axes for p in envelope.panels])[sides.panel]
    into = np.einsum("si,sij->sj", sides.into, frames[:, :2])
    depth = np.where(joints.angle < 180.0, [envelope.panels[p].inner for p in joints.panels[:, 0]],
                     [envelope.panels[p].outer for p in joints.panels[:, 0]])
    depth = np.where(joints.free, 0.0, depth)
    edge = sides.edge[ahead]
    origin[edge] = (sides.axis[edge, 0] + into[ahead] * joints.root[edge, 0][:, None]
                    - frames[ahead, 2] * depth[edge][:, None])
    points = origin[:, None] + sides.axis[:, 1][:, None] * np.stack([start, end], axis=1)[:, :, None]
    return RootLines(start=start, end=end, points=points, gone=gone,
                     of_sides=np.column_stack([first, last]))


def capacities(envelope: Envelope, joints: Joints, sides: Sides) -> tuple[float | None, ...]:
    """Volume inside the inner skin of every shell, mm3; None for a shell that is not closed.

    By the divergence theorem: a third of every inner face's area times its distance from one point. Where
    more than three panels meet, the corners of their inner faces need not coincide; the small gap between
    them is closed by triangles to the drawn corner, which leaves an error of the gap's size cubed.
    """
    moved = move_sides(sides, joints.inner[sides.edge, sides.column])
    area = np.zeros(len(envelope.panels))
    np.add.at(area, sides.panel, _shoelace(moved, sides))
    origin = np.array([p.frame.origin for p in envelope.panels])
    normal = np.array([p.frame.axes[2] for p in envelope.panels])
    inner = np.array([p.inner for p in envelope.panels])
    gaps = _gaps(envelope, sides, moved)
    out: list[float | None] = []
    for shell in envelope.shells:
        rows = np.array(shell.panels)
        middle = origin[rows].mean(axis=0)
        height = ((origin[rows] - middle) * normal[rows]).sum(axis=1) - inner[rows]
        near = gaps[np.isin(sides.panel, rows)] - middle
        closing = np.einsum("ski,ski->sk", near[:, :, 0], np.cross(near[:, :, 1], near[:, :, 2])).sum() / 6
        out.append(max(0.0, float((height * area[rows]).sum() / 3 + closing)) if shell.closed else None)
    return tuple(out)


def _gaps(envelope: Envelope, sides: Sides, moved: Moved) -> Floats:
    """(s, 3, 3, 3) triangles that close the inner skin at its corners: for every side one from its start and one
    from its end, half-way to the same side of the neighbouring panel, and one across its step, if any."""
    frames = np.array([p.frame.axes for p in envelope.panels])[sides.panel]
    base = np.array([p.frame.origin - p.inner * p.frame.axes[2] for p in envelope.panels])[sides.panel]

    def solid(points: Floats) -> Floats:
        return np.asarray(np.einsum("si,sij->sj", points, frames[:, :2]) + base)

    start, end = solid(moved.start), solid(moved.end)
    ahead = sides.column == 0
    ends = np.array([(e.start, e.end) for e in envelope.edges], dtype=np.int64)[sides.edge]
    first = envelope.points[np.where(ahead, ends[:, 0], ends[:, 1])]
    last = envelope.points[np.where(ahead, ends[:, 1], ends[:, 0])]
    # the middle of what the two panels make of each end of their edge; each side closes its own half
    count = np.maximum(np.bincount(sides.edge, minlength=len(envelope.edges)), 1)[:, None]
    low, high = np.zeros((2, len(envelope.edges), 3))
    np.add.at(low, sides.edge, np.where(ahead[:, None], start, end))
    np.add.at(high, sides.edge, np.where(ahead[:, None], end, start))
    low, high = (low / count)[sides.edge], (high / count)[sides.edge]
    met_first = np.where(ahead[:, None], low, high)
    met_last = np.where(ahead[:, None], high, low)
    return np.stack([
        np.stack([first, met_first, start], axis=1),
        np.stack([last, end, met_last], axis=1),
        np.stack([first, start, end[sides.before]], axis=1),
    ], axis=1)


def _shoelace(moved: Moved, sides: Sides) -> Floats:
    """(s,) each side's share of its ring's signed area, the step to the next side included."""
    a, b, c = moved.start, moved.end, moved.start[sides.after]
    twice: Floats = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0] + b[:, 0] * c[:, 1] - b[:, 1] * c[:, 0]
    return np.asarray(np.where(moved.vanished[sides.ring], 0.0, 0.5 * twice))


def corner_voids(envelope: Envelope, joints: Joints, sides: Sides, roots: RootLines) -> Floats:
    """(m, 2) for both ends of every root line, the volume to fill there beyond plates and grooves, mm3. Of what is to
    be filled between two lines at a panel's corner each has half.

    Metal, grooves, crevices and voids together make up the space between the two skins. Split at the
    panels' corners, what the plates and the grooves leave over at a corner is, for each panel there, the
    quadrilateral between the corner of its root polygon and the corner of the skin, summed over the
    thickness, less what the plate itself covers of it. Derived; the sum over a whole body is tested.
    """
    column = sides.column
    root, base = joints.root[sides.edge, column], joints.base[sides.edge, column]
    lower = root - joints.inner[sides.edge, column]          # how far the skin lies past the root polygon
    upper = root - joints.outer[sides.edge, column]
    plate = root - base
    thickness = np.array([p.thickness for p in envelope.panels])[sides.panel]
    prev = sides.before

    sine = sides.along[prev, 0] * sides.along[:, 1] - sides.along[prev, 1] * sides.along[:, 0]
    cosine = -(sides.along[prev] * sides.along).sum(axis=1)  # of the inside angle
    plain = np.abs(sine) < _PLAIN
    sine = np.where(plain, 1.0, sine)

    def integral(x0: Floats, x1: Floats, y0: Floats, y1: Floats) -> Floats:
        return np.asarray(thickness / 6 * (2 * x0 * y0 + x0 * y1 + x1 * y0 + 2 * x1 * y1))

    p, q = (lower[prev], upper[prev]), (lower, upper)
    skin = (2 * integral(*p, *q) + (integral(*p, *p) + integral(*q, *q)) * cosine) / (2 * sine)
    own = thickness * (2 * plate[prev] * plate + (plate[prev] ** 2 + plate**2) * cosine) / (2 * sine)
    share = np.where(plain, 0.0, skin - own)

    # a side whose root polygon ends elsewhere than the joint does gives or takes a piece of groove
    strip = thickness * (lower + upper) / 2 - thickness * plate
    ahead = column == 0
    first, last = roots.of_sides.T
    extra_first = (roots.start[sides.edge] - first) * strip
    extra_last = (last - roots.end[sides.edge]) * strip

    voids = np.zeros((len(envelope.edges), 2))
    np.add.at(voids, (sides.edge, np.where(ahead, 0, 1)), share / 2)
    np.add.at(voids, (sides.edge[prev], np.where(ahead[prev], 1, 0)), share / 2)
    np.add.at(voids[:, 0], sides.edge, extra_first)
    np.add.at(voids[:, 1], sides.edge, extra_last)
    return voids
