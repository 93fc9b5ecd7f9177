"""Piece marks: congruent plates share one, with a placement for each copy."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from . import tolerance
from .choices import MetalSide
from .clashes import find_clashes
from .congruence import congruence_groups
from .drawing_frame import drawing_frame
from .motions import lifted, undone
from .outline import Outline
from .plates import Plate
from .solids import Solids

__all__ = ["Marked", "mark_plates"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Marked:
    """One distinct plate. mark: P01...; outline: as drawn for the cutter. members: (index of a plate, (4, 4)
    from the drawing, z = 0 on the inner face, to the envelope's frame)."""

    mark: str
    outline: Outline
    members: tuple[tuple[int, Floats], ...]


def mark_plates(plates: Sequence[Plate], sides: Sequence[MetalSide], solids: Solids, pairs: Ints) -> tuple[Marked, ...]:
    """Distinct plates, the largest first.

    Copies are made from one drawing. Where drawings differ by the noise of the input and a copy would then
    clash with a neighbour (`pairs` (k, 2)), plates count as the same only if they agree to the last digit.
    """
    for limit in (tolerance.CONGRUENT, tolerance.TOUCH):
        marked = _mark(plates, sides, limit)
        moved = _substituted(plates, marked)
        if limit == tolerance.TOUCH or not moved:
            break
        changed = {i: plate for i, plate in moved.items()}
        after = [changed.get(i, plate) for i, plate in enumerate(plates)]
        touched = np.isin(pairs, list(changed)).any(axis=1)
        if not find_clashes(after, solids.replaced(after, set(changed)), pairs[touched]):
            break
    return marked


def _mark(plates: Sequence[Plate], sides: Sequence[MetalSide], limit: float) -> tuple[Marked, ...]:
    keys = [(p.thickness, s) for p, s in zip(plates, sides, strict=True)]
    groups = congruence_groups([p.outline for p in plates], keys, limit)
    groups.sort(key=lambda g: (-float(f"{plates[g.representative].outline.area():.6g}"), g.representative))
    out = []
    for number, group in enumerate(groups, 1):
        first = plates[group.representative].outline
        drawing = drawing_frame(first)
        back = undone(drawing)
        members = tuple((i, plates[i].place() @ lifted(motion @ back)) for i, motion in group.members)
        out.append(Marked(mark=f"P{number:02d}", outline=first.moved(drawing), members=members))
    return tuple(out)


def _substituted(plates: Sequence[Plate], marked: Sequence[Marked]) -> dict[int, Plate]:
    """Plates whose drawing differs from their own outline by more than rounding, as drawn."""
    out: dict[int, Plate] = {}
    for mark in marked:
        for index, matrix in mark.members[1:]:
            own = plates[index]
            into = undone(own.place()) @ matrix
            motion = np.eye(3)
            motion[:2, :2], motion[:2, 2] = into[:2, :2], into[:2, 3]
            drawn = mark.outline.moved(motion)
            if _apart(drawn.outer.points, own.outline.outer.points) > tolerance.TOUCH:
                out[index] = Plate(name=own.name, panel=own.panel, outline=drawn, frame=own.frame,
                                   thickness=own.thickness, low=own.low)
    return out


def _apart(one: Floats, two: Floats) -> float:
    """The most by which a point of one ring is off the nearest of the other, mm."""
    gap = np.abs(one[:, None] - two[None]).max(axis=2)
    return float(max(gap.min(axis=0).max(), gap.min(axis=1).max()))
