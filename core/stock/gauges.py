"""Sheet gauges: the same number is another thickness in each trade, so the table must be named."""

from __future__ import annotations

import csv
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import Final, get_args

from ..terms.errors import InputError
from ..terms.metal import GaugeTable
from .units import INCH

__all__ = ["GAUGE_TABLES", "gauge_table", "gauge_thickness"]

GAUGE_TABLES: Final[tuple[GaugeTable, ...]] = get_args(GaugeTable)


@cache
def gauge_table(table: GaugeTable) -> Mapping[int, float]:
    """Thickness in mm by gauge number, thickest first. The sources stand in data/sheet_gauges.csv.

    >>> round(gauge_table("steel")[11], 3), round(gauge_table("aluminium")[11], 3)
    (3.038, 2.304)
    """
    text = files(__package__).joinpath("data", "sheet_gauges.csv").read_text(encoding="utf-8")
    rows = csv.DictReader(line for line in text.splitlines() if not line.startswith("#"))
    return MappingProxyType({int(row["gauge"]): float(row[table]) * INCH for row in rows if row[table]})


def gauge_thickness(gauge: int, table: GaugeTable) -> float:
    """Thickness in mm of a gauge number. Raises InputError for a number that the table does not hold."""
    known = gauge_table(table)
    if gauge not in known:
        raise InputError(
            f"{gauge} ga is not in the {table} gauge table",
            do=f"Use {min(known)} to {max(known)} ga, or give the thickness in mm or in",
        )
    return known[gauge]
