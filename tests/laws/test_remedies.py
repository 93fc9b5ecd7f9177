"""Every remedy, applied to the choices of a real drawing and solved again: the finding is gone and nothing worse has
come in its place."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest
from baffled import upright, with_inner
from drawn_meshes import box, faces_of
from plain_shapes import wedge
from remedy_cases import CASES, QUIET, in_a_box, opening
from scipy.spatial.transform import Rotation

from tackwright.core.envelope.mesh import Mesh
from tackwright.core.kit.report import findings_text
from tackwright.core.make_kit import make_kit
from tackwright.core.plates import joint_remedies
from tackwright.core.terms.choices import (
    Bolts,
    Choices,
    JointChoice,
    MarkedOpening,
    PanelChoice,
    Settings,
    TabRule,
)
from tackwright.core.terms.errors import InputError
from tackwright.core.terms.remedies import (
    AddedOpening,
    ChangedJoints,
    ChangedMesh,
    ChangedOpening,
    ChangedSetting,
    Remedy,
    apply,
    merged_joint,
    merged_panel,
)
from tackwright.core.terms.remedy_data import remedy_data, remedy_from_data

ALL = [(rule, *case) for rule, cases in CASES.items() for case in cases]


def key(finding):
    return finding.rule, finding.about, finding.edges, finding.openings


def worst(kit):
    return sorted(f.rule for f in kit.checks if f.level == "error")


@pytest.mark.parametrize(("rule", "mesh", "choices", "label"), ALL, ids=[f"{c[0]}-{i}" for i, c in enumerate(ALL)])
def test_a_remedy_cures_its_finding(rule, mesh, choices, label):
    before = make_kit(mesh, choices)
    cured = [f for f in before.checks if f.rule == rule and f.remedy is not None]
    assert cured, [f.rule for f in before.checks]
    for finding in cured[:3]:
        if label is not None:
            assert finding.remedy.label.startswith(label)
        after = make_kit(mesh, apply(choices, finding.remedy))
        same = [f for f in after.checks if key(f) == key(finding)]
        assert len(same) < sum(key(f) == key(finding) for f in before.checks)
        assert not [name for name in worst(after) if worst(after).count(name) > worst(before).count(name)]
        warned = {f.rule for f in after.checks if f.level == "warning"}
        assert warned <= {f.rule for f in before.checks} | {rule}


def test_no_remedy_goes_untried():
    """The rules whose cures look at joints are listed in one place; those of cells, openings and plates are few."""
    others = {"sealed_cell", "cannot_drain", "opening_over_edge", "opening_overlap", "opening_near_cut",
              "opening_along_plate", "hole_too_small", "web_too_small", "weld_out_of_reach"}
    assert set(CASES) == joint_remedies.CURED | others


def test_no_button_where_nothing_or_a_choice_of_several_cures():
    """A plate joined flat has no groove whatever the corner; a sharp one keeps a large groove at any overlap; a hole
    too large for its plate fits nowhere; a slot for a tab is no opening that somebody sized; what is meant is no
    fault."""
    split = Mesh.of([(0, 0, 0), (150, 0, 0), (300, 0, 0), (300, 200, 0), (150, 200, 0), (0, 200, 0)],
                    [(0, 1, 4, 5), (1, 2, 3, 4)])
    two = Choices(settings=Settings(material="6061"), faces={0: PanelChoice(name="one"), 1: PanelChoice(name="two")})
    sharp = Choices(settings=replace(QUIET, corner="open", metal_side="outside"))
    big = in_a_box(opening((150, 100, 0), (400.0,)))
    thin = with_inner(box(300, 200, 150), [upright(100)], replace(QUIET, thickness=6.0))
    thin[1].faces[6] = replace(thin[1].faces[6], thickness=1.0)
    sealed = box(300, 200, 150), Choices(settings=QUIET)
    for rule, (mesh, choices) in {
        "cracks_without_filler": (split, two), "thirsty_groove": (wedge(25.0), sharp), "opening_too_big": big,
        "hole_too_small": thin, "sealed_cell": sealed,
    }.items():
        found = [f for f in make_kit(mesh, choices).checks if f.rule == rule]
        assert found, rule
        assert not any(f.remedy for f in found), rule


def test_a_fitting_is_not_widened():
    """Its size is the fitting's: ISO 228 G 1/8 needs what it needs, even in 20 mm plate."""
    choices = Choices(settings=replace(QUIET, thickness=20.0), openings=(
        MarkedOpening(name="it", at=(150, 100, 0), fitting="G 1/8"),))
    found = [f for f in make_kit(box(400, 300, 200), choices).checks if f.rule == "hole_too_small"]
    assert found and not any(f.remedy for f in found)


# ---- refusals


def refusal(mesh, choices):
    with pytest.raises(InputError) as caught:
        make_kit(mesh, choices)
    return caught.value


def test_an_inner_plate_without_room_is_left_out():
    """A strip of 5 mm along a wall, which a root gap of 6 mm eats."""
    strip = [(2, 0, 75), (8, 0, 75), (8, 200, 75), (2, 200, 75)]
    mesh, choices = with_inner(box(300, 200, 150), [strip], replace(QUIET, root_gap=6.0))
    error = refusal(mesh, choices)
    assert "Nothing is left" in error.what and error.remedy.label == "Leave It Out"
    assert worst(make_kit(mesh, apply(choices, error.remedy))) == []


def test_all_that_is_not_flat_is_flattened_at_once():
    """Of three warped faces one is out by more than is mended: its refusal offers to flatten all that are not flat."""
    points = np.array([(i, j, k) for k in (0, 150.0) for i, j in ((0, 0), (300.0, 0), (300.0, 200.0), (0, 200.0))])
    points[6] += (0, 0, 4.0)
    faces = [(0, 3, 2, 1), (4, 5, 6, 7), (0, 1, 5, 4), (1, 2, 6, 5), (2, 3, 7, 6), (3, 0, 4, 7)]
    error = refusal(Mesh.of(points, faces), Choices())
    assert error.remedy == Remedy(label="Flatten the Face", changes=(ChangedMesh(action="flatten", faces=(1,)),))


def test_each_of_several_faults_keeps_its_own_place_and_remedy():
    one = InputError("one", faces=[1], remedy=Remedy(label="Mend", changes=()))
    two = InputError("two", edges=[(1, 2)], openings=["hole"])
    both = InputError.several([one, two])
    assert InputError.several([both, InputError("three")]).each[:2] == (one, two) == both.each
    assert (both.faces, both.edges, both.openings) == ((1,), ((1, 2),), ("hole",))
    assert one.each == (one,)


# ---- cures of the drawing itself, by their facts: the editor's tests apply them


def notes(points, faces, rule):
    kit = make_kit(Mesh.of(points, faces), Choices(settings=QUIET))
    return [f.remedy for f in kit.checks if f.rule == rule]


BOX = [(i * 300.0, j * 200.0, k * 150.0) for k in (0, 1) for i, j in ((0, 0), (1, 0), (1, 1), (0, 1))]
FACES = [(0, 3, 2, 1), (4, 5, 6, 7), (0, 1, 5, 4), (1, 2, 6, 5), (2, 3, 7, 6), (3, 0, 4, 7)]


def test_the_open_side_of_a_box_is_filled():
    (remedy,) = notes(BOX, FACES[:1] + FACES[2:], "free_edges")
    assert remedy.label == "Fill the Open Side"
    assert remedy.changes == (ChangedMesh(action="fill", edges=((4, 5), (4, 7), (5, 6), (6, 7))),)


def test_an_open_side_that_is_not_flat_is_not_filled():
    points = [*BOX[:6], (300, 200, 220), BOX[7]]
    triangles = [(1, 2, 6), (1, 6, 5), (2, 3, 7), (2, 7, 6)]
    assert notes(points, [FACES[0], FACES[2], FACES[5], *triangles], "free_edges") == [None]


def test_faces_drawn_twice_and_the_wrong_way_round_are_named():
    (twice,) = notes(BOX, [*FACES, FACES[2]], "face_twice")
    assert twice == Remedy(label="Delete the Face", changes=(ChangedMesh(action="delete", faces=(6,)),))
    (over,) = notes(BOX, [*FACES[:4], FACES[4][::-1], FACES[5][::-1]], "faces_turned_over")
    assert over == Remedy(label="Turn 2 Faces Over", changes=(ChangedMesh(action="flip", faces=(4, 5)),))


# ---- applying, and keeping in a file


def test_what_a_remedy_leaves_open_stays_as_it_was():
    before = JointChoice(corner="half-open", overlap=0.3, root_gap=1.0, tabs=TabRule(width=8.0, count=2))
    assert merged_joint(before, JointChoice(corner="open")) == replace(before, corner="open", overlap=None)
    assert merged_joint(before, JointChoice(tabs=TabRule(on=False))) == replace(
        before, tabs=TabRule(on=False, width=8.0, count=2))
    panel = PanelChoice(name="lid", thickness=4.0, left_out=True)
    assert merged_panel(panel, PanelChoice(limber=9.0)) == replace(panel, limber=9.0)


def test_a_new_opening_takes_no_name_that_is_taken():
    remedy = Remedy(label="Add", changes=(AddedOpening(opening=opening((0, 0, 0))),))
    twice = apply(apply(Choices(openings=(opening((1, 1, 1)),)), remedy), remedy)
    assert [o.name for o in twice.openings] == ["it", "it 2", "it 3"]


def test_what_cannot_be_applied_says_so():
    flatten = Remedy(label="Flatten", changes=(ChangedMesh(action="flatten", faces=(1,)),))
    with pytest.raises(ValueError, match="flatten"):
        apply(Choices(), flatten)
    with pytest.raises(KeyError, match="gone"):
        apply(Choices(), Remedy(label="Move", changes=(ChangedOpening(name="gone", move=(1, 0, 0)),)))


@pytest.mark.parametrize("rule", CASES)
def test_a_remedy_is_the_same_after_it_was_kept_in_a_file(rule):
    mesh, choices, _ = CASES[rule][0]
    remedy = next(f.remedy for f in make_kit(mesh, choices).checks if f.rule == rule and f.remedy)
    assert remedy_from_data(json.loads(json.dumps(remedy_data(remedy)))) == remedy


def test_falsehoods_and_zeros_are_kept():
    remedy = Remedy(label="All", changes=(
        ChangedJoints(edges=((0, 1),), choice=JointChoice(overlap=0.0, tabs=TabRule(on=False))),
        ChangedSetting(name="limber", value=0.0),
        AddedOpening(opening=opening((0, 0, 0), bolts=Bolts(count=3, circle=20.0, hole=2.0))),
    ))
    assert remedy_from_data(json.loads(json.dumps(remedy_data(remedy)))) == remedy


def test_a_remedy_of_a_later_version_is_none():
    """Half a remedy would leave the drawing half changed."""
    with pytest.raises(KeyError):
        remedy_from_data({"label": "Bend", "changes": [{"kind": "bend", "angle": 90}]})
    known = {"label": "Fit", "changes": [{"kind": "setting", "name": "fit_gap", "value": 0.1, "why": "later"}]}
    assert remedy_from_data(known).changes == (ChangedSetting(name="fit_gap", value=0.1),)


# ---- in words, for a job file


@pytest.mark.parametrize(("rule", "words"), [
    ("cracks_without_filler", 'in [[joints]]: corner = "open"'),
    ("fit_gap_wide", "fit_gap = 0.1"),
    ("sealed_cell", '[[openings]]: name = "vent", at = [150, 100, 148.5], purpose = "vent", size = 3'),
    ("opening_along_plate", "in its [[openings]]: no axis"),
    ("web_too_small", "in its [[perforations]]: margin = 3"),
])
def test_a_report_says_a_remedy_as_a_job_has_it(rule, words):
    mesh, choices, _ = CASES[rule][0]
    found = [f for f in make_kit(mesh, choices).checks if f.rule == rule][:1]
    assert findings_text(found).endswith(f"In a job: {words}")


def test_a_report_says_nothing_of_what_is_mended_in_the_drawing():
    kit = make_kit(Mesh.of(BOX, FACES[:1] + FACES[2:]), Choices(settings=QUIET))
    assert "In a job" not in findings_text(f for f in kit.checks if f.rule == "free_edges")


@pytest.mark.parametrize("gap", [5.0, 50.0])
@pytest.mark.parametrize("seed", range(4))
def test_a_vent_is_found_for_each_of_two_turned_boxes(gap, seed):
    """Planes of one box's walls miss the other box."""
    one = box(300.0, 200.0, 100.0)
    turn = Rotation.random(random_state=seed).as_matrix()
    points = np.concatenate([one.points, one.points + [300.0 + gap, 0.0, 0.0]]) @ turn.T
    faces = [*faces_of(one), *([i + 8 for i in face] for face in faces_of(one))]
    kit = make_kit(Mesh.of(points, faces), Choices(settings=Settings(thickness=3.0)))
    sealed = [finding for finding in kit.checks if finding.rule == "sealed_cell"]
    assert len(sealed) == 2 and all(finding.remedy is not None for finding in sealed)
