"""Keyed on request: plates that could be welded in wrong get a tab moved, until each fits its own place alone.

A plate that fits its place turned round or over, or another's, with its holes elsewhere, has an outline that is too
regular: one group of tabs on one of its joints is moved along, and the plates are cut anew.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Final

from .kit.draft import Draft
from .kit.plate_checks import CLOSEST
from .shapes.fit_ways import mistakes
from .terms.choices import SIDES, Choices

__all__ = ["keyed_draft"]

STEP: Final = 10.0
"""mm by which a group is moved, and by once or twice more for further plates: far more than any fit gap. Our choice."""
ROUNDS: Final = 6
"""How often plates are cut anew; what is left then is told as where nothing is keyed."""

Edge = tuple[int, int]


def keyed_draft(choices: Choices, draft_of: Callable[[Choices], Draft]) -> Draft:
    """The draft with as few tabs moved as it takes. draft_of: makes one of choices."""
    draft = draft_of(choices)
    shifts: dict[Edge, float] = dict(choices.shifts)
    for _ in range(ROUNDS if choices.settings.keyed else 0):
        wrong = _mistaken(draft, choices)
        moved = {
            edge: STEP * (1 + turn % 3)
            for turn, plate in enumerate(wrong) for edge in _next_edges(draft, plate, shifts)}
        if not moved:
            break
        shifts |= moved
        draft = draft_of(replace(choices, shifts=dict(shifts)))
    return draft


def _mistaken(draft: Draft, choices: Choices) -> list[int]:
    """The rows of distinct plates that one could get wrong; of several that pass for each other all but the first."""
    plates = draft.plates
    found = mistakes(
        [plate.outline for plate in plates], [plate.thickness for plate in plates],
        max(SIDES * choices.settings.fit_gap, CLOSEST))
    rows = {row for row, _ in found.own} | {row for group in found.among for row in group[1:]}
    return sorted(rows)


def _next_edges(draft: Draft, row: int, shifts: dict[Edge, float]) -> list[Edge]:
    """For each copy of a plate the mesh edge of its longest joint with tabs of which none was moved yet."""
    solved, interior = draft.solved, draft.interior
    out = []
    for number, _ in draft.marked[row].members:
        tabbed = set(solved.groups.edge.tolist())
        joints = [
            (float(solved.roots.length[edge]), solved.envelope.edges[edge].mesh_edges) for edge in sorted(tabbed)
            if number in solved.envelope.edges[edge].panels]
        joints += [
            (tee.length, tee.mesh_edges) for index, tee in enumerate(interior.inside.tees)
            if tee.plate == number and tee.mesh_edges and any(tab.tee == index for tab in interior.tabs.tabs)]
        free = [(length, edges) for length, edges in joints if not shifts.keys() & set(edges)]
        if free:
            out.append(max(free, key=lambda one: (round(one[0], 6), one[1]))[1][0])
    return out
