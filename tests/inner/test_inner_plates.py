"""Inner plates from the drawing to the kit: fitted, standing on walls, tabbed through them."""

import dataclasses
import math

import numpy as np
import pytest
import shapely
from baffled import QUIET, along, boxed, inner_of, random_baffled, rules, shelf, tees, upright, with_inner
from drawn_meshes import box, extruded, faces_of, together, without
from judges import placed_solids, worst_overlap
from manifold3d import Manifold

from tackwright.core.envelope.mesh import Mesh
from tackwright.core.make_kit import make_kit
from tackwright.core.shapes.outline import Circle
from tackwright.core.terms.choices import JointChoice, MarkedOpening, PanelChoice, TabRule
from tackwright.core.terms.errors import InputError

BARE = dataclasses.replace(QUIET, tabs=TabRule(on=False))


def sizes(plate):
    return sorted(plate.size)


def the_gaps(kit):
    """Between the inner plate and every wall it has a tee with: mm, by manifold3d."""
    solids = placed_solids(kit)
    return {j.plates: solids[j.plates[0]].min_gap(solids[j.plates[1]], 50.0) for j in tees(kit)}


def test_a_baffle_drawn_roughly_fills_the_section():
    kit = boxed([upright(100.0, (4.0, 205.0), (-6.0, 143.0))], BARE)
    (baffle,) = inner_of(kit)
    assert sizes(baffle) == pytest.approx([144.0, 194.0], abs=1e-9)      # 150 and 200 less two walls
    assert len(tees(kit)) == 4 and all(j.angle == pytest.approx(90.0) for j in tees(kit))
    assert {j.plates[1] for j in tees(kit)} == {baffle.placements[0].id}
    assert max(the_gaps(kit).values()) < 1e-6 and worst_overlap(kit) < 1e-6


def test_what_ends_farther_than_the_reach_stays_as_drawn():
    kit = boxed([upright(100.0, (4.0, 150.0), (5.0, 120.0))], BARE)
    (rib,) = inner_of(kit)
    assert sizes(rib) == pytest.approx([117.0, 147.0], abs=1e-9)         # from the walls' 3 mm to the drawn edges
    assert len(tees(kit)) == 2
    far = boxed([upright(100.0, (4.0, 150.0), (5.0, 120.0))], dataclasses.replace(BARE, reach=60.0))
    assert sizes(inner_of(far)[0]) == pytest.approx([144.0, 194.0], abs=1e-9)


@pytest.mark.parametrize("side", ["inside", "outside", "centred"])
@pytest.mark.parametrize("lean", [0.0, 60.0, -110.0])
def test_a_leaning_baffle_touches_every_wall_and_stands_in_none(side, lean):
    settings = dataclasses.replace(BARE, metal_side=side)
    kit = boxed([upright(150.0, lean=lean)], settings)
    angle = math.degrees(math.atan2(150.0, abs(lean)))
    assert sorted(round(j.angle, 6) for j in tees(kit)) == sorted(round(a, 6) for a in (angle, angle, 90.0, 90.0))
    assert max(the_gaps(kit).values()) < 1e-5 and worst_overlap(kit) < 1e-3
    for joint in tees(kit):
        if abs(joint.angle - 90.0) > 1.0:
            assert joint.groove.area == pytest.approx(4.5 / math.tan(math.radians(angle)))
            assert joint.groove.angle == pytest.approx(90.0 - angle)


def test_the_root_gap_is_kept_square_to_the_wall():
    kit = boxed([upright(150.0, lean=70.0)], dataclasses.replace(BARE, root_gap=0.8))
    for gap in the_gaps(kit).values():
        assert gap == pytest.approx(0.8, abs=1e-4)


def test_tabs_go_through_slots_and_end_flush():
    kit = boxed([upright(150.0, lean=60.0)], dataclasses.replace(QUIET, tab_short=0.0))
    count = sum(len(j.tabs) for j in tees(kit))
    walls = [p for p in kit.plates if p.role == "wall"]
    assert count >= 8
    assert sum(len(p.outline.holes) * p.quantity for p in walls) == count
    assert worst_overlap(kit) < 1e-3
    whole = Manifold.cube((300.0, 200.0, 150.0))                          # the drawn box is the outside of the metal
    solids = placed_solids(kit)
    (baffle,) = inner_of(kit)
    own = solids[baffle.placements[0].id]
    assert (own - whole).volume() < 1e-3                                  # none stands proud
    box_of = own.bounding_box()
    assert [box_of[1], box_of[2], box_of[4], box_of[5]] == pytest.approx([0.0, 0.0, 200.0, 150.0], abs=1e-4)


def test_tabs_through_a_vessels_wall_end_half_way_for_a_plug_and_flush_in_an_open_one():
    (shut,) = (inner_of(boxed([upright(150.0)]))[0],)
    assert shut.size == pytest.approx((200.0 - 3.0, 150.0 - 3.0)) or shut.size == pytest.approx((147.0, 197.0))
    loose = boxed([upright(150.0)], dataclasses.replace(QUIET, tab_short=0.0))
    assert sorted(inner_of(loose)[0].size) == pytest.approx([150.0, 200.0])
    assert {tab.reach for joint in tees(boxed([upright(150.0)])) for tab in joint.tabs} == {1.5}


def test_tabs_may_end_short_of_the_surface():
    kit = boxed([shelf(70.0)], dataclasses.replace(QUIET, tab_short=1.0))
    (plate,) = inner_of(kit)
    solid = placed_solids(kit)[plate.placements[0].id]
    assert solid.bounding_box()[0] == pytest.approx(1.0, abs=1e-6)
    assert all(tab.reach == pytest.approx(2.0) for j in tees(kit) for tab in j.tabs)


@pytest.mark.parametrize("lean", [0.0, 40.0, -90.0])
def test_a_slot_leaves_its_gaps_at_every_side_of_its_tab(lean):
    """The tab is held by nothing else, so the gap of the whole kit between inner plate and wall is 0 along the line
    only; with a root gap wide enough it is the fit gap a side, or half of the one for the sheet's thickness."""
    settings = dataclasses.replace(QUIET, fit_gap=0.3, thickness_gap=0.4, root_gap=3.0, tab_short=0.0)
    kit = boxed([upright(150.0, lean=lean)], settings)
    assert sum(len(j.tabs) for j in tees(kit)) >= 8
    for gap in the_gaps(kit).values():
        assert gap == pytest.approx(0.2, abs=2e-3)


def test_slots_have_square_corners_or_reliefs():
    square = boxed([shelf(70.0)])
    relieved = boxed([shelf(70.0)], dataclasses.replace(QUIET, slot_relief=0.5))
    for plain, round_ in zip(square.plates, relieved.plates, strict=True):
        for one, two in zip(plain.outline.holes, round_.outline.holes, strict=True):
            assert one.bulges is None and len(one.points) == 4
            assert np.sort(np.abs(two.bulges)).tolist() == [0.0] * 4 + [1.0] * 4
            # four half discs more
            assert abs(two.area()) - abs(one.area()) == pytest.approx(2 * math.pi * 0.25, abs=1e-9)
            assert one.area() < 0 and two.area() < 0


def test_slots_keep_a_web_to_edges_other_slots_and_openings():
    settings = dataclasses.replace(QUIET, tabs=TabRule(spacing=40.0))
    mesh, choices = with_inner(box(300.0, 200.0, 150.0), [shelf(70.0), upright(6.0), upright(20.0)], settings)
    hole = MarkedOpening(name="port", at=(150.0, 0.0, 70.0), size=(20.0,))
    kit = make_kit(mesh, dataclasses.replace(choices, openings=(hole,)))
    assert "web_too_small" not in rules(kit)
    for plate in kit.plates:
        rings = [shapely.LinearRing(r) for r in plate.outline.rings()]
        for i, one in enumerate(rings):
            for two in rings[i + 1 :]:
                assert one.distance(two) >= 6.0 - 1e-6                    # twice the thickness
    # the port went where it was put, so the shelf's tabs made room
    (port,) = kit.openings
    assert port.name == "port" and any(isinstance(h, Circle) for p in kit.plates for h in p.outline.holes)
    # the plate beside the end wall has no room for slots in the long sides, and says so
    near = [f for f in kit.checks if f.rule == "tee_without_tabs" and "less than 6.0 mm of metal" in f.message]
    assert near and all(f.level == "note" for f in near)


def test_tabs_can_be_turned_off_for_one_joint():
    names = ["left", "right", "front", "back", "bottom", "top"]
    mesh, choices = with_inner(box(300.0, 200.0, 150.0), [shelf(70.0)])
    faces = {i: PanelChoice(name=n) for i, n in enumerate(names)} | {6: PanelChoice(inner=True, name="tray")}
    joints = {("left", "tray"): JointChoice(tabs=TabRule(on=False)), ("right", "tray"): JointChoice(root_gap=1.5)}
    kit = make_kit(mesh, dataclasses.replace(choices, faces=faces, joints=joints))
    panel = {p.id: p.panel for plate in kit.plates for p in plate.placements}
    found = {panel[j.plates[0]]: j for j in tees(kit)}
    assert set(found) == {"left", "right", "front", "back"}
    assert [bool(found[n].tabs) for n in ("left", "right", "front", "back")] == [False, True, True, True]
    assert (found["right"].root_gap, found["left"].root_gap) == (1.5, 0.0)
    with pytest.raises(InputError, match="'top' and 'tray' do not meet"):
        make_kit(mesh, dataclasses.replace(choices, faces=faces, joints={("top", "tray"): JointChoice()}))
    with pytest.raises(InputError, match="no panel is named 'lid'"):
        make_kit(mesh, dataclasses.replace(choices, faces=faces, joints={("lid", "tray"): JointChoice()}))


def test_a_drawn_edge_carries_the_choice_for_its_joint():
    mesh, choices = with_inner(box(300.0, 200.0, 150.0), [shelf(70.0, (4.0, 297.0))])
    first = mesh.face(6)[1], mesh.face(6)[2]                              # the edge at the right wall
    edge = (int(min(first)), int(max(first)))
    plain = make_kit(mesh, choices)
    kit = make_kit(mesh, dataclasses.replace(choices, edges={edge: JointChoice(tabs=TabRule(on=False), fit_gap=0.3)}))
    (bare,) = [j for j in tees(kit) if edge in j.mesh_edges]
    assert bare.tabs == () and np.allclose(bare.line[:, 0], 297.0)
    assert sum(len(j.tabs) for j in tees(plain)) > sum(len(j.tabs) for j in tees(kit)) > 0
    assert all(len(j.mesh_edges) == 1 for j in tees(kit))


@pytest.mark.parametrize(("chosen", "said"), [
    (JointChoice(through=0), "through is chosen"),
    (JointChoice(corner="closed", root_gap=2.0), "corner and root gap are chosen"),
    (JointChoice(root_gap=0.0, fit_gap=0.3), None),                       # what they have anyway, and what is heard
])  # fmt: skip
def test_what_a_tee_has_no_use_for_is_said_at_its_edge(chosen, said):
    mesh, choices = with_inner(box(300.0, 200.0, 150.0), [shelf(70.0, (4.0, 297.0))])
    first = mesh.face(6)[1], mesh.face(6)[2]
    edge = (int(min(first)), int(max(first)))
    kit = make_kit(mesh, dataclasses.replace(choices, edges={edge: chosen}))
    found = [f for f in kit.checks if f.rule == "choice_idle"]
    assert [said in f.message and f.edges == (edge,) and f.level == "note" for f in found] == ([True] if said else [])


def test_a_choice_for_the_corner_that_an_inner_plate_ends_in_is_heard():
    walls, slantwise = box(300.0, 200.0, 150.0), [0, 1, 7, 6]
    _, choices = with_inner(walls, [walls.points[slantwise].tolist()])
    mesh, corner = Mesh.of(walls.points, [*faces_of(walls), slantwise]), (0, 1)
    kit = make_kit(mesh, dataclasses.replace(choices, edges={corner: JointChoice(corner="closed")}))
    assert next(j for j in kit.joints if j.kind != "tee" and corner in j.mesh_edges).kind == "closed_corner"
    assert not rules(kit, "error") and "choice_idle" not in rules(kit)


def test_a_cascade_of_sloping_shelves():
    rings = [shelf(40.0, (4.0, 230.0), drop=-15.0), shelf(90.0, (70.0, 296.0), drop=15.0),
             shelf(115.0, (4.0, 230.0), drop=-15.0)]
    kit = boxed(rings)
    assert len(tees(kit)) == 9 and worst_overlap(kit) < 1e-3             # each on three walls, one edge free
    assert not rules(kit, "error")


def test_a_shelf_ends_on_a_baffle_and_is_tabbed_through_it():
    kit = boxed([upright(150.0), shelf(70.0, (3.0, 146.0))])
    at = {p.id: (p.matrix[:3, 2], plate) for plate in inner_of(kit) for p in plate.placements}
    (joint,) = [j for j in tees(kit) if j.plates[0] in at]
    (across, baffle), (up, _) = at[joint.plates[0]], at[joint.plates[1]]
    assert abs(across[0]) == pytest.approx(1.0) and abs(up[2]) == pytest.approx(1.0)
    assert len(joint.tabs) > 0 and len(baffle.outline.holes) == len(joint.tabs)
    assert worst_overlap(kit) < 1e-3 and not rules(kit, "error")


def test_an_inner_plate_in_an_angled_body_with_a_hollow_corner():
    outline = [(0, 0), (300, 0), (300, 120), (160, 120), (160, 260), (0, 260)]
    dam = [(150.0, 0.0, 0.0), (150.0, 260.0, 0.0), (150.0, 260.0, 150.0), (150.0, 0.0, 150.0)]
    mesh, choices = with_inner(extruded(outline, 150.0), [dam, [(x, y, 70.0) for x, y in outline]])
    kit = make_kit(mesh, choices)
    assert worst_overlap(kit) < 1e-2 and not rules(kit, "error")
    assert {j.kind for j in kit.joints} >= {"tee", "cross"}


def test_capacity_is_less_by_the_metal_inside():
    for lean in (0.0, 60.0):
        kit = boxed([upright(150.0, lean=lean)])
        room = Manifold.cube((294.0, 194.0, 144.0)).translate((3.0, 3.0, 3.0))
        inside = [placed_solids(kit)[p.id] ^ room for plate in inner_of(kit) for p in plate.placements]
        assert kit.envelopes[0].capacity == pytest.approx(room.volume() - sum(s.volume() for s in inside), rel=1e-9)
        assert inner_of(kit)[0].placements[0].id in kit.envelopes[0].plates


def test_congruent_baffles_share_a_mark():
    kit = boxed([upright(100.0), upright(200.0)])
    (baffle,) = inner_of(kit)
    assert baffle.quantity == 2


def test_metal_side_of_an_inner_plate_follows_its_drawn_face():
    mesh, choices = with_inner(box(300.0, 200.0, 150.0), [upright(100.0)])
    for side, low, high in (("centred", 98.5, 101.5), ("outside", 100.0, 103.0), ("inside", 97.0, 100.0)):
        kit = make_kit(mesh, dataclasses.replace(
            choices, faces={6: PanelChoice(inner=True, metal_side=side)}, settings=BARE))
        bounds = placed_solids(kit)[inner_of(kit)[0].placements[0].id].bounding_box()
        assert (bounds[0], bounds[3]) == pytest.approx((low, high)), side


# --- bad input


def test_one_that_pokes_out_is_trimmed_with_a_note():
    kit = boxed([upright(100.0, (-40.0, 190.0), (3.0, 147.0))], BARE)
    assert sizes(inner_of(kit)[0]) == pytest.approx([144.0, 194.0], abs=1e-9)
    (note,) = [f for f in kit.checks if f.rule == "inner_plate_trimmed"]
    assert note.level == "note" and "43.0 mm" in note.message and note.faces == (6,)


def test_one_mostly_outside_is_refused():
    with pytest.raises(InputError, match=r"6\d % of inner plate") as caught:
        boxed([upright(100.0, (-300.0, 150.0))])
    assert caught.value.faces == (6,)


def test_one_that_touches_nothing_is_an_error():
    kit = boxed([upright(100.0, (40.0, 150.0), (40.0, 110.0))])
    (finding,) = [f for f in kit.checks if f.rule == "inner_plate_loose"]
    assert finding.level == "error" and finding.faces == (6,) and "10 mm" in finding.message


def test_two_that_coincide_are_refused():
    with pytest.raises(InputError, match="coincide|same place") as caught:
        boxed([upright(100.0), upright(101.0)])
    assert set(caught.value.faces) == {6, 7}


def test_three_through_one_point_are_refused():
    with pytest.raises(InputError, match="Three inner plates meet") as caught:
        boxed([upright(150.0), along(100.0), shelf(70.0)])
    assert set(caught.value.faces) == {6, 7, 8}


def test_walls_part_a_plate_that_runs_through_a_hollow():
    outline = [(0, 0), (300, 0), (300, 200), (200, 200), (200, 60), (100, 60), (100, 200), (0, 200)]
    ring = [(0.0, 120.0, 0.0), (300.0, 120.0, 0.0), (300.0, 120.0, 150.0), (0.0, 120.0, 150.0)]
    mesh, choices = with_inner(extruded(outline, 150.0), [ring], names=["web"])
    kit = make_kit(mesh, choices)
    assert sorted(p.panel for plate in inner_of(kit) for p in plate.placements) == ["web", "web 2"]
    assert "inner_plate_parted" in rules(kit) and worst_overlap(kit) < 1e-3


def test_an_open_box_holds_a_baffle_by_its_walls():
    drawn, choices = with_inner(without(box(300.0, 200.0, 150.0), 5), [upright(100.0, (4.0, 196.0), (4.0, 120.0))])
    kit = make_kit(drawn, choices)
    assert len(tees(kit)) == 3 and worst_overlap(kit) < 1e-3 and not rules(kit, "error")


def test_an_open_and_a_closed_shell_each_hold_their_baffle():
    shells = together(box(300.0, 200.0, 150.0), without(box(300.0, 200.0, 150.0, at=(500.0, 0.0, 0.0)), 5))
    rings = [upright(100.0), [(x + 500.0, y, z) for x, y, z in upright(100.0, z=(4.0, 120.0))]]
    kit = make_kit(*with_inner(shells, rings))
    assert len(tees(kit)) == 4 + 3 and worst_overlap(kit) < 1e-3 and not rules(kit, "error")
    inner = {p.id for plate in inner_of(kit) for p in plate.placements}
    assert [len(inner.intersection(e.plates)) for e in kit.envelopes] == [1, 1]


@pytest.mark.parametrize("seed", range(12))
def test_random_baffled_envelopes_never_clash(seed):
    assert_sound(seed)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(12, 240))
def test_many_random_baffled_envelopes_never_clash(seed):
    assert_sound(seed)


def assert_sound(seed):
    mesh, choices = random_baffled(seed)
    try:
        kit = make_kit(mesh, choices)
    except InputError as error:
        assert error.faces, "a refusal names its faces"
        return
    inner = {p.id for plate in inner_of(kit) for p in plate.placements}
    wrong = [f for f in kit.checks if f.level == "error"]
    if any(f.rule == "clash" and not inner.intersection(f.about) for f in wrong):
        return                                                            # the hull itself is too sharp for its metal
    assert worst_overlap(kit) < 0.01
    assert not wrong
    solids = placed_solids(kit)
    for joint in (j for j in tees(kit) if j.length > 20.0):              # shorter ones may stand over a notch
        gap = solids[joint.plates[0]].min_gap(solids[joint.plates[1]], 20.0)
        assert gap < 0.2 + choices.settings.root_gap, f"{joint.id} is on the list, and {gap:.2f} mm of air is between"
    # every tab of the list is there as metal, in a slot of its own
    for plate in kit.plates:
        for placement in plate.placements:
            tabs = sum(len(j.tabs) for j in tees(kit) if j.plates[0] == placement.id)
            assert len(plate.outline.holes) >= tabs                       # trimming may leave a hole of its own


