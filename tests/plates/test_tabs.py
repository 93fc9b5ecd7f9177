"""Locating tabs: fit, reach, number, keep-outs and what cannot be fitted the wrong way round."""

import itertools

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from judges import placed_solids, worst_overlap
from manifold3d import Manifold
from plain_shapes import box
from strategies import angle_wedges, prism

from tackwright.core.envelope.mesh import Mesh
from tackwright.core.make_kit import make_kit
from tackwright.core.shapes.fit_ways import ways_to_fit
from tackwright.core.terms.choices import Choices, JointChoice, PanelChoice, Settings, TabRule


def kit_of(mesh, *, joints=None, **settings):
    return make_kit(mesh, Choices(settings=Settings(**settings), joints=joints or {}))


def polygon(plate):
    rings = plate.outline.rings()
    return shapely.Polygon(rings[0], rings[1:])


def test_an_open_corner_has_one_tab_between_two_with_the_gap_shared():
    """Common practice, no source: about 0.1 mm (0.005 in) on each side of a tab; a tab of 2 t between flanks of 1 to
    1.5 t, 4 mm at least."""
    kit = kit_of(box(400, 300, 200), corner="open", fit_gap=0.1)
    for joint in kit.joints:
        assert joint.tabs
        for tab in joint.tabs:
            assert tab.flank == pytest.approx(4.0)
            assert tab.fit_gap == 0.2
            assert tab.reach == pytest.approx(3.0)
            assert tab.width == pytest.approx(6.0)


@pytest.mark.parametrize("corner", ["open", "half-open", "closed"])
@pytest.mark.parametrize("gap", [0.0, 0.1, 0.4])
def test_a_tab_has_the_fit_gap_on_each_side(corner, gap):
    """Measured on the solids: sliding the tabbed plate along the joint, it has the gap on each side."""
    kit = kit_of(box(400, 300, 200), corner=corner, fit_gap=gap)
    solids = placed_solids(kit)
    joint = next(j for j in kit.joints if j.tabs)
    along = (joint.line[1] - joint.line[0]) / joint.length
    tabbed = joint.tabs[0].on
    other = next(p for p in joint.plates if p != tabbed)
    # lift it a hair out of its contact faces, so that only the flanks can touch
    for way in (along, -along):
        slid = solids[tabbed].translate(way * (gap + 0.01))
        assert (slid ^ solids[other]).volume() > 0.01
        if gap > 0:
            slid = solids[tabbed].translate(way * (gap - 0.01))
            assert (slid ^ solids[other]).volume() < 1e-6


def test_tabs_end_flush_with_the_neighbours_outer_surface():
    """At 90 degrees the solids' common bounding box is the envelope's, metal inside."""
    kit = kit_of(box(400, 300, 200), corner="open")
    boxes = np.array([s.bounding_box() for s in placed_solids(kit).values()])
    assert boxes[:, :3].min(axis=0) == pytest.approx([0, 0, 0], abs=1e-9)
    assert boxes[:, 3:].max(axis=0) == pytest.approx([400, 300, 200], abs=1e-9)


def test_a_closed_corner_notches_the_through_plate_instead():
    kit = kit_of(box(400, 300, 200), corner="closed")
    for joint in kit.joints:
        for tab in joint.tabs:
            assert tab.flank == 0
            assert tab.on == joint.plates[1]
            assert joint.kind == "closed_corner"


@pytest.mark.parametrize(("length", "groups"), [(60, 1), (400, 2), (1000, 5)])
def test_long_joints_get_several_groups_and_short_ones_one(length, groups):
    kit = kit_of(box(length, 47, 43), corner="open")
    counts = {round(j.length): len(j.tabs) for j in kit.joints}
    assert counts[length - 6] == groups
    apart = [np.diff([t.at for t in j.tabs]) for j in kit.joints if round(j.length) == length - 6]
    assert all(gaps.max(initial=0.0) < 1.5 * 250 for gaps in apart)


def test_tiny_joints_get_none_and_a_note_that_says_by_how_much():
    kit = kit_of(box(300, 200, 25), corner="open")
    bare = [j for j in kit.joints if not j.tabs]
    assert {round(j.length) for j in bare} == {19}
    notes = [f for f in kit.checks if f.rule == "corner_without_tab"]
    assert len(notes) == 4
    assert "7.0 mm" not in notes[0].message and "mm between the keep-outs" in notes[0].message
    assert set(notes[0].about) <= {p.id for plate in kit.plates for p in plate.placements}


def test_tabs_keep_clear_of_the_corners_by_default_and_by_choice():
    for keep_out, least in ((None, 9.0), (40.0, 40.0)):
        kit = kit_of(box(400, 300, 200), corner="open", tabs=TabRule(keep_out=keep_out))
        for joint in kit.joints:
            for tab in joint.tabs:
                half = tab.width / 2 + tab.flank
                assert min(tab.at - half, joint.length - tab.at - half) > least - 0.2


def test_each_rule_can_be_set_for_the_kit_and_for_one_joint():
    rule = TabRule(width=20.0, flank=10.0, count=2)
    kit = kit_of(box(400, 300, 200), corner="open", tabs=rule, joints={("front", "top"): JointChoice(
        tabs=TabRule(on=False)), ("bottom", "front"): JointChoice(tabs=TabRule(count=1, width=30.0), fit_gap=0.15)})
    panel = {p.id: p.panel for plate in kit.plates for p in plate.placements}
    for joint in kit.joints:
        pair = tuple(sorted(panel[p] for p in joint.plates))
        if pair == ("front", "top"):
            assert joint.tabs == ()
        elif pair == ("bottom", "front"):
            assert [(t.width, t.flank, t.fit_gap) for t in joint.tabs] == [(30.0, 10.0, 0.3)]
        else:
            assert [(t.width, t.flank) for t in joint.tabs] == [(20.0, 10.0)] * 2


def test_a_tab_can_be_put_on_the_other_plate():
    for panel in ("front", "top"):
        kit = kit_of(box(400, 300, 200), corner="open", joints={("front", "top"): JointChoice(tab_on=panel)})
        names = {p.id: p.panel for plate in kit.plates for p in plate.placements}
        joint = next(j for j in kit.joints if {names[p] for p in j.plates} == {"front", "top"})
        assert {names[t.on] for t in joint.tabs} == {panel}


def test_no_tabs_at_all_when_switched_off_and_no_note_about_it():
    kit = kit_of(box(400, 300, 200), corner="open", tabs=TabRule(on=False))
    assert not any(j.tabs for j in kit.joints)
    assert not any(f.rule == "corner_without_tab" for f in kit.checks)
    assert all(len(p.outline.outer.points) == 4 for p in kit.plates)


def test_rectangular_plates_do_not_fit_turned_over():
    """The groups lean to one end of every joint, so that a mirrored plate misses its neighbours' tabs."""
    kit = kit_of(box(400, 300, 200), corner="open")
    for plate in kit.plates:
        assert ways_to_fit(plate.outline, 0.1).turned_over == 0


def test_opposite_sides_of_a_box_are_one_piece_all_the_same():
    for corner in ("open", "half-open", "closed"):
        assert sorted(p.quantity for p in kit_of(box(400, 300, 200), corner=corner).plates) == [2, 2, 2]


@settings(max_examples=25)
@given(angle_wedges(), st.sampled_from(["open", "half-open", "closed"]), st.sampled_from(["outside", "inside"]),
       st.floats(0, 0.5))
def test_tabs_at_any_angle_leave_no_clash(wedge, corner, side, gap):
    kit = kit_of(wedge.mesh, corner=corner, metal_side=side, thickness=2.0, fit_gap=gap)
    assert worst_overlap(kit) <= 0.01


def test_unlike_thickness_changes_reach_by_the_neighbours_thickness():
    kit = make_kit(box(400, 300, 200), Choices(settings=Settings(corner="open", thickness=3.0), panels={
        "top": PanelChoice(thickness=6.0)}))
    names = {p.id: p.panel for plate in kit.plates for p in plate.placements}
    for joint in kit.joints:
        for tab in joint.tabs:
            neighbour = next(p for p in joint.plates if p != tab.on)
            assert tab.reach == pytest.approx(6.0 if names[neighbour] == "top" else 3.0)


def test_a_prism_of_many_sides_keeps_its_tabs_off_the_flat_corners():
    angles = np.linspace(0, 2 * np.pi, 40, endpoint=False)
    outline = 300 * np.column_stack([np.cos(angles), np.sin(angles)])
    kit = kit_of(prism(outline, 200.0), corner="open")
    upright = [j for j in kit.joints if abs(j.angle - 171) < 1e-6]
    assert len(upright) == 40 and not any(j.tabs for j in upright)   # a tab would reach 0.24 mm
    assert worst_overlap(kit) <= 0.01


def test_tabs_that_would_eat_a_narrow_web_are_left_out_and_said():
    """Two square pockets 6 mm apart, closed corners: the notches of both would meet in the web between them."""
    pocket = Manifold.cube([60, 60, 100])
    body = Manifold.cube([400, 300, 80]) - pocket.translate([9, 30, -10]) - pocket.translate([75, 30, -10])
    mesh = body.to_mesh64()
    kit = kit_of(Mesh.of(np.asarray(mesh.vert_properties)[:, :3], np.asarray(mesh.tri_verts)), corner="closed")
    said = [f for f in kit.checks if "cut too deep" in f.message]
    assert 0 < len(said) <= 4
    assert worst_overlap(kit) <= 0.01
    bare = {frozenset(f.about) for f in said if f.rule == "corner_without_tab"}
    assert all(not j.tabs for j in kit.joints if frozenset(j.plates) in bare and j.length < 61)


def test_every_listed_tab_is_there():
    """Plates trimmed at sharp corners: the metal of each tab that the kit lists is on its plate."""
    rng = np.random.default_rng(4)
    for _ in range(6):
        hull = Manifold.hull_points(rng.normal(size=(8, 3)) * 110).to_mesh64()
        mesh = Mesh.of(np.asarray(hull.vert_properties)[:, :3], np.asarray(hull.tri_verts))
        kit = kit_of(mesh, corner="closed", thickness=6.0)
        solids = placed_solids(kit)
        for joint in kit.joints:
            along = (joint.line[1] - joint.line[0]) / max(joint.length, 1e-9)
            for tab in joint.tabs:
                middle = joint.line[0] + along * tab.at
                sliver = Manifold.sphere(0.2, 8).translate(middle)
                assert (solids[tab.on] ^ sliver).volume() > 0, (joint.id, tab)


@given(st.floats(1.0, 12.0), st.integers(2, 60), st.sampled_from(["open", "half-open", "closed"]),
       st.sampled_from([1.0, 3.0]))
def test_groups_leave_a_web_between_them_however_many_and_narrow(width, count, corner, thickness):
    kit = kit_of(box(120, 80, 60), corner=corner, thickness=thickness, tabs=TabRule(width=width, count=count))
    for joint in kit.joints:
        at = sorted(joint.tabs, key=lambda tab: tab.at)
        for one, two in itertools.pairwise(at):
            taken = [tab.width / 2 + tab.flank + tab.fit_gap * (1.0 if tab.flank else 0.5) for tab in (one, two)]
            # common practice, no source: twice the thickness, and 3 mm at least
            assert two.at - one.at - sum(taken) >= max(2 * thickness, 3.0) - 1e-6
