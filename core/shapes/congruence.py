"""Which plates are the same piece: equal under a turn and a shift of the plane, never under a mirror.

A mirrored plate is another piece, for its outside face must stay outside.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..terms import tolerance
from .outline import Outline
from .outline_stack import OutlineStack, stack_outlines
from .rigid_fit import first_fits

__all__ = ["Group", "congruence_groups"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Group:
    """Outlines that are one piece. representative: the index of the first of them.

    members: ascending, the representative first; each an index and the (3, 3) proper motion that takes the
    representative's coordinates to the member's.
    """

    representative: int
    members: tuple[tuple[int, NDArray[np.float64]], ...]


def congruence_groups(
    outlines: Sequence[Outline], keys: Sequence[Hashable], limit: float = tolerance.CONGRUENT
) -> list[Group]:
    """Groups of congruent outlines with equal keys, in the order of their representatives.

    keys: one an outline, of whatever else makes a piece another (thickness, material, metal side).
    limit: mm, the most any corner, arc, hole or circle may differ after the outer corners are laid on each
    other with the least squares. Every member is compared with the representative alone, so two members may
    differ by twice the limit. Where a contour starts does not matter, nor the order of the holes.

    Time grows with n log n as long as few different pieces have nearly the same size.
    """
    if len(keys) != len(outlines):
        raise ValueError(f"{len(outlines)} outlines, but {len(keys)} keys")
    groups = [group for stack in stack_outlines(outlines, keys) for group in _groups(stack, limit)]
    return sorted(groups, key=lambda group: group.representative)


def _groups(stack: OutlineStack, limit: float) -> list[Group]:
    sizes, room = _sizes(stack, limit)
    total, reach = (sizes / room).sum(axis=1), len(room)    # one number to sort by, the sharpest size first
    order = np.argsort(total, kind="stable")
    first = np.searchsorted(total[order], total - reach, side="left")
    last = np.searchsorted(total[order], total + reach, side="right")
    taken = np.zeros(len(total), dtype=bool)
    groups = []
    for row in range(len(total)):
        if taken[row]:
            continue
        taken[row] = True
        near = order[first[row] : last[row]] if last[row] - first[row] > 1 else order[:0]
        near = np.sort(near[~taken[near]])
        near = near[(np.abs(sizes[near] - sizes[row]) <= room).all(axis=1)]
        members = [(int(stack.index[row]), np.eye(3))]
        if near.size:
            found, motions = first_fits(stack.only(slice(row, row + 1)), stack.only(near), limit)
            taken[near[found]] = True
            members += zip(stack.index[near[found]].tolist(), motions[found], strict=True)
        groups.append(Group(representative=members[0][0], members=tuple(members)))
    return groups


def _sizes(stack: OutlineStack, limit: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Sizes (m, 9) of each outline that a motion keeps, and how far (9,) each can be off within `limit`.

    Where every point is off by at most `limit`, a distance between points or their means is off by at most
    twice that, and so is the longest or the shortest of such distances.
    """
    corners, runs = stack.outer.shape[1], stack.hole_from.shape[1]
    mean = stack.outer.mean(axis=1, keepdims=True)
    edges = np.abs(np.roll(stack.outer, -1, axis=1) - stack.outer)
    arms = np.abs(stack.outer - mean)
    holes = stack.hole_from if runs else mean
    middle = holes.mean(axis=1, keepdims=True)
    offsets = np.abs(holes - mean)
    sizes = np.column_stack([
        edges.sum(axis=1),
        edges.max(axis=1),
        arms.sum(axis=1),
        arms.max(axis=1),
        offsets.sum(axis=1),
        offsets.max(axis=1),
        np.abs(middle - mean)[:, 0],
        np.abs(middle - stack.outer).min(axis=1),
        stack.hole_size.sum(axis=1),
    ])
    distances = np.array([corners, 1, corners, 1, holes.shape[1], 1, 1, 1, runs / 2])
    return sizes, 2 * limit * distances + tolerance.RELATIVE * sizes.max()
