"""Which wishes can be had together: those that cannot are given up, the farthest from being met first."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ..terms.progress import Counting, uncounted
from .face_wishes import Wish
from .flat_conditions import Condition, rows_of
from .flat_drawing import FlatDrawing
from .nearest_flat import Nearest, nearest

__all__ = ["MET", "grant", "measured"]

Mask = NDArray[np.bool_]
Reals = NDArray[np.float64]

MET: Final = 1e-3
"""mm: a wish or a face that falls short by no more is met: half of what tells two pieces apart."""

_GIVE = 1e-4
"""How easily wishes give way while it is found out which can be had: those that would move points a hundred times
as far as they are off do not count as possible."""

_NEARLY = 0.05
"""The part of what it was off by at first that a possible wish may still be off by then."""

_PULLED = 20.0
"""A possible wish is off by _GIVE times the pull on it, which is up to so many times what points have to move."""

_STEPS, _SURE = 6, 16
"""Steps while it is found out, and when it is."""

_PATIENT, _ROUNDS = 4, 14
"""Rounds in which only the worst wishes are given up; then all that fail."""


def grant(
    drawing: FlatDrawing, must: Sequence[Condition], wishes: Sequence[Wish], start: Nearest,
    astray: Callable[[Reals], Mask], progress: Counting = uncounted,
) -> tuple[Nearest, list[Wish], list[Wish]]:
    """The nearest points with as many wishes as can be had; the wishes granted; and those given up.

    start: the nearest points without wishes. astray: which of the points at given places are where wishes must not
    bring them. progress: called before each step of the many solves.
    """
    first = _split(must, wishes, measured(drawing, [*must, *(w.condition for w in wishes)], start))
    keep = [np.ones(wish.condition.count, dtype=bool) for wish in wishes]
    enough = max(MET, float(measured(drawing, must, start).max(initial=0.0)))
    hard, begin, soft = False, start.at, start.at
    for turn in range(_ROUNDS):
        asked = [wish.condition.only(own) for wish, own in zip(wishes, keep, strict=True)]
        found = nearest(
            drawing, [*must, *asked], begin=begin, give=[0.0] * len(must) + [_GIVE] * len(asked), firm=hard,
            steps=_SURE if hard else _STEPS, progress=progress)
        total, musts = sum(c.count for c in [*must, *asked]), sum(c.count for c in must)
        firm, own = np.split(found.worst(total), [musts])
        allowed = np.concatenate([np.zeros(0), *(o[k] for o, k in zip(first, keep, strict=True))])
        pulled = _PULLED * _GIVE * float(np.abs(found.at - drawing.points.drawn).max(initial=0.0))
        failed = own > (MET if hard else np.maximum(MET + pulled, _NEARLY * allowed))
        far = astray(found.at)
        if not failed.any() and far.any():
            own = found.hardest(total)[musts:]
            failed = _touching(drawing, asked, found, far)
        elif not failed.any() and firm.max(initial=0.0) > enough:
            failed = own >= own.max(initial=0.0)             # the wishes pull faces out of flat
        if not failed.any():
            if hard or not asked:
                return found, *_parted(wishes, keep)
            hard, begin, soft = True, found.at, found.at
            continue
        begin = soft if hard else start.at if far.any() else found.at
        _give_up(keep, _worst_apart(drawing, asked, own, failed, found) if turn < _PATIENT else failed)
        if not any(k.any() for k in keep):
            break
    nothing = [np.zeros_like(k) for k in keep]
    return start, *_parted(wishes, nothing)


def measured(drawing: FlatDrawing, conditions: Sequence[Condition], start: Nearest) -> Reals:
    """How far every item of the conditions is from being met at the given points, mm."""
    rows = rows_of(conditions, start.at, drawing.patches, start.fits)
    count = sum(c.count for c in conditions)
    return replace(start, value=rows.value, item=rows.item).worst(count)


def _split(must: Sequence[Condition], wishes: Sequence[Wish], worst: Reals) -> list[Reals]:
    ends = np.cumsum([sum(c.count for c in must), *(w.condition.count for w in wishes)])
    return np.split(worst, ends[:-1])[1:]


def _worst_apart(
    drawing: FlatDrawing, asked: Sequence[Condition], own: Reals, failed: Mask, found: Nearest
) -> Mask:
    """Of the failed items the worst ones, no two of which share a point: one may be what the other fails by."""
    rows = rows_of(asked, found.at, drawing.patches, found.fits)
    touched: set[int] = set()
    out = np.zeros(len(own), dtype=bool)
    item = rows.item[rows.row]
    order = np.argsort(item, kind="stable")
    starts = np.searchsorted(item[order], np.arange(len(own) + 1))
    for i in np.lexsort((np.arange(len(own)), -np.round(own, 6))).tolist():
        if failed[i] and own[i] >= 0.25 * own[failed].max():
            points = set(rows.point[order[starts[i]:starts[i + 1]]].tolist())
            if touched.isdisjoint(points):
                out[i] = True
                touched |= points
    return out


def _touching(drawing: FlatDrawing, asked: Sequence[Condition], found: Nearest, far: Mask) -> Mask:
    """The items that have one of these points; all, where none has."""
    rows = rows_of(asked, found.at, drawing.patches, found.fits)
    out = np.zeros(sum(c.count for c in asked), dtype=bool)
    out[rows.item[rows.row[far[rows.point]]]] = True
    return out if out.any() else ~out


def _give_up(keep: list[Mask], gone: Mask) -> None:
    begin = 0
    for wished in keep:
        rows = np.flatnonzero(wished)
        wished[rows[gone[begin : begin + len(rows)]]] = False
        begin += len(rows)


def _parted(wishes: Sequence[Wish], keep: Sequence[Mask]) -> tuple[list[Wish], list[Wish]]:
    """The wishes that are kept, and the others."""
    pairs = list(zip(wishes, keep, strict=True))
    return [_only(wish, own) for wish, own in pairs if own.any()], [_only(w, ~own) for w, own in pairs if not own.all()]


def _only(wish: Wish, keep: Mask) -> Wish:
    return replace(wish, condition=wish.condition.only(keep), patches=wish.patches[keep], edges=wish.edges[keep])
