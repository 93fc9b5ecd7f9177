"""Holes drawn in the mesh: which stand for circles, and what becomes of the others."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from plates_data import sheet

from tackwright.core.envelope.envelope import DrawnHole
from tackwright.core.openings.drawn_holes import circle_through, place_drawn_holes
from tackwright.core.openings.opening_shapes import rectangle
from tackwright.core.shapes.outline import Circle, Contour


def ring(count, radius, centre=(0.0, 0.0), start=0.0):
    """The corners of a regular polygon, clockwise."""
    angles = start - np.arange(count) * (2 * math.pi / count)
    return np.column_stack([np.cos(angles), np.sin(angles)]) * radius + centre


def cut(*points, radius=0.0, panel=0, edges=((4, 5), (5, 6)), plates=None, web=1.0):
    holes = [DrawnHole(panel=panel, points=np.asarray(p, dtype=float), mesh_edges=edges) for p in points]
    return place_drawn_holes(holes, plates or [sheet()], radius, web)


# ---- circles

@pytest.mark.parametrize("count", [8, 12, 24, 64, 200])
def test_a_drawn_circle_is_cut_as_the_circle_through_its_corners(count):
    done = cut(ring(count, 25.4, (150.0, 100.0)))
    (hole,) = done.plates[0].outline.holes
    assert isinstance(hole, Circle)
    assert hole.diameter == pytest.approx(50.8) and hole.centre == pytest.approx((150.0, 100.0))
    assert done.openings[0].shape == "round" and done.openings[0].purpose == "port"
    assert done.openings[0].size == (hole.diameter,)


def test_it_says_so_with_diameter_and_corners():
    (note,) = cut(ring(24, 25.4, (150.0, 100.0))).findings
    assert (note.rule, note.level) == ("drawn_circle", "note")
    assert note.message == (
        "The hole in 'lid', drawn with 24 corners, is cut as a circle of 50.8 mm, through its corners.")
    assert note.at == pytest.approx((150.0, 100.0, -1.5)) and note.panels == (0,)
    assert note.edges == ((4, 5), (5, 6))


def test_noise_of_single_precision_far_out_does_no_harm():
    points = (ring(32, 10.0) + (4000.0, 7000.0)).astype(np.float32).astype(float)
    circle = circle_through(points)
    assert circle.diameter == pytest.approx(20.0, abs=2e-3)
    assert circle.centre == pytest.approx((4000.0, 7000.0), abs=2e-3)


def test_corners_need_not_be_evenly_spaced():
    angles = -np.radians([0, 20, 55, 90, 145, 180, 215, 260, 300, 330])
    circle = circle_through(np.column_stack([np.cos(angles), np.sin(angles)]) * 30 + (5.0, -4.0))
    assert circle.diameter == pytest.approx(60.0) and circle.centre == pytest.approx((5.0, -4.0))


def test_either_way_round_is_a_circle():
    assert circle_through(ring(16, 12.0)[::-1]).diameter == pytest.approx(24.0)


@pytest.mark.parametrize(
    ("points", "why"),
    [
        (ring(7, 20.0), "too few corners"),
        (ring(6, 20.0), "a hexagon is drawn for its own sake"),
        (ring(24, 20.0) * (1.0, 0.99), "an ellipse, 0.2 mm off"),
        (ring(8, 2.0) + np.outer([1, 0, 0, 0, 0, 0, 0, 0], (0.045, 0)), "off by 2 % of a small radius"),
        (ring(36, 20.0)[:20], "an arc closed by a flat of 170 degrees"),
        (np.delete(ring(24, 20.0), [1, 2, 3, 4], axis=0), "a flat of 75 degrees"),
        (ring(24, 20.0)[[0, 2, 1, *range(3, 24)]], "corners to and fro"),
        (ring(25, 20.0)[np.arange(25) * 3 % 25], "a star: three times round"),
        (np.column_stack([np.arange(9.0), np.zeros(9)]), "a line"),
        (np.ones((9, 2)), "one point"),
    ],
)
def test_what_stands_for_no_circle(points, why):
    assert circle_through(points) is None, why


def test_a_rectangle_with_drawn_round_corners_stays_what_it_is():
    points = rectangle(60.0, 40.0, 5.0).flatten()
    assert len(points) > 20
    assert circle_through(points) is None


# ---- polygons

SQUARE = [(100.0, 50.0), (100, 90), (160, 90), (160, 50)]


def test_another_hole_stays_the_polygon_it_was_drawn_as():
    done = cut(SQUARE)
    (hole,) = done.plates[0].outline.holes
    assert isinstance(hole, Contour) and hole.points.tolist() == [list(map(float, p)) for p in SQUARE]
    opening = done.openings[0]
    assert (opening.shape, opening.size, opening.centre) == ("polygon", (), pytest.approx((130.0, 70.0)))
    assert np.array_equal(opening.points, hole.points)
    assert done.findings == ()
    assert done.plates[0].outline.area() == pytest.approx(60000 - 2400)


def test_its_corners_are_rounded_when_asked():
    done = cut(SQUARE, radius=6.0)
    assert done.plates[0].outline.area() == pytest.approx(60000 - (2400 - (4 - math.pi) * 36))
    assert done.findings == ()
    listed = shapely.Polygon(done.openings[0].points)           # what is listed is what is cut, arcs as points
    assert listed.area == pytest.approx(2400 - (4 - math.pi) * 36, abs=1.0)


def test_a_radius_that_the_sides_have_no_room_for_shrinks_with_a_note():
    done = cut([(100.0, 50.0), (100, 58), (160, 58), (160, 50)], radius=6.0)
    (note,) = done.findings
    assert (note.rule, note.level) == ("drawn_hole_radius", "note")
    assert "to 6 mm" in note.message and "to 4.00 mm where they are shortest" in note.message
    assert done.plates[0].outline.area() == pytest.approx(60000 - (52 * 8 + math.pi * 16))


# ---- where they are

def test_each_hole_is_cut_in_the_plate_of_its_panel():
    plates = [sheet("lid", panel=3), sheet("bottom", panel=5)]
    done = cut(SQUARE, panel=5, plates=plates)
    assert [len(p.outline.holes) for p in done.plates] == [0, 1] and done.openings[0].plate == 1
    assert cut(SQUARE, panel=4, plates=plates).openings == ()


def test_a_hole_that_the_moved_edge_runs_into_is_left_out_with_an_error():
    # drawn 2 mm from the panel's edge; the plate's own edge has moved in past it
    done = cut(ring(16, 20.0, (18.5, 100.0)))
    (error,) = done.findings
    assert (error.rule, error.level) == ("opening_over_edge", "error")
    assert "The hole drawn in 'lid' lies over the edge of 'lid', past it by 1.50 mm" in error.message
    assert error.edges == ((4, 5), (5, 6)) and done.plates[0].outline.holes == ()


def test_a_hole_near_the_edge_is_cut_with_a_warning():
    done = cut([(1.0, 50.0), (1, 90), (60, 90), (60, 50)])
    assert [f.rule for f in done.findings] == ["opening_near_cut"] and len(done.openings) == 1
    assert "1.00 mm of metal to the edge" in done.findings[0].message
