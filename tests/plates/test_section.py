"""The corner section in closed form, against published names and limits, worked cases, and polygons of it."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import assume, given
from hypothesis import strategies as st

from tackwright.core.plates.section import crossing, run_past_limit, solve_section

DERIVED = "worked out from the section of two square-ended rectangles and checked as polygons"
# t1, t2, angle, metal side, overlap, setback1, setback2, groove angle, groove area, crevice area
WORKED = [
    (3, 3, 90, "outside", 0, 0, 0, 90, 9.000, 0),
    (3, 3, 90, "outside", 0.5, -1.5, 0, 90, 4.500, 0),
    (3, 3, 90, "outside", 1, -3, 0, 90, 0, 0),
    (3, 3, 90, "inside", 0, 3, 3, 90, 9.000, 0),
    (3, 3, 90, "inside", 1, 0, 3, 90, 0, 0),
    (3, 2, 90, "outside", 1, -2, 0, 90, 0, 0),
    (3, 2, 90, "inside", 0, 2, 3, 90, 6.000, 0),
    (3, 3, 60, "outside", 0, 0, 0, 120, 15.588, 0),
    (3, 3, 60, "outside", 1, -3.4641, 0, 30, 5.1962, 0),
    (3, 3, 60, "inside", 0, 5.1962, 5.1962, 120, 15.588, 0),
    (3, 3, 60, "inside", 1, 1.7321, 5.1962, 30, 5.1962, 0),
    (3, 3, 45, "outside", 0, 0, 0, 135, 21.728, 0),
    (3, 3, 70.528779, "outside", 0, 0, 0, 109.471, 12.728, 0),
    (3, 3, 109.471221, "outside", 0, 0, 0, 70.529, 6.364, 0),
    (3, 3, 120, "outside", 0, 0, 0, 60, 5.1962, 0),
    (3, 3, 120, "outside", 0.5, -0.8660, 0.4330, 60, 3.735, 0.1624),
    (3, 3, 120, "outside", 1, -1.7321, 0.8660, 60, 1.949, 0.6495),
    (3, 3, 120, "inside", 1, 0, 2.5981, 60, 1.949, 0.6495),
    (3, 3, 135, "outside", 1, -1.2426, 0.8787, 45, 2.250, 0.3860),
    (4, 2, 120, "outside", 1, 0, 0, 60, 3.4641, 0),
    (3, 3, 150, "outside", 0, 0, 0, 30, 2.4115, 0),
    (3, 3, 270, "outside", 0, 3, 3, 90, 9.000, 0),
    (3, 3, 270, "outside", 1, 0, 3, 90, 0, 0),
    (3, 3, 270, "inside", 0, 0, 0, 90, 9.000, 0),
    (3, 3, 270, "inside", 1, -3, 0, 90, 0, 0),
    (3, 2, 270, "outside", 0, 2, 3, 90, 6.000, 0),
    (3, 3, 240, "outside", 0, 1.7321, 1.7321, 60, 5.1962, 0),
    (3, 3, 240, "outside", 1, 0, 2.5981, 60, 1.949, 0.6495),
    (3, 3, 300, "outside", 0, 5.1962, 5.1962, 120, 15.588, 0),
    (3, 3, 225, "outside", 0, 1.2426, 1.2426, 45, 3.728, 0),
    (6, 3, 135, "outside", 0, 0, 0, 45, 4.500, 0),
]


def setbacks(t1, t2, angle, side, overlap=0.0, gap=0.0):
    """Setbacks of the two ends from the drawn edge, for one metal side."""
    inner = {"outside": 0.0, "inside": 1.0, "centred": 0.5}[side]
    d1, d2 = (inner * t1, inner * t2) if angle < 180 else ((inner - 1) * t1, (inner - 1) * t2)
    s = solve_section(angle, t1, t2, overlap, gap)
    return (crossing(angle, d1, d2) + s.back1).item(), (crossing(angle, d2, d1) + s.back2).item()


@pytest.mark.parametrize("row", WORKED)
def test_worked_sections(row):
    t1, t2, angle, side, overlap, s1, s2, groove_angle, groove, notch = row
    section = solve_section(angle, t1, t2, overlap)
    assert setbacks(t1, t2, angle, side, overlap) == pytest.approx((s1, s2), abs=1e-4), DERIVED
    assert section.groove_angle == pytest.approx(groove_angle, abs=1e-3), DERIVED
    assert section.groove == pytest.approx(groove, abs=1e-3), DERIVED
    assert section.notch == pytest.approx(notch, abs=1e-4), DERIVED


def test_the_three_kinds_are_those_of_the_welding_manual():
    """US Army TC 9-237, joints: the closed (flush) corner covers the other's whole end, the half-open about
    half of it, the open one meets at the inner corner only and leaves a 90 degree groove."""
    t = 5.0
    closed, half, opened = solve_section(90.0, t, t, np.array([1.0, 0.5, 0.0])).run_past
    assert (closed, half, opened) == pytest.approx((t, t / 2, 0.0))
    assert solve_section(90.0, t, t, 0.0).groove_angle == pytest.approx(90.0)


def rectangles(t1, t2, angle, overlap, gap=0.0, length=200.0):
    """The two plates as polygons, the root at the origin, plate 1 along +x with its metal below (away from
    the wedge angle's inside), plate 2 turned by the wedge angle."""
    w = math.radians(min(angle, 360 - angle))
    s = solve_section(angle, t1, t2, overlap, gap)
    one = shapely.Polygon([(s.back1, 0), (length, 0), (length, -t1), (s.back1, -t1)])
    along, out = np.array([math.cos(w), math.sin(w)]), np.array([-math.sin(w), math.cos(w)])
    corners = [s.back2 * along, length * along, length * along + t2 * out, s.back2 * along + t2 * out]
    return s, one, shapely.Polygon(corners)


thick = st.floats(0.8, 8.0)
angles = st.one_of(st.floats(20.0, 179.0), st.floats(181.0, 340.0))


@given(thick, thick, angles, st.floats(0, 1))
def test_plates_touch_and_never_overlap(t1, t2, angle, overlap):
    _, one, two = rectangles(t1, t2, angle, overlap)
    assert shapely.intersection(one, two).area < 1e-9
    assert shapely.distance(one, two) < 1e-9


@given(thick, thick, angles, st.floats(0, 1), st.floats(0.01, 2.0))
def test_the_root_gap_is_the_shortest_distance(t1, t2, angle, overlap, gap):
    _, one, two = rectangles(t1, t2, angle, overlap, gap)
    assert shapely.distance(one, two) == pytest.approx(gap, abs=1e-9)


@given(thick, thick, angles)
def test_no_overlap_stands_proud_unless_the_square_end_already_did(t1, t2, angle):
    """Plate 1's end, run past fully, stays behind plate 2's far face."""
    section, one, two = rectangles(t1, t2, angle, 1.0)
    w = math.radians(min(angle, 360 - angle))
    out = np.array([-math.sin(w), math.cos(w)])
    heights = np.array(one.exterior.coords)[:-1][[0, 3]] @ out
    assert heights.max() - t2 == pytest.approx(section.proud1.item(), abs=1e-9) or heights.max() <= t2 + 1e-9


@given(st.floats(0.8, 8.0), st.floats(0.5, 2.0), st.floats(25.0, 155.0), st.floats(0, 1))
def test_groove_and_crevice_fill_the_mitred_corner(t1, ratio, w, overlap):
    """Area between the inner faces' crossing and the outer faces' crossing that the plates leave empty."""
    t2 = t1 * ratio
    lean = -math.cos(math.radians(w))
    assume(t1 * lean <= t2 and t2 * lean <= t1)       # else a square end stands out: no mitred corner to compare
    section, one, two = rectangles(t1, t2, w, overlap)
    d1 = (t2 + t1 * math.cos(math.radians(w))) / math.sin(math.radians(w))
    angle = math.radians(w)
    along = np.array([math.cos(angle), math.sin(angle)])
    apex = np.array([-d1, -t1])                       # where the two outer faces cross
    reach = 60.0
    out = np.array([-math.sin(angle), math.cos(angle)])
    skin = shapely.Polygon([(0, 0), (reach, 0), (reach, -t1), tuple(apex), tuple(reach * along + t2 * out),
                            tuple(reach * along)])
    empty = skin.difference(one.union(two)).area
    assert section.groove + section.notch == pytest.approx(empty, rel=1e-6, abs=1e-6)


def test_thick_on_thin_at_an_obtuse_angle_stands_proud():
    """6 mm on 3 mm at 135 degrees: 6 |cos 135| - 3 = 1.243 mm, groove 3^2 tan 45 / 2 = 4.5 mm2 (derived)."""
    section = solve_section(135.0, 6.0, 3.0)
    assert section.proud1 == pytest.approx(6 * math.sqrt(0.5) - 3)
    assert section.groove == pytest.approx(4.5)
    assert run_past_limit(135.0, 6.0, 3.0) == 0


def test_a_right_angle_is_exact():
    assert setbacks(3.0, 3.0, 90.0, "inside") == (3.0, 3.0)
    assert setbacks(3.0, 3.0, 270.0, "outside") == (3.0, 3.0)


def test_centred_metal_lies_half_way():
    for angle in (60.0, 90.0, 135.0, 250.0):
        out, centre, inside = (setbacks(4.0, 2.0, angle, side)[0] for side in ("outside", "centred", "inside"))
        assert centre == pytest.approx((out + inside) / 2)
