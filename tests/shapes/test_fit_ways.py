"""In how many ways a plate fits its own place."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from outline_shapes import drilled_stars, mirrored, motion, piece, restarted, slot
from shapely import Polygon
from strategies import numbers, plane_motions

from tackwright.core.shapes.fit_ways import Ways, ways_to_fit
from tackwright.core.shapes.outline import Circle, Contour

GAP = 0.1
SCALENE = np.array([(0, 0), (50, 0), (15, 30)], dtype=float)
RECTANGLE = np.array([(0, 0), (60, 0), (60, 40), (0, 40)], dtype=float)
S_SHAPE = [(0, 0), (30, 0), (30, 10), (20, 10), (20, 30), (-10, 30), (-10, 20), (0, 20)]
L_SHAPE = [(0, 0), (30, 0), (30, 10), (10, 10), (10, 30), (0, 30)]
UNEVEN_L = [(0, 0), (40, 0), (40, 10), (10, 10), (10, 30), (0, 30)]


def regular(corners):
    turn = np.arange(corners) * 2 * math.pi / corners
    return 100 * np.column_stack([np.cos(turn), np.sin(turn)])


@pytest.mark.parametrize("corners", [3, 4, 5, 6, 8, 10, 17, 100])
def test_a_regular_polygon_fits_each_way(corners):
    assert ways_to_fit(piece(regular(corners)), GAP) == Ways(corners, corners)


@pytest.mark.parametrize(
    ("points", "turns", "turned_over"),
    [
        (RECTANGLE, 2, 2), (SCALENE, 1, 0), ([(0, 0), (30, 0), (15, 50)], 1, 1), (S_SHAPE, 2, 0), (L_SHAPE, 1, 1),
        (UNEVEN_L, 1, 0), ([(0, 0), (50, 0), (70, 30), (20, 30)], 2, 0), ([(0, 0), (60, 0), (45, 30), (15, 30)], 1, 1),
    ],
    ids=["rectangle", "scalene", "isosceles", "S", "L", "uneven L", "parallelogram", "isosceles trapezoid"],
)
def test_ways_of_plain_shapes(points, turns, turned_over):
    outline = piece(points).moved(motion(37, 11, -8))
    assert ways_to_fit(outline, GAP) == Ways(turns, turned_over)
    assert ways_to_fit(outline, GAP).only_one is (turns == 1 and turned_over == 0)


@pytest.mark.parametrize(
    ("holes", "turns", "turned_over"),
    [
        ([Circle(centre=(30, 20), diameter=8)], 2, 2),
        ([Circle(centre=(30, 12), diameter=8)], 1, 1),
        ([Circle(centre=(24, 12), diameter=8)], 1, 0),
        ([Circle(centre=(24, 12), diameter=8), Circle(centre=(36, 28), diameter=8)], 2, 0),
        ([Circle(centre=(24, 12), diameter=8), Circle(centre=(36, 28), diameter=9)], 1, 0),
        ([slot(22.5, 18)], 2, 2),
        ([slot(22.5, 10)], 1, 1),
        ([slot(10, 5)], 1, 0),
    ],
    ids=["middle", "on an axis", "off both", "a pair", "an unlike pair", "slot middle", "slot on axis", "slot off"],
)
def test_holes_of_a_rectangle_cut_the_ways_down(holes, turns, turned_over):
    assert ways_to_fit(piece(RECTANGLE, *holes).moved(motion(-64, 3, 2)), GAP) == Ways(turns, turned_over)


@pytest.mark.parametrize(("shift", "ways"), [(0.04, Ways(2, 2)), (0.3, Ways(1, 1))])
def test_a_difference_below_the_fit_gap_does_not_keep_a_plate_from_fitting(shift, ways):
    """Two holes 20 mm from the middle, one of them `shift` nearer: half the shift shows when turned round."""
    holes = [Circle(centre=(10, 20), diameter=8), Circle(centre=(50 - shift, 20), diameter=8)]
    assert ways_to_fit(piece(RECTANGLE, *holes), GAP) == ways


@pytest.mark.parametrize(
    ("bulges", "ways"),
    [((0, 0.3, 0, 0.3), Ways(2, 2)), ((0, 0.3, 0, 0), Ways(1, 1)), ((0, 0.3, 0, -0.3), Ways(1, 1)),
     ((0.1, 0.3, 0, 0), Ways(1, 0))],
)
def test_arcs_count(bulges, ways):
    assert ways_to_fit(piece(RECTANGLE, bulges=np.array(bulges, dtype=float)), GAP) == ways


def test_an_s_shaped_arc_hole_fits_two_turns_and_no_mirror():
    hole = Contour(points=np.array([(20, 15), (20, 25), (40, 25), (40, 15.0)]), bulges=np.array([0, 0.4, 0, 0.4]))
    wavy = Contour(points=hole.points, bulges=np.array([0.4, -0.2, 0.4, -0.2]))
    assert ways_to_fit(piece(RECTANGLE, hole), GAP) == Ways(2, 2)
    assert ways_to_fit(piece(RECTANGLE, wavy), GAP) == Ways(2, 2)
    half_waves = np.array([(20, 15), (20, 25), (30, 25), (40, 25), (40, 15), (30, 15.0)])
    chiral = Contour(points=half_waves, bulges=np.array([0, 0.4, -0.4, 0, 0.4, -0.4]))
    assert ways_to_fit(piece(RECTANGLE, chiral), GAP) == Ways(2, 0)


@given(drilled_stars(), plane_motions(), st.integers(0, 9))
@settings(deadline=None)
def test_ways_depend_neither_on_the_place_nor_on_the_start_nor_on_the_side(outline, move, by):
    ways = ways_to_fit(outline, GAP)
    assert ways.turns >= 1
    assert ways_to_fit(restarted(outline.moved(move), by), GAP) == ways
    assert ways_to_fit(mirrored(outline), GAP) == ways


@given(st.integers(2, 7), st.integers(1, 4), st.booleans(), st.data())
@settings(deadline=None)
def test_a_pattern_repeated_round_fits_as_often_as_shapely_says(repeats, corners, even, data):
    """One sector drawn at random and repeated: shapely turns the polygon about its centroid and compares."""
    radii = [data.draw(numbers(60, 100)) for _ in range(corners)]
    radii = [100.0, *radii, *(radii[::-1] if even else ())]
    count = repeats * len(radii)
    turn = np.arange(count) * 2 * math.pi / count
    points = np.column_stack([np.cos(turn), np.sin(turn)]) * np.tile(radii, repeats)[:, None]

    def misfits(shape):
        """Hausdorff distance to the drawn polygon for every turn by one corner."""
        drawn = Polygon(points)
        return [drawn.hausdorff_distance(Polygon(shape @ motion(math.degrees(a))[:2, :2].T)) for a in turn]

    # A mirror in the ray of corner 0 and one turn by k corners are all the mirrors there can be.
    proper, over = misfits(points), misfits(points * (1, -1))
    if all(m < GAP / 5 or m > GAP * 5 for m in proper + over):
        expected = Ways(sum(m < GAP for m in proper), sum(m < GAP for m in over))
        assert ways_to_fit(piece(points).moved(motion(21, 500, 3)), GAP) == expected
        assert expected.turns % repeats == 0
