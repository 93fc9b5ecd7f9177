"""From plates that are known to the kit: placements, joints, corners, what the shells hold, and all that was found."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from ..inner.interior import Interior
from ..plates.joint_checks import check_joints
from ..plates.plates import Plate
from ..plates.root_corners import root_corners
from ..plates.skins import corner_voids
from ..plates.solve import Solved
from ..plates.trimming import Assembly
from ..stock.materials import material_of
from ..terms.choices import SIDES
from ..terms.findings import Finding
from ..terms.messages import Area, Volume
from ..terms.moved import moved_finding
from .draft import Draft, placement_ids
from .kit import Corner, Groove, Joint, Kit, KitEnvelope, Tab
from .kit_interior import displaced, inner_joints, kit_openings
from .mark_places import with_marks
from .moved_kit import moved_kit
from .neighbours import borders_of
from .offers import offer_at_joints
from .plate_checks import check_plates
from .reached import reached
from .welded_kit import welded
from .widening import Widening

__all__ = ["assemble"]


def assemble(draft: Draft, inside: Sequence[Finding]) -> Kit:
    """The kit of a draft, where it lies in the drawing. inside: what was found in and on the walls after they were
    fitted out, about the drawing's middle."""
    solved, interior, choices = draft.solved, draft.interior, draft.choices
    envelope, assembly = solved.envelope, interior.assembly
    material = material_of(choices)
    ids = placement_ids(draft.marked, len(assembly.plates))
    borders = borders_of(draft.marked, assembly.plates, solved.joints, solved.sides, solved.moved, interior.inside.tees)
    plates = tuple(
        replace(plate, borders=around) for plate, around in zip(draft.plates, borders, strict=True))
    joints = _kit_joints(solved, ids)
    openings = kit_openings(interior.openings, assembly.plates, draft.marked, ids)
    found = (
        *_clash_findings(assembly),
        *offer_at_joints(
            (*check_joints(envelope, solved.joints, solved.roots, solved.groups, material, ids),
             *interior.findings, *inside),
            solved, interior, choices.settings),
        *check_plates(
            plates, SIDES * choices.settings.fit_gap, choices.settings.cutter, Widening.of(choices.openings, openings)),
    )
    checks = (*envelope.notes, *(moved_finding(finding, envelope.origin) for finding in found))
    kit = Kit(
        name=draft.name, settings=choices.settings, plates=plates,
        joints=(*joints, *inner_joints(interior, ids, len(joints) + 1)),
        corners=_kit_corners(solved, assembly, joints),
        envelopes=_kit_envelopes(solved, interior, ids),
        openings=openings,
        checks=tuple(_placed(finding, ids, assembly.plates) for finding in checks),
    )
    return with_marks(reached(welded(moved_kit(kit, envelope.origin), material.family)), choices)


def _placed(finding: Finding, ids: Sequence[str], plates: Sequence[Plate]) -> Finding:
    """The finding about placements; where it names no place of the drawing, about the faces of its plates."""
    about = finding.about or tuple(ids[p] for p in finding.panels)
    faces = finding.faces
    if not (faces or finding.edges or finding.openings):
        faces = tuple(face for p in finding.panels for face in plates[p].faces)
    return replace(finding, about=about, faces=faces)


def _kit_envelopes(solved: Solved, interior: Interior, ids: list[str]) -> tuple[KitEnvelope, ...]:
    """Every shell with what it holds: the space within its inner skin less the inner plates in it."""
    volumes, members = displaced(solved.envelope, interior)
    return tuple(
        KitEnvelope(
            name=shell.name, closed=shell.closed,
            capacity=None if volume is None else max(0.0, volume - metal),
            plates=tuple([ids[p] for p in (*shell.panels, *inner)]))
        for shell, volume, metal, inner in zip(
            solved.envelope.shells, solved.capacities, volumes, members, strict=True))


def _kit_joints(solved: Solved, ids: list[str]) -> tuple[Joint, ...]:
    joints, roots = solved.joints, solved.roots
    tabs = _kit_tabs(solved, ids)
    columns = (
        joints.kinds, joints.panels.tolist(), joints.through.tolist(), roots.points,
        roots.length.tolist(), joints.angle.tolist(), joints.overlap.tolist(), joints.root_gap.tolist(),
        joints.groove_angle.tolist(), joints.groove.tolist(), solved.envelope.edges,
    )
    out = []
    for row, (kind, pair, through, line, length, angle, overlap, root_gap, opening, area, edge) in enumerate(
        zip(*columns, strict=True)
    ):
        groove = None if kind in ("free", "butt") else Groove(
            side="outside" if angle < 180.0 else "inside", angle=opening, area=area)
        out.append(Joint(
            id=f"J{row + 1:02d}", kind=kind, line=line, length=length, angle=angle, overlap=overlap,
            plates=(ids[pair[0]],) if kind == "free" else (ids[pair[through]], ids[pair[1 - through]]),
            root_gap=root_gap, groove=groove, tabs=tuple(tabs.get(row, ())), mesh_edges=edge.mesh_edges,
        ))
    return tuple(out)


def _kit_tabs(solved: Solved, ids: list[str]) -> dict[int, list[Tab]]:
    """The tabs of every edge that has some."""
    groups = solved.groups
    columns = (
        groups.edge, solved.joints.panels[groups.edge, groups.column], groups.at - solved.roots.start[groups.edge],
        groups.width, groups.flank, groups.reach, groups.fit_gap,
    )
    out: dict[int, list[Tab]] = {}
    for edge, panel, at, width, flank, reach, gap in zip(*(column.tolist() for column in columns), strict=True):
        out.setdefault(edge, []).append(
            Tab(on=ids[panel], at=at, width=width, flank=flank, reach=reach, fit_gap=gap))
    return out


def _kit_corners(solved: Solved, assembly: Assembly, joints: tuple[Joint, ...]) -> tuple[Corner, ...]:
    """Points where joints meet. What trimming took away is to be filled too, at the nearest."""
    envelope = solved.envelope
    voids = corner_voids(envelope, solved.joints, solved.sides, solved.roots)
    corners = root_corners(envelope, solved.joints, solved.roots, voids)
    if not corners:
        return ()
    places = np.array([corner.at for corner in corners])
    trimmed = np.zeros(len(corners))
    for trim in assembly.trims:
        trimmed[int(np.argmin(np.linalg.norm(places - trim.at, axis=1)))] += trim.volume
    return tuple(
        Corner(id=f"V{number:02d}", at=(x, y, z), joints=tuple([joints[row].id for row in corner.edges]),
               void=corner.void + more)
        for number, (corner, (x, y, z), more) in enumerate(
            zip(corners, places.tolist(), trimmed.tolist(), strict=True), 1)
    )


def _clash_findings(assembly: Assembly) -> list[Finding]:
    """What was trimmed, and what could not be."""
    panels, out = assembly.plates, []
    for clash in assembly.left:
        one, two = (panels[p] for p in clash.plates)
        at = np.asarray(clash.at)
        out.append(Finding(
            rule="clash", level="error", panels=clash.plates, faces=one.faces + two.faces,
            at=(float(at[0]), float(at[1]), float(at[2])),
            message=f"'{one.name}' and '{two.name}' share {Volume(clash.volume):.2f} of space, more than trimming a "
            "corner "
            "can cure. Draw the panels farther apart, use thinner plates, or move the metal to the outside."))
    for trim in assembly.trims:
        at = np.asarray(trim.at)
        said = (f"'{panels[trim.plate].name}' stood in the way of '{panels[trim.keeper].name}' "
                f"({Volume(trim.shared):.2f} "
                f"shared) and was trimmed by {Volume(trim.volume):.2f} there.")
        if trim.severed:
            said += (f" A piece of {Area(trim.severed):.0f} came off with it and is not cut: look whether it is "
                     "missed, "
                     "and draw the corner blunter or use thinner plates if it is.")
        out.append(Finding(
            rule="piece_cut_off" if trim.severed else "trimmed", level="warning" if trim.severed else "note",
            panels=(trim.plate, trim.keeper), faces=panels[trim.plate].faces,
            at=(float(at[0]), float(at[1]), float(at[2])), message=said))
    return out
