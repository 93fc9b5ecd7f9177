"""Piece marks: congruent plates share one, with a placement for each copy."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ..plates.clashes import find_clashes, near_pairs
from ..plates.plates import Plate, places_of
from ..plates.solids import Solids
from ..shapes.congruence import congruence_groups
from ..shapes.drawing_frame import drawing_frame, drawn
from ..shapes.followed_runs import followed
from ..shapes.motions import levelled, lifted, undone
from ..shapes.outline import Outline
from ..terms import tolerance
from ..terms.memo import Remember, afresh

__all__ = ["Marked", "mark_plates"]

Floats = NDArray[np.float64]

_AT_ONCE = 2**20
"""Pairs of points compared in one go: bounds the memory, to about 50 MB."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Marked:
    """One distinct plate. mark: P01...; outline: as drawn for the cutter. members: (index of a plate, (4, 4)
    from the drawing, z = 0 on the inner face, to the envelope's frame)."""

    mark: str
    outline: Outline
    members: tuple[tuple[int, Floats], ...]


def mark_plates(
    plates: Sequence[Plate], sides: Sequence[Hashable], solids: Solids, remember: Remember = afresh
) -> tuple[Marked, ...]:
    """Distinct plates, the largest first. sides: what else tells two plates of one outline apart.

    Drawings are without runs that a beam cannot follow, and copies are made from one drawing. Where drawings differ by
    the noise of the input and a copy would then clash with a neighbour, plates count as the same only if they agree to
    the last digit.
    """
    places = places_of(plates)
    for limit in (tolerance.CONGRUENT, tolerance.TOUCH):
        marked = _mark(plates, sides, places, limit, remember)
        if limit == tolerance.TOUCH:
            break
        changed = _substituted(plates, places, marked)
        if not changed:
            break
        after = [changed.get(i, plate) for i, plate in enumerate(plates)]
        pairs = near_pairs(after)                         # a copy may reach where its original only touched
        touched = np.isin(pairs, list(changed)).any(axis=1)
        if not find_clashes(after, solids.replaced(after, set(changed)), pairs[touched]):
            break
    return tuple(_followed(mark, remember) for mark in marked)


def _followed(mark: Marked, remember: Remember) -> Marked:
    """The same without runs that are too short, laid on its drawing anew where there were some."""
    outline = followed(mark.outline)
    if outline is mark.outline:
        return mark
    drawing = remember(drawing_frame, outline)
    back = lifted(undone(drawing))
    members = tuple([(i, place @ back) for i, place in mark.members])
    return replace(mark, outline=drawn(outline, drawing), members=members)


def _mark(
    plates: Sequence[Plate], sides: Sequence[Hashable], places: Floats, limit: float, remember: Remember
) -> tuple[Marked, ...]:
    keys = [(p.thickness, s) for p, s in zip(plates, sides, strict=True)]
    groups = congruence_groups([p.outline for p in plates], keys, limit)
    groups.sort(key=lambda g: (-float(f"{plates[g.representative].outline.area():.6g}"), g.representative))
    out = []
    for number, group in enumerate(groups, 1):
        first = plates[group.representative].outline
        drawing = remember(drawing_frame, first)
        copies, motions = zip(*group.members, strict=True)
        matrices = places[list(copies)] @ lifted(np.array(motions) @ undone(drawing))
        members = tuple(zip(copies, matrices, strict=True))
        out.append(Marked(mark=f"P{number:02d}", outline=drawn(first, drawing), members=members))
    return tuple(out)


def _substituted(plates: Sequence[Plate], places: Floats, marked: Sequence[Marked]) -> dict[int, Plate]:
    """Plates whose drawing differs from their own outline by more than rounding, as drawn."""
    out: dict[int, Plate] = {}
    for mark in marked:
        if len(mark.members) == 1:
            continue
        copies, matrices = zip(*mark.members[1:], strict=True)
        motions = levelled(undone(places[list(copies)]) @ np.array(matrices))
        for row in np.flatnonzero(_off(mark.outline, motions, [plates[i].outline for i in copies]) > tolerance.TOUCH):
            out[copies[row]] = replace(plates[copies[row]], outline=mark.outline.moved(motions[row]))
    return out


def _off(drawing: Outline, motions: Floats, outlines: Sequence[Outline]) -> Floats:
    """(m,) the most by which the drawing's outer ring, brought to each outline by its motion (m, 3, 3), is off, mm."""
    rings = [outline.outer.points for outline in outlines]
    counts = np.array([len(ring) for ring in rings])
    out = np.zeros(len(rings))
    for count in np.unique(counts):
        alike = np.flatnonzero(counts == count)
        step = max(1, _AT_ONCE // (len(drawing.outer.points) * int(count)))
        for rows in (alike[i : i + step] for i in range(0, len(alike), step)):
            turns, shifts = motions[rows, :2, :2], motions[rows, None, :2, 2]
            placed = drawing.outer.points @ np.swapaxes(turns, 1, 2) + shifts
            out[rows] = _apart(placed, np.array([rings[row] for row in rows]))
    return out


def _apart(one: Floats, two: Floats) -> Floats:
    """(m,) the most by which a point of one ring (m, k, 2) is off the nearest of the other (m, l, 2), mm."""
    gap = np.abs(one[:, :, None] - two[:, None]).max(axis=3)
    return np.asarray(np.maximum(gap.min(axis=1).max(axis=1), gap.min(axis=2).max(axis=1)))
