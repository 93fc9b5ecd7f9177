"""From an envelope to plates that do not clash: joints solved, edges moved, tabs laid out, corners trimmed.

Tabs come last in importance: one that would make its plate fall apart, or that stands in a third plate's
way, is left out, and said.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray

from .choices import Choices
from .envelope import Envelope
from .joints import Joints, solve_joints
from .moved_edges import Moved, Sides, move_sides, sides_of
from .plates import Plate, crossing_of, cut_plates, plate_shapes, refuse_unsound, unsound_plates
from .skins import RootLines, root_lines
from .tabs import TabGroups, fingers_of, plan_tabs, stretches_of, without_groups
from .trimming import Assembly, settle

__all__ = ["Solved", "ranks", "settle_plates", "solve"]

WHOLE = 0.98
"""Share of a finger that must be left after trimming for it to locate anything."""
TRIES = 4
"""Leaving tabs out can only make trimming less; more rounds than this were never needed."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Solved:
    """Everything between the drawing and the solids: an envelope with its joints solved and plates cut."""

    envelope: Envelope
    joints: Joints
    sides: Sides
    moved: Moved
    roots: RootLines
    groups: TabGroups
    plates: tuple[Plate, ...]


def solve(envelope: Envelope, choices: Choices) -> Solved:
    """Plates of an envelope, not yet checked against each other. Raises InputError."""
    joints = solve_joints(envelope, choices)
    sides = sides_of(envelope)
    moved = move_sides(sides, joints.base[sides.edge, sides.column])
    groups = plan_tabs(envelope, joints, sides, moved)
    plates = cut_plates(envelope, joints, sides, moved, stretches_of(groups, joints, sides))
    solved = Solved(envelope=envelope, joints=joints, sides=sides, moved=moved, groups=groups, plates=plates,
                    roots=root_lines(envelope, joints, sides))
    while len(bad := unsound_plates(solved.plates)):
        drop = _nearest_groups(solved, bad)
        if not drop.any():
            refuse_unsound(envelope, joints, sides, solved.plates)
        solved = _with_fewer_tabs(solved, drop)
    return solved


def settle_plates(solved: Solved) -> tuple[Solved, Assembly]:
    """The plates checked as solids, every clash trimmed that can be, without the tabs that trimming would cut."""
    assembly = settle(solved.plates, ranks(solved))
    for _ in range(TRIES):
        lost = _lost_groups(solved, assembly)
        if not lost.any():
            break
        solved = _with_fewer_tabs(solved, lost)
        assembly = settle(solved.plates, ranks(solved))
    return solved, assembly


def ranks(solved: Solved) -> list[int]:
    """Importance of every plate: the larger stays whole."""
    order = sorted(range(len(solved.plates)),
                   key=lambda i: (-float(f"{solved.envelope.panels[i].area:.6g}"), i))
    ranks = [0] * len(order)
    for rank, index in enumerate(order):
        ranks[index] = rank
    return ranks


def _with_fewer_tabs(solved: Solved, drop: NDArray[np.bool_]) -> Solved:
    groups = without_groups(solved.groups, drop)
    stretches = stretches_of(groups, solved.joints, solved.sides)
    plates = cut_plates(solved.envelope, solved.joints, solved.sides, solved.moved, stretches)
    return replace(solved, groups=groups, plates=plates)


def _nearest_groups(solved: Solved, bad: NDArray[np.int64]) -> NDArray[np.bool_]:
    """(g,) of the tabs and notches on each unsound plate, those nearest to where its outline crosses itself."""
    groups, sides = solved.groups, solved.sides
    drop = np.zeros(len(groups.edge), dtype=bool)
    for index in bad.tolist():
        own = np.flatnonzero(sides.panel == index)
        own = own[np.argsort(sides.edge[own])]
        rows = np.flatnonzero(np.isin(groups.edge, sides.edge[own]))
        if len(rows):
            side = own[np.searchsorted(sides.edge[own], groups.edge[rows])]
            along = groups.at[rows] * np.where(sides.column[side] == 0, 1.0, -1.0)
            places = sides.at[side] + sides.along[side] * along[:, None]
            far = np.linalg.norm(places - crossing_of(solved.plates[index].outline), axis=1)
            drop[rows[int(np.argmin(far))]] = True
    return drop


def _lost_groups(solved: Solved, assembly: Assembly) -> NDArray[np.bool_]:
    """(g,) groups of which trimming took a finger."""
    lost = np.zeros(len(solved.groups.edge), dtype=bool)
    trimmed = sorted({trim.plate for trim in assembly.trims})
    if not trimmed or not len(lost):
        return lost
    group, panel, corners = fingers_of(solved.groups, solved.joints, solved.sides)
    pick = np.isin(panel, trimmed)
    group, panel, fingers = group[pick], panel[pick], shapely.polygons(corners[pick])
    shapes = plate_shapes([assembly.plates[i].outline for i in trimmed])
    left = shapely.area(shapely.intersection(fingers, shapes[np.searchsorted(trimmed, panel)]))
    lost[group[left < WHOLE * shapely.area(fingers)]] = True
    return lost
