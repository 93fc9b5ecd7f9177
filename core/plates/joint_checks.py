"""What the joints will do to the person who welds them: one finding for each that hurts."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from ..envelope.envelope import Envelope
from ..terms import tolerance
from ..terms.choices import SHARE, SIDES, Settings
from ..terms.findings import Finding, Level
from ..terms.messages import Angle, Area, Length
from ..terms.metal import Material
from .joint_remedies import CREVICE, NEARLY, THIRSTY, fair_overlaps
from .joints import Joints
from .skins import RootLines
from .tabs import SHORTEST_REACH, TabGroups, groove_taken

__all__ = ["WIDE_GAP", "check_joints", "fit_gap_text", "root_gap_text"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

WIDE_GAP = 0.5
"""Of the thinner plate. Common practice, no source: the root gap of sheet stays under half its thickness."""
PROUD = 0.05
"""mm: less is lost in the cut's own deviation (ISO 9013 class 1)."""


_Remark = tuple[int, str, Level, str]
"""The joint's row, the rule, the level, and what to say after the names of its panels."""


def check_joints(
    envelope: Envelope, joints: Joints, roots: RootLines, groups: TabGroups, material: Material, ids: Sequence[str]
) -> tuple[Finding, ...]:
    """Findings about single joints, rule by rule in the order of the edges. ids: the placement of every panel."""
    rows = np.flatnonzero(~joints.free)
    remarks = [
        *_cracks(joints, material, rows),
        *_crevices(joints, rows),
        *_thirsty_grooves(envelope, joints, rows),
        *_proud_ends(envelope, joints, rows),
        *_inside_grooves(joints, rows),
        *_wide_gaps(envelope, joints, groups, rows),
        *_swallowed_edges(joints, roots, rows),
        *_without_tabs(joints, groups),
    ]
    middles = roots.points.mean(axis=1).tolist()
    found = []
    for row, rule, level, text in remarks:
        edge, (x, y, z) = envelope.edges[row], middles[row]
        names = " and ".join([f"'{envelope.panels[p].name}'" for p in edge.panels])
        found.append(Finding(
            rule=rule, level=level, message=f"{names}: {text}", about=tuple([ids[p] for p in edge.panels]),
            at=(x, y, z), panels=edge.panels, edges=edge.mesh_edges,
        ))
    return (*found, *_eaten_grooves(envelope, joints, roots, groups, ids))


def _eaten_grooves(
    envelope: Envelope, joints: Joints, roots: RootLines, groups: TabGroups, ids: Sequence[str]
) -> Iterator[Finding]:
    """One finding about all corners of whose grooves the tabs take more than they should."""
    share = groove_taken(groups, len(joints.angle)) / np.maximum(roots.length, tolerance.TOUCH)
    most = np.array([SHARE if rule.share is None else rule.share for rule in joints.rules])
    rows = np.flatnonzero((share > most + tolerance.ROUNDING) & (joints.groove > CREVICE))
    if not len(rows):
        return
    worst = int(rows[np.argmax(share[rows])])
    names = " and ".join([f"'{envelope.panels[p].name}'" for p in envelope.edges[worst].panels])
    panels = tuple(dict.fromkeys(p for row in rows.tolist() for p in envelope.edges[row].panels))
    x, y, z = roots.points[worst].mean(axis=0).tolist()
    corners = f"{len(rows)} corners" if len(rows) > 1 else "1 corner"
    yield Finding(
        rule="groove_taken", level="note", about=tuple(ids[p] for p in panels), at=(x, y, z), panels=panels,
        edges=tuple(edge for row in rows.tolist() for edge in envelope.edges[row].mesh_edges),
        message=f"tabs take more than {100 * most[worst]:.0f} % of the groove at {corners}, most between {names}: "
        f"{100 * share[worst]:.0f} % of {Length(roots.length[worst]):.0f}. They are as narrow as they can be; where "
        "more has to be filled, turn tabs off there, or have one group alone.")


def _cracks(joints: Joints, material: Material, rows: Ints) -> Iterator[_Remark]:
    if not material.needs_filler:
        return
    for row in rows[joints.groove[rows] <= CREVICE].tolist():
        yield row, "cracks_without_filler", "warning", (
            f"this corner leaves no groove ({Area(joints.groove[row]):.2f}), and {material.name} cracks when it is "
            "fused "
            f"without filler. Choose an open or half-open corner and fill it with {material.filler}."
        )


def _crevices(joints: Joints, rows: Ints) -> Iterator[_Remark]:
    for row in rows[joints.notch[rows] > CREVICE].tolist():
        yield row, "crevice", "warning", (
            f"the overlap of {joints.overlap[row]:g} at {Angle(joints.angle[row]):.1f} leaves a crevice of "
            f"{Area(joints.notch[row]):.2f} on the root side that no bead from the groove reaches; it holds moisture "
            "and "
            "dirt. Make the corner open, or seal it from the other side."
        )


def _thirsty_grooves(envelope: Envelope, joints: Joints, rows: Ints) -> Iterator[_Remark]:
    thickness = np.array([p.thickness for p in envelope.panels])[joints.panels[rows]]
    square = thickness.prod(axis=1)                       # the groove of an open corner at 90 degrees
    wedge = np.minimum(joints.angle[rows], 360.0 - joints.angle[rows])
    thirsty = (wedge < 90.0) & (joints.groove[rows] > THIRSTY * square)
    rows, fair = rows[thirsty], square[thirsty]
    each, through = np.flatnonzero(thirsty), joints.through[rows]
    cures = fair_overlaps(joints.angle[rows], thickness[each, through], thickness[each, 1 - through], fair)
    for row, least, cure in zip(rows.tolist(), fair.tolist(), cures.tolist(), strict=True):
        overlap, area = cure
        yield row, "thirsty_groove", "warning", (
            f"the groove at {Angle(joints.angle[row]):.1f} takes {Area(joints.groove[row]):.1f} of filler, "
            f"{joints.groove[row] / least:.1f} times that of a square corner ({Area(least):.1f}). "
            + (f"An overlap of {overlap:.2f} would bring it down to that." if area <= NEARLY * least else
               f"No overlap brings it down to that: a closed corner takes {Area(area):.1f}. Draw the corner blunter."
               if area < 0.98 * joints.groove[row] else "Draw the corner blunter.")
        )


def _proud_ends(envelope: Envelope, joints: Joints, rows: Ints) -> Iterator[_Remark]:
    for row in rows[(joints.proud[rows] > PROUD).any(axis=1)].tolist():
        column = int(np.argmax(joints.proud[row]))
        panel = envelope.panels[joints.panels[row, column]]
        yield row, "proud_end", "warning", (
            f"the square end of the thicker '{panel.name}' stands {Length(joints.proud[row, column]):.2f} proud of the "
            f"thinner plate at {Angle(joints.angle[row]):.1f}. Dress it after welding, or use plates nearer in "
            "thickness."
        )


def _inside_grooves(joints: Joints, rows: Ints) -> Iterator[_Remark]:
    for row in rows[(joints.angle[rows] > 180.0) & (joints.groove[rows] > CREVICE)].tolist():
        yield row, "groove_inside", "warning", (
            f"the edge is re-entrant ({Angle(joints.angle[row]):.1f}), so its groove of {Area(joints.groove[row]):.1f} "
            "opens to the inside. Make sure that the torch reaches it before the last plate closes the way, or close "
            "the corner."
        )


def _wide_gaps(envelope: Envelope, joints: Joints, groups: TabGroups, rows: Ints) -> Iterator[_Remark]:
    thin = np.array([p.thickness for p in envelope.panels])[joints.panels].min(axis=1)
    for row in rows[joints.root_gap[rows] > WIDE_GAP * thin[rows]].tolist():
        yield row, "root_gap_wide", "warning", root_gap_text(float(joints.root_gap[row]), float(thin[row]))
    tabbed = np.unique(groups.edge)
    for row in tabbed[joints.fit_gap[tabbed] > WIDE_GAP * thin[tabbed]].tolist():
        yield row, "fit_gap_wide", "warning", fit_gap_text(float(joints.fit_gap[row]), float(thin[row]))


def root_gap_text(gap: float, thin: float) -> str:
    return (f"a root gap of {Length(gap):g} is more than half of the {Length(thin):g} sheet: the arc falls through. "
            "Make it "
            "smaller, or use a backing.")


def fit_gap_text(gap: float, thin: float) -> str:
    """gap: both sides together."""
    return (f"a fit gap of {Length(gap / SIDES):g} a side is in all more than half of the {Length(thin):g} sheet: the "
            f"tabs no longer locate. About {Length(Settings().fit_gap):g} a side is usual.")


def _swallowed_edges(joints: Joints, roots: RootLines, rows: Ints) -> Iterator[_Remark]:
    for row in rows[roots.length[rows] <= tolerance.TOUCH].tolist():
        yield row, "edge_swallowed", "warning", (
            "the drawn edge is so short that the metal of its neighbours swallows it: these plates do not meet along "
            "a line. Leave the edge out of the drawing, make it longer, or use thinner plates."
        )


def _without_tabs(joints: Joints, groups: TabGroups) -> Iterator[_Remark]:
    angles = joints.angle[groups.bare].tolist()
    bare = zip(groups.bare.tolist(), groups.bare_room.tolist(), groups.bare_reach.tolist(), angles, strict=True)
    for row, (room, least), reach, angle in bare:
        if joints.kinds[row] == "butt":
            why = "the plates lie in one plane"
        elif reach < SHORTEST_REACH:
            why = f"a tab would reach only {Length(reach):.2f} past the root at {Angle(angle):.1f}"
        else:
            why = f"there are {Length(max(room, 0.0)):.1f} between the keep-outs and a group of tabs needs "
            f"{Length(least):.1f}"
        yield row, "corner_without_tab", "note", (
            f"no locating tab here: {why}. Hold the plates with a jig when tacking."
        )
    located = np.isin(groups.dropped, groups.edge)
    for row, some in zip(groups.dropped.tolist(), located.tolist(), strict=True):
        yield row, "tab_left_out" if some else "corner_without_tab", "note", (
            ("a locating tab was left out here" if some else "no locating tab here")
            + ": it would have stood in another plate's way, or cut too deep into its own. Hold the plates with a jig "
            "when tacking, or choose narrower tabs."
        )
