"""Which things hang together: connected components of a graph, and ragged rows, without a Python loop."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = ["components", "next_in_rows", "numbered", "previous_in_rows", "rows_from_lowest", "spread"]

Index = NDArray[np.int64]


def components(count: int, a: Index, b: Index) -> Index:
    """(count,) for each node the lowest node that links a[i]-b[i] join it to.

    Labels are lowered across the links and then followed to their roots, until nothing changes; the
    rounds grow with the logarithm of the longest chain.

    >>> components(5, np.array([0, 3]), np.array([1, 4])).tolist()
    [0, 0, 2, 3, 3]
    """
    label = np.arange(count, dtype=np.int64)
    while len(a):
        lower = np.minimum(label[a], label[b])
        if np.array_equal(lower, label[a]) and np.array_equal(lower, label[b]):
            break
        np.minimum.at(label, label[a], lower)
        np.minimum.at(label, label[b], lower)
        while not np.array_equal(label, followed := label[label]):
            label = followed
    return label


def numbered(label: Index) -> tuple[Index, int]:
    """Labels renamed 0, 1, 2 … in ascending order of the old ones, and how many there are."""
    names, renamed = np.unique(label, return_inverse=True)
    return renamed.reshape(-1).astype(np.int64), len(names)


def spread(starts: Index, rows: Index) -> tuple[Index, Index]:
    """Positions of all entries of the given ragged rows, and for each the place of its row in `rows`.

    starts: (n + 1,) where each row begins, as in `Mesh.starts`.

    >>> [a.tolist() for a in spread(np.array([0, 3, 7]), np.array([1, 0]))]
    [[3, 4, 5, 6, 0, 1, 2], [0, 0, 0, 0, 1, 1, 1]]
    """
    counts = starts[rows + 1] - starts[rows]
    owner = np.repeat(np.arange(len(rows)), counts)
    before = np.concatenate([[0], np.cumsum(counts)[:-1]]) if len(rows) else counts
    return starts[rows][owner] + np.arange(len(owner)) - before[owner], owner


def next_in_rows(starts: Index) -> Index:
    """For each entry of ragged rows (none empty) the next of its row, the first after the last.

    >>> next_in_rows(np.array([0, 3, 5])).tolist()
    [1, 2, 0, 4, 3]
    """
    after = np.arange(1, starts[-1] + 1)
    after[starts[1:] - 1] = starts[:-1]
    return after


def previous_in_rows(starts: Index) -> Index:
    """For each entry of ragged rows (none empty) the one before it, the last before the first.

    >>> previous_in_rows(np.array([0, 3, 5])).tolist()
    [2, 0, 1, 4, 3]
    """
    before = np.arange(-1, starts[-1] - 1)
    before[starts[:-1]] = starts[1:] - 1
    return before


def rows_from_lowest(values: Index, starts: Index) -> Index:
    """Positions that turn each ragged row (none empty) so that it begins with its lowest value.

    >>> rows_from_lowest(np.array([7, 5, 6, 2, 9]), np.array([0, 3, 5])).tolist()
    [1, 2, 0, 3, 4]
    """
    counts = np.diff(starts)
    owner = np.repeat(np.arange(len(counts)), counts)
    candidates = np.flatnonzero(values == np.minimum.reduceat(values, starts[:-1])[owner])
    _, first = np.unique(owner[candidates], return_index=True)
    turn = candidates[first] - starts[:-1]
    local = np.arange(len(owner)) - starts[owner]
    return np.asarray(starts[owner] + (local + turn[owner]) % counts[owner])
