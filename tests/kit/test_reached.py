"""What kits say of their welds' reach, from the drawing to the list of welds."""

from __future__ import annotations

import csv
import io
from dataclasses import replace

import numpy as np
import pytest
from baffled import QUIET, boxed, tees, upright, with_inner
from drawn_meshes import box, faces_of
from strategies import prism
from torch_judge import gets_there

from tackwright.core.envelope.mesh import Mesh
from tackwright.core.files.lists import weld_list
from tackwright.core.kit import reached
from tackwright.core.make_kit import make_kit
from tackwright.core.terms.choices import Choices, PanelChoice, TabRule, Torch

L_SHAPE = np.array([[0, 0], [400, 0], [400, 150], [150, 150], [150, 400], [0, 400]], dtype=float)


def seams_of(kit, *kinds):
    return [seam for seam in kit.seams if seam.kind in kinds]


def found(kit, rule):
    return [finding for finding in kit.checks if finding.rule == rule]


def boxes_of(kit, off=()):
    """The plates as boxes along the axes, tabs, slots and all left out: the drawing's own rectangles."""
    out = []
    for plate in kit.plates:
        corners = plate.outline.outer.flatten()
        ends = np.array([[x, y, z] for x, y in corners for z in (0.0, plate.thickness)])
        for placed in plate.placements:
            at = ends @ placed.matrix[:3, :3].T + placed.matrix[:3, 3]
            if plate.mark not in off and placed.id not in off:
                out.append((tuple(at.min(axis=0)), tuple(at.max(axis=0))))
    return out


def judged(kit, seam, off=(), wider=1.0):
    """Whether a torch gets to the middle of a tee's side, by balls. Half a millimetre off the root, as boxes touch; the
    tabs that stand out of their plates are within the walls."""
    at = seam.path.mean(axis=0) + 0.6 * seam.toward
    return gets_there(boxes_of(kit, off), at, seam.toward, kit.settings.torch, wider=wider, lean=48.0, many=700)


def test_a_baffle_in_a_closed_box_is_welded_before_a_wall_that_is_put_on_last():
    settings = replace(QUIET, tabs=TabRule(on=False))
    kit = boxed([upright(140, (0, 300), (0, 250))], size=(400.0, 300.0, 250.0), settings=settings)
    sides = seams_of(kit, "tee")
    assert len(sides) == 8
    marks = {plate.mark for plate in kit.plates}
    for seam in sides:
        word, _, last = seam.reach.partition(" ")
        assert word == "before" and set(last.split(", ")) <= marks | {p.id for q in kit.plates for p in q.placements}
        assert not {name.partition("-")[0] for name in seam.pieces} & set(last.split(", "))
        assert not judged(kit, seam)
        assert judged(kit, seam, off=last.split(", "), wider=0.8)
    note, = found(kit, "closed_in")
    assert note.level == "note" and note.message.startswith("4 joints")
    assert {seam.reach for seam in seams_of(kit, "corner", "corner_fill")} == {"end"}


def test_without_its_lid_the_same_box_is_reached_at_the_end():
    mesh, choices = with_inner(box(400, 300, 250), [upright(140, (0, 300), (0, 250))], QUIET)
    lid = next(i for i, face in enumerate(faces_of(mesh)) if np.asarray(mesh.points)[list(face), 2].min() > 200)
    choices = replace(choices, faces={**choices.faces, lid: PanelChoice(left_out=True)})
    kit = make_kit(mesh, choices)
    assert len(tees(kit)) == 3
    assert {seam.reach for seam in seams_of(kit, "tee")} == {"end"}
    assert not found(kit, "closed_in")


def test_a_torch_too_wide_for_the_corner_is_an_error_and_slots_cure_it():
    settings = replace(QUIET, torch=Torch(nozzle=60.0), tabs=TabRule(on=False))
    kit = boxed([upright(140)], settings=settings)
    errors = found(kit, "weld_out_of_reach")
    assert len(errors) == 4 and {e.level for e in errors} == {"error"}
    assert all("as plugs" in e.message and e.remedy is not None for e in errors)
    assert {seam.reach for seam in seams_of(kit, "tee")} == {"none"}
    slotted = boxed([upright(140)], settings=replace(settings, tabs=TabRule()))
    assert not found(slotted, "weld_out_of_reach")
    assert {seam.reach for seam in seams_of(slotted, "tee")} == {"outside plug"}
    assert {seam.reach for seam in seams_of(slotted, "slot", "plug")} == {"end"}
    note, = found(slotted, "weld_by_plugs")
    assert note.message.startswith("4 joints")


def test_the_list_of_welds_says_so():
    kit = boxed([upright(140)])
    rows = list(csv.DictReader(io.StringIO(weld_list(kit).decode())))
    said = {row["id"]: row["reach"] for row in rows if row["id"] != "total"}
    assert said == {seam.id: seam.reach for seam in kit.seams}
    assert all(said.values())
    assert any(word.startswith("before P") for word in said.values())


@pytest.mark.parametrize("corner", ["open", "half-open", "closed"])
@pytest.mark.parametrize("side", ["inside", "outside"])
@pytest.mark.parametrize("thickness", [3.0, 15.0])
def test_corners_that_open_outward_are_reached_whatever_they_are(corner, side, thickness):
    """A hollow L: by rays, for it is not convex."""
    settings = replace(QUIET, corner=corner, metal_side=side, thickness=thickness)
    kit = make_kit(prism(L_SHAPE, 300.0), Choices(settings=settings))
    outward = [seam for seam in seams_of(kit, "corner") if seam.side == "outside"]
    assert len(outward) >= 15
    assert {seam.reach for seam in outward} == {"end"}
    for seam in seams_of(kit, "corner"):
        if seam.side == "inside":
            assert seam.reach.startswith("before")


def test_a_convex_shell_is_as_free_as_rays_find_it(monkeypatch):
    kit = boxed([upright(140)])
    monkeypatch.setattr(reached, "_convex", lambda kit: False)
    looked = boxed([upright(140)])
    assert [seam.reach for seam in looked.seams] == [seam.reach for seam in kit.seams]


def test_where_the_drawing_lies_changes_nothing():
    mesh, choices = with_inner(box(300, 200, 150), [upright(140)])
    there = Mesh.of(np.asarray(mesh.points) + [7000.0, -3000.0, 900.0], faces_of(mesh), name=mesh.name)
    assert [seam.reach for seam in make_kit(there, choices).seams] == [
        seam.reach for seam in make_kit(mesh, choices).seams]


def test_too_many_are_not_looked_at_and_that_is_said(monkeypatch):
    monkeypatch.setattr(reached, "MOST_PAIRS", 10)
    kit = boxed([upright(140)])
    assert {seam.reach for seam in kit.seams} == {""}
    assert found(kit, "reach_not_tried")
