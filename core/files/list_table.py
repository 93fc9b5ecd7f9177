"""Tables for people and spreadsheets (RFC 4180, UTF-8): columns in the kit's own units, a last row of sums."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

from ..stock.units import INCH, POUND, Units

__all__ = ["Cell", "Column", "Kind", "table", "words"]

Kind = Literal["text", "count", "length", "area", "volume", "mass", "angle"]
Cell = str | float | None
"""A number in mm, mm2, mm3, kg or degrees; None where there is none."""

_SUFFIX: Final[dict[Kind, dict[Units, tuple[str, float, int]]]] = {
    "length": {"mm": ("_mm", 1.0, 2), "in": ("_in", INCH, 3)},
    "area": {"mm": ("_mm2", 1.0, 2), "in": ("_in2", INCH**2, 3)},
    "volume": {"mm": ("_cm3", 1e3, 2), "in": ("_in3", INCH**3, 3)},
    "mass": {"mm": ("_kg", 1.0, 3), "in": ("_lb", POUND, 3)},
    "angle": {"mm": ("_deg", 1.0, 2), "in": ("_deg", 1.0, 2)},
}
"""What a column's name ends with, what one of it is, and decimals."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """name: without its unit. total: whether a sum over the rows means something; per: the column of counts by which a
    row counts."""

    name: str
    kind: Kind = "text"
    total: bool = False
    per: str = ""


def table(columns: Sequence[Column], rows: Sequence[Sequence[Cell]], units: Units) -> bytes:
    """The file: a head, the rows, and where there are sums a last row `total`."""
    stream = io.StringIO(newline="")
    out = csv.writer(stream, lineterminator="\r\n")
    out.writerow([column.name + _suffix(column, units) for column in columns])
    out.writerows([[_text(column, cell, units) for column, cell in zip(columns, row, strict=True)] for row in rows])
    if any(column.total for column in columns) and rows:
        out.writerow(["total", *(_total(i, columns, rows, units) for i in range(1, len(columns)))])
    return stream.getvalue().encode(errors="replace")


def _suffix(column: Column, units: Units) -> str:
    return _SUFFIX[column.kind][units][0] if column.kind in _SUFFIX else ""


def _total(at: int, columns: Sequence[Column], rows: Sequence[Sequence[Cell]], units: Units) -> str:
    column = columns[at]
    if not column.total:
        return ""
    names = [one.name for one in columns]
    weights = [_number(row[names.index(column.per)]) if column.per else 1.0 for row in rows]
    return _text(column, math.fsum(w * _number(row[at]) for w, row in zip(weights, rows, strict=True)), units)


def _number(cell: Cell) -> float:
    return float(cell) if isinstance(cell, int | float) else 0.0


def _text(column: Column, cell: Cell, units: Units) -> str:
    if cell is None:
        return ""
    if isinstance(cell, str):
        return words(cell)
    if column.kind == "count":
        return str(int(cell))
    _, unit, decimals = _SUFFIX[column.kind][units]
    text = f"{cell / unit:.{decimals}f}"
    return text.removeprefix("-") if not float(text) else text


def words(text: str) -> str:
    """Text for a cell, on one line and never taken for a formula: a spreadsheet runs what begins like one,
    and shows what follows an apostrophe as it stands. Source: OWASP, "CSV Injection"."""
    if not text.isprintable():
        text = "".join(c if c.isprintable() else " " for c in text)
    return f"'{text}" if text.lstrip().startswith(("=", "+", "-", "@")) else text
