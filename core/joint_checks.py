"""What the joints will do to the person who welds them: one finding for each that hurts."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from .envelope import Envelope
from .findings import Finding, Level
from .joints import Joints
from .materials import Material
from .section import solve_section
from .skins import RootLines
from .tabs import SHORTEST_REACH, TabGroups

__all__ = ["check_joints"]

Floats = NDArray[np.float64]

CREVICE = 0.01
"""mm2: smaller crevices are the rounding of a nearly square corner."""
THIRSTY = 1.5
"""Times the groove of a square corner, from which an acute one swallows filler (below some 67 degrees). Our own choice."""
PROUD = 0.05
"""mm: less is lost in the cut's own deviation (ISO 9013 class 1)."""


def check_joints(
    envelope: Envelope, joints: Joints, roots: RootLines, groups: TabGroups, material: Material
) -> tuple[Finding, ...]:
    """Findings about single joints, in the order of the edges."""
    rows = np.flatnonzero(~joints.free)
    found = [
        *_cracks(envelope, joints, roots, material, rows),
        *_crevices(envelope, joints, roots, rows),
        *_thirsty_grooves(envelope, joints, roots, rows),
        *_proud_ends(envelope, joints, roots, rows),
        *_inside_grooves(envelope, joints, roots, rows),
        *_without_tabs(envelope, joints, roots, groups),
    ]
    return tuple(found)


def _finding(envelope: Envelope, joints: Joints, roots: RootLines, row: int, rule: str, level: Level, text: str) -> Finding:
    pair = [int(p) for p in joints.panels[row] if p >= 0]
    at = roots.points[row].mean(axis=0) + envelope.origin
    names = " and ".join(f"'{envelope.panels[p].name}'" for p in pair)
    return Finding(
        rule=rule, level=level, message=f"{names}: {text}", panels=tuple(pair),
        at=(float(at[0]), float(at[1]), float(at[2])), edges=envelope.edges[row].mesh_edges,
    )


def _cracks(
    envelope: Envelope, joints: Joints, roots: RootLines, material: Material, rows: NDArray[np.int64]
) -> Iterator[Finding]:
    if not material.needs_filler:
        return
    for row in rows[joints.groove[rows] <= CREVICE]:
        yield _finding(
            envelope, joints, roots, row, "cracks_without_filler", "warning",
            f"this corner leaves no groove ({joints.groove[row]:.2f} mm2), and {material.name} cracks when it is fused "
            f"without filler. Choose an open or half-open corner and fill it with {material.filler}.",
        )


def _crevices(envelope: Envelope, joints: Joints, roots: RootLines, rows: NDArray[np.int64]) -> Iterator[Finding]:
    for row in rows[joints.notch[rows] > CREVICE]:
        yield _finding(
            envelope, joints, roots, row, "crevice", "warning",
            f"the overlap of {joints.overlap[row]:g} at {joints.angle[row]:.1f} deg leaves a crevice of "
            f"{joints.notch[row]:.2f} mm2 on the root side that no bead from the groove reaches; it holds moisture and dirt. "
            "Make the corner open, or seal it from the other side.",
        )


def _thirsty_grooves(envelope: Envelope, joints: Joints, roots: RootLines, rows: NDArray[np.int64]) -> Iterator[Finding]:
    thickness = np.array([p.thickness for p in envelope.panels])[joints.panels[rows]]
    square = thickness.prod(axis=1)                       # the groove of an open corner at 90 degrees
    wedge = np.minimum(joints.angle[rows], 360.0 - joints.angle[rows])
    thirsty = (wedge < 90.0) & (joints.groove[rows] > THIRSTY * square)
    for row, fair in zip(rows[thirsty], square[thirsty], strict=True):
        cure = _overlap_for(joints, envelope, int(row), float(fair))
        yield _finding(
            envelope, joints, roots, row, "thirsty_groove", "warning",
            f"the open groove at {joints.angle[row]:.1f} deg takes {joints.groove[row]:.1f} mm2 of filler, "
            f"{joints.groove[row] / fair:.1f} times that of a square corner ({fair:.1f} mm2). "
            f"An overlap of {cure:.2f} would bring it down to that.",
        )


def _overlap_for(joints: Joints, envelope: Envelope, row: int, area: float) -> float:
    """The least overlap at which the groove is no larger than `area` (in a sharp wedge it shrinks evenly)."""
    through = joints.through[row]
    t1 = envelope.panels[joints.panels[row, through]].thickness
    t2 = envelope.panels[joints.panels[row, 1 - through]].thickness
    ends = solve_section(np.full(2, joints.angle[row]), t1, t2, np.array([0.0, 1.0])).groove
    return float(np.clip((ends[0] - area) / max(ends[0] - ends[1], 1e-12), 0.0, 1.0))


def _proud_ends(envelope: Envelope, joints: Joints, roots: RootLines, rows: NDArray[np.int64]) -> Iterator[Finding]:
    for row in rows[(joints.proud[rows] > PROUD).any(axis=1)]:
        column = int(np.argmax(joints.proud[row]))
        panel = envelope.panels[joints.panels[row, column]]
        yield _finding(
            envelope, joints, roots, row, "proud_end", "warning",
            f"the square end of the thicker '{panel.name}' stands {joints.proud[row, column]:.2f} mm proud of the thinner "
            f"plate at {joints.angle[row]:.1f} deg. Dress it after welding, or use plates nearer in thickness.",
        )


def _inside_grooves(envelope: Envelope, joints: Joints, roots: RootLines, rows: NDArray[np.int64]) -> Iterator[Finding]:
    for row in rows[(joints.angle[rows] > 180.0) & (joints.groove[rows] > CREVICE)]:
        yield _finding(
            envelope, joints, roots, row, "groove_inside", "warning",
            f"the edge is re-entrant ({joints.angle[row]:.1f} deg), so its groove of {joints.groove[row]:.1f} mm2 opens to the "
            "inside. Make sure that the torch reaches it before the last plate closes the way, or close the corner.",
        )


def _without_tabs(envelope: Envelope, joints: Joints, roots: RootLines, groups: TabGroups) -> Iterator[Finding]:
    for row, (room, least), reach in zip(groups.bare, groups.bare_room, groups.bare_reach, strict=True):
        if joints.kinds[row] == "butt":
            why = "the plates lie in one plane"
        elif reach < SHORTEST_REACH:
            why = f"a tab would reach only {reach:.2f} mm past the root at {joints.angle[row]:.1f} deg"
        else:
            why = f"there are {max(room, 0.0):.1f} mm between the keep-outs and a group of tabs needs {least:.1f} mm"
        yield _finding(
            envelope, joints, roots, int(row), "corner_without_tab", "note",
            f"no locating tab here: {why}. Hold the plates with a jig when tacking.",
        )
