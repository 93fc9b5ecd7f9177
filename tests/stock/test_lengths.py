"""Lengths as people write them."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tackwright.core.stock.lengths import format_length, parse_length
from tackwright.core.stock.materials import find_material
from tackwright.core.terms.errors import InputError


@pytest.mark.parametrize(
    ("text", "length"),
    [
        ("3", 3.0), ("3mm", 3.0), ("3 mm", 3.0), (" 3.0 MM ", 3.0), (".5mm", 0.5), ("2.", 2.0), ("0.3cm", 3.0),
        ("0.003 m", 3.0), ("0.125in", 3.175), ('1/8"', 3.175), ("1/8 in", 3.175), ("1/8 inch", 3.175),
        ("1 1/2in", 38.1), ("1-1/2 in", 38.1), ('1 1/2"', 38.1), ("0", 0.0), ("-3 mm", -3.0), (3, 3.0), (2.5, 2.5),
    ],
)  # 1 in = 25.4 mm exactly
def test_a_written_length_is_read_in_mm(text, length):
    assert parse_length(text) == pytest.approx(length, abs=1e-12)


def test_a_plain_number_takes_the_unit_it_is_declared_in():
    assert parse_length("0.125", unit="in") == pytest.approx(3.175)
    assert parse_length(0.125, unit="in") == pytest.approx(3.175)
    assert parse_length("1/8", unit="in") == pytest.approx(3.175)
    assert parse_length("3 mm", unit="in") == pytest.approx(3.0)


@pytest.mark.parametrize("text", ["11ga", "11 ga", "11 gauge", "11 GA", "11-gauge", "11gage"])
def test_a_gauge_is_looked_up_in_the_materials_table(text):
    assert parse_length(text, material=find_material("steel A36")) == pytest.approx(0.1196 * 25.4)
    assert parse_length(text, material=find_material("5052")) == pytest.approx(0.0907 * 25.4)
    assert parse_length(text, material=find_material("304")) == pytest.approx(0.1250 * 25.4)


def test_a_gauge_may_name_its_table_itself():
    steel = find_material("steel A36")
    assert parse_length("16ga galvanized", material=steel) == pytest.approx(0.0635 * 25.4)
    assert parse_length("16 ga aluminum") == pytest.approx(0.0508 * 25.4)


def test_a_gauge_without_a_metal_is_refused_and_says_how_to_name_it():
    with pytest.raises(InputError, match="'11ga' is another thickness in each metal.*'11ga steel'"):
        parse_length("11ga")


@pytest.mark.parametrize(
    "text",
    ["", "mm", "three", "3 4 mm", "12 3", "3.5/2", "1/2/3", "3,5", "3mm 4", "0x3", "nan", "inf", "--3",
     "1 1/2 1in", "³", "٣"],
)
def test_what_is_no_length_is_refused_with_what_is_accepted(text):
    with pytest.raises(InputError, match='Write a length as 3, 3mm, 0.125in, 1/8"'):
        parse_length(text)


def test_refusals_name_their_reason():
    with pytest.raises(InputError, match="'3furlong' has the unknown unit 'furlong'"):
        parse_length("3furlong")
    with pytest.raises(InputError, match="'1/0' divides by zero"):
        parse_length("1/0")
    with pytest.raises(InputError, match="'1e999' is not a finite length"):
        parse_length("1e999")
    with pytest.raises(InputError, match="nan is not a finite length"):
        parse_length(math.nan)
    with pytest.raises(InputError, match="True is not a length"):
        parse_length(True)
    with pytest.raises(InputError, match="'11ga wood' names no gauge table.*galvanized"):
        parse_length("11ga wood")


@pytest.mark.parametrize(
    ("length", "unit", "text"),
    [
        (3.0, "mm", "3 mm"), (3.175, "in", "0.125 in"), (0.0, "mm", "0 mm"), (-0.0001, "mm", "0 mm"),
        (1200.0, "mm", "1200 mm"), (3.03784, "mm", "3.038 mm"), (25.4, "in", "1 in"),
    ],
)
def test_a_length_is_written_without_idle_zeros(length, unit, text):
    assert format_length(length, unit) == text


@given(st.floats(min_value=0.0, max_value=1e5), st.sampled_from(["mm", "in"]))
def test_a_written_length_reads_back_to_the_last_digit_written(length, unit):
    step = 0.001 if unit == "mm" else 0.0001 * 25.4
    assert parse_length(format_length(length, unit)) == pytest.approx(length, abs=0.51 * step)
