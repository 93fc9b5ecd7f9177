"""How much of a groove tabs take away, measured on the solids of the written files: a rod laid along the middle of each
groove, and what metal it meets."""

import json

import numpy as np
import pytest
from demo_kits import made
from manifold3d import Manifold
from plain_shapes import box
from written_solids import written_solids

from tackwright.core.files.kit_json import kit_json
from tackwright.core.make_kit import make_kit
from tackwright.core.terms.choices import Choices, JointChoice, PanelChoice, Settings, TabRule

ROD = 0.1        # mm
APART = 2.0      # mm: fingers nearer than this are of one group; the gaps between them are no groove either


def taken(kit):
    """By joint, its length and the stretches of it in whose groove there is metal: read from the files."""
    record, solids = json.loads(kit_json(kit)), written_solids(kit)
    plate_of = {
        one["id"]: (plate, np.array(one["matrix"])) for plate in record["plates"] for one in plate["placements"]}
    out = {}
    for joint in record["joints"]:
        if joint["kind"] not in ("open_corner", "half_open_corner") or joint["groove"]["side"] != "outside":
            continue
        line = np.array(joint["line"])
        along = (line[1] - line[0]) / joint["length"]
        over = sum(plate["thickness"] * matrix[:3, 2] for plate, matrix in map(plate_of.get, joint["plates"])) / 2
        side = over / np.linalg.norm(over)
        frame = np.column_stack([along, side, np.cross(along, side), line[0] + over])
        rod = Manifold.cube((joint["length"], ROD, ROD)).translate((0, -ROD / 2, -ROD / 2)).transform(frame)
        back = np.linalg.inv(np.vstack([frame, [0, 0, 0, 1]]))[:3]
        spans = sorted(
            (piece.bounding_box()[0], piece.bounding_box()[3])
            for name in joint["plates"] for piece in (solids[name] ^ rod).transform(back).decompose())
        groups = []
        for begin, end in spans:
            if groups and begin - groups[-1][1] < APART:
                groups[-1][1] = max(groups[-1][1], end)
            else:
                groups.append([begin, end])
        out[joint["id"]] = (joint["length"], groups, joint)
    return out


def share_of(length, groups):
    return sum(end - begin for begin, end in groups) / length


def test_the_demo_tanks_corners_keep_their_grooves():
    kit = made("bow_tank")
    found = taken(kit)
    assert len(found) >= 10 and sum(len(groups) for _, groups, _ in found.values()) >= 15
    for name, (length, groups, joint) in found.items():
        assert len(groups) == len(joint["tabs"]), name              # the rod meets every group
        assert share_of(length, groups) <= 0.15, (name, length, groups)
    assert not [finding for finding in kit.checks if finding.rule == "groove_taken"]


@pytest.mark.parametrize(("length", "thickness", "count", "most"), [
    (200.0, 6.0, 2, 0.19), (150.0, 8.0, 2, 0.33), (300.0, 3.0, 2, 0.15), (1000.0, 3.0, 5, 0.15), (600.0, 2.0, 3, 0.15),
    (60.0, 3.0, 1, 0.3)])
def test_a_group_is_narrowed_before_the_second_one_is_dropped(length, thickness, count, most):
    """The two edges that were a pivot before, 200 mm in 6 mm and 150 mm in 8 mm: as narrow as lasers cut well, and told
    where two take more than their share."""
    inner = length + 2 * thickness
    kit = make_kit(box(inner, 400, 400), Choices(settings=Settings(corner="open", thickness=thickness)))
    rows = [row for row in taken(kit).values() if row[0] == pytest.approx(length)]
    assert len(rows) == 4
    for whole, groups, joint in rows:
        assert len(groups) == count
        assert share_of(whole, groups) <= most
        assert all(min(tab["width"], tab["flank"]) >= max(4.0, thickness) - 1e-9 for tab in joint["tabs"])
    told = [finding for finding in kit.checks if finding.rule == "groove_taken"]
    assert bool(told) is (most > 0.15)
    assert not [finding for finding in kit.checks if finding.rule in ("slot_too_small", "web_too_small")]


def test_fingers_suit_the_thicker_of_two_plates():
    """4 mm notches in 8 mm plate would be narrower than lasers cut well."""
    kit = make_kit(box(400, 300, 300), Choices(
        settings=Settings(corner="open", sealed=True), panels={"top": PanelChoice(thickness=8.0)}))
    assert not [finding for finding in kit.checks if finding.rule in ("slot_too_small", "web_too_small")]
    least = [min(min(t["width"], t["flank"]) for t in row[2]["tabs"]) for row in taken(kit).values()]
    assert sum(width >= 8.0 - 1e-9 for width in least) == 4 and min(least) >= 4.0


def test_the_share_can_be_chosen_for_the_kit_and_for_one_joint_and_more_than_it_is_told():
    mesh = box(306, 406, 406)
    loose = Settings(corner="open", tabs=TabRule(count=6))
    wide = make_kit(mesh, Choices(settings=Settings(corner="open", tabs=TabRule(count=6, share=0.6))))
    kit = make_kit(mesh, Choices(settings=loose, edges={(0, 1): JointChoice(tabs=TabRule(share=0.6))}))
    shares = {row[0]: share_of(*row[:2]) for row in taken(kit).values() if row[0] == pytest.approx(300.0)}
    assert shares and max(share_of(*row[:2]) for row in taken(wide).values()) > 0.25
    (note,) = [finding for finding in kit.checks if finding.rule == "groove_taken"]
    assert note.level == "note" and (0, 1) not in note.edges and len(note.edges) >= 1
    assert not [finding for finding in wide.checks if finding.rule == "groove_taken"]
