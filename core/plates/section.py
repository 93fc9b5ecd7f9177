"""The cross-section of a corner joint: two plates with square ends at a dihedral angle, in closed form.

Seen square to the edge, each plate is a rectangle. Everything is measured from the root line, where the
two surfaces that meet at the root cross: the inner surfaces at a convex edge, the outer ones at a
re-entrant edge. In the section only the wedge angle w = min(angle, 360 - angle) counts; which side the
groove opens to is decided by the angle alone (convex: outside, re-entrant: inside).

Plate 1 is the through plate: it runs past the root by `run_past` and covers that much of plate 2's end.
Kinds of corner joint (open, half-open, closed) as the US Army welding manual TC 9-237 names them in its
chapter on joints; the formulas are derived from the section and tested against polygons of it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..terms import tolerance

__all__ = ["Section", "crossing", "is_butt", "run_past_limit", "solve_section"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Section:
    """The solved section of one joint or of many: every field has the common shape of the input.

    run_past: how far plate 1 runs past the root line, mm. back1, back2: setbacks of the two ends from
    the root line, along each plate, mm (negative: past it). groove_angle: included angle of the space
    left for weld, degrees. groove: its area, mm2. notch: area of the crevice on the root side that no
    bead reaches. proud1, proud2: how far a square end stands out of the other plate's far face, mm.
    """

    run_past: Floats
    back1: Floats
    back2: Floats
    groove_angle: Floats
    groove: Floats
    notch: Floats
    proud1: Floats
    proud2: Floats


def _wedge(angle: ArrayLike) -> tuple[Floats, Floats, Floats]:
    """The wedge angle in degrees with its sine and cosine; a right angle has cosine 0 to the bit."""
    theta = np.asarray(angle, dtype=np.float64)
    w = np.minimum(theta, 360.0 - theta)
    sine = np.sin(np.radians(w))
    cosine = np.sin(np.radians(90.0 - w))
    return w, sine, cosine


def is_butt(angle: ArrayLike) -> NDArray[np.bool_]:
    """True where two plates lie so nearly in one plane that they butt instead of making a corner."""
    return np.asarray(np.abs(np.asarray(angle, dtype=np.float64) - 180.0) < tolerance.BUTT_ANGLE)


def crossing(angle: ArrayLike, depth1: ArrayLike, depth2: ArrayLike) -> Floats:
    """How far from the drawn edge, into panel 1 along its plane, two surfaces cross that lie `depth1` and
    `depth2` below panels 1 and 2, mm. Negative: outside the panel. For a butt: 0.

    >>> crossing(90.0, 3.0, 2.0).item()
    2.0
    >>> crossing(270.0, 3.0, 2.0).item()
    -2.0
    """
    _, sine, cosine = _wedge(angle)
    butt = is_butt(angle)
    sine = np.where(butt, 1.0, np.where(np.asarray(angle) > 180.0, -sine, sine))
    out = (np.asarray(depth2) + np.asarray(depth1) * cosine) / sine
    return np.asarray(np.where(butt, 0.0, out), dtype=np.float64)


def run_past_limit(angle: ArrayLike, t1: ArrayLike, t2: ArrayLike) -> Floats:
    """How far plate 1 runs past the root when it covers plate 2's whole end without standing proud of plate
    2's far face, mm; 0 where a square end is proud already (thick on thin at an obtuse angle).

    >>> run_past_limit(90.0, 3.0, 2.0).item()
    2.0
    """
    _, sine, cosine = _wedge(angle)
    sine = np.where(is_butt(angle), 1.0, sine)
    limit = np.maximum(0.0, (np.asarray(t2) + np.asarray(t1) * np.minimum(0.0, cosine)) / sine)
    limit = np.minimum(limit, np.asarray(t2) / np.sin(np.radians(tolerance.SHARPEST)))
    return np.asarray(np.where(is_butt(angle), 0.0, limit), dtype=np.float64)


def solve_section(
    angle: ArrayLike, t1: ArrayLike, t2: ArrayLike, overlap: ArrayLike = 0.0, root_gap: ArrayLike = 0.0
) -> Section:
    """The section of a corner joint (of many at once: arguments broadcast).

    angle: dihedral through the inside, degrees, 0 < angle < 360; t1, t2: thickness, mm; overlap: 0 open to 1
    closed; root_gap: shortest distance between the plates, mm, >= 0.

    >>> s = solve_section(120.0, 3.0, 3.0, overlap=1.0)
    >>> round(s.run_past.item(), 3), round(s.back2.item(), 3), round(s.groove.item(), 3), round(s.notch.item(), 4)
    (1.732, 0.866, 1.949, 0.6495)
    """
    w, sine, cosine = _wedge(angle)
    a, b = np.asarray(t1, dtype=np.float64), np.asarray(t2, dtype=np.float64)
    v, gap = np.asarray(overlap, dtype=np.float64), np.asarray(root_gap, dtype=np.float64)
    butt = is_butt(angle)
    sine = np.where(butt, 1.0, sine)
    lean = np.maximum(0.0, -cosine)                       # > 0 only where the wedge is obtuse

    past = v * run_past_limit(angle, a, b)
    back1 = -past
    back2 = past * lean

    # the void of an open corner, out to the two far surfaces; where one end is proud, to the thinner one's
    with np.errstate(divide="ignore", invalid="ignore"):
        tangent = np.where(lean > 0, sine / np.where(lean > 0, lean, 1.0), np.inf)
        void = np.select(
            [a * lean > b, b * lean > a],
            [0.5 * b * b * tangent, 0.5 * a * a * tangent],
            (2 * a * b + (a * a + b * b) * cosine) / (2 * sine),
        )
    notch = 0.5 * past**2 * sine * lean
    groove = np.maximum(0.0, void - past * a + back2 * b - notch)

    opened = gap / (2 * np.sin(np.radians(w / 2)))        # both ends back, open corner
    under = np.where(w < 90.0, gap / sine, gap)           # plate 2's end back, plate 1 through
    covers = past > 0
    back1 = np.where(covers, back1, back1 + opened)
    back2 = np.where(covers, back2 + under, back2 + opened)

    zero = np.zeros(np.broadcast(w, a, b, v, gap).shape)
    return Section(
        run_past=np.where(butt, 0.0, past) + zero,
        back1=np.where(butt, gap / 2, back1) + zero,
        back2=np.where(butt, gap / 2, back2) + zero,
        groove_angle=np.where(covers & (w < 90.0), 90.0 - w, 180.0 - w) + zero,
        groove=np.where(butt, 0.0, groove) + zero,
        notch=np.where(butt, 0.0, notch) + zero,
        proud1=np.where(butt, 0.0, np.maximum(0.0, a * lean - b)) + zero,
        proud2=np.where(butt, 0.0, np.maximum(0.0, b * lean - a)) + zero,
    )
