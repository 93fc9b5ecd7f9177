"""The exact shapes of openings, measured by formula and by shapely."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from tackwright.core.openings.opening_shapes import bolt_holes, opening_shape, rectangle, rounded_polygon, slot
from tackwright.core.shapes.outline import Circle, Contour
from tackwright.core.terms.choices import Bolts


def judged(hole):
    """The hole as shapely sees it."""
    return shapely.Polygon(hole.flatten(1e-4))


@pytest.mark.parametrize(("length", "width"), [(60.0, 20.0), (20.5, 20.0), (300.0, 3.0)])
def test_a_slot_has_the_area_and_length_of_its_formula(length, width):
    made = slot(length, width)
    straight = length - width
    assert made.area() == pytest.approx(-(straight * width + math.pi * width**2 / 4))     # clockwise: negative
    assert made.length() == pytest.approx(2 * straight + math.pi * width)
    truth = shapely.LineString([(-straight / 2, 0), (straight / 2, 0)]).buffer(width / 2, quad_segs=2000)
    assert judged(made).symmetric_difference(truth).area < 1e-3 * width


@pytest.mark.parametrize(("width", "height", "radius"), [(150.0, 100.0, 12.0), (30.0, 80.0, 14.9), (50.0, 50.0, 1.0)])
def test_a_rounded_rectangle_has_the_area_and_length_of_its_formula(width, height, radius):
    made = rectangle(width, height, radius)
    assert made.area() == pytest.approx(-(width * height - (4 - math.pi) * radius**2))
    assert made.length() == pytest.approx(2 * (width + height) - (8 - 2 * math.pi) * radius)
    core = shapely.box(-width / 2 + radius, -height / 2 + radius, width / 2 - radius, height / 2 - radius)
    assert judged(made).symmetric_difference(core.buffer(radius, quad_segs=2000)).area < 1e-2


def test_a_sharp_rectangle_has_four_corners_and_no_arcs():
    made = rectangle(40, 30)
    assert isinstance(made, Contour) and made.bulges is None and len(made.points) == 4
    assert made.area() == pytest.approx(-1200)


@pytest.mark.parametrize("size", [(40.0, 20.0), (20.0, 40.0)])
def test_a_rectangle_rounded_to_half_its_smaller_side_is_a_slot(size):
    made = rectangle(*size, radius=10.0)
    assert len(made.points) == 4 and sorted(made.bulges) == [-1.0, -1.0, 0.0, 0.0]
    assert made.area() == pytest.approx(-(20 * 20 + math.pi * 100))
    low, high = judged(made).bounds[:2], judged(made).bounds[2:]
    assert np.subtract(high, low) == pytest.approx(size, abs=1e-3)


def test_a_slot_as_long_as_wide_and_a_square_rounded_off_are_circles():
    assert slot(20, 20, (3.0, 4.0), 30.0) == Circle(centre=(3.0, 4.0), diameter=20.0)
    assert rectangle(20, 20, 10) == Circle(centre=(0.0, 0.0), diameter=20.0)


def test_shapes_are_turned_counter_clockwise_about_their_centre():
    turned = judged(slot(60, 20, (100.0, 50.0), 30.0))
    assert (turned.centroid.x, turned.centroid.y) == pytest.approx((100.0, 50.0), abs=1e-6)
    tip = (100 + 29.9 * math.cos(math.pi / 6), 50 + 29.9 * math.sin(math.pi / 6))
    assert turned.contains(shapely.Point(tip))
    assert not turned.contains(shapely.Point(tip[0], 100 - tip[1]))
    quarter = judged(opening_shape("rectangle", (80.0, 20.0), 5.0, (0.0, 0.0), 90.0))
    assert quarter.bounds == pytest.approx((-10, -40, 10, 40), abs=1e-3)


def test_opening_shape_gives_what_its_word_says():
    assert opening_shape("round", (30.0,), 0.0, (1.0, 2.0), 45.0) == Circle(centre=(1.0, 2.0), diameter=30.0)
    assert opening_shape("slot", (30.0, 10.0), 0.0, (0.0, 0.0), 0.0).area() == pytest.approx(-(200 + math.pi * 25))


def test_bolt_holes_stand_evenly_on_their_circle_from_the_first():
    holes = bolt_holes(Bolts(count=6, circle=100.0, hole=6.5, turn=15.0), (10.0, 20.0), 30.0)
    assert {h.diameter for h in holes} == {6.5} and len(holes) == 6
    spokes = np.array([h.centre for h in holes]) - (10.0, 20.0)
    assert np.hypot(*spokes.T) == pytest.approx(50.0)
    angles = np.degrees(np.unwrap(np.arctan2(spokes[:, 1], spokes[:, 0])))
    assert angles == pytest.approx(45.0 + 60.0 * np.arange(6))


# ---- rounded polygons

def test_a_square_with_round_corners_is_the_rounded_rectangle():
    made = rounded_polygon(np.array([(0.0, 0), (0, 50), (80, 50), (80, 0)]), 6.0)
    assert made.smallest == pytest.approx(6.0)
    assert made.contour.area() == pytest.approx(-(80 * 50 - (4 - math.pi) * 36))
    assert judged(made.contour).symmetric_difference(judged(rectangle(80, 50, 6, (40.0, 25.0)))).area < 1e-6


def test_corners_of_any_angle_are_touched_by_an_arc_of_the_radius():
    # a corner of interior angle a loses r^2 (cot(a/2) - (pi - a)/2)
    points = np.array([(0.0, 0), (30, 70), (100, 0)])
    made = rounded_polygon(points, 5.0)
    sides = np.roll(points, -1, axis=0) - points
    lost = 0.0
    for before, after in zip(np.roll(sides, 1, axis=0), sides, strict=True):
        inside = math.pi - abs(math.atan2(before[0] * after[1] - before[1] * after[0], before @ after))
        lost += 25 * (1 / math.tan(inside / 2) - (math.pi - inside) / 2)
    assert abs(made.contour.area()) == pytest.approx(3500 - lost)


def test_concave_corners_are_rounded_too():
    ell = np.array([(0.0, 0), (0, 60), (20, 60), (20, 20), (60, 20), (60, 0)])
    made = rounded_polygon(ell, 4.0)
    corner = (4 - math.pi) * 4                              # what one right angle gains or loses: r^2 (1 - pi/4)
    assert abs(made.contour.area()) == pytest.approx(2000 - 5 * corner + corner)
    assert sorted(np.sign(made.contour.bulges)) == [-1] * 5 + [0] * 6 + [1]
    truth = shapely.Polygon(ell).buffer(-4, join_style="mitre").buffer(8, quad_segs=500).buffer(-4, quad_segs=500)
    assert judged(made.contour).symmetric_difference(truth).area < 0.05


def test_a_radius_too_large_for_a_side_shrinks_and_says_to_what():
    made = rounded_polygon(np.array([(0.0, 0), (0, 10), (80, 10), (80, 0)]), 8.0)
    assert made.smallest == pytest.approx(5.0)
    assert made.contour.area() == pytest.approx(-(70 * 10 + math.pi * 25))
    assert judged(made.contour).is_valid


def test_no_radius_leaves_the_polygon_as_drawn():
    points = np.array([(0.0, 0), (0, 10), (80, 10)])
    made = rounded_polygon(points, 0.0)
    assert made.contour.bulges is None and np.array_equal(made.contour.points, points)


def test_a_point_on_a_straight_side_is_not_rounded():
    made = rounded_polygon(np.array([(0.0, 0), (0, 50), (40, 50), (80, 50), (80, 0)]), 6.0)
    assert made.contour.area() == pytest.approx(-(80 * 50 - (4 - math.pi) * 36))
