"""Perforation codes. The judge of bars is shapely: it measures between drawn neighbours."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from tackwright.core.openings.hole_patterns import hole_pattern
from tackwright.core.openings.random_turns import random_turns
from tackwright.core.shapes.outline import Circle, HoleField
from tackwright.core.terms.errors import InputError

# Formulas of ISO 7806 (1983), worked out by hand: 90.69 w2/t2, 78.54 w2/t2, 100 w2/t2, 100 (w l - 0.2146 w2)/(t1 t2).
# The round ones are also those of the perforators' handbooks: 5 mm at 8 mm staggered has 35.43 %, 18 042 holes/m2.
SHARES = [
    ("R2T3.5", 29.61, 1.1547e6 / 3.5**2), ("R3T5", 32.65, 1.1547e6 / 25), ("R5T8", 35.43, 18042),
    ("R10T15", 40.31, 1.1547e6 / 225), ("R5U8", 30.68, 15625), ("R5M8", 30.68, 15625), ("C5U8", 39.06, 15625),
    ("C10U15", 44.44, 1e6 / 225), ("C5Z8", 39.06, 15625), ("H6T6.7", 80.20, 1.1547e6 / 6.7**2),
    ("LR5x20Z9x24", 43.81, 1e6 / 216), ("LR4x20U10x30", 25.52, 1e6 / 300), ("LC5x20U10x25", 40.00, 4000),
]
CODES = [code for code, _, _ in SHARES] + ["LC4x15Z8x19", "LR5x20 random 26", "LC3x8 random 9.5"]


def drawn(pattern, reach=3):
    """shapely's polygons of the holes within `reach` lattice steps, the first about the origin."""
    steps = sorted(itertools.product(range(-reach, reach + 1), repeat=2), key=lambda s: (s[0] ** 2 + s[1] ** 2, s))
    places = np.array(steps)
    field = HoleField(shape=pattern.hole.cut, centres=places @ pattern.lattice, angles=pattern.angles(places))
    return shapely.polygons(field.rings(1e-4))


@pytest.mark.parametrize(("code", "percent", "per_square_metre"), SHARES)
def test_open_share_and_holes_per_square_metre(code, percent, per_square_metre):
    pattern = hole_pattern(code)
    assert 100 * pattern.standard_share == pytest.approx(percent, abs=0.005)
    assert pattern.per_square_metre == pytest.approx(per_square_metre, rel=3e-5)


@pytest.mark.parametrize(("code", "percent", "per_square_metre"), SHARES)
def test_the_drawn_hole_and_lattice_have_the_share_of_the_formula(code, percent, per_square_metre):
    pattern = hole_pattern(code)
    assert abs(pattern.hole.cut.area()) * pattern.per_square_metre / 1e4 == pytest.approx(percent, abs=0.005)


@pytest.mark.parametrize("code", CODES)
def test_the_bar_is_what_shapely_measures_between_neighbours(code):
    pattern = hole_pattern(code)
    first, *others = drawn(pattern)
    measured = shapely.distance(first, np.array(others)).min()
    if pattern.random:
        assert measured >= pattern.bar - 1e-3
    else:
        assert measured == pytest.approx(pattern.bar, abs=2e-3)


@pytest.mark.parametrize("code", ["LR5x20 random 26", "LC5x20 random 26"])
def test_no_turns_of_two_slots_at_random_angles_bring_them_nearer_than_the_bar(code):
    pattern = hole_pattern(code)
    turns = np.radians(np.arange(0.0, 180.0, 3.0))
    count = len(turns)
    here = HoleField(shape=pattern.hole.cut, centres=np.zeros((count, 2)), angles=turns)
    there = HoleField(shape=pattern.hole.cut, centres=np.tile([26.0, 0.0], (count, 1)), angles=turns)
    one, two = (shapely.polygons(field.rings(1e-3)) for field in (here, there))
    nearest = shapely.distance(one[:, None], two[None]).min()
    assert pattern.bar - 1e-3 <= nearest <= pattern.bar + 0.05


@given(
    st.sampled_from(["R", "C", "H", "LR", "LC"]), st.floats(1, 10), st.floats(1.1, 5), st.floats(0.3, 3),
    st.floats(0.3, 3), st.sampled_from("TUMZ"),
)
def test_holes_are_refused_just_when_drawn_ones_would_meet(kind, width, long, across, along, layout):
    """Any pitch, however long or narrow its cell: shapely judges all neighbours."""
    slotted = kind[0] == "L"
    if layout not in {"R": "TUM", "C": "UZ", "H": "T", "LR": "UZ", "LC": "UZ"}[kind]:
        return
    sizes = f"{width}x{width * long}" if slotted else f"{width}"
    pitches = f"{width * across}x{width * long * along}" if slotted else f"{width * across}"
    try:
        pattern = hole_pattern(f"{kind}{sizes}{layout}{pitches}")
    except InputError as error:
        assert "touch" in str(error) or "overlap" in str(error)
        loose = hole_pattern(f"{kind}{sizes}{layout}" + ("x".join(["1000"] * 2) if slotted else "1000"))
        scale = np.array([width * long * along, width * across]) / 1000 if slotted else width * across / 1000
        lattice = loose.lattice * scale
        steps = np.array([s for s in itertools.product(range(-9, 10), repeat=2) if s != (0, 0)])
        field = HoleField(shape=loose.hole.cut, centres=steps @ lattice, angles=np.zeros(len(steps)))
        one = shapely.Polygon(loose.hole.cut.flatten(1e-4))
        assert shapely.distance(one, shapely.polygons(field.rings(1e-4))).min() < 1e-3
    else:
        first, *others = drawn(pattern, reach=9)
        assert shapely.distance(first, np.array(others)).min() == pytest.approx(pattern.bar, abs=2e-3)


@pytest.mark.parametrize(("written", "plain"), [
    ("R 5 T 8", "R5T8"), ("r5t8", "R5T8"), ("R5,5T8", "R5.5T8"), ("LR5×20 Z 9×24", "LR5x20Z9x24"),
    ("L 5 x 20 U 9 x 24", "LR5x20U9x24"), (" lc5X20u10X25 ", "LC5x20U10x25"), ("H6T6.70", "H6T6.7"),
    ("LR4x20 RANDOM 26", "LR4x20 random 26"), ("L4x20random26", "LR4x20 random 26"),
])
def test_spellings(written, plain):
    pattern = hole_pattern(written)
    assert pattern.code == plain
    assert hole_pattern(pattern.code).code == plain


def test_round_holes_are_circles_and_round_ends_are_arcs():
    assert hole_pattern("R5T8").hole.cut == Circle(centre=(0.0, 0.0), diameter=5.0)
    slot = hole_pattern("LR5x20U9x24").hole.cut
    assert sorted(slot.bulges) == [-1.0, -1.0, 0.0, 0.0]
    assert slot.length() == pytest.approx(2 * 15 + np.pi * 5)
    for code in ("C5U8", "H6T7", "LR5x20U9x24", "LC5x20U9x24"):
        assert hole_pattern(code).hole.cut.area() < 0          # holes run clockwise


def test_a_hexagon_is_measured_across_its_flats():
    ring = shapely.Polygon(hole_pattern("H6T7").hole.cut.points)
    assert ring.bounds[2] == pytest.approx(3.0)
    assert ring.minimum_rotated_rectangle.area >= 6 * 6
    assert ring.area == pytest.approx(np.sqrt(3) / 2 * 36)


@pytest.mark.parametrize("code", [
    "", "T", "R5", "RT8", "X5T8", "R5Q8", "C5T8", "H5U8", "LR5x20T9x24", "R5 random 8", "R5T8T8", "5T8", "R5..5T8",
    "R5T8 mm", "R1e3T8", "R5T" + "9" * 400,
])
def test_an_unknown_code_is_told_the_codes_there_are(code):
    with pytest.raises(InputError, match="is no pattern that is known. There are: R5T8 round.*random"):
        hole_pattern(code)


@pytest.mark.parametrize("code", ["R5T8x9", "LR5Z9x24", "LR5x20Z9", "C5x5U8", "LR5x20 random 26x30"])
def test_too_few_or_too_many_sizes(code):
    with pytest.raises(InputError, match=r"size\(s\) and . pitch"):
        hole_pattern(code)


@pytest.mark.parametrize("code", ["R0T8", "R-5T8", "R5T0", "LR5x20Z9x-24", "C0.0U8", "LR-5x20 random 26"])
def test_sizes_of_zero_or_less(code):
    with pytest.raises(InputError, match="size of zero or less. Give every size in mm"):
        hole_pattern(code)


@pytest.mark.parametrize(("code", "words"), [
    ("R8T8", "touch"), ("R9T8", "overlap, by 1.00 mm"), ("R6U5", "overlap, by 1.00 mm"),
    ("R9M8", "overlap, by 1.00 mm"),
    ("C8U8", "touch"), ("C9Z8", "overlap, by 1.00 mm"), ("H7T6", "overlap, by 1.00 mm"),
    ("LR5x20Z9x20", "touch"),                           # end to end
    ("LR5x20Z4x24", "overlap, by 1.00 mm"),             # with the next row, half a pitch on
    ("LR5x20U9x19", "overlap, by 1.00 mm"),
    ("LR5x20 random 20", "touch.*pitch larger than 20.00 mm"),
    ("LC5x20 random 15", "overlap, by 5.62 mm.*20.62 mm"),      # sqrt(5² + 20²)
])
def test_holes_that_would_meet_are_refused(code, words):
    with pytest.raises(InputError, match=f"has holes that would {words}"):
        hole_pattern(code)


@pytest.mark.parametrize("code", ["LR20x5Z9x24", "LC5x5U9x9"])
def test_a_slot_is_longer_than_wide(code):
    with pytest.raises(InputError, match="not longer than wide.*Write the width first"):
        hole_pattern(code)


def test_random_turns_are_the_same_everywhere_and_spread_evenly():
    # worked out with Python's own whole numbers, by the published constants of SplitMix64
    def by_hand(column, row):
        z = ((row << 32) + (column & 0xFFFFFFFF) + 0x9E3779B97F4A7C15) % 2**64
        z = (z ^ z >> 30) * 0xBF58476D1CE4E5B9 % 2**64
        z = (z ^ z >> 27) * 0x94D049BB133111EB % 2**64
        return (z ^ z >> 31) % 180

    places = np.array(list(itertools.product(range(-50, 50), repeat=2)))
    turns = random_turns(places)
    assert turns.tolist() == [by_hand(int(c), int(r)) for c, r in places]
    counts = np.bincount((turns // 20).astype(int), minlength=9)
    assert counts.min() > 1000 and counts.max() < 1230         # 1111 expected, within 3.5 standard deviations
