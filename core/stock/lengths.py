"""Lengths as people write them: "3", "3mm", "1/8 in", "11ga"; and back into text."""

from __future__ import annotations

import math
import re
from typing import Final, Literal

from ..terms.errors import InputError
from ..terms.metal import Material
from .gauges import GAUGE_TABLES, gauge_thickness
from .units import INCH

__all__ = ["LengthUnit", "format_length", "parse_length"]

LengthUnit = Literal["mm", "in"]

_UNITS: Final = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": INCH, "inch": INCH, "inches": INCH, '"': INCH, "″": INCH}
_NUMBER: Final = r"(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?"
_LENGTH: Final = re.compile(
    rf"(?P<sign>[+-]?)\s*(?:(?P<whole>\d+)(?:\s+|-))??(?:(?P<top>\d+)\s*/\s*(?P<bottom>\d+)|(?P<number>{_NUMBER}))"
    r'\s*(?P<unit>[a-z"″]*)',
    re.ASCII,
)
_GAUGE: Final = re.compile(r"(?P<gauge>\d+)\s*-?\s*(?:ga|gauge|gage)\.?(?:\s+(?P<table>[a-z]+))?", re.ASCII)
_ACCEPTED: Final = 'Write a length as 3, 3mm, 0.125in, 1/8", 1 1/2in or 11ga'


def parse_length(text: object, *, unit: LengthUnit = "mm", material: Material | None = None) -> float:
    """A length in mm.

    text: a number, or a number, fraction or gauge with or without its unit. unit: what a plain number is
    in. material: whose gauge table a gauge number is looked up in; "11ga steel" names the table itself.
    Raises InputError, saying what is accepted, for anything else. The sign is kept: ranges are the caller's.

    >>> parse_length("1/8 in"), parse_length("3"), parse_length("0.5", unit="in")
    (3.175, 3.0, 12.7)
    """
    if isinstance(text, bool) or not isinstance(text, str | int | float):
        raise InputError(f"{text!r} is not a length", do=_ACCEPTED)
    if not isinstance(text, str):
        return _finite(float(text) * _UNITS[unit], text)
    plain = text.strip().casefold()
    if gauge := _GAUGE.fullmatch(plain):
        return _gauge(text, int(gauge["gauge"]), gauge["table"], material)
    found = _LENGTH.fullmatch(plain)
    if found is None or (found["whole"] and not found["top"]):
        raise InputError(f"{text!r} is not a length", do=_ACCEPTED)
    named = found["unit"] or unit
    if named not in _UNITS:
        raise InputError(f"{text!r} has the unknown unit {named!r}", do=_ACCEPTED)
    if found["top"]:
        if int(found["bottom"]) == 0:
            raise InputError(f"{text!r} divides by zero", do=_ACCEPTED)
        value = int(found["whole"] or 0) + int(found["top"]) / int(found["bottom"])
    else:
        value = float(found["number"])
    return _finite((-value if found["sign"] == "-" else value) * _UNITS[named], text)


def format_length(length: float, unit: LengthUnit = "mm") -> str:
    """A length given in mm as text, to a micrometre or a ten-thousandth of an inch, without idle zeros.

    >>> format_length(3.0), format_length(3.175, "in")
    ('3 mm', '0.125 in')
    """
    digits = f"{length:.3f}" if unit == "mm" else f"{length / INCH:.4f}"
    digits = digits.rstrip("0").rstrip(".")
    return f"{'0' if digits == '-0' else digits} {unit}"


def _gauge(text: str, gauge: int, table: str | None, material: Material | None) -> float:
    if table is not None:
        for known in GAUGE_TABLES:
            if known == {"aluminum": "aluminium", "galvanised": "galvanized"}.get(table, table):
                return gauge_thickness(gauge, known)
        raise InputError(f"{text!r} names no gauge table", do=f"There is {', '.join(GAUGE_TABLES)}")
    if material is None:
        raise InputError(
            f"{text!r} is another thickness in each metal",
            do=f"Name the metal with it, as in '{gauge}ga steel' ({', '.join(GAUGE_TABLES)})",
        )
    if material.gauge_table is None:
        raise InputError(
            f"{text!r} is no thickness of {material.name}: sheet of it has no gauge numbers",
            do="Give the thickness in mm or in",
        )
    return gauge_thickness(gauge, material.gauge_table)


def _finite(value: float, text: str | float) -> float:
    if not math.isfinite(value):
        raise InputError(f"{text!r} is not a finite length", do=_ACCEPTED)
    return value
