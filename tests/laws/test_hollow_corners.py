"""Inner plates at hollow corners and edges, and against each other: drawn roughly, they close what they should."""

import dataclasses
import math

import numpy as np
import pytest
import shapely
from baffled import QUIET, along, boxed, inner_of, rules, shelf, tees, upright, with_inner
from drawn_meshes import box, extruded, without
from judges import worst_overlap

from tackwright.core.make_kit import make_kit
from tackwright.core.terms.choices import JointChoice, MarkedOpening, PanelChoice, TabRule
from tackwright.core.terms.errors import InputError

OPEN = dataclasses.replace(QUIET, sealed=False)
ELL = [(0, 0), (300, 0), (300, 120), (160, 120), (160, 260), (0, 260)]


def sealed(kit):
    return [f for f in kit.checks if f.rule == "sealed_cell"]


def of_rule(kit, rule):
    return [f for f in kit.checks if f.rule == rule]


@pytest.mark.parametrize("inset", [0.0, 3.5, 5.0, 9.0, 12.0])
def test_a_shelf_drawn_short_all_round_fills_a_hollow_corner(inset):
    ring = [(x, y, 70.0) for x, y in shapely.Polygon(ELL).buffer(-inset, join_style="mitre").exterior.coords[:-1]]
    kit = make_kit(*with_inner(extruded(ELL, 150.0), [ring], dataclasses.replace(OPEN, tabs=TabRule(on=False))))
    (plate,) = inner_of(kit)
    assert plate.area == pytest.approx(shapely.Polygon(ELL).buffer(-3.0, join_style="mitre").area)
    assert plate.outline.holes == () and len(tees(kit)) == 6 and len(sealed(kit)) == 2


def test_a_plate_that_ends_on_a_hollow_edge_has_a_joint_there_and_parts_two_cells():
    ring = [(160, 120, 0), (40, 0, 0), (40, 0, 150), (160, 120, 150)]
    kit = make_kit(*with_inner(extruded(ELL, 150.0), [ring], OPEN))
    assert len(sealed(kit)) == 2 and worst_overlap(kit) < 1e-3
    (edge,) = [j for j in tees(kit) if not j.tabs and np.ptp(j.line[:, 2]) > 100.0 and j.line[0, 0] > 100.0]
    assert edge.length == pytest.approx(144.0, abs=0.5) and edge.groove.area == 0.0
    (note,) = of_rule(kit, "tee_on_edge")
    assert note.level == "note" and len(note.about) == 2
    vent = MarkedOpening(name="vent", at=(300.0, 60.0, 75.0), size=(12.0,), purpose="vent")
    mesh, choices = with_inner(extruded(ELL, 150.0), [ring], OPEN)
    assert len(sealed(make_kit(mesh, dataclasses.replace(choices, openings=(vent,))))) == 1


@pytest.mark.parametrize("rings", [
    [upright(150.0, z=(0.0, 70.0)), shelf(70.0)],
    [upright(150.0), along(100.0, (150.0, 300.0))],
    [upright(150.0), shelf(70.0, (0.0, 150.0))],
    [upright(150.0, lean=60.0), shelf(70.0, (0.0, 170.0))],
])
@pytest.mark.parametrize("settings", [
    OPEN, dataclasses.replace(OPEN, tab_short=1.0), dataclasses.replace(OPEN, root_gap=0.8),
    dataclasses.replace(OPEN, tabs=TabRule(on=False)),
])
def test_tabs_through_an_inner_plate_are_no_way_between_cells(rings, settings):
    assert len(sealed(boxed(rings, settings))) == 3


def test_what_a_shelf_closes_off_in_an_open_box_is_a_sealed_cell():
    mesh, choices = with_inner(without(box(300.0, 200.0, 150.0), 5), [shelf(70.0)], OPEN)
    (found,) = sealed(make_kit(mesh, choices))
    assert f"{294 * 194 * 65.5 / 1e6:.3g} L" in found.message and found.about
    drain = MarkedOpening(name="drain", at=(150.0, 0.0, 20.0), size=(12.0,), purpose="drain")
    assert not sealed(make_kit(mesh, dataclasses.replace(choices, openings=(drain,))))


@pytest.mark.parametrize("rings", [
    [upright(150.0), shelf(70.0, (0.0, 155.0))],
    [upright(150.0, (0.0, 105.0)), along(100.0, (145.0, 300.0))],
    [upright(150.0, lean=40.0), shelf(70.0, (0.0, 174.0))],
])
def test_what_is_drawn_past_a_plate_within_the_reach_is_cut_off(rings):
    kit = boxed(rings)
    assert sum(p.quantity for p in inner_of(kit)) == 2 and "inner_plate_parted" not in rules(kit)


def test_what_is_drawn_over_the_walls_of_an_open_box_is_cut_off():
    mesh, choices = with_inner(without(box(300.0, 200.0, 150.0), 5), [shelf(70.0, (-8.0, 308.0), (-8.0, 208.0))])
    kit = make_kit(mesh, choices)
    assert sum(p.quantity for p in inner_of(kit)) == 1 and not rules(kit, "error")


@pytest.mark.parametrize("turn", [1, -1])
@pytest.mark.parametrize("two", [along(100.0, (150.0, 300.0)), along(100.0, (0.0, 150.0))])
def test_the_corner_of_two_inner_plates_is_a_joint_whichever_way_they_are_drawn(turn, two):
    kit = boxed([upright(150.0, (0.0, 100.0))[::turn], two])
    inner = {p.id for plate in inner_of(kit) for p in plate.placements}
    assert [j for j in tees(kit) if set(j.plates) <= inner]


def test_plates_that_do_not_reach_each_other_are_said():
    kit = boxed([upright(150.0, (0.0, 97.0)), along(100.0, (153.0, 300.0))])
    inner = {p.id for plate in inner_of(kit) for p in plate.placements}
    joined = [j for j in tees(kit) if set(j.plates) <= inner]
    assert joined or [f for f in of_rule(kit, "inner_plates_apart") if f.level == "warning"]


def test_limber_holes_are_left_out_where_there_is_no_metal_for_them():
    kit = boxed([upright(150.0, z=(0.0, 9.0))], dataclasses.replace(QUIET, limber=15.0))
    (strip,) = inner_of(kit)
    assert not [o for o in kit.openings if o.purpose == "limber"]
    assert shapely.Polygon(strip.outline.outer.flatten()).is_valid
    roof = [(100, 0, 0), (100, 200, 0), (100, 120, 12), (100, 80, 12)]
    assert not rules(boxed([roof], dataclasses.replace(QUIET, limber=20.0)), "error")


def test_a_root_gap_that_eats_the_plate_is_refused():
    names = {i: PanelChoice(name=n) for i, n in enumerate(["left", "right", "front", "back", "bottom", "top"])}
    mesh, choices = with_inner(box(300.0, 200.0, 150.0), [shelf(70.0)], names=["tray"])
    gaps = {(n, "tray"): JointChoice(root_gap=97.0) for n in ("front", "back")}
    with pytest.raises(InputError, match="Nothing is left of inner plate 'tray'") as caught:
        make_kit(mesh, dataclasses.replace(choices, faces=names | dict(choices.faces), joints=gaps))
    assert caught.value.faces == (6,)


def test_a_plate_too_sharp_to_a_wall_is_said():
    a = math.radians(15.0)
    rise, x = 144.0, 10.0
    ring = [(x, 0, 3), (x, 200, 3), (x + 144.0 / math.tan(a) * 0.5, 200, 75), (x + 144.0 / math.tan(a) * 0.5, 0, 75)]
    kit = boxed([ring], size=(600.0, 200.0, 150.0))
    assert rise and worst_overlap(kit) < 1e-3
    (found,) = of_rule(kit, "tee_too_sharp")
    assert found.level == "warning" and "at 15.0 degrees" in found.message and len(found.about) == 2


def test_plates_that_share_space_at_a_small_angle_are_refused():
    rings = [[(0, 0, 53), (268, 0, 67), (268, 200, 67), (0, 200, 53)],
             [(0, 0, 52), (176, 0, 34), (176, 200, 34), (0, 200, 52)]]
    with pytest.raises(InputError, match=r"at 8\.8 degrees.*mm³ that both take up"):
        boxed(rings)


def test_a_circle_drawn_in_an_inner_plate_is_cut_as_one():
    angles = np.linspace(0.0, 2 * np.pi, 24, endpoint=False)
    ring = [(100.0, 100.0 + 20.0 * math.cos(a), 75.0 + 20.0 * math.sin(a)) for a in angles]
    square = upright(100.0)
    # the baffle as two faces that leave the hole open
    points = [*square, *ring]
    low = [0, 1, *[4 + i for i in (0, *range(23, 11, -1))]]
    high = [2, 3, *[4 + i for i in range(12, -1, -1)]]
    mesh, _ = with_inner(box(300.0, 200.0, 150.0), [points])
    faces = [list(mesh.face(f)) for f in range(6)]
    start = 8
    faces += [[start + i for i in face] for face in (low, high, [3, 0, 4 + 12], [1, 2, 4 + 0])]
    from tackwright.core.envelope.mesh import Mesh

    chosen = {f: PanelChoice(inner=True) for f in range(6, 10)}
    _, choices = with_inner(box(300.0, 200.0, 150.0), [])
    kit = make_kit(Mesh.of(mesh.points, faces), dataclasses.replace(choices, faces=chosen))
    (opening,) = kit.openings
    assert (opening.shape, opening.size) == ("round", pytest.approx((40.0,)))
    assert of_rule(kit, "drawn_circle")


def test_an_opening_where_an_inner_plate_stands_is_a_warning():
    ports = (MarkedOpening(name="port", at=(150.0, 0.0, 70.0), size=(30.0,)),)
    mesh, choices = with_inner(box(300.0, 200.0, 150.0), [shelf(70.0)])
    kit = make_kit(mesh, dataclasses.replace(choices, openings=ports))
    (found,) = of_rule(kit, "opening_at_joint")
    assert found.level == "warning" and "'port'" in found.message and found.openings == ("port",)
    clear = (dataclasses.replace(ports[0], at=(150.0, 0.0, 110.0)),)
    assert not of_rule(make_kit(mesh, dataclasses.replace(choices, openings=clear)), "opening_at_joint")


def test_gaps_too_wide_at_a_tee_are_said():
    kit = boxed([shelf(70.0)], dataclasses.replace(QUIET, root_gap=2.0, fit_gap=2.0))
    inner = inner_of(kit)[0].placements[0].id
    assert {f.rule for f in kit.checks if inner in f.about} >= {"root_gap_wide", "fit_gap_wide"}


def test_a_tee_has_no_corner():
    mesh, choices = with_inner(box(300.0, 200.0, 150.0), [shelf(70.0)], names=["tray"])
    names = {i: PanelChoice(name=n) for i, n in enumerate(["left", "right", "front", "back", "bottom", "top"])}
    joints = {("front", "tray"): JointChoice(corner="closed")}
    with pytest.raises(InputError, match="meet in a tee or a crossing, which has no corner"):
        make_kit(mesh, dataclasses.replace(choices, faces=names | dict(choices.faces), joints=joints))


@pytest.mark.parametrize(("name", "value"), [
    ("reach", math.nan), ("reach", math.inf), ("reach", -1.0), ("reach", 1e300), ("tab_short", -3.0),
    ("slot_relief", math.nan), ("limber", -2.0), ("hole_radius", math.inf), ("fit_gap", math.nan),
    ("root_gap", math.nan),
])
def test_numbers_that_are_none_are_refused(name, value):
    with pytest.raises(InputError, match=name.replace("_", " ")):
        boxed([shelf(70.0)], dataclasses.replace(QUIET, **{name: value}))


@pytest.mark.parametrize("rule", [
    TabRule(width=-5.0), TabRule(width=math.nan), TabRule(count=-3), TabRule(spacing=math.nan), TabRule(spacing=0.0),
    TabRule(keep_out=math.nan), TabRule(flank=-1.0)])
def test_tab_rules_that_are_none_are_refused(rule):
    with pytest.raises(InputError, match="tabs"):
        boxed([shelf(70.0)], dataclasses.replace(QUIET, tabs=rule))
