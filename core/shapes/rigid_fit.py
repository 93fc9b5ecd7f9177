"""Turning and shifting one outline onto others: which motions make it fit, and how well.

For corners z of one outline and w of another, both about their means, the turn that brings corner j to
corner j + k with the least squares is the direction of c[k] = sum over j of w[j + k] conj(z[j]), and what it
leaves is sum |z|^2 + sum |w|^2 - 2 |c[k]| (the plane's case of the Kabsch fit). c for all k at once is a
circular cross-correlation, so one Fourier transform answers for every start of the ring.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely
from numpy.typing import NDArray

from .outline_stack import OutlineStack

__all__ = ["count_fits", "first_fits", "sorted_profile"]

Complex = NDArray[np.complex128]
Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

_ROUNDING = 1e-13  # of the squared size: what cancellation leaves of a perfect fit, with room
_AT_ONCE = 2**20   # runs compared in one go: bounds the memory, about 50 MB
_DIRECTION = np.array([1.0, 0.7548776662, 0.5698402910, 0.4301597090, 0.3247179572])
"""Powers of the inverse plastic number (root of x^3 = x + 1): a direction no drawn pattern is square to."""


def first_fits(piece: OutlineStack, others: OutlineStack, limit: float) -> tuple[Bools, Floats]:
    """Which of `others` (m,) the one outline of `piece` fits, and the motions (m, 3, 3) that bring it there.

    limit: mm, the most any corner, hole run or circle may be off, in place or size. The outer contours are
    laid on each other with the least squares; where several starts of the ring fit, the first is taken.
    """
    turns, possible = _turns(piece, others, limit)
    found = np.zeros(len(others.index), dtype=bool)
    motions = np.tile(np.eye(3), (len(found), 1, 1))
    todo = np.flatnonzero(possible.any(axis=1))
    while todo.size:
        shift = possible[todo].argmax(axis=1)
        turn = turns[todo, shift]
        good = np.concatenate([
            _agree(piece, others, todo[part], shift[part], turn[part], limit)
            for part in _parts(todo.size, piece)
        ])
        hit, turn = todo[good], turn[good]
        move = others.outer[hit].mean(axis=1) - turn * piece.outer.mean()
        motions[hit, 0, 0] = motions[hit, 1, 1] = turn.real
        motions[hit, 1, 0], motions[hit, 0, 1] = turn.imag, -turn.imag
        motions[hit, 0, 2], motions[hit, 1, 2] = move.real, move.imag
        found[hit] = True
        possible[todo, shift] = False
        todo = todo[~good & possible[todo].any(axis=1)]
    return found, motions


def count_fits(piece: OutlineStack, other: OutlineStack, limit: float) -> int:
    """In how many ways the one outline of `piece` fits the one of `other` by turning and shifting."""
    if piece.outer.shape != other.outer.shape or piece.hole_from.shape != other.hole_from.shape:
        return 0
    turns, possible = _turns(piece, other, limit)
    shift = np.flatnonzero(possible[0])
    return sum(
        int(_agree(piece, other, np.zeros_like(shift[part]), shift[part], turns[0, shift[part]], limit).sum())
        for part in _parts(shift.size, piece)
    )


def sorted_profile(start: Complex, end: Complex, size: Floats) -> Floats:
    """(m, q) one number a run, ascending: runs that are the same set, in any order, give the same numbers.

    start, end: (m, q) complex; size: (m, q). Numbers move by at most 3.1 mm when the runs' ends move by 1 mm.
    """
    return np.sort(_along(start, end, size), axis=-1)


def _along(start: Complex, end: Complex, size: Floats) -> Floats:
    parts = (start.real, start.imag, end.real, end.imag, size)
    return np.asarray(sum(weight * part for weight, part in zip(_DIRECTION, parts, strict=True)))


def _turns(piece: OutlineStack, others: OutlineStack, limit: float) -> tuple[Complex, Bools]:
    """Best turn (m, n) for each start of the other's ring, and whether its mean error allows a fit."""
    z = piece.outer[0] - piece.outer[0].mean()
    w = others.outer - others.outer.mean(axis=1, keepdims=True)
    match = np.fft.ifft(np.fft.fft(w, axis=1) * np.fft.fft(z).conj(), axis=1)
    size = np.abs(match)
    squares = (z * z.conj()).real.sum() + (w * w.conj()).real.sum(axis=1)[:, None]
    possible = squares - 2 * size <= z.size * limit**2 + _ROUNDING * squares
    return match / np.where(size > 0, size, 1), possible & (size > 0)


def _agree(
    piece: OutlineStack, others: OutlineStack, rows: Ints, shift: Ints, turn: Complex, limit: float
) -> Bools:
    """(p,) whether `piece`, turned by turn[i] with its corner 0 on corner shift[i], fits the other rows[i]."""
    corners = (np.arange(piece.outer.shape[1]) + shift[:, None]) % piece.outer.shape[1]
    there = others.outer[rows[:, None], corners]
    centre, turn = piece.outer.mean(), turn[:, None]
    target = there.mean(axis=1, keepdims=True)
    off = np.abs((piece.outer - centre) * turn + target - there).max(axis=1)
    arcs = np.abs(piece.sagitta - others.sagitta[rows[:, None], corners]).max(axis=1)
    good: Bools = (off <= limit) & (arcs <= limit)
    if piece.hole_from.shape[1] and good.any():
        row, turn, target = rows[good], turn[good], target[good]
        good[good] = _same_runs(
            (piece.hole_from - centre) * turn + target,
            (piece.hole_to - centre) * turn + target,
            np.broadcast_to(piece.hole_size, (len(row), piece.hole_size.shape[1])),
            others.hole_from[row],
            others.hole_to[row],
            others.hole_size[row],
            limit,
        )
    return good


def _same_runs(
    a_from: Complex,
    a_to: Complex,
    a_size: Floats,
    b_from: Complex,
    b_to: Complex,
    b_size: Floats,
    limit: float,
) -> Bools:
    """(p,) whether two sets of q runs are the same, in whatever order, all arrays (p, q)."""
    along_a, along_b = _along(a_from, a_to, a_size), _along(b_from, b_to, b_size)
    in_a, in_b = np.argsort(along_a, axis=1, kind="stable"), np.argsort(along_b, axis=1, kind="stable")

    def in_order(a: Complex | Floats, b: Complex | Floats) -> Floats:
        return np.asarray(np.abs(np.take_along_axis(a, in_a, 1) - np.take_along_axis(b, in_b, 1)).max(axis=1))

    same: Bools = np.maximum(in_order(a_from, b_from), in_order(a_to, b_to)) <= limit
    same &= in_order(a_size, b_size) <= limit
    # Two runs that lie equally far along may have changed places: those sets are looked at run by run.
    for row in np.flatnonzero(~same & (in_order(along_a, along_b) <= limit * _DIRECTION.sum())):
        tree = shapely.STRtree(shapely.points(b_from[row].real, b_from[row].imag))
        a, b = tree.query(shapely.points(a_from[row].real, a_from[row].imag), predicate="dwithin", distance=limit)
        close = (np.abs(a_to[row, a] - b_to[row, b]) <= limit) & (np.abs(a_size[row, a] - b_size[row, b]) <= limit)
        every = np.arange(a_from.shape[1])
        same[row] = np.isin(every, a[close]).all() and np.isin(every, b[close]).all()
    return same


def _parts(count: int, piece: OutlineStack) -> Iterator[slice]:
    """Slices of 0..count, each small enough to compare in one go."""
    step = max(1, _AT_ONCE // (piece.outer.shape[1] + piece.hole_from.shape[1]))
    for begin in range(0, count, step):
        yield slice(begin, begin + step)
