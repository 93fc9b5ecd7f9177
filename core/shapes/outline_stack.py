"""Outlines laid side by side as arrays, so that many are compared at once.

A point of the plane is one complex number x + iy here: turning is multiplication, mirroring is conjugation.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ..terms import tolerance
from .connectivity import next_in_rows, previous_in_rows
from .outline import Circle, Contour, HoleField, Outline

__all__ = ["OutlineStack", "stack_outlines"]

Complex = NDArray[np.complex128]
Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OutlineStack:
    """m outlines with equal counts of points. Lengths in mm.

    index: (m,) ascending, where each stands in the list it came from. outer: (m, n) complex, the outer
    contour's corners. sagitta: (m, n), height of the run from each corner to the next over its chord,
    positive where the arc turns counter-clockwise. hole_from, hole_to: (m, q) complex, the ends of every run
    of every hole contour, those of perforation fields last; a circle is one run from its centre to its centre.
    hole_size: (m, q), the run's sagitta or the circle's diameter. The runs have no order that means anything.
    """

    index: Ints
    outer: Complex
    sagitta: Floats
    hole_from: Complex
    hole_to: Complex
    hole_size: Floats

    def only(self, rows: Ints | slice) -> OutlineStack:
        """Some of the outlines."""
        return replace(
            self, index=self.index[rows], outer=self.outer[rows], sagitta=self.sagitta[rows],
            hole_from=self.hole_from[rows], hole_to=self.hole_to[rows], hole_size=self.hole_size[rows])

    def mirrored(self) -> OutlineStack:
        """Every outline mirrored in the x axis, its contours still running the way they did."""
        return OutlineStack(
            index=self.index,
            outer=np.roll(self.outer[:, ::-1], 1, axis=1).conj(),
            sagitta=self.sagitta[:, ::-1],
            hole_from=self.hole_to.conj(),
            hole_to=self.hole_from.conj(),
            hole_size=self.hole_size,
        )


def stack_outlines(outlines: Sequence[Outline], keys: Sequence[Hashable] | None = None) -> list[OutlineStack]:
    """Outlines sorted into stacks that can be compared: equal keys, equal counts of points and holes, and of runs
    in perforation fields, however these are parted.

    Points on a straight run and repeated points are left out first (tolerance.COLLINEAR). Stacks come in
    the order of their first outline.
    """
    if not outlines:
        return []
    contours: list[Contour] = []
    circles: list[Circle] = []
    first_contour, first_circle = [0], [0]
    for outline in outlines:
        contours.append(outline.outer)
        for hole in outline.holes:
            if isinstance(hole, Circle):
                circles.append(hole)
            else:
                contours.append(hole)
        first_contour.append(len(contours))
        first_circle.append(len(circles))

    points, sagitta, counts = _corners(contours)
    following = next_in_rows(_starts(counts))
    starts = np.concatenate([[0], np.cumsum(counts)])
    centres = np.array([complex(*c.centre) for c in circles], dtype=np.complex128)
    diameters = np.array([c.diameter for c in circles], dtype=np.float64)

    fields = [_field_runs(outline.fields) for outline in outlines]

    members: dict[Hashable, list[int]] = {}
    count_list = counts.tolist()
    for i in range(len(outlines)):
        ring_counts = count_list[first_contour[i] : first_contour[i + 1]]
        rounds = first_circle[i + 1] - first_circle[i]
        shape = (ring_counts[0], tuple(sorted(ring_counts[1:])), rounds, fields[i][0].size)
        members.setdefault((None if keys is None else keys[i], shape), []).append(i)

    stacks = []
    for rows in members.values():
        index = np.array(rows, dtype=np.int64)
        begin = starts[np.asarray(first_contour)[index]][:, None]
        runs = int(starts[first_contour[rows[0] + 1]] - begin[0, 0])     # of all contours of one outline
        corners = int(counts[first_contour[rows[0]]])
        outer, inner = begin + np.arange(corners), begin + np.arange(corners, runs)
        round_ = np.asarray(first_circle)[index][:, None] + np.arange(first_circle[rows[0] + 1] - first_circle[rows[0]])
        field_from, field_to, field_size = (np.array(part) for part in zip(*(fields[i] for i in rows), strict=True))
        stacks.append(
            OutlineStack(
                index=index,
                outer=points[outer],
                sagitta=sagitta[outer],
                hole_from=np.hstack([points[inner], centres[round_], field_from]),
                hole_to=np.hstack([points[following[inner]], centres[round_], field_to]),
                hole_size=np.hstack([sagitta[inner], diameters[round_], field_size]),
            )
        )
    return stacks


def _field_runs(fields: Sequence[HoleField]) -> tuple[Complex, Complex, Floats]:
    """Start, end and size (q,) of every run of every hole of the fields."""
    starts, ends, sizes = [np.zeros(0, dtype=np.complex128)], [np.zeros(0, dtype=np.complex128)], [np.zeros(0)]
    for field in fields:
        centres = field.centres[:, 0] + 1j * field.centres[:, 1]
        if isinstance(field.shape, Circle):
            start = end = centres
            size = np.full(field.count, field.shape.diameter)
        else:
            points, sagitta, _ = _corners([field.shape])
            placed = np.exp(1j * field.angles)[:, None] * points + centres[:, None]
            start, end = placed.ravel(), np.roll(placed, -1, axis=1).ravel()
            size = np.tile(sagitta, field.count)
        starts.append(start)
        ends.append(end)
        sizes.append(size)
    return np.concatenate(starts), np.concatenate(ends), np.concatenate(sizes)


def _corners(contours: Sequence[Contour]) -> tuple[Complex, Floats, Ints]:
    """All corners (N,) complex, the sagitta (N,) of the run from each to the next, the count (r,) by contour."""
    counts = np.array([len(c.points) for c in contours], dtype=np.int64)
    flat = np.concatenate([c.points for c in contours]).astype(np.float64, copy=False)
    points: Complex = flat[:, 0] + 1j * flat[:, 1]
    bulges = np.zeros(len(points))
    starts = np.cumsum(counts) - counts
    for ring, contour in enumerate(contours):
        if contour.bulges is not None:
            bulges[starts[ring] : starts[ring] + counts[ring]] = contour.bulges

    for find in (_repeated, _on_a_straight_run):
        drop = find(points, bulges, counts)
        if drop.any():
            ring_of = np.repeat(np.arange(len(counts)), counts)
            kept = np.bincount(ring_of[~drop], minlength=len(counts))
            drop &= ((kept >= 3) | _curved(bulges, ring_of, len(counts)) & (kept >= 2))[ring_of]  # else nothing is left
            points, bulges = points[~drop], bulges[~drop]
            counts = np.bincount(ring_of[~drop], minlength=len(counts)).astype(np.int64)

    after = points[next_in_rows(_starts(counts))]
    return points, bulges * np.abs(after - points) / 2, counts


def _repeated(points: Complex, bulges: Floats, counts: Ints) -> NDArray[np.bool_]:
    """(N,) whether a point lies on the next one."""
    return np.asarray(np.abs(points[next_in_rows(_starts(counts))] - points) <= tolerance.COLLINEAR)


def _on_a_straight_run(points: Complex, bulges: Floats, counts: Ints) -> NDArray[np.bool_]:
    """(N,) whether a point lies on the straight line between its neighbours."""
    before, after = previous_in_rows(_starts(counts)), next_in_rows(_starts(counts))
    into, out = points - points[before], points[after] - points
    product = into.conj() * out                     # real: dot, imaginary: cross
    span = np.abs(points[after] - points[before])
    straight = (bulges == 0) & (bulges[before] == 0)
    return np.asarray(straight & (product.real > 0) & (np.abs(product.imag) <= tolerance.COLLINEAR * span))


def _curved(bulges: Floats, ring_of: Ints, rings: int) -> NDArray[np.bool_]:
    """(r,) whether a contour has an arc: two points are enough for it then."""
    return np.bincount(ring_of[bulges != 0], minlength=rings) > 0


def _starts(counts: Ints) -> Ints:
    """(r + 1,) where each contour of `counts` points begins."""
    return np.concatenate([[0], np.cumsum(counts)]).astype(np.int64)
