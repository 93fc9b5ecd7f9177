"""How a plate is laid on its drawing. Outside judge: shapely's bounding boxes and distances."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from outline_shapes import drilled_stars, motion, piece, restarted, slot, solid
from shapely import Polygon
from strategies import plane_motions

from tackwright.core.shapes.drawing_frame import drawing_frame
from tackwright.core.shapes.outline import Circle

RIGHT_TRIANGLE = [(0, 0), (40, 0), (0, 30)]
SQUARE = [(0, 0), (40, 0), (40, 40), (0, 40)]


def drawn(outline):
    return outline.moved(drawing_frame(outline))


def corner_set(outline):
    """Corners, slot corners and circles as one sorted table, whatever order they are held in."""
    rows = []
    for i, contour in enumerate([outline.outer, *outline.holes]):
        if isinstance(contour, Circle):
            rows.append((2, *np.round(contour.centre, 6), round(contour.diameter, 6)))
        else:
            rows += [(min(i, 1), *p, 0) for p in np.round(contour.points, 6)]
    return np.array(sorted(rows)) + 0.0


@given(drilled_stars(), plane_motions(2000.0), st.integers(0, 9))
@settings(deadline=None)
def test_the_drawing_lies_in_the_corner_wide_and_unmirrored(outline, move, by):
    there = restarted(outline.moved(move), by)
    frame = drawing_frame(there)
    assert np.linalg.det(frame[:2, :2]) == pytest.approx(1.0)
    assert np.allclose(frame[:2, :2] @ frame[:2, :2].T, np.eye(2), atol=1e-12)
    result = there.moved(frame)
    x0, y0, x1, y1 = Polygon(result.outer.points).bounds
    assert (x0, y0) == pytest.approx((0, 0), abs=1e-9)
    assert x1 >= y1 - 1e-6
    edges = np.diff(result.outer.points, axis=0, append=result.outer.points[:1])
    assert np.abs(edges).min() < 1e-3   # some edge lies along an axis


@given(drilled_stars(), plane_motions(500.0), st.integers(0, 9))
@settings(deadline=None)
def test_the_drawing_depends_neither_on_the_move_nor_on_the_start(outline, move, by):
    one, two = drawn(outline), drawn(restarted(outline.moved(move), by))
    other = np.roll(two.outer.points, -by, axis=0)  # undo the new start: the same corner, point by point
    assert np.abs(one.outer.points - other).max() < 1e-9 or _alike(one, two)


def _alike(one, two):
    """Whether two drawings show the same, by shapely: a piece like itself may start at another corner."""
    return solid(one).boundary.hausdorff_distance(solid(two).boundary) < 1e-6


@pytest.mark.parametrize("corners", [3, 4, 5, 6, 7, 8, 12, 40])
@pytest.mark.parametrize("drilled", [False, True])
def test_a_regular_polygon_is_drawn_one_way_however_it_comes(corners, drilled):
    turn = np.arange(corners) * 2 * math.pi / corners
    holes = [Circle(centre=(21.0, 7.0), diameter=5.0), slot(-30, 11)] if drilled else []
    base = piece(100 * np.column_stack([np.cos(turn), np.sin(turn)]), *holes)
    reference = corner_set(drawn(base))
    for degrees in (0, 13, 90, 200.5, -60):
        for by in (0, 1, 2):
            other = drawn(restarted(base.moved(motion(degrees, 300, -20)), by))
            assert corner_set(other) == pytest.approx(reference, abs=2e-6)


def test_a_rectangle_lies_flat():
    result = drawn(piece([(0, 0), (20, 0), (20, 300), (0, 300)]).moved(motion(33)))
    assert Polygon(result.outer.points).bounds == pytest.approx((0, 0, 300, 20), abs=1e-9)


def test_tabs_on_the_long_side_do_not_stand_a_plate_up():
    """Its longest single run is the 200 mm end; the side of 300 mm is broken up by tabs."""
    long_side = [(0, 0), (50, 0), (50, -3), (60, -3), (60, 0), (150, 0), (150, -3), (160, -3), (160, 0), (300, 0)]
    result = drawn(piece([*long_side, (300, 200), (0, 200)]).moved(motion(77)))
    assert Polygon(result.outer.points).bounds == pytest.approx((0, 0, 300, 203), abs=1e-9)


def test_a_right_angle_is_laid_along_the_axes():
    result = drawn(piece(RIGHT_TRIANGLE).moved(motion(-140, 9, 9)))
    assert Polygon(result.outer.points).bounds == pytest.approx((0, 0, 40, 30), abs=1e-9)


@pytest.mark.parametrize("off", [-1e-11, 0.0, 1e-11])
def test_rounding_does_not_part_what_runs_the_same_way(off):
    result = drawn(piece([(0, 0), (40, off), (0, 30)]))
    assert Polygon(result.outer.points).bounds == pytest.approx((0, 0, 40, 30), abs=1e-9)


def test_a_scalene_triangle_lies_on_its_longest_side():
    result = drawn(piece([(0, 0), (50, 0), (15, 30)]).moved(motion(250)))
    assert corner_set(result)[:, 1:3] == pytest.approx(np.array([(0, 0), (15, 30), (50, 0)]), abs=1e-6)


def test_a_trapezoid_stands_on_its_longer_side():
    result = drawn(piece([(0, 0), (60, 0), (100, 40), (-40, 40)]))
    assert sorted(p[0] for p in result.outer.points.round(6) if p[1] == 0) == [0, 140]


def test_an_arc_that_bulges_past_the_corners_counts_in_the_box():
    """A stadium of 40 by 20 with round ends: two half circles of radius 10 (bulge 1)."""
    stadium = piece([(0, 0), (40, 0), (40, 20), (0, 20)], bulges=np.array([0.0, 1.0, 0.0, 1.0]))
    result = drawn(stadium.moved(motion(101, 5, 5)))
    x0, y0, x1, y1 = Polygon(result.outer.flatten(1e-5)).bounds
    assert (x0, y0, x1, y1) == pytest.approx((0, 0, 60, 20), abs=2e-4)
    assert x0 >= -1e-9


def test_an_arc_that_bulges_inward_does_not():
    scooped = piece([(0, 0), (60, 0), (60, 20), (0, 20)], bulges=np.array([0.0, -1.0, 0.0, -1.0]))
    result = drawn(scooped.moved(motion(12)))
    assert Polygon(result.outer.flatten()).bounds == pytest.approx((0, 0, 60, 20), abs=1e-9)


def test_a_round_disc_of_two_arcs_touches_both_axes():
    disc = piece([(0, 0), (10, 0)], bulges=np.array([1.0, 1.0]))
    result = drawn(disc.moved(motion(47, 3, 4)))
    assert Polygon(result.outer.flatten(1e-6)).bounds == pytest.approx((0, 0, 10, 10), abs=1e-4)


def test_the_hole_of_a_square_settles_its_turn():
    base = piece(SQUARE, Circle(centre=(5, 6), diameter=4))
    centres = {tuple(np.round(drawn(base.moved(motion(90 * k + 5))).holes[0].centre, 6)) for k in range(4)}
    assert len(centres) == 1
