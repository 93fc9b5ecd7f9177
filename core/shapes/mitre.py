"""Lines that are moved square to themselves, and the corners at which neighbours meet again.

A crossing that would lengthen a side too far (nearly parallel neighbours moved unlike far, or a needle-sharp tip) is
cut off by a straight step instead.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ..terms import tolerance

__all__ = ["Lines", "met"]

Floats = NDArray[np.float64]

_ILL = 0.02
"""Sine of the turn below which the crossing of two lines as drawn is not trusted and the drawn corner is used."""


class Lines(NamedTuple):
    """A line a row. at: (n, 2) a point of it as drawn. along: (n, 2) unit. into: (n, 2) unit, square to it, the way it
    moves. setback: (n,) how far."""

    at: Floats
    along: Floats
    into: Floats
    setback: Floats

    @property
    def shift(self) -> Floats:
        """(n, 2) how every point of a line moves."""
        return np.asarray(self.into * self.setback[:, None])


def met(one: Lines, two: Lines, drawn: Floats) -> tuple[Floats, Floats]:
    """Where each line of `one` ends and the line of `two` after it starts, (n, 2) each: equal unless there is a step
    between them. drawn: (n, 2) the corner between them before the move."""
    sine = one.along[:, 0] * two.along[:, 1] - one.along[:, 1] * two.along[:, 0]
    sure = np.abs(sine) > tolerance.ROUNDING
    safe = np.where(sure, sine, 1.0)

    def cross(p1: Floats, p2: Floats) -> Floats:
        gap = p2 - p1
        reach = (gap[:, 0] * two.along[:, 1] - gap[:, 1] * two.along[:, 0]) / safe
        return np.asarray(p1 + one.along * reach[:, None])

    old = np.where((np.abs(sine) > _ILL)[:, None], cross(one.at, two.at), drawn)
    new = cross(one.at + one.shift, two.at + two.shift)
    moved = new - old
    most = tolerance.FAR_MITRE * np.maximum(np.abs(one.setback), np.abs(two.setback)) + tolerance.TOUCH
    longer = np.maximum((moved * one.along).sum(axis=1), -(moved * two.along).sum(axis=1))
    step = (~sure | (longer > most))[:, None]
    return np.where(step, old + one.shift, new), np.where(step, old + two.shift, new)
