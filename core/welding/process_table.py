"""The table of processes: the one built in, and a user's own."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import fields
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Final

from ..stock.own_tables import own_rows, read_text
from ..terms.errors import InputError, TackwrightError
from ..terms.metal import Family
from ..terms.process import Process

__all__ = ["built_in", "process_for", "processes_from_text", "read_processes_csv"]

_BEGIN: Final = "name,up_to,k,efficiency,wire,volts,amps,speed,fill,penetration"
_NUMBERS: Final = tuple(item.name for item in fields(Process) if item.name != "name")
_USUAL: Final[dict[Family, str]] = {"aluminium": "TIG", "stainless": "TIG", "other": "TIG", "steel": "MIG"}
"""By what each family is welded in a small shop. Common practice, no source."""


@cache
def built_in() -> tuple[Process, ...]:
    """The rows that come along; their sources stand in the file."""
    text = files(__package__).joinpath("data", "processes.csv").read_text(encoding="utf-8")
    rows = "\n".join(line for line in text.splitlines() if not line.startswith("#"))
    return processes_from_text(rows, "processes.csv")


def read_processes_csv(path: Path | str) -> tuple[Process, ...]:
    """The rows of a file. Raises InputError with every fault found, each with its file and line."""
    return processes_from_text(read_text(Path(path)), str(path))


def processes_from_text(text: str, where: str) -> tuple[Process, ...]:
    """As `read_processes_csv`, of a text. where: what faults name."""
    found: list[Process] = []
    faults: list[TackwrightError] = []
    for line, row in own_rows(text, where, tuple(_BEGIN.split(",")), _BEGIN):
        try:
            found.append(_process(row))
        except InputError as error:
            faults.append(error.led_by(f"{line}: "))
    if faults:
        raise InputError.several(faults)
    return tuple(found)


def _process(row: dict[str, str]) -> Process:
    name = " ".join(row["name"].split())
    if not name:
        raise InputError("the name is missing", do="Give one, as in TIG")
    numbers: dict[str, float] = {}
    for column in _NUMBERS:
        try:
            numbers[column] = float(row[column])
        except ValueError:
            raise InputError(f"{column} of '{name}' is {row[column]!r}", do="Give a number") from None
        most = 1.0 if column in ("k", "efficiency") else math.inf
        if not 0.0 < numbers[column] <= most or not math.isfinite(numbers[column]):
            raise InputError(f"{column} of '{name}' is {numbers[column]:g}",
                             do="Give more than 0" + (", and 1 at most" if most == 1.0 else ""))
    return Process(name=name, **numbers)


def process_for(asked: str | None, own: Sequence[Process], family: Family, thickness: float) -> Process:
    """The row for plates of that thickness. asked: the name of a process, None for what is usual for the family; own:
    the user's rows, which go before the table's. Raises InputError for a process that no row is of."""
    wanted = (asked or _USUAL[family]).casefold()
    there = (*own, *built_in())
    rows = sorted((row for row in there if row.name.casefold() == wanted), key=lambda row: row.up_to)
    rows = [row for row in rows if row in own] or rows
    if not rows:
        known = ", ".join(dict.fromkeys(row.name for row in there))
        raise InputError(
            f"no process is called {asked!r}", do=f"Use one of {known}, or give it rows in a table of your own")
    return next((row for row in rows if thickness <= row.up_to), rows[-1])
