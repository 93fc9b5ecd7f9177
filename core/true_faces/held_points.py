"""Points that stay while faces are made flat: those that are flat together as drawn.

Who drags one corner of a box bends three faces, and all other corners still lie in a flat one. Nearest to the drawing
would be to share the bend among all of them; meant is that the one corner goes back to where its faces are flat. So
what is flat is held first. Where patches cannot be flat so, the points that most of them share are let go, and it is
tried again.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ..terms import tolerance
from ..terms.progress import Counting, uncounted
from .flat_conditions import Flat
from .flat_drawing import FlatDrawing
from .flat_patches import Points
from .granted_wishes import MET
from .nearest_flat import Nearest, nearest

__all__ = ["flat_together", "nearest_held"]

Reals = NDArray[np.float64]
Mask = NDArray[np.bool_]

_PART: Final = 0.01
"""What is off by no more than this part of the worst patch is as good as flat beside it: a mesh that is off by
hundredths everywhere, and by millimetres where a corner was dragged."""

_CHANCE: Final = 10.0
"""How many times as many patches must be flat as chance makes so: of patches off by some h those that are off by no
more than a small e are e / h of all, about."""

_MANY: Final = 2.0
"""How many times as many patches must be nearly flat as are flat, or these alone count."""

_ROUNDS, _STEPS = 6, 24
"""Times that patches let go before all is free, and steps of each try: planes through points that are held are met in
a few."""

_FARTHER: Final = 20.0
"""How many times as far as with nothing held a point may go. A corner of a box goes back four to five times as far as
each of those that would share its bend; where planes meet at a graze it would run off."""


def flat_together(drawing: FlatDrawing, at: Reals, limit: float = MET) -> Mask:
    """(n,) the points that lie in a patch of four or more which is flat to `limit` mm where they are."""
    patches = drawing.patches
    flat = (patches.off(patches.fit(at)) <= limit) & (patches.sizes > 3)
    out = np.zeros(len(at), dtype=bool)
    out[patches.points[flat[patches.owner]]] = True
    return out


def nearest_held(
    drawing: FlatDrawing, folded: Callable[[Reals], Mask], plain: Nearest, progress: Counting = uncounted
) -> Nearest | None:
    """The nearest points with every patch flat, those that should stay so too, and as many points held as that allows.
    None where none can be.

    folded: the patches that are folded where points are given. plain: the nearest points with nothing held.
    """
    at, patches = drawing.points.drawn, drawing.patches
    most = _FARTHER * max(MET, float(np.linalg.norm(plain.at - at, axis=1).max(initial=0.0)))
    found: Nearest | None = None
    for limit in _limits(drawing):
        held = flat_together(drawing, at, limit) & (drawing.points.ease > 0)
        for _ in range(_ROUNDS):
            if not held.any():
                return None
            found = nearest(
                replace(drawing, points=Points(drawn=at, ease=np.where(held, 0.0, drawing.points.ease))),
                [Flat(patches=np.arange(patches.count))], steps=_STEPS, progress=progress)
            failed = (patches.off(found.fits) > limit) | folded(found.at)
            gone = np.linalg.norm(found.at - drawing.points.drawn, axis=1) > most
            failed[patches.owner[gone[patches.points]]] = True
            if not failed.any():
                break
            bent = held * np.bincount(patches.points[failed[patches.owner]], minlength=len(held))
            if not bent.any():
                return None
            held &= bent < bent.max()
        else:
            return None
        at = found.at
    return found


def _limits(drawing: FlatDrawing) -> list[float]:
    """What counts as flat, mm: beside what is dragged, where hardly any is flatter; then to the last. Nothing where no
    more patches are flat than by chance."""
    off = drawing.patches.off(drawing.patches.fit(drawing.points.drawn))[drawing.patches.sizes > 3]
    beside = min(tolerance.FLAT, _PART * float(off.max(initial=0.0)))

    def flat(limit: float) -> int:
        count, bent = int((off <= limit).sum()), off[off > limit]
        by_chance = len(off) * limit / float(np.median(bent)) if len(bent) else 0.0
        return count if count > _CHANCE * by_chance else 0

    true, nearly = flat(MET), flat(beside)
    if beside > MET and nearly and nearly >= _MANY * true:
        return [beside, MET]
    return [MET] if true else []


def as_drawn(drawing: FlatDrawing, at: Reals) -> FlatDrawing:
    """The drawing as if its points had been drawn there."""
    return replace(drawing, points=replace(drawing.points, drawn=at))
