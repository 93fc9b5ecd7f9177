"""The nearest points that fulfil linear conditions: a sparse system solved directly, level by level.

Conditions reach from point to neighbouring point only. Sorted by how many steps away from one end of the drawing
they lie, they couple with those of the levels before and after alone, so that the matrix is block tridiagonal.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..shapes.connectivity import spread

__all__ = ["Levels"]

Index = NDArray[np.int64]
Reals = NDArray[np.float64]

_LEAST = 64
"""Rows of a block at least: smaller ones cost more in calls than in arithmetic."""

_STIFFER = 1e3
"""How much more give each row gets where rounding has left the matrix singular."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Block:
    """rows: of this block. entry: which entries are theirs; row, column: where these stand in the block's matrix of
    shape (len(rows), 3 * width). mine, next: columns of points shared with the next block, there and here."""

    rows: Index
    entry: Index
    row: Index
    column: Index
    width: int
    mine: Index
    next: Index


class Levels:
    """The pattern of a set of rows, each a sum over points of a vector times the point's move.

    row, point: (e,) of every entry. free: (n,) whether a point can move.
    """

    def __init__(self, row: Index, point: Index, count: int, free: NDArray[np.bool_]) -> None:
        self.row, self.point, self.count = row, point, count
        level = _levels_of_rows(row, point, count, free)
        blocks = _merged(level)
        self.blocks = [self._block(blocks, i) for i in range(int(blocks.max(initial=-1)) + 1)]
        points = [np.unique(point[block.entry]) for block in self.blocks]
        for i in range(len(self.blocks) - 1):
            _, mine, following = np.intersect1d(points[i], points[i + 1], return_indices=True)
            old = self.blocks[i]
            self.blocks[i] = _Block(rows=old.rows, entry=old.entry, row=old.row, column=old.column, width=old.width,
                                    mine=_thrice(mine), next=_thrice(following))

    def _block(self, block_of_row: Index, block: int) -> _Block:
        rows = np.flatnonzero(block_of_row == block)
        entry = np.flatnonzero(block_of_row[self.row] == block)
        points, column = np.unique(self.point[entry], return_inverse=True)
        none = np.empty(0, dtype=np.int64)
        return _Block(rows=rows, entry=entry, row=np.searchsorted(rows, self.row[entry]),
                      column=column.reshape(-1), width=len(points), mine=none, next=none)

    def solve(self, vectors: Reals, ease: Reals, give: Reals, wanted: Reals) -> Reals:
        """The multipliers y of (J W J' + D) y = wanted, J of the entries' vectors (e, 3).

        ease: (n,) W, how easily each point moves, 0 for one that is held. give: (rows,) D, more than 0.
        """
        while True:
            try:
                return self._solved(vectors, ease, give, wanted)
            except np.linalg.LinAlgError:
                give = give * _STIFFER

    def _solved(self, vectors: Reals, ease: Reals, give: Reals, wanted: Reals) -> Reals:
        scaled = vectors * np.sqrt(ease[self.point])[:, None]
        # from the first block to the last, each freed of the one before; then back
        eased: list[Reals] = []
        rests: list[Reals] = []
        after = self._matrix(0, scaled)
        taken: Reals | None = None
        rest = np.zeros(0)
        for i, block in enumerate(self.blocks):
            matrix = after
            own = matrix @ matrix.T
            own[np.diag_indices_from(own)] += give[block.rows]
            mine = wanted[block.rows]
            if taken is not None:
                own -= taken.T @ eased[-1]
                mine = mine - taken.T @ rest
            taken = None
            if i + 1 < len(self.blocks):
                after = self._matrix(i + 1, scaled)
                taken = matrix[:, block.mine] @ after[:, block.next].T
            solved = np.linalg.solve(own, np.column_stack([mine] if taken is None else [mine, taken]))
            rest = solved[:, 0]
            rests.append(rest)
            eased.append(solved[:, 1:])
        out = np.zeros(self.count)
        following = np.zeros(0)
        for block, rest, coupled in zip(reversed(self.blocks), reversed(rests), reversed(eased), strict=True):
            following = rest - coupled @ following if coupled.shape[1] else rest
            out[block.rows] = following
        return out

    def _matrix(self, block: int, scaled: Reals) -> Reals:
        """(rows, 3 columns) a block's entries as a full matrix."""
        one = self.blocks[block]
        out = np.zeros((len(one.rows), one.width, 3))
        np.add.at(out, (one.row, one.column), scaled[one.entry])
        return out.reshape(len(one.rows), -1)


def _thrice(columns: Index) -> Index:
    return (3 * columns[:, None] + np.arange(3)).reshape(-1)


def _merged(level: Index) -> Index:
    """(rows,) numbers of blocks: consecutive levels put together until a block is worth its calls."""
    sizes = np.bincount(level)
    block, filled = np.zeros(len(sizes), dtype=np.int64), 0
    for i in range(1, len(sizes)):
        filled += int(sizes[i - 1])
        full = filled >= _LEAST
        block[i] = block[i - 1] + full
        filled = 0 if full else filled
    return block[level]


def _levels_of_rows(row: Index, point: Index, count: int, free: NDArray[np.bool_]) -> Index:
    """(rows,) how many steps from its part's end each row lies, parts one after another. Two rows that share a free
    point are at most one level apart."""
    keep = free[point]
    row, point = row[keep], point[keep]
    by_row, by_point = np.argsort(row, kind="stable"), np.argsort(point, kind="stable")
    row_starts = np.searchsorted(row[by_row], np.arange(count + 1))
    point_starts = np.searchsorted(point[by_point], np.arange(len(free) + 1))
    points_of, rows_of = point[by_row], row[by_point]

    def walk(first: int, from_level: int, level: Index) -> tuple[int, int]:
        """Number the rows reached from a row; one of the last, and the level after it."""
        front, last = np.array([first]), first
        level[first] = from_level
        while len(front):
            last = int(front[0])
            touched = np.unique(points_of[spread(row_starts, front)[0]])
            found = np.unique(rows_of[spread(point_starts, touched)[0]])
            from_level += 1
            front = found[level[found] < 0]
            level[front] = from_level
        return last, from_level

    level = np.full(count, -1, dtype=np.int64)
    following = 0
    for first in range(count):
        if level[first] < 0:
            far, _ = walk(first, 0, probe := np.where(level < 0, -1, level))
            far, _ = walk(far, 0, np.where(level < 0, -1, level)) if len(np.unique(probe)) > 2 else (far, 0)
            _, following = walk(far, following, level)
    return level
