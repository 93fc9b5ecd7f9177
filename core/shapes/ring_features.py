"""A plate's ring with what is added to its sides: tabs that stand out, half rounds that bite in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .outline import Contour
from .rings import side_normals

__all__ = ["Bite", "Step", "featured"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """A tab on a side of a ring: the side's number, from where to where along it, and how far out, mm."""

    side: int
    begin: float
    end: float
    out: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Bite:
    """A half round cut into a side of a ring: the side's number, where along it the middle is, the diameter."""

    side: int
    at: float
    diameter: float


def featured(ring: Floats, steps: Sequence[Step], bites: Sequence[Bite]) -> Contour:
    """The ring (k, 2), metal on its left, as it is cut. What is added to one side must not overlap."""
    away = side_normals(ring)
    along = np.column_stack([-away[:, 1], away[:, 0]])
    rows: dict[int, list[tuple[float, list[Floats], list[float]]]] = {}
    for step in steps:
        a, n, base = along[step.side], away[step.side], ring[step.side]
        one, two = base + a * step.begin, base + a * step.end
        rows.setdefault(step.side, []).append(
            (step.begin, [one, one + n * step.out, two + n * step.out, two], [0.0] * 4))
    for bite in bites:
        a, base = along[bite.side], ring[bite.side]
        begin, end = bite.at - bite.diameter / 2, bite.at + bite.diameter / 2
        # clockwise: into the metal
        rows.setdefault(bite.side, []).append((begin, [base + a * begin, base + a * end], [-1.0, 0.0]))
    points: list[Floats] = []
    bulges: list[float] = []
    for i, here in enumerate(ring):
        points.append(here)
        bulges.append(0.0)
        for _, more, bends in sorted(rows.get(i, []), key=lambda row: row[0]):
            points += more
            bulges += bends
    return Contour(points=np.array(points), bulges=np.array(bulges) if any(bulges) else None)
