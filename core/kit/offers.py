"""Findings about joints with their remedies, which need to know both plates and what was chosen for the whole kit."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace

from ..inner.interior import Interior
from ..plates.joint_remedies import CURED, MeasuredJoint, joint_remedy
from ..plates.solve import Solved
from ..terms.choices import Settings
from ..terms.findings import Finding

__all__ = ["offer_at_joints"]

_Key = tuple[tuple[int, ...], tuple[tuple[int, int], ...]]
"""The panels of a joint and the mesh edges it was drawn as: one edge may be a corner of walls and a tee at once."""


def offer_at_joints(
    findings: Iterable[Finding], solved: Solved, interior: Interior, settings: Settings
) -> Iterator[Finding]:
    """The findings, those about a joint with their remedy where they have one. Before they are placed: `panels` are
    indices of plates."""
    joints: Mapping[_Key, MeasuredJoint] | None = None
    for finding in findings:
        if finding.rule in CURED and finding.edges:
            joints = _measured(solved, interior, settings) if joints is None else joints
            joint = joints.get((finding.panels, finding.edges))
            if joint is not None and (remedy := joint_remedy(finding.rule, joint)) is not None:
                finding = replace(finding, remedy=remedy)
        yield finding


def _measured(solved: Solved, interior: Interior, settings: Settings) -> dict[_Key, MeasuredJoint]:
    joints, panels = solved.joints, solved.envelope.panels
    columns = zip(
        solved.envelope.edges, joints.angle.tolist(), joints.through.tolist(), joints.fit_gap.tolist(), strict=True)
    found = {
        (edge.panels, edge.mesh_edges): MeasuredJoint(
            angle=angle, through=panels[edge.panels[through]].thickness,
            under=panels[edge.panels[1 - through]].thickness, fit_gap=gap, edges=edge.mesh_edges, settings=settings)
        for edge, angle, through, gap in columns if not edge.free
    }
    found.update({
        ((tee.plate, tee.wall), tee.mesh_edges): MeasuredJoint(
            angle=tee.angle, through=tee.wall_thickness, under=tee.thickness, fit_gap=tee.fit_gap,
            edges=tee.mesh_edges, settings=settings)
        for tee in (*interior.inside.tees, *interior.former)
    })
    return found
