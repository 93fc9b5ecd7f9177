"""Gauge tables against values printed elsewhere and the formulas behind them."""

from __future__ import annotations

import pytest

from tackwright.core.stock.gauges import GAUGE_TABLES, gauge_table, gauge_thickness
from tackwright.core.terms.errors import InputError


@pytest.mark.parametrize(
    ("gauge", "table", "mm", "source"),
    [
        (10, "steel", 3.416, "Manufacturers' Standard Gage, mm column of a second listing"),
        (14, "steel", 1.898, "Manufacturers' Standard Gage, mm column of a second listing"),
        (24, "steel", 0.607, "Manufacturers' Standard Gage, mm column of a second listing"),
        (10, "aluminium", 2.588, "Brown & Sharpe, mm column of a second listing"),
        (14, "aluminium", 1.628, "Brown & Sharpe, mm column of a second listing"),
        (14, "galvanized", 1.994, "MSG plus coating, mm column of a second listing"),
        (11, "stainless", 3.175, "1/8 in, from memory: US standard gauge"),
        (22, "stainless", 0.794, "1/32 in, from memory: US standard gauge"),
        (3, "steel", 0.2391 * 25.4, "Manufacturers' Standard Gage, as charts of sheet metal gauges print it"),
        (4, "steel", 0.2242 * 25.4, "Manufacturers' Standard Gage, as charts of sheet metal gauges print it"),
        (3, "aluminium", 0.2294 * 25.4, "Brown & Sharpe, as charts of sheet metal gauges print it"),
        (4, "aluminium", 0.2043 * 25.4, "Brown & Sharpe, as charts of sheet metal gauges print it"),
        (3, "stainless", 6.35, "US standard gauge, as charts of sheet metal gauges print it"),
        (4, "stainless", 0.2344 * 25.4, "US standard gauge, as charts of sheet metal gauges print it"),
        (9, "galvanized", 0.1532 * 25.4, "from memory: charts of galvanized sheet begin here"),
    ],
)
def test_a_gauge_is_as_thick_as_listed(gauge, table, mm, source):
    assert gauge_thickness(gauge, table) == pytest.approx(mm, abs=0.002), source


def test_aluminium_follows_the_brown_and_sharpe_formula():
    for gauge, thickness in gauge_table("aluminium").items():
        inches = 0.005 * 92 ** ((36 - gauge) / 39)      # published formula
        assert thickness / 25.4 == pytest.approx(inches, abs=0.6e-4), gauge


def test_galvanized_is_steel_with_its_coating():
    steel = gauge_table("steel")
    for gauge, thickness in gauge_table("galvanized").items():
        assert (thickness - steel[gauge]) / 25.4 == pytest.approx(0.0037, abs=1.1e-4), gauge  # two roundings


def test_steel_gauges_are_weights():
    # Manufacturers' Standard: 3 ga weighs 10 lb/ft2 and each after it 5/8 less, down to 14 ga with 3.125 (from memory);
    # 16 ga weighs 2.500, 20 ga 1.500; 41.82 lb/ft2 an inch (published)
    for gauge, weight in [*((gauge, 10 - 0.625 * (gauge - 3)) for gauge in range(3, 15)), (16, 2.5), (20, 1.5)]:
        assert gauge_thickness(gauge, "steel") / 25.4 == pytest.approx(weight / 41.82, abs=0.6e-4), gauge


def test_stainless_gauges_are_parts_of_an_inch():
    # US standard, from memory: 3 ga is a quarter of an inch, and each after it 1/64 less, down to 14 ga with 5/64
    for gauge in range(3, 15):
        assert gauge_thickness(gauge, "stainless") / 25.4 == pytest.approx((19 - gauge) / 64, abs=0.6e-4), gauge


@pytest.mark.parametrize("table", GAUGE_TABLES)
def test_a_higher_gauge_is_thinner(table):
    thicknesses = list(gauge_table(table).values())
    assert thicknesses == sorted(thicknesses, reverse=True)
    assert list(gauge_table(table)) == list(range(9 if table == "galvanized" else 3, 25))


@pytest.mark.parametrize(("gauge", "table", "first"), [(2, "steel", 3), (25, "aluminium", 3), (8, "galvanized", 9)])
def test_a_gauge_outside_the_table_is_refused_with_its_range(gauge, table, first):
    with pytest.raises(InputError, match=f"{gauge} ga is not in the {table} gauge table. Use {first} to 24 ga"):
        gauge_thickness(gauge, table)
