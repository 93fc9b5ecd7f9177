"""Gauge tables against values printed elsewhere and the formulas behind them."""

from __future__ import annotations

import pytest

from tackwright.core.errors import InputError
from tackwright.core.gauges import GAUGE_TABLES, gauge_table, gauge_thickness


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
    # Manufacturers' Standard: 10 ga weighs 5.625, 11 ga 5.000, 16 ga 2.500, 20 ga 1.500 lb/ft2; 41.82 lb/ft2 an inch
    for gauge, weight in ((10, 5.625), (11, 5.0), (16, 2.5), (20, 1.5)):
        assert gauge_thickness(gauge, "steel") / 25.4 == pytest.approx(weight / 41.82, abs=0.6e-4)


@pytest.mark.parametrize("table", GAUGE_TABLES)
def test_a_higher_gauge_is_thinner(table):
    thicknesses = list(gauge_table(table).values())
    assert thicknesses == sorted(thicknesses, reverse=True)
    assert list(gauge_table(table)) == list(range(10, 25))


def test_a_gauge_outside_the_table_is_refused_with_its_range():
    with pytest.raises(InputError, match="6 ga is not in the steel gauge table. Use 10 to 24 ga"):
        gauge_thickness(6, "steel")
