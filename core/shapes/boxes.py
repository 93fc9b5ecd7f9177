"""Broad phase: which of many boxes overlap, by a tree that is walked with arrays, level by level."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = ["overlapping_boxes"]

Index = NDArray[np.int64]
Reals = NDArray[np.float64]


def overlapping_boxes(low: Reals, high: Reals) -> Index:
    """(m, 2) pairs i < j of boxes that overlap or touch, sorted. low, high: (n, 3) corners, mm.

    Boxes are sorted into a balanced tree by halving groups along their widest axis; then the tree is met
    with itself, one level at a time, keeping pairs of branches whose boxes overlap. Time grows little
    faster than the number of boxes and of pairs found, whatever the mix of sizes.

    >>> overlapping_boxes(np.array([[0, 0, 0], [1, 1, 1], [5, 5, 5.0]]), np.array([[2, 2, 2], [3, 3, 3], [6, 6, 6.0]]))
    array([[0, 1]])
    """
    count = len(low)
    if count < 2:
        return np.empty((0, 2), dtype=np.int64)
    depth = int(np.ceil(np.log2(count)))
    order = _halved(low + high, depth)
    spare = (1 << depth) - count
    levels = [(
        np.concatenate([low, np.full((spare, 3), np.inf)])[order],
        np.concatenate([high, np.full((spare, 3), -np.inf)])[order],
    )]
    for _ in range(depth):
        lows, highs = levels[-1]
        levels.append((np.minimum(lows[::2], lows[1::2]), np.maximum(highs[::2], highs[1::2])))
    a = b = np.zeros(1, dtype=np.int64)
    for lows, highs in reversed(levels[:-1]):
        same = a == b
        a, b = (
            np.concatenate([2 * a, 2 * a, 2 * a + 1, (2 * a + 1)[~same]]),
            np.concatenate([2 * b, 2 * b + 1, 2 * b + 1, (2 * b)[~same]]),
        )
        meet = np.all((lows[a] <= highs[b]) & (lows[b] <= highs[a]), axis=1)
        a, b = a[meet], b[meet]
    a, b = order[a[a != b]], order[b[a != b]]
    pairs = np.stack([np.minimum(a, b), np.maximum(a, b)], axis=1)
    return np.asarray(pairs[np.lexsort((pairs[:, 1], pairs[:, 0]))])


def _halved(centres: Reals, depth: int) -> Index:
    """(2 ** depth,) an order that keeps near boxes together; indices past the boxes are spare places."""
    spare = (1 << depth) - len(centres)
    padded = np.concatenate([centres, np.repeat(centres.max(axis=0, keepdims=True), spare, axis=0)])
    order = np.arange(1 << depth)
    for level in range(depth):
        groups = order.reshape(1 << level, -1)
        inside = padded[groups]
        widest = np.argmax(inside.max(axis=1) - inside.min(axis=1), axis=1)
        along = np.take_along_axis(inside, widest[:, None, None], axis=2)[:, :, 0]
        order = np.take_along_axis(groups, np.argsort(along, axis=1, kind="stable"), axis=1).reshape(-1)
    return order
