"""Moves that draw pairs of pieces apart, each as near as can be to the move it was given."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..terms import tolerance

__all__ = ["Apart", "draw_apart"]

Floats = NDArray[np.float64]

_ROUNDS = 200
"""Rounds of correction: what pulls on each other in circles never comes to rest and is left as it is."""

_DONE = 1e-3
"""Share of the largest demand that may be left: it is for looking."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Apart:
    """Demands. pairs: (m, 2) pieces. ways: (m, 3) unit vectors from the second to the first. by: (m,) mm that the
    first must be moved farther along the way than the second, at least."""

    pairs: NDArray[np.int64]
    ways: Floats
    by: Floats

    @staticmethod
    def of(rows: list[tuple[int, int, Floats, float]]) -> Apart:
        return Apart(
            pairs=np.array([row[:2] for row in rows], dtype=np.int64).reshape(-1, 2),
            ways=np.array([row[2] for row in rows], dtype=np.float64).reshape(-1, 3),
            by=np.array([row[3] for row in rows], dtype=np.float64))

    def between(self, chosen: NDArray[np.bool_]) -> Apart:
        """Only the demands between two of the chosen pieces. chosen: (n,)."""
        kept = chosen[self.pairs].all(axis=1)
        return Apart(pairs=self.pairs[kept], ways=self.ways[kept], by=self.by[kept])

    def numbered(self, members: NDArray[np.int64]) -> Apart:
        """The same about a choice of pieces by their places in it. members: sorted, all that are spoken of among
        them."""
        return Apart(pairs=np.searchsorted(members, self.pairs), ways=self.ways, by=self.by)

    def and_also(self, other: Apart) -> Apart:
        return Apart(
            pairs=np.concatenate([self.pairs, other.pairs]), ways=np.concatenate([self.ways, other.ways]),
            by=np.concatenate([self.by, other.by]))


def draw_apart(moves: Floats, apart: Apart, outward: Floats) -> Floats:
    """(n, 3) the moves after the demands are met, or nearly where they contradict each other.

    outward: (n, 3) for each piece a direction against which it is never moved, zero for none. Every demand that is
    not met moves both pieces by the half of what is missing; all are corrected at once and each piece by the mean
    of what is asked of it, so that the order of pieces does not matter and what is symmetric stays so.
    """
    if not len(apart.by):
        return moves
    one, two = apart.pairs.T
    moves = moves.copy()
    asked = tolerance.RELATIVE * float(np.abs(apart.by).max()) + _DONE * float(np.abs(apart.by).max())
    for _ in range(_ROUNDS):
        missing = apart.by - np.einsum("mk,mk->m", moves[one] - moves[two], apart.ways)
        short = missing > 0.0
        if not (missing > asked).any():
            break
        pull = np.where(short, missing / 2, 0.0)[:, None] * apart.ways
        count = np.bincount(one[short], minlength=len(moves)) + np.bincount(two[short], minlength=len(moves))
        step = np.zeros_like(moves)
        np.add.at(step, one, pull)
        np.add.at(step, two, -pull)
        moves += step * (1.0 / np.maximum(count, 1))[:, None]
        back = np.minimum(np.einsum("nk,nk->n", moves, outward), 0.0)
        moves -= back[:, None] * outward
    return moves
