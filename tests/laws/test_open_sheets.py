"""Ribs and gussets on open sheets, judged from what is written: free sides on their drawn lines, tees on either face,
and the same kit however the drawing is wound."""

from __future__ import annotations

from dataclasses import replace

import hypothesis.strategies as st
import numpy as np
import pytest
import shapely
from baffled import random_baffled
from drawn_meshes import box, faces_of, together
from hypothesis import Phase, assume, given, settings
from judges import placed_solids, worst_overlap
from open_sheets import FAR, FINE, LONG, MIDDLE, Sheet, cut_outlines, cut_plate, half, is_sound, standing
from scipy.spatial import cKDTree
from solid_rooms import block

from tackwright.core.envelope.mesh import Mesh
from tackwright.core.kit.report import refusal_text
from tackwright.core.make_kit import make_kit
from tackwright.core.terms.choices import Choices, PanelChoice, Settings
from tackwright.core.terms.errors import InputError
from tackwright.core.terms.remedies import ChangedMesh, ChangedPanels, apply


def tees(kit):
    return [joint for joint in kit.joints if joint.kind == "tee"]


def rules(kit):
    return {finding.rule for finding in kit.checks}


def before(sheet):
    """All that lies before the surfaces that a plate stands on."""
    return shapely.intersection_all([half(at, into) for at, into in sheet.grounds()])


def body(kit, sheet):
    """What is cut of the plate but for its tabs."""
    shape = shapely.intersection(cut_plate(kit), before(sheet), grid_size=FINE)
    return shapely.union_all([p for p in shapely.get_parts(shape) if p.geom_type == "Polygon"])


def apart(one, two):
    return shapely.symmetric_difference(one, two, grid_size=FINE).area


@given(standing())
@settings(max_examples=60, phases=[Phase.generate])
def test_free_edges_stay_on_their_lines_and_feet_go_to_what_they_stand_on(plate):
    assume(is_sound(plate))
    sheet = plate.sheet
    kit = make_kit(*sheet.drawing(plate.ring))
    assert apart(body(kit, sheet), plate.meant) < 0.05
    # beyond the feet there are tabs alone, through the metal and no farther
    whole = cut_plate(kit)
    deep = shapely.intersection_all([half(at + into * (sheet.thickness + 1e-6), into) for at, into in sheet.grounds()])
    assert shapely.difference(whole, deep, grid_size=FINE).area < 1e-3
    tabs = shapely.difference(whole, before(sheet), grid_size=FINE).area
    assert tabs == pytest.approx(sum(t.width for j in tees(kit) for t in j.tabs) * sheet.thickness, abs=1e-2)
    # a tee on every foot, all along it, and none said to be on an edge
    found = sorted(float(np.linalg.norm(j.line[1] - j.line[0])) for j in tees(kit))
    feet = [
        shapely.intersection(plate.meant.boundary, half(at, into).boundary.buffer(1e-6)).length
        for at, into in sheet.grounds()]
    feet = sorted(foot for foot in feet if foot > 1.0)
    assert found == pytest.approx(feet, abs=0.01)
    assert "tee_on_edge" not in rules(kit) and worst_overlap(kit) < 0.01


SWAPPED = {"inside": "outside", "outside": "inside", "centred": "centred"}


def same_solids(one, two, within=None):
    """Whether every placed solid of a kit has its like in the other one, as far as it lies within a block. Judge:
    manifold3d."""
    solids, others = (list(placed_solids(kit).values()) for kit in (one, two))
    if within is not None:
        solids, others = ([solid ^ within for solid in own] for own in (solids, others))
    if len(solids) != len(others):
        return False
    for solid in solids:
        boxes = [np.abs(np.subtract(other.bounding_box(), solid.bounding_box())).max() for other in others]
        other = others.pop(int(np.argmin(boxes)))
        if ((solid - other) + (other - solid)).volume() > 0.05 and not same_corners(solid, other):
            return False
    return True


def same_corners(one, two):
    """Whether two solids have the same corners. What is placed by numbers of six digits may lie 0.1 um askew, over a
    large plate more than a tab's worth of volume."""
    corners = [solid.to_mesh().vert_properties[:, :3] for solid in (one, two)]
    return max(float(cKDTree(a).query(b)[0].max()) for a, b in (corners, corners[::-1])) < 2e-3


@given(standing(), st.integers(0, 7), st.permutations(range(3)), st.booleans(), st.booleans())
def test_the_same_kit_however_it_is_wound_and_in_whatever_order(plate, turn, order, back, over):
    assume(is_sound(plate))
    sheet = plate.sheet
    wound = np.roll(plate.ring[::-1] if back else plate.ring, turn, axis=0)
    other = replace(sheet, looks_in=not sheet.looks_in, side=SWAPPED[sheet.side]) if over else sheet
    assert other.over == sheet.over
    mesh, choices = other.drawing(wound)
    order = [row for row in order if row < mesh.face_count]
    mixed = Mesh.of(mesh.points, [mesh.face(row) for row in order], name=mesh.name)
    chosen = replace(choices, faces={new: choices.faces[row] for new, row in enumerate(order)})
    # turned over, the sheet's own tabs in its corner lean the other way along it: all but these is looked at
    near = block((-2 * LONG, MIDDLE - 15, -2 * LONG), (2 * LONG, MIDDLE + 15, 2 * LONG)) if over else None
    assert same_solids(make_kit(*sheet.drawing(plate.ring)), make_kit(mixed, chosen), near)


@given(st.integers(0, 10**6), st.integers(0, 7), st.booleans())
def test_the_same_kit_however_random_plates_in_a_hull_are_wound(seed, turn, back):
    mesh, choices = random_baffled(seed)
    faces, random = faces_of(mesh), np.random.default_rng(seed)
    order = random.permutation(len(faces)).tolist()
    mixed = []
    for row in order:
        own = np.roll(faces[row], turn)
        inner = row in choices.faces
        mixed.append(own[::-1] if (back if inner else random.random() < 0.5) else own)
    chosen = replace(choices, faces={order.index(row): choice for row, choice in choices.faces.items()})
    kits = []
    for drawing in ((mesh, choices), (Mesh.of(mesh.points, mixed, name=mesh.name), chosen)):
        try:
            kits.append(make_kit(*drawing))
        except InputError as error:
            kits.append(error.what)
    if any(isinstance(kit, str) for kit in kits):
        assert all(isinstance(kit, str) for kit in kits), kits
    else:
        assert same_solids(*kits)


# ---- single cases


CORNER = Sheet(angle=90.0, side="inside", looks_in=False)
GUSSET = [(0, 0), (100, 0), (0, 100)]


def named(kit, rule):
    return [finding for finding in kit.checks if finding.rule == rule]


@pytest.mark.parametrize("side", ["inside", "outside", "centred"])
@pytest.mark.parametrize("looks_in", [True, False])
def test_a_gusset_has_tabs_at_both_its_joints(side, looks_in):
    kit = make_kit(*replace(CORNER, side=side, looks_in=looks_in).drawing(GUSSET))
    assert [len(joint.tabs) for joint in tees(kit)] == [1, 1]
    assert "tee_on_edge" not in rules(kit) and worst_overlap(kit) < 0.01


def test_a_sloped_edge_that_ends_on_the_wall_grows_no_fin():
    """At 22 degrees from the wall it ends on: it ended 19 mm of new metal farther up, with a notch beside it."""
    sheet = Sheet(angle=90.0, side="outside", looks_in=False)
    ring = [(40, 0), (200, 0), (140, 100), (0, 100)]
    kits = [make_kit(*sheet.drawing(ring, reach=reach)) for reach in (10.0, 0.5)]
    for kit in kits:
        assert apart(body(kit, sheet), shapely.Polygon(ring)) < 1e-3
        assert not {"inner_plate_lengthened", "inner_plate_trimmed"} & rules(kit)


@pytest.mark.parametrize("lean", [12, 20, 26, 33, 40, 44])
def test_a_rib_is_no_longer_than_it_was_drawn(lean):
    sheet = Sheet(angle=90.0, side="outside", looks_in=False)
    tip = 100 + 50 / np.tan(np.radians(lean))
    ring = [(0, 0), (100, 0), (tip, 50), (tip, 90), (0, 90)] if tip < 310 else [
        (0, 0), (100, 0), (300, 200 * np.tan(np.radians(lean))), (300, 90), (0, 90)]
    kit = make_kit(*sheet.drawing(ring))
    assert sorted(round(j.length) for j in tees(kit)) == [90, 100]
    assert apart(body(kit, sheet), shapely.Polygon(ring)) < 1e-3


def test_how_far_an_outline_is_lengthened_is_told():
    (told,) = named(make_kit(*CORNER.drawing([(7, 7), (107, 7), (7, 107)])), "inner_plate_lengthened")
    # 3 mm of metal on the inside: each foot is 4 mm short, their corner farther by the square root of two
    assert told.level == "note" and "up to 5.7 mm short" in told.message and told.faces == (2,)
    assert not named(make_kit(*CORNER.drawing(GUSSET)), "inner_plate_lengthened")


@pytest.mark.parametrize(("angle", "short", "leg"), [
    (35, 3, 100), (42, 4, 140), (28, 3, 60), (38, 3, 60), (42, 4, 100)])
@pytest.mark.parametrize("side", ["inside", "outside", "centred"])
@pytest.mark.parametrize("closed", [True, False])
def test_a_triangle_drawn_short_is_not_refused_by_the_order_of_its_corners(angle, short, leg, side, closed):
    """Where its long side was prolonged, corners that lay on each other to the last digit made the plate vanish."""
    sheet = Sheet(angle=90.0, side=side, looks_in=False)
    low = sheet.over + short
    ring = np.array([(low, low), (low + leg, low), (low, low + leg * np.tan(np.radians(angle)))])
    grown = short * (1 + 1 / np.tan(np.radians(angle)))
    wanted = (leg + grown) * (leg + grown) * np.tan(np.radians(angle)) / 2
    for turn in range(3):
        for wound in (ring, ring[::-1]):
            mesh, choices = sheet.drawing(np.roll(wound, turn, axis=0), sealed=True)
            if closed:
                plate = Mesh.of(mesh.points[-3:], [(0, 1, 2)])
                mesh = together(box(LONG, 2 * MIDDLE, LONG), plate)
                choices = replace(choices, faces={6: PanelChoice(inner=True)})
            (corners,) = cut_outlines(make_kit(mesh, choices))
            cut = shapely.Polygon(corners[:, [0, 2]]) & before(sheet)
            assert cut.area == pytest.approx(wanted, abs=0.01)


def test_a_wall_crossed_by_a_face_offers_to_make_it_an_inner_plate():
    mesh, choices = CORNER.drawing(GUSSET, inner=False)
    with pytest.raises(InputError, match="cross or touch") as caught:
        make_kit(mesh, choices)
    assert len(caught.value.each) == 2
    for one in caught.value.each:
        assert one.remedy.label == "Make 'plate' an Inner Plate"
        assert one.remedy.changes == (ChangedPanels(faces=(2,), choice=PanelChoice(inner=True), name="plate"),)
        assert [len(j.tabs) for j in tees(make_kit(mesh, apply(choices, one.remedy)))] == [1, 1]
    assert refusal_text(caught.value).count("In a job: in [panels.plate]: inner = true") == 2


@pytest.mark.parametrize("ring", [
    [(40, -60), (140, -60), (140, 70), (40, 70)],          # right through the floor, joined to nothing
    [(40, 0), (140, 0), (140, 70), (40, 70)],              # upright on it
    [(40, -4), (140, 3), (140, 70), (40, 70)],             # roughly so
])
def test_of_two_faces_that_cross_the_one_that_stands_on_the_other_is_meant(ring):
    mesh, choices = CORNER.drawing(ring, inner=False)
    with pytest.raises(InputError, match="cross or touch") as caught:
        make_kit(mesh, choices)
    (one,) = caught.value.each
    after = make_kit(mesh, apply(choices, one.remedy))
    assert tees(after) and not [f for f in after.checks if f.level == "error"] and worst_overlap(after) < 0.01


def test_no_button_where_either_face_could_be_meant():
    """Two lone sheets right through each other; two closed boxes."""
    one = Mesh.of([(-100, 0, -100), (100, 0, -100), (100, 0, 100), (-100, 0, 100)], [(0, 1, 2, 3)])
    two = Mesh.of([(-100, -100, 0), (100, -100, 0), (100, 100, 0), (-100, 100, 0)], [(0, 1, 2, 3)])
    for mesh in (together(one, two), together(box(), box(at=(150, 100, 50)))):
        with pytest.raises(InputError, match="cross or touch") as caught:
            make_kit(mesh, Choices(settings=Settings(thickness=3.0)))
        assert not any(error.remedy for error in caught.value.each)


def test_an_open_drawing_that_is_inside_out_is_told_and_turned():
    mesh, choices = replace(CORNER, looks_in=True).drawing(GUSSET)
    (told,) = named(make_kit(mesh, choices), "inside_out")
    assert told.level == "warning" and "160 of its 160 mm" in told.message and told.faces == (0, 1)
    (change,) = told.remedy.changes
    assert change == ChangedMesh(action="flip", faces=(0, 1))
    turned = Mesh.of(mesh.points, [
        mesh.face(i)[::-1] if i in change.faces else mesh.face(i) for i in range(mesh.face_count)], name=mesh.name)
    assert not named(make_kit(turned, choices), "inside_out")


def test_a_sheet_bent_to_and_fro_a_flat_one_and_a_box_have_no_wrong_way_round():
    zed = [(0, 0), (100, 0), (100, 80), (200, 80)]
    points = [(x, y, z) for y in (0.0, 150.0) for x, z in zed]
    bent = Mesh.of(points, [(i, i + 1, i + 5, i + 4) for i in range(3)])
    flat = Mesh.of(points[:2] + points[4:6], [(0, 1, 3, 2)])
    tray = Mesh.of(box().points, [face[::-1] for face in faces_of(box())[1:]])
    for mesh in (bent, Mesh.of(bent.points, [f[::-1] for f in faces_of(bent)]), flat, tray, box()):
        assert "inside_out" not in rules(make_kit(mesh, Choices(settings=Settings(thickness=3.0, sealed=True))))


@pytest.mark.parametrize("side", ["inside", "outside", "centred"])
def test_gussets_on_both_faces_of_a_sheet_at_the_same_line(side):
    sheet = Sheet(angle=90.0, side=side, looks_in=False, flat=True)
    over, under = sheet.over, sheet.over - sheet.thickness
    mesh, choices = sheet.drawing([(60, over + 2), (260, over + 2), (260, over + 80), (60, over + 80)])
    points = np.array([(60, MIDDLE, under - 2), (260, MIDDLE, under - 2), (160, MIDDLE, under - 80)])
    both = Mesh.of([*mesh.points, *points], [*faces_of(mesh), range(len(mesh.points), len(mesh.points) + 3)])
    kit = make_kit(both, replace(choices, faces={**choices.faces, 2: PanelChoice(name="other", inner=True)}))
    lines = {round(float(j.line[0, 2]), 6): j for j in tees(kit)}
    assert set(lines) == {over, under} and all(j.tabs for j in lines.values())
    assert worst_overlap(kit) < 0.01 and "tee_on_edge" not in rules(kit)
    # what is under the sheet stands 2 mm nearer than drawn, its slopes on their lines
    (lower,) = [ring for ring in cut_outlines(kit) if ring[:, 2].min() < -50]
    wide = 200 + 2 * 2 * 100 / 78
    shape = shapely.Polygon(lower[:, [0, 2]]) & shapely.box(-FAR, -FAR, FAR, under)
    assert shape.area == pytest.approx(wide * 80 / 2, abs=0.01)


@pytest.mark.parametrize("tilt", [-30.0, -20.0, 12.0, 30.0])
@pytest.mark.parametrize("side", ["inside", "outside", "centred"])
@pytest.mark.parametrize("looks_in", [True, False])
def test_a_gusset_that_leans_touches_what_it_stands_on_and_stands_in_nothing(tilt, side, looks_in):
    """Square to neither of the two."""
    sheet = Sheet(angle=100.0, side=side, looks_in=looks_in)
    mesh, choices = sheet.drawing([(4, 4), (120, 4), (-16, 120)])
    points = np.array(mesh.points)
    points[-3:, 1] += np.tan(np.radians(tilt)) * points[-3:, 2]
    kit = make_kit(Mesh.of(points, faces_of(mesh), name="sheet"), choices)
    solids = placed_solids(kit)
    assert len(tees(kit)) == 2 and worst_overlap(kit) < 0.01
    for joint in tees(kit):
        assert solids[joint.plates[0]].min_gap(solids[joint.plates[1]], 20.0) < 1e-5 and joint.tabs
