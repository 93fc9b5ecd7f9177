"""How a roughly drawn outline is lengthened and cut, in the plane: shapes that shapely can judge."""

import numpy as np
import pytest
import shapely
from hypothesis import given
from strategies import numbers, star_polygons

from tackwright.core.inner.inner_outlines import fit_outline, lengthened
from tackwright.core.shapes.rings import cleaned, met_again, opened, polygon_parts, side_normals

ROOM = shapely.box(0, 0, 100, 100)
OUTSIDE = shapely.difference(shapely.box(-80, -80, 180, 180), ROOM)


def fitted(drawn, blocked=OUTSIDE, reach=10.0):
    (part,) = fit_outline(drawn, blocked, reach)
    return part


def same(one, two, within=1e-6):
    return shapely.symmetric_difference(one, two).area < within


def test_sides_near_a_wall_go_to_it_and_others_stay():
    assert same(fitted(shapely.box(4, 20, 97, 60)), shapely.box(0, 20, 100, 60))
    assert same(fitted(shapely.box(4, -2, 97, 103)), ROOM)
    assert same(fitted(shapely.box(11, 20, 89, 60)), shapely.box(11, 20, 89, 60))


def test_a_free_side_is_prolonged_on_its_own_line():
    drawn = shapely.Polygon([(4, 20), (97, 40), (97, 60), (4, 80)])
    slope = lambda x, a, b: a + (b - a) * (x - 4) / 93                     # noqa: E731
    wanted = [(0, slope(0, 20, 40)), (100, slope(100, 20, 40)), (100, slope(100, 80, 60)), (0, slope(0, 80, 60))]
    assert same(fitted(drawn), shapely.Polygon(wanted), 1e-3)


def test_a_side_drawn_at_a_slant_to_the_wall_meets_it_all_along():
    drawn = shapely.Polygon([(4, 3), (90, 5), (60, 60), (2, 61)])
    found = fitted(drawn)
    assert found.bounds[:2] == pytest.approx((0.0, 0.0), abs=1e-9)
    floor = shapely.intersection(found, shapely.LineString([(0, 0), (100, 0)]))
    assert floor.length == pytest.approx(100 - 7.27272727, abs=1e-6)       # to where the free side's line comes down


def test_only_the_part_of_a_side_that_is_near_goes_out():
    stepped = shapely.difference(OUTSIDE, shapely.box(60, -40, 101, 1))    # the floor drops by 40 from x = 60
    found = fitted(shapely.box(4, 5, 97, 60), stepped)
    assert same(found, shapely.union_all([shapely.box(0, 0, 60, 60), shapely.box(60, 5, 100, 60)]))


def test_a_wall_beside_a_free_side_is_no_wall_before_it():
    leaning = shapely.union_all([OUTSIDE, shapely.Polygon([(0, 0), (60, 100), (0, 100)])])
    found = fitted(shapely.box(3, 4, 97, 40), leaning)
    assert found.bounds[3] == pytest.approx(40.0)                           # its upper side stays level
    assert shapely.intersection(found, leaning).area < 1e-9


def test_a_hole_drawn_over_a_wall_ends_at_it():
    drawn = shapely.difference(shapely.box(4, 4, 96, 96), shapely.box(40, 40, 60, 60))
    post = shapely.box(45, 45, 55, 55)
    found = fitted(drawn, shapely.union_all([OUTSIDE, post]))
    assert same(found, shapely.difference(ROOM, post))                      # its sides went in to the post


def test_walls_part_a_plate():
    wall = shapely.union_all([OUTSIDE, shapely.box(50, -1, 54, 101)])
    parts = fit_outline(shapely.box(4, 20, 97, 60), wall, 10.0)
    assert [p.bounds for p in parts] == [(0.0, 20.0, 50.0, 60.0), (54.0, 20.0, 100.0, 60.0)]
    assert fit_outline(shapely.box(51, 20, 53, 60), wall, 10.0) == []


@given(star_polygons(), numbers(0.0, 30.0))
def test_what_is_fitted_is_free_and_within_the_reach(ring, reach):
    """However it is drawn: nothing in the wall, nothing lost that was free, nothing gained but near a wall."""
    drawn = shapely.Polygon(ring)
    walls = shapely.difference(shapely.box(-900, -900, 900, 900), shapely.box(-250, -230, 260, 240))
    parts = fit_outline(drawn, walls, reach)
    whole = shapely.union_all(parts)
    assert shapely.intersection(whole, walls).area < 1e-6
    lost = shapely.difference(shapely.difference(drawn, walls), whole)
    assert opened(lost, 0.05).area < 0.03 * drawn.area                      # crumbs alone
    gained = shapely.difference(whole, drawn)
    for part in polygon_parts(gained):
        assert part.distance(walls) < 1e-3 or part.area < 1e-6
    assert shapely.hausdorff_distance(whole, shapely.difference(drawn, walls)) < 900.0
    if reach == 0.0:
        assert gained.area < 1e-6


def test_nothing_is_lengthened_without_a_wall():
    drawn = shapely.box(0, 0, 10, 10)
    assert lengthened(drawn, shapely.Polygon(), 5.0) is drawn


def test_sides_moved_meet_again():
    ring = np.array([(0.0, 0.0), (10.0, 0.0), (10.0, 5.0), (0.0, 5.0)])
    normals = side_normals(ring)
    assert normals.tolist() == [[0.0, -1.0], [1.0, 0.0], [0.0, 1.0], [-1.0, 0.0]]
    offsets = np.einsum("ij,ij->i", ring, normals) + [1.0, 2.0, 0.0, 0.5]
    points, source = met_again(ring, normals, offsets)
    assert points.tolist() == [[-0.5, -1.0], [12.0, -1.0], [12.0, 5.0], [-0.5, 5.0]]
    assert source.tolist() == [0, 1, 2, 3]
    # parallel neighbours keep a step between them
    split = np.array([(0.0, 0.0), (4.0, 0.0), (10.0, 0.0), (10.0, 5.0), (0.0, 5.0)])
    normals = side_normals(split)
    offsets = np.einsum("ij,ij->i", split, normals) + [1.0, 0.0, 0.0, 0.0, 0.0]
    points, source = met_again(split, normals, offsets)
    assert points.tolist() == [[0, -1], [4, -1], [4, 0], [10, 0], [10, 5], [0, 5]]
    assert source.tolist() == [0, -1, 1, 2, 3, 4]


def test_a_hole_that_touches_an_edge_is_parted_from_it_by_a_gap():
    square = shapely.difference(shapely.box(0, 0, 100, 100), shapely.Polygon([(50, 0), (70, 20), (50, 40), (30, 20)]))
    (found,) = cleaned(square)
    assert found.is_valid and found.exterior.is_simple and not found.interiors
    assert shapely.symmetric_difference(found, square).area < 1.0
    two = shapely.difference(shapely.box(0, 0, 100, 100), shapely.union_all(
        [shapely.box(20, 20, 50, 50), shapely.box(50, 50, 80, 80)]))
    (found,) = cleaned(two)
    assert found.is_valid and len(found.interiors) == 1


def test_hairs_slits_and_doubled_points_go():
    hair = shapely.union_all([shapely.box(0, 0, 50, 50), shapely.box(50, 20, 90, 20.005)])
    slit = shapely.difference(hair, shapely.box(20, 30, 20.004, 60))
    (found,) = cleaned(slit)
    assert found.bounds == pytest.approx((0, 0, 50, 50)) and len(found.exterior.coords) == 5
    assert cleaned(shapely.box(0, 0, 0.01, 100)) == []
