"""From an envelope to plates that do not clash: joints solved, edges moved, tabs laid out, corners trimmed.

Tabs come last in importance: one that would make its plate fall apart, or that stands in a third plate's
way, is left out, and said.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray

from ..envelope.envelope import Envelope
from ..terms.choices import Choices
from .joints import Joints, importance, solve_joints, without_jogs
from .moved_edges import Moved, Sides, move_sides, sides_of
from .plates import Plate, crossing_of, cut_plates, plate_shapes, refuse_unsound, unsound_plates
from .skins import RootLines, capacities, root_lines
from .tabs import TabGroups, fingers_of, plan_tabs, stretches_of, touched_by, without_groups
from .trimming import Assembly, settle

__all__ = ["Solved", "settle_plates", "solve"]

WHOLE = 0.98
"""Share of a finger that must be left after trimming for it to locate anything."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Solved:
    """Everything between the drawing and the solids: an envelope with its joints solved and plates cut. capacities: of
    every shell, what its inner skin encloses in mm3; None where it is open."""

    envelope: Envelope
    joints: Joints
    sides: Sides
    moved: Moved
    roots: RootLines
    groups: TabGroups
    plates: tuple[Plate, ...]
    capacities: tuple[float | None, ...]


def solve(envelope: Envelope, choices: Choices) -> Solved:
    """Plates of an envelope, not yet checked against each other. Raises InputError."""
    joints = solve_joints(envelope, choices)
    sides = sides_of(envelope)
    moved = move_sides(sides, joints.base[sides.edge, sides.column])
    groups = plan_tabs(envelope, joints, sides, moved)
    merged = without_jogs(joints, *touched_by(groups, len(envelope.edges)), choices.settings.jog)
    if not (np.array_equal(merged.base, joints.base) and np.array_equal(merged.full, joints.full)):
        joints, moved = merged, move_sides(sides, merged.base[sides.edge, sides.column])
        groups = plan_tabs(envelope, joints, sides, moved)
    plates = cut_plates(envelope, joints, sides, moved, stretches_of(groups, joints, sides))
    solved = Solved(envelope=envelope, joints=joints, sides=sides, moved=moved, groups=groups, plates=plates,
                    roots=root_lines(envelope, joints, sides), capacities=capacities(envelope, joints, sides))
    return _sound(solved)


def settle_plates(solved: Solved, progress: Callable[[int, int], None] | None = None) -> tuple[Solved, Assembly]:
    """The plates checked as solids, every clash trimmed that can be, without the tabs that trimming would cut.
    progress: called with how many pairs have been checked, and of how many."""
    ranks = importance(solved.envelope).tolist()
    assembly = settle(solved.plates, ranks, progress)
    while (lost := _lost_groups(solved, assembly)).any():
        solved = _sound(_with_fewer_tabs(solved, lost))
        assembly = settle(solved.plates, ranks, progress)
    return solved, assembly


def _sound(solved: Solved) -> Solved:
    """The same with the tabs left out that make a plate fall apart or cross itself. Raises InputError for plates
    that do so without any."""
    while len(bad := unsound_plates(solved.plates)):
        drop = _nearest_groups(solved, bad)
        if not drop.any():
            refuse_unsound(solved.envelope, solved.joints, solved.sides, solved.plates)
        solved = _with_fewer_tabs(solved, drop)
    return solved


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
        rows, column = np.nonzero(solved.joints.panels[groups.edge] == index)
        if len(rows):
            side = sides.of_edges()[groups.edge[rows], column]
            along = groups.at[rows] * np.where(column == 0, 1.0, -1.0)
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
