"""The nearest points that fulfil conditions: planes are straight conditions where the points are, and again where
they have come to.

What is least is the sum of the squared moves. Each step fulfils the conditions as they look from the last step (to
first order) as near to the *drawing* as that goes; where nothing changes any more, the conditions hold and no nearer
points do, to first order: the Karush-Kuhn-Tucker conditions. The steps shrink by about the moves over the size of the
faces each time.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..terms.progress import Counting, uncounted
from .flat_conditions import Condition, rows_of
from .flat_drawing import FlatDrawing
from .flat_patches import Fits
from .level_solver import Levels

__all__ = ["Nearest", "nearest"]

Index = NDArray[np.int64]
Reals = NDArray[np.float64]

_STILL = 1e-6
"""mm: points that move less from step to step have arrived."""

_STEPS, _LAST = 40, 12
"""Steps at most; drawings off by a tenth of their faces take a dozen. Where they do not arrive, so many more that
only look for points where the conditions hold, each nearest to the last."""

_GIVE = 1e-9
"""How much of a point's move a condition may fall short by in one step, which the next makes up for: so that
conditions said twice can be solved."""

_NO_BETTER, _SHORTER, _SHORTEST = 0.9, 0.5, 0.1
"""Where a step is hardly shorter than the one before, the next ones are cut by a half, down to a tenth."""

_FARTHEST = 0.1
"""The part of the drawing's size that a step goes at most: farther, planes are no longer what they were."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Nearest:
    """at: (n, 3). fits: the patches' planes there. value: (r,) what each row still is, mm; pull: (r,) how hard it pulls
    on the points: how fast half the sum of squared moves falls as it gives way; item: (r,) its item of all conditions'.
    """

    at: Reals
    fits: Fits
    value: Reals
    pull: Reals
    item: Index

    def worst(self, count: int) -> Reals:
        """(count,) the worst row of each item, mm."""
        return _largest(self.value, self.item, count)

    def hardest(self, count: int) -> Reals:
        """(count,) the hardest pull of each item, mm."""
        return _largest(self.pull, self.item, count)


def _largest(values: Reals, item: Index, count: int) -> Reals:
    out = np.zeros(count)
    np.maximum.at(out, item, np.abs(values))
    return out


def nearest(
    drawing: FlatDrawing, conditions: Sequence[Condition], *, begin: Reals | None = None, give: Sequence[float] = (),
    firm: bool = True, steps: int = _STEPS, progress: Counting = uncounted,
) -> Nearest:
    """The points nearest to the drawn ones that fulfil the conditions, as far as they can be.

    begin: points to start from, the drawn ones if None. give: for each condition how easily it gives way, _GIVE where
    there is none; firm: only from step to step, in the end not at all. steps: how long to look for the nearest; where
    that is not enough, firm conditions are met first of all. progress: called before each step.
    """
    points, patches, facing = drawing.points, drawing.patches, drawing.facing
    at = points.drawn if begin is None else begin
    at = np.where(points.ease[:, None] > 0, at, points.drawn)
    levels: Levels | None = None
    soft = np.full(len(conditions), _GIVE)
    soft[: len(give)] = np.maximum(give, _GIVE)
    share, last, worst, pull = 1.0, np.inf, np.inf, np.empty(0)
    reach = _FARTHEST * float(np.ptp(points.drawn, axis=0).max(initial=0.0))
    for step in range(steps + _LAST * firm):
        progress(step, steps + _LAST * firm)
        fits = patches.fit(at, facing)
        rows = rows_of(conditions, at, patches, fits)
        if len(rows.value) == 0:
            break
        if levels is None:
            levels = Levels(rows.row, rows.point, len(rows.value), points.ease > 0)
            of_item = np.repeat(np.arange(len(conditions)), [c.count for c in conditions])
            ease = soft[of_item[rows.item]]
            pull = np.zeros(len(rows.value))
            made_up = ease * (firm | (ease <= _GIVE))
        anchor = points.drawn if step < steps else at
        back = np.einsum("ei,ei->e", rows.vectors, (anchor - at)[rows.point])
        wanted = rows.value + np.bincount(rows.row, weights=back, minlength=len(rows.value))
        wanted += made_up * (pull if step < steps else 0.0)
        pull = levels.solve(rows.vectors, points.ease, ease, wanted)
        pulled = rows.vectors * pull[rows.row][:, None]
        moves = np.stack([np.bincount(rows.point, weights=c, minlength=len(at)) for c in pulled.T], axis=1)
        change = anchor - points.ease[:, None] * moves - at
        size = float(np.abs(change).max(initial=0.0))
        if not np.isfinite(size):
            break
        share = max(_SHORTEST, share * _SHORTER) if size > _NO_BETTER * last else min(1.0, 2.0 * share)
        last = size
        at = at + min(share if step < steps else 1.0, reach / max(size, _STILL)) * change
        worst, before = float(np.abs(rows.value).max()), worst
        if size < _STILL and (worst < _STILL or worst > 0.5 * before):
            break
    fits = patches.fit(at, facing)
    rows = rows_of(conditions, at, patches, fits)
    return Nearest(at=at, fits=fits, value=rows.value, pull=pull, item=rows.item)
