"""Marked openings: which plate they pierce and where, and what is said of those that cannot be cut."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from plates_data import FRONT, sheet

from tackwright.core.openings.openings import NEAR, place_openings
from tackwright.core.plates.plates import plate_shapes
from tackwright.core.shapes.outline import Circle, Contour, HoleField
from tackwright.core.terms.choices import Bolts, MarkedOpening
from tackwright.core.terms.errors import InputError

NAMES = {"lid": [0], "front": [1], "sides": [0, 1]}


def mark(name="port", at=(150.0, 100.0, 0.0), size=(40.0,), **rest):
    """An opening marked at a place in the plates' space."""
    return MarkedOpening(name=name, at=at, size=size, **rest)


def pierced(*marked, plates=None, fittings=None, web=1.0):
    plates = [sheet()] if plates is None else plates
    return place_openings(
        plates, marked, lambda panel: NAMES.get(panel, [panel] if isinstance(panel, int) and panel < 2 else []),
        fittings or {}, web)


def box_corner():
    """A lid, and a front plate that hangs from its edge at y = 0."""
    return [sheet("lid"), sheet("front", 300, 150, at=(0.0, 0.0, -150.0), axes=FRONT, panel=1)]


def only(findings, level=None):
    found = [f for f in findings if level is None or f.level == level]
    assert len(found) == 1, [f.message for f in findings]
    return found[0]


# ---- which plate

def test_a_round_opening_is_cut_where_it_is_marked():
    done = pierced(mark(at=(100.0, 80.0, 1.0)))
    assert done.findings == ()
    assert done.plates[0].outline.holes == (Circle(centre=(100.0, 80.0), diameter=40.0),)
    assert plate_shapes([done.plates[0].outline])[0].area == pytest.approx(300 * 200 - math.pi * 400, abs=5)
    opening = done.openings[0]
    assert (opening.plate, opening.name, opening.shape, opening.purpose) == (0, "port", "round", "port")
    assert (opening.centre, opening.size) == ((100.0, 80.0), (40.0,))


def test_only_the_nearest_plate_is_pierced():
    for at, plate in (((100.0, 40.0, 2.0), 0), ((100.0, -2.0, -60.0), 1), ((100.0, 8.0, -60.0), 1)):
        done = pierced(mark(at=at), plates=box_corner())
        assert [o.plate for o in done.openings] == [plate]
        assert [len(p.outline.holes) for p in done.plates] == [1 - plate, plate]


def test_the_distance_is_to_the_metal_not_to_the_drawn_plane():
    # lid's metal is z -3 to 0, shelf's -33 to -30: at -17 the lid's metal is 14 away and the shelf's 13
    plates = [sheet("lid"), sheet("shelf", at=(0.0, 0.0, -30.0), panel=1)]
    assert pierced(mark(at=(100.0, 80.0, -17.0)), plates=plates).openings[0].plate == 1
    assert pierced(mark(at=(100.0, 80.0, -16.0)), plates=plates).openings[0].plate == 0


def test_a_named_panel_is_pierced_whatever_is_nearest():
    done = pierced(mark(at=(100.0, -60.0, 0.0), axis=(0, 1, 0), panel="front"),
                   plates=[sheet("lid", at=(0, -100, 0)), sheet("front", at=(0, 0, -75), axes=FRONT, panel=1)])
    assert [(o.plate, o.centre) for o in done.openings] == [(1, (100.0, 75.0))]
    by_face = pierced(mark(at=(100.0, 60.0, 400.0), panel=0), plates=box_corner())
    assert [o.plate for o in by_face.openings] == [0]


def test_of_a_panel_of_several_plates_the_nearest_is_pierced():
    assert pierced(mark(at=(100.0, 10.0, -75.0), panel="sides"), plates=box_corner()).openings[0].plate == 1


def test_all_along_pierces_every_plate_on_the_axis_and_no_other():
    plates = [sheet("top", panel=0), sheet("shelf", 120, 200, at=(0, 0, -100), panel=1),
              sheet("bottom", at=(0, 0, -300), panel=2), sheet("front", at=(0, 0, -200), axes=FRONT, panel=3)]
    done = pierced(mark(at=(200.0, 50.0, 1.0), all_along=True), plates=plates)
    assert [o.plate for o in done.openings] == [0, 2]           # the shelf ends at x = 120
    done = pierced(mark(at=(90.0, 50.0, -50.0), axis=(0, 0, -2), all_along=True), plates=plates)
    assert [o.plate for o in done.openings] == [0, 1, 2]        # with an axis the mark may be far from all
    assert {o.centre for o in done.openings} == {(90.0, 50.0)}
    assert done.findings == ()                                  # the front lies along the axis: it is not meant


def test_all_along_counts_a_plate_that_it_passes_through_a_hole_of():
    with_hole = sheet("shelf", at=(0, 0, -100), panel=1, holes=[Circle(centre=(100.0, 50.0), diameter=30.0)])
    done = pierced(mark(at=(100.0, 50.0, 0.0), all_along=True), plates=[sheet(), with_hole])
    assert [o.plate for o in done.openings] == [0]
    assert only(done.findings).rule == "opening_overlap"


def test_what_else_is_in_the_outline_stays():
    field = HoleField(shape=Circle(centre=(0.0, 0.0), diameter=5.0), centres=np.array([(20.0, 20.0)]),
                      angles=np.zeros(1))
    slot = Contour(points=np.array([(250.0, 150.0), (250, 160), (280, 160), (280, 150)]))
    plate = sheet(holes=[slot])
    plate = replace(plate, outline=replace(plate.outline, fields=(field,)))
    done = pierced(mark(), plates=[plate])
    assert done.plates[0].outline.fields == (field,)
    assert done.plates[0].outline.holes[0] is slot and len(done.plates[0].outline.holes) == 2
    assert plate.outline.holes == (slot,)


# ---- where and how it is turned

def test_a_slot_lies_across_the_direction_that_is_given():
    done = pierced(mark(shape="slot", size=(60.0, 20.0), across=(0, 5, 3)))
    assert done.openings[0].rotation == pytest.approx(90.0)
    low = shapely.Polygon(done.plates[0].outline.holes[0].flatten()).bounds
    assert low == pytest.approx((140, 70, 160, 130), abs=0.05)
    assert done.plates[0].outline.area() == pytest.approx(60000 - (40 * 20 + math.pi * 100))


def test_without_a_direction_it_lies_along_the_plates_own_x():
    done = pierced(mark(shape="rectangle", size=(60.0, 20.0), radius=4.0))
    assert (done.openings[0].rotation, done.openings[0].size) == (0.0, (60.0, 20.0, 4.0))
    assert done.plates[0].outline.area() == pytest.approx(60000 - (1200 - (4 - math.pi) * 16))


def test_a_direction_square_to_the_plate_says_nothing_and_that_is_said():
    note = only(pierced(mark(shape="slot", size=(60.0, 20.0), across=(0, 0, 1))).findings)
    assert (note.rule, note.level) == ("opening_turn", "note")


def test_an_axis_off_square_meets_the_middle_of_the_plate():
    # the middle plane is z = -1.5; from 10 above it, 30 degrees off square, the axis passes 11.5 tan 30 further on
    lean = math.radians(30)
    done = pierced(mark(at=(150.0, 100.0, 10.0), axis=(math.sin(lean), 0, -math.cos(lean))))
    assert done.openings[0].centre == pytest.approx((150 + 11.5 * math.tan(lean), 100.0))
    note = only(done.findings)
    assert (note.rule, note.level) == ("opening_off_square", "note")
    # a cylinder that leans by a through a plate t thick is d / cos a + t tan a long in it
    assert "30.0 degrees" in note.message and f"{40 / math.cos(lean) + 3 * math.tan(lean):.1f} mm long" in note.message


def test_an_axis_within_a_degree_of_square_is_square():
    for degrees, rules in ((0.9, []), (1.1, ["opening_off_square"])):
        lean = math.radians(degrees)
        done = pierced(mark(axis=(math.sin(lean), 0, math.cos(lean))))
        assert [f.rule for f in done.findings] == rules


def test_an_axis_along_the_plate_names_no_place_on_it():
    done = pierced(mark(axis=(1, 0, 0)))
    error = only(done.findings)
    assert (error.rule, error.level) == ("opening_along_plate", "error")
    assert done.openings == () and done.plates[0].outline.holes == ()


def test_bolts_stand_round_the_opening_and_turn_with_it():
    bolts = Bolts(count=4, circle=80.0, hole=6.5, turn=45.0)
    done = pierced(mark(bolts=bolts, across=(1, 1, 0), purpose="hand_hole"))
    holes = done.plates[0].outline.holes
    assert len(holes) == 5 and done.openings[0].cuts == holes
    assert holes[1].centre == pytest.approx((150.0, 140.0))
    assert done.plates[0].outline.area() == pytest.approx(60000 - math.pi * 400 - 4 * math.pi * 6.5**2 / 4)


def test_a_fitting_gives_the_size_and_says_what_it_rests_on():
    done = pierced(mark(size=None, fitting="npt 1/2"))
    assert done.openings[0].size == (pytest.approx(0.840 * 25.4 + 0.5),)       # ASME B36.10 outside, and clearance
    note = only(done.findings)
    assert note.rule == "fitting_hole" and "ASME B36.10" in note.message and "Measure" in note.message
    assert pierced(mark(size=None, fitting="mine"), fittings={"Mine": 31.0}).openings[0].size == (31.0,)


# ---- what cannot be cut: an error, and the plate stays whole

def left_out(done, rule):
    """The one error, once it is seen that nothing was cut for it."""
    error = only(done.findings, "error")
    assert error.rule == rule
    assert "'port'" in error.message
    return error


def test_off_every_plate():
    error = left_out(pierced(mark(at=(100.0, 80.0, 40.0))), "opening_off_plate")
    assert "40.0 mm from the nearest, 'lid'" in error.message
    assert error.at == (100.0, 80.0, 40.0)
    done = pierced(mark(at=(330.0, 240.0, 0.0)))                # beside the corner: 50 mm by Pythagoras
    assert "50.0 mm" in left_out(done, "opening_off_plate").message
    assert done.plates[0].outline.holes == () and done.openings == ()
    assert pierced(mark(at=(100.0, 80.0, NEAR - 0.1))).openings


def test_along_an_axis_that_crosses_nothing():
    error = left_out(pierced(mark(at=(400.0, 80.0, 0.0), axis=(0, 0, 1), all_along=True)), "opening_off_plate")
    assert "crosses no plate" in error.message and "100.0 mm" in error.message


def test_no_plates_at_all():
    assert left_out(pierced(mark(), plates=[]), "opening_off_plate")


def test_over_an_edge():
    done = pierced(mark(at=(285.0, 100.0, 0.0)))
    error = left_out(done, "opening_over_edge")
    assert "the edge of 'lid', past it by 5.00 mm" in error.message
    assert error.panels == (0,) and done.openings == () and done.plates[0].outline.holes == ()


def test_over_a_tab_notch():
    notched = sheet(corners=[(0, 0), (100, 0), (100, 12), (140, 12), (140, 0), (300, 0), (300, 200), (0, 200)])
    error = left_out(pierced(mark(at=(120.0, 25.0, 0.0)), plates=[notched]), "opening_over_edge")
    assert "a notch or inward corner in the edge of 'lid', past it by 7.00 mm" in error.message


def test_over_a_tab_slot():
    slot = Contour(points=np.array([(170.0, 95.0), (170, 105), (220, 105), (220, 95)]))
    done = pierced(mark(at=(155.0, 100.0, 0.0)), plates=[sheet(holes=[slot])])
    error = left_out(done, "opening_overlap")
    assert "a slot or hole that is there already in 'lid' by 5.00 mm" in error.message
    assert done.plates[0].outline.holes == (slot,)


def test_bigger_than_the_plate():
    error = left_out(pierced(mark(size=(250.0,))), "opening_too_big")
    assert "250.0 mm wide, and the plate has room for 200.0 mm" in error.message
    error = left_out(pierced(mark(shape="slot", size=(400.0, 20.0))), "opening_too_big")
    assert f"400.0 mm from end to end, and the plate {math.hypot(300, 200):.1f} mm" in error.message


def test_two_that_overlap_leave_the_first_and_drop_the_second():
    done = pierced(mark("fill"), mark(at=(180.0, 100.0, 0.0)))
    error = left_out(done, "opening_overlap")
    assert "overlaps opening 'fill' in 'lid' by 10.00 mm" in error.message      # 20 + 20 - 30
    assert [o.name for o in done.openings] == ["fill"]


def test_two_that_touch_leave_no_metal_and_the_second_is_dropped():
    for gap, cut in ((0.0, 1), (0.03, 1), (0.06, 2)):                         # a beam leaves nothing under 0.05
        done = pierced(mark("fill"), mark(at=(190.0 + gap, 100.0, 0.0)))
        assert len(done.openings) == cut
    error = left_out(pierced(mark("fill"), mark(at=(190.03, 100.0, 0.0))), "opening_overlap")
    assert "touches opening 'fill' in 'lid': 0.03 mm of metal" in error.message


def test_one_that_touches_the_edge_is_left_out():
    error = left_out(pierced(mark(at=(20.02, 100.0, 0.0))), "opening_over_edge")
    assert "touches the edge of 'lid': 0.02 mm of metal" in error.message


def test_one_within_another_overlaps_it_by_its_own_width():
    done = pierced(mark("fill", size=(100.0,)), mark(size=(10.0,)))
    assert "by 10.00 mm" in left_out(done, "opening_overlap").message


def test_a_bolt_hole_over_the_edge_leaves_out_the_whole_opening():
    done = pierced(mark(at=(150.0, 30.0, 0.0), bolts=Bolts(count=4, circle=56.0, hole=6.5)))
    error = left_out(done, "opening_over_edge")
    assert "Bolt hole 4 of opening 'port'" in error.message and "past it by 1.25 mm" in error.message
    assert done.openings == () and done.plates[0].outline.holes == ()


# ---- cut, with a warning

@pytest.mark.parametrize(("gap", "warned"), [(2.9, True), (3.1, False)])
def test_less_metal_than_the_web_to_an_edge_is_a_warning(gap, warned):
    done = pierced(mark(at=(300.0 - 20.0 - gap, 100.0, 0.0)))
    assert len(done.openings) == 1
    assert bool(done.findings) == warned
    if warned:
        warning = only(done.findings)
        assert (warning.rule, warning.level) == ("opening_near_cut", "warning")
        assert "2.90 mm of metal to the edge of 'lid'; 3 mm" in warning.message
        assert warning.at == pytest.approx((277.1, 100.0, -1.5))


def test_the_web_is_a_multiple_of_the_thickness():
    opening = mark(at=(275.0, 100.0, 0.0))
    assert pierced(opening, web=1.5).findings == ()
    assert "5.00 mm of metal" in only(pierced(opening, web=2.0).findings).message


def test_less_metal_than_the_web_to_another_opening_is_a_warning():
    done = pierced(mark("fill"), mark(at=(192.0, 100.0, 0.0)))
    assert len(done.openings) == 2
    assert "2.00 mm of metal to opening 'fill'" in only(done.findings).message


def test_less_metal_than_the_web_to_its_own_bolts_is_a_warning():
    done = pierced(mark(bolts=Bolts(count=1, circle=50.0, hole=6.0)))
    assert "Bolt hole 1 of opening 'port' leaves 2.00 mm of metal to opening 'port'" in only(done.findings).message


# ---- what is no opening at all is refused

@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"size": (0.0,)}, "'port': its diameter is 0 mm. It must be more than 0 mm"),
        ({"size": (-5.0,)}, "its diameter is -5 mm"),
        ({"size": (math.nan,)}, "its diameter is nan mm"),
        ({"size": (math.inf,)}, "its diameter is inf mm"),
        ({"size": None}, "'port' has no size. Give its size, or a fitting"),
        ({"size": (10.0, 5.0)}, "its size has 2 lengths, and a round opening's has 1"),
        ({"shape": "slot", "size": (10.0,)}, "its size has 1 length, and a slot opening's has 2. Give its length and"),
        ({"shape": "slot", "size": (20.0, 30.0)}, "the slot is 20 mm long and 30 mm wide"),
        ({"shape": "slot", "size": (20.0, 0.0)}, "its width is 0 mm"),
        ({"shape": "rectangle", "size": (20.0, -1.0)}, "its height is -1 mm"),
        ({"shape": "rectangle", "size": (40.0, 20.0), "radius": 11.0}, "radius of 11 mm is more than half of .* 20 mm"),
        ({"shape": "rectangle", "size": (40.0, 20.0), "radius": -1.0}, "its radius is -1 mm"),
        ({"shape": "oval"}, "the shape 'oval' is none. Use one of round, slot, rectangle"),
        ({"at": (math.nan, 0.0, 0.0)}, "its place is .*nan"),
        ({"axis": (0, 0, 0)}, "its axis is .0, 0, 0."),
        ({"across": (0, math.inf, 0)}, "its direction across is"),
        ({"size": None, "fitting": "NPT 5/8"}, "'port': fitting 'NPT 5/8' is not known. Did you mean"),
        ({"fitting": "NPT 1/2"}, "'port' has a size and a fitting. Keep one"),
        ({"size": None, "fitting": "NPT 1/2", "shape": "slot"}, "has a fitting and the shape slot"),
        ({"bolts": Bolts(count=0, circle=80, hole=6)}, "0 bolts. Give a whole number of at least 1"),
        ({"bolts": Bolts(count=4, circle=0, hole=6)}, "its bolt circle is 0 mm"),
        ({"bolts": Bolts(count=4, circle=80, hole=-6)}, "its bolt hole is -6 mm"),
        ({"bolts": Bolts(count=4, circle=80, hole=6, turn=math.nan)}, "turned by nan degrees"),
        ({"bolts": Bolts(count=4, circle=45, hole=6)}, "holes of 6 mm on a circle of 45 mm cut the opening itself"),
        ({"bolts": Bolts(count=4, circle=10, hole=3)}, "on a circle of 10 mm cut the opening itself"),
        ({"bolts": Bolts(count=40, circle=80, hole=6.5)}, "of 6.5 mm stand 6.28 mm apart and run into each other"),
        ({"panel": "roof"}, "'port' is to pierce panel 'roof', and there is no plate of it"),
        ({"panel": 77}, "to pierce face 77"),
    ],
)
def test_what_is_no_opening_is_refused(change, message):
    with pytest.raises(InputError, match=message):
        pierced(replace(mark(), **change))


def test_everything_that_is_refused_is_said_at_once():
    with pytest.raises(InputError) as caught:
        pierced(mark("a", size=(0.0,)), mark("b"), mark("c", size=None, fitting="xyzzy"), mark("d", size=(-1.0,)))
    assert [line.split("'")[1] for line in str(caught.value).splitlines()] == ["a", "c", "d"]


# ---- laws

def test_moving_plates_and_marks_together_moves_nothing_on_the_plate():
    turn = np.array([[0.36, 0.48, -0.8], [-0.8, 0.6, 0.0], [0.48, 0.64, 0.6]])
    shift = np.array([11.0, -70.0, 400.0])
    opening = mark(at=(210.0, 60.0, 4.0), shape="slot", size=(60.0, 20.0), axis=(0.2, 0.1, 1), across=(1, 2, 0),
                   bolts=Bolts(count=3, circle=90.0, hole=5.0))
    plate = sheet()
    moved_frame = replace(plate.frame, origin=plate.frame.origin @ turn.T + shift, axes=plate.frame.axes @ turn.T)
    local = np.array(opening.at)
    moved = replace(
        opening, at=tuple(local @ turn.T + shift), axis=tuple(np.array(opening.axis) @ turn.T),
        across=tuple(np.array(opening.across) @ turn.T))
    one, other = pierced(opening), pierced(moved, plates=[replace(plate, frame=moved_frame)])
    assert other.openings[0].centre == pytest.approx(one.openings[0].centre)
    assert other.openings[0].rotation == pytest.approx(one.openings[0].rotation)
    for a, b in zip(one.plates[0].outline.holes, other.plates[0].outline.holes, strict=True):
        assert np.allclose(a.flatten(), b.flatten())


def test_every_cut_lies_in_the_metal_and_clear_of_the_others():
    rng = np.random.default_rng(3)
    marked = [mark(f"o{i}", at=(*rng.uniform((0, 0), (300, 200)), 0.0), size=(float(rng.uniform(5, 60)),))
              for i in range(60)]
    done = pierced(*marked)
    errors = [f for f in done.findings if f.level == "error"]
    assert len(errors) + len(done.openings) == 60 and len(errors) > 5 and len(done.openings) > 5
    discs = [shapely.Point(h.centre).buffer(h.diameter / 2) for h in done.plates[0].outline.holes]
    assert all(shapely.box(0, 0, 300, 200).covers(d) for d in discs)
    assert shapely.union_all(discs).area == pytest.approx(sum(d.area for d in discs))
