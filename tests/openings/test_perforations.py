"""Regions filled with holes. shapely judges every drawn hole against the region, and all pairs against each other."""

from __future__ import annotations

import math
import time

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from strategies import numbers, star_polygons

from tackwright.core.openings.hole_patterns import hole_pattern
from tackwright.core.openings.perforation_bands import fill_bands
from tackwright.core.openings.perforations import perforate
from tackwright.core.terms.choices import Band
from tackwright.core.terms.errors import InputError

CODES = ["R5T8", "R6U9", "R4M7", "C5U8", "C5Z8", "H6T7.5", "LR5x20Z9x24", "LR4x15U9x20", "LC5x12Z9x16",
         "LR4x12 random 15", "LC4x10 random 12"]


def polygons(field, chord=0.005):
    return shapely.polygons(field.rings(chord))


@given(star_polygons(radius=(80.0, 160.0)), st.sampled_from(CODES), numbers(-180, 180), st.booleans())
def test_every_hole_lies_wholly_in_the_region(points, code, turn, holed):
    region = shapely.Polygon(points)
    if holed:
        region = region.difference(shapely.Point(20, 10).buffer(25)).difference(shapely.box(-200, -3, -10, 3))
    (band,) = fill_bands(region, [Band(code=code)], turn=turn)
    assert band.holes.count
    assert shapely.covers(region.buffer(2e-6, join_style="mitre"), polygons(band.holes)).all()


@given(star_polygons(radius=(80.0, 160.0)), st.lists(st.sampled_from(CODES), min_size=1, max_size=3), numbers(0, 3))
def test_no_two_holes_are_nearer_than_their_patterns_bars(points, codes, gap):
    bands = fill_bands(shapely.Polygon(points), [Band(code=code) for code in codes], gap=gap)
    drawn = np.concatenate([polygons(band.holes) for band in bands])
    bar = np.concatenate([np.full(band.holes.count, band.pattern.bar) for band in bands])
    a, b = shapely.STRtree(drawn).query(drawn, predicate="dwithin", distance=float(bar.max()) + 0.1)
    a, b = a[a < b], b[a < b]
    assert (shapely.distance(drawn[a], drawn[b]) >= np.minimum(bar[a], bar[b]) - 1e-6).all()


@pytest.mark.parametrize("code", CODES)
def test_a_large_region_holds_as_many_as_the_pattern_says(code):
    """What a border takes shrinks against the whole: within 3 % at a square of 100 pitches, and less further on."""
    pattern = hole_pattern(code)
    shares = []
    for pitches in (25, 100):
        side = pitches * float(np.abs(pattern.lattice).max())
        field = perforate(shapely.box(0, 0, side, side), pattern)
        shares.append(field.count / (side * side * pattern.per_square_metre / 1e6))
    assert abs(1 - shares[1]) < 0.03
    assert abs(1 - shares[1]) <= abs(1 - shares[0]) + 0.005


@pytest.mark.parametrize(("code", "width", "height", "count"), [
    ("R5U10", 95, 45, 50),             # 10 by 5 that just fit
    ("R5U10", 94.99, 45, 45),          # a hundredth too narrow
    ("C5U8", 77, 37, 50),
    ("LR5x20U9x24", 92, 41, 20),       # 4 by 5
    ("LR5x20Z9x24", 104, 32, 16),      # 4 in every row, every other half a pitch on
    ("LR5x20Z9x24", 104, 41, 18),      # 4, 3, 4, 3, 4: about the middle row
    ("R5T10", 55, 5 + 10 * math.sqrt(3), 6 + 5 + 6),
])
def test_counts_of_holes_that_just_fit(code, width, height, count):
    assert perforate(shapely.box(0, 0, width, height), hole_pattern(code)).count == count


def test_what_is_left_over_is_left_at_both_sides():
    for width, height in ((100, 50), (101.3, 57.7), (93, 46)):
        for code in ("R5T8", "R5U8", "LR5x20Z9x24", "C5Z8"):
            field = perforate(shapely.box(0, 0, width, height), hole_pattern(code))
            left, bottom, right, top = shapely.total_bounds(polygons(field))
            assert left == pytest.approx(width - right, abs=0.01)
            assert bottom == pytest.approx(height - top, abs=0.01)


@given(star_polygons(radius=(80.0, 160.0)), st.sampled_from(CODES), numbers(-180, 180), numbers(-500, 500))
def test_turning_region_and_rows_together_turns_the_holes(points, code, turn, shift):
    c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    matrix = np.array([[c, -s, shift], [s, c, -shift], [0, 0, 1]])
    (still,) = fill_bands(shapely.Polygon(points), [Band(code=code)])
    (moved,) = fill_bands(shapely.Polygon(points @ matrix[:2, :2].T + matrix[:2, 2]), [Band(code=code)], turn=turn)
    expected = still.holes.moved(matrix)
    assert np.allclose(moved.holes.centres, expected.centres, atol=1e-7)
    assert np.allclose(moved.holes.angles, expected.angles, atol=1e-12)


def test_the_same_region_gives_the_same_holes():
    region = shapely.Polygon([(0, 0), (140, 10), (160, 90), (20, 120)])
    fields = [perforate(region, hole_pattern("LR4x12 random 15")) for _ in range(2)]
    assert fields[0].centres.tobytes() == fields[1].centres.tobytes()
    assert fields[0].angles.tobytes() == fields[1].angles.tobytes()
    assert len(np.unique(fields[0].angles)) > 10


def test_round_holes_keep_their_distance_from_a_corner_that_points_in():
    region = shapely.box(0, 0, 60, 60).difference(shapely.box(30, 30, 60, 60))
    field = perforate(region, hole_pattern("R5T6"))
    assert np.linalg.norm(field.centres - 30.0, axis=1).min() >= 2.5
    assert shapely.distance(region.boundary, shapely.points(field.centres)).min() >= 2.5 - 2e-6


def test_bands_lie_one_under_another_with_depths_and_equal_shares():
    region = shapely.box(0, 0, 200, 100)
    bands = fill_bands(region, [Band(code="R5T8"), Band(code="LR5x20Z9x24", depth=30), Band(code="C5U8")], gap=10)
    assert [band.region.bounds[1::2] for band in bands] == [(75, 100), (35, 65), (0, 25)]
    for band in bands:
        assert band.holes.count and shapely.covers(band.region.buffer(2e-6), polygons(band.holes)).all()


def test_bands_without_a_gap_keep_the_narrower_bar_between_them():
    bands = fill_bands(shapely.box(0, 0, 200, 100), [Band(code="R5U8"), Band(code="C5U6")])
    one, two = (shapely.MultiPolygon(list(polygons(band.holes))) for band in bands)
    assert one.distance(two) >= 1.0 - 1e-6                     # 8 - 5 = 3, 6 - 5 = 1


def test_turned_bands_come_from_the_top_in_their_own_axes():
    one, two = fill_bands(shapely.box(0, 0, 100, 100), [Band(code="R5T8"), Band(code="C5U8")], turn=90)
    assert one.holes.centres[:, 0].max() < two.holes.centres[:, 0].min()   # up is to the left


@pytest.mark.parametrize("region", [shapely.Polygon(), shapely.box(0, 0, 4.9, 100), shapely.box(0, 0, 100, 3)])
def test_no_hole_where_none_fits(region):
    assert perforate(region, hole_pattern("R5T8")).count == 0


def test_separate_parts_are_filled_alike():
    region = shapely.MultiPolygon([shapely.box(0, 0, 40, 40), shapely.box(100, 0, 140, 40)])
    across = perforate(region, hole_pattern("R5U8")).centres[:, 0]
    assert np.count_nonzero(across < 50) == np.count_nonzero(across > 50) > 10


@pytest.mark.parametrize(("bands", "options", "words"), [
    ([], {}, "no pattern"), ([Band(code="R9T8")], {}, "overlap"), ([Band(code="Q9T8")], {}, "no pattern that is known"),
    ([Band(code="R5T8", depth=0.0)], {}, "0 mm deep"), ([Band(code="R5T8", depth=-3.0)], {}, "-3 mm deep"),
    ([Band(code="R5T8", depth=math.nan)], {}, "nan mm deep"),
    ([Band(code="R5T8", depth=120.0)], {}, r"height of 100.00 mm, by 20.00 mm"),
    ([Band(code="R5T8", depth=60.0), Band(code="C5U8", depth=50.0)], {"gap": 5}, "by 15.00 mm"),
    ([Band(code="R5T8", depth=100.0), Band(code="C5U8")], {}, "height of 100.00 mm: nothing is left for those"),
    ([Band(code="R5T8")], {"gap": -1.0}, "gap of -1 mm"), ([Band(code="R5T8")], {"turn": math.inf}, "turn of inf"),
    ([Band(code="R0.05T0.08")], {}, r"would make about 3.61e\+06 holes, and 1000000 are the most"),
])
def test_bad_input_is_named(bands, options, words):
    with pytest.raises(InputError, match=words):
        fill_bands(shapely.box(0, 0, 200, 100), bands, **options)


def test_ten_thousand_holes_grow_by_no_square_law():
    pattern = hole_pattern("R5T8")
    region = shapely.Point(0, 0).buffer(430, quad_segs=64)
    begin = time.perf_counter()
    field = perforate(region, pattern)
    seconds = time.perf_counter() - begin
    assert field.count > 10000
    print(f"{field.count} holes in {seconds:.2f} s")
