"""How a plate is laid on its drawing: square to the sheet, lying flat, in the corner of the positive quadrant."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from ..terms import tolerance
from .outline import Circle, Hole, Outline
from .outline_stack import OutlineStack, stack_outlines
from .rigid_fit import sorted_profile

__all__ = ["drawing_frame", "drawn"]

Complex = NDArray[np.complex128]
Floats = NDArray[np.float64]

_PARALLEL = 1e-5  # radians: edges within this run the same way; off by 0.01 mm over a metre


def drawing_frame(outline: Outline) -> NDArray[np.float64]:
    """(3, 3) proper motion that takes an outline to its drawing: bounding box at the origin, scale 1:1.

    The axes take the directions, square to each other, along which the outer contour has most straight edge;
    of those ways the flattest is chosen (so it is at least as wide as tall), then the one with more of its
    edge at the bottom. What still ties (a square, a hexagon) is settled by the holes and the corners in order,
    so the drawing depends neither on how the outline came turned nor on where a contour starts.
    """
    (piece,) = stack_outlines([outline])
    turns = _directions(piece)
    boxes = _box(piece, turns)
    for measure in (_height, _middle):
        values = measure(piece, turns, boxes)
        flattest = values <= values.min() + tolerance.TIE
        turns, boxes = turns[flattest], boxes[flattest]
    first = _first_in_order(piece, turns, boxes)
    turn, corner = turns[first], boxes[first, 0]
    return np.array([[turn.real, -turn.imag, -corner.real], [turn.imag, turn.real, -corner.imag], [0.0, 0.0, 1.0]])


def _directions(piece: OutlineStack) -> Complex:
    """(r,) turns that lay the directions with most straight edge along the axes, four quarters of each."""
    edge = np.roll(piece.outer[0], -1) - piece.outer[0]
    straight = edge[piece.sagitta[0] == 0]
    edge = straight if straight.size else edge      # all arcs: their chords must do
    length = np.abs(edge)
    quarter = np.pi / 2
    angle = np.angle(edge) % quarter
    order = np.argsort(angle, kind="stable")
    gaps = np.diff(angle[order], append=angle[order[0]] + quarter)
    start = int(gaps.argmax()) + 1                  # cut the circle of directions where it is emptiest
    order, gaps = np.roll(order, -start), np.roll(gaps, -start)
    bundle = np.concatenate([[0], np.cumsum(gaps[:-1] > _PARALLEL)])
    total = np.bincount(bundle, weights=length[order])
    mean = np.zeros(len(total), dtype=np.complex128)
    np.add.at(mean, bundle, (edge**4 / length**3)[order])   # fourfold angles: quarter turns are alike
    best = mean[total >= total.max() - tolerance.TIE]
    turns = np.exp(-0.25j * np.angle(best))
    return np.asarray((turns[:, None] * np.array([1, 1j, -1, -1j])).reshape(-1))


def _box(piece: OutlineStack, turns: Complex) -> Complex:
    """(r, 2) lower left and upper right corner of the outer contour under each turn, arcs included."""
    here = piece.outer[0] * turns[:, None]
    there, sagitta = np.roll(here, -1, axis=1), piece.sagitta[0]
    chord = there - here
    arc = sagitta != 0
    bulge = 2 * sagitta[arc] / np.abs(chord[0, arc])
    centre = here[:, arc] + chord[:, arc] * (0.5 + 0.25j * (1 - bulge**2) / bulge)
    radius = np.abs(chord[:, arc]) * (1 + bulge**2) / (4 * np.abs(bulge))
    summits = centre[..., None] + radius[..., None] * np.array([1, 1j, -1, -1j])
    beyond = (chord[:, arc, None].conj() * (summits - here[:, arc, None])).imag * np.sign(bulge)[:, None] < 0
    summits = np.where(beyond, summits, here[:, arc, None]).reshape(len(turns), -1)
    reached = np.hstack([here, summits])
    low = reached.real.min(axis=1) + 1j * reached.imag.min(axis=1)
    high = reached.real.max(axis=1) + 1j * reached.imag.max(axis=1)
    return np.column_stack([low, high])


def _height(piece: OutlineStack, turns: Complex, boxes: Complex) -> Floats:
    """(r,) height of the bounding box."""
    return np.asarray((boxes[:, 1] - boxes[:, 0]).imag)


def _middle(piece: OutlineStack, turns: Complex, boxes: Complex) -> Floats:
    """(r,) how high the middle of the outer edge lies over the bottom."""
    here = piece.outer[0]
    there = np.roll(here, -1)
    middle = ((here + there) / 2 * np.abs(there - here)).sum() / np.abs(there - here).sum()
    return np.asarray((middle * turns - boxes[:, 0]).imag)


def _first_in_order(piece: OutlineStack, turns: Complex, boxes: Complex) -> int:
    """Which turn gives the drawing that comes first when drawings are sorted by the places of their runs."""
    if len(turns) == 1:
        return 0
    low = boxes[:, :1]
    start = np.concatenate([piece.outer[0], piece.hole_from[0]]) * turns[:, None] - low
    end = np.concatenate([np.roll(piece.outer[0], -1), piece.hole_to[0]]) * turns[:, None] - low
    size = np.broadcast_to(np.concatenate([piece.sagitta[0], piece.hole_size[0]]), start.shape)
    profile = sorted_profile(start, end, size)
    rows = np.arange(len(turns))
    for column in profile.T:
        if rows.size == 1:
            break
        rows = rows[column[rows] <= column[rows].min() + tolerance.TIE]
    return int(rows[0])


def drawn(outline: Outline, frame: NDArray[np.float64]) -> Outline:
    """The outline in its drawing, to the digits that files write: everything that looks at the kit sees what is cut,
    and nothing hangs on the last binary digits, in which processors differ."""

    def whole(points: Floats) -> Floats:
        return np.asarray(np.round(points, tolerance.WRITE) + 0.0)

    def cut(hole: Hole) -> Hole:
        if isinstance(hole, Circle):
            x, y = whole(np.array(hole.centre)).tolist()
            return replace(hole, centre=(x, y))
        return replace(hole, points=whole(hole.points))

    moved = outline.moved(frame)
    return Outline(
        outer=replace(moved.outer, points=whole(moved.outer.points)), holes=tuple(map(cut, moved.holes)),
        fields=tuple(replace(field, centres=whole(field.centres)) for field in moved.fields))
