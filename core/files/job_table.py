"""One table of a job file, read key by key: each value checked, each fault named by the key's path."""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Callable, Mapping, Sequence
from typing import Any, TypeVar

from ..stock.lengths import LengthUnit, format_length, parse_length
from ..terms.errors import InputError, TackwrightError
from ..terms.metal import Material

__all__ = ["Table"]

Point = tuple[float, float, float]
Value = TypeVar("Value")


class Table:
    """A reader of one table.

    Its methods give a key's value, or None where the key is absent or at fault; faults are gathered in
    `faults`, shared by a table and its sub-tables, so that all of them are reported at once. The keys asked
    for are the keys there are: `refuse_unknown` faults the others. `kind`: what the whole file is.
    `length_unit` and `material` say how plain numbers and gauges are read.
    """

    def __init__(
        self, table: Mapping[str, object], *, path: str = "", key: str = "", faults: list[TackwrightError],
        kind: str = "job",
    ) -> None:
        self.key = key
        self.faults = faults
        self.length_unit: LengthUnit = "mm"
        self.material: Material | None = None
        self._kind = kind
        self._table = table
        self._path = path
        self._asked: list[str] = []

    def has(self, key: str) -> bool:
        return key in self._table

    def fault(self, key: str, wrong: str, do: str) -> None:
        self.faults.append(InputError(f"{self._path}{key} {wrong}", do=do))

    def text(self, key: str) -> str | None:
        value = self._value(key)
        if isinstance(value, str) and value.strip():
            return value
        self._refused(key, value, "a text", 'as in "lid"')
        return None

    def texts(self, key: str) -> list[str] | None:
        value = self._value(key)
        if isinstance(value, list) and all(isinstance(v, str) and v for v in value):
            return value
        self._refused(key, value, "a list of texts", 'as in ["top", "front"]')
        return None

    def word(self, key: str, words: Sequence[str]) -> str | None:
        """One of `words`."""
        value = self._value(key)
        if value is None:
            return None
        if isinstance(value, str) and value in words:
            return value
        close = difflib.get_close_matches(value, words, n=1) if isinstance(value, str) else []
        self.fault(key, f"is {_shown(value)}", f"{_did_you_mean(close)}Use one of {', '.join(words)}")
        return None

    def flag(self, key: str) -> bool | None:
        value = self._value(key)
        if isinstance(value, bool):
            return value
        self._refused(key, value, "true or false")
        return None

    def number(self, key: str, *, least: float, most: float) -> float | None:
        value = self._value(key)
        if _is_number(value) and least <= value <= most:
            return float(value)
        self._refused(key, value, "a number", f"from {least:g} to {most:g}")
        return None

    def count(self, key: str, *, least: int) -> int | None:
        value = self._value(key)
        if _is_number(value) and isinstance(value, int) and value >= least:
            return value
        self._refused(key, value, "a whole number", f"of at least {least}")
        return None

    def length(self, key: str, *, least: float | None = None, above: float | None = None) -> float | None:
        """A length in mm, at least `least` or more than `above`."""
        value = self._value(key)
        return None if value is None else self._length(key, value, least, above)

    def lengths(self, key: str, *, above: float) -> tuple[float, ...] | None:
        """A list of lengths in mm, each more than `above`; one by itself is a list of one."""
        value = self._value(key)
        if value is None:
            return None
        if not isinstance(value, list):
            one = self._length(key, value, None, above)
            return None if one is None else (one,)
        found = [self._length(f"{key}[{i}]", part, None, above) for i, part in enumerate(value, start=1)]
        given = tuple(length for length in found if length is not None)
        return given if len(given) == len(found) else None

    def point(self, key: str) -> Point | None:
        """Three lengths, mm."""
        value = self._value(key)
        return None if value is None else self._point(key, value)

    def points(self, key: str) -> tuple[Point, ...] | None:
        """A list of points, mm."""
        value = self._value(key)
        if not isinstance(value, list):
            self._refused(key, value, "a list of points", "as in [[0, 0, 0], [100, 0, 0], [100, 50, 0]]")
            return None
        found = [self._point(f"{key}[{i}]", part) for i, part in enumerate(value, start=1)]
        given = tuple(point for point in found if point is not None)
        return given if len(given) == len(found) else None

    def direction(self, key: str) -> Point | None:
        """Three plain numbers, not all zero."""
        value = self._value(key)
        if (isinstance(value, list) and len(value) == 3 and all(_is_number(v) and math.isfinite(v) for v in value)
                and any(value)):
            x, y, z = value
            return float(x), float(y), float(z)
        self._refused(key, value, "a direction", "as in [0, 0, 1]")
        return None

    def needed(self, key: str, read: Callable[[str], Value | None], do: str) -> Value | None:
        """What `read` makes of a key that must be there; a fault where it is not."""
        value = read(key)
        if value is None and not self.has(key):
            self.fault(key, "is missing", do)
        return value

    def _point(self, key: str, value: object) -> Point | None:
        if not isinstance(value, list) or len(value) != 3:
            self._refused(key, value, "three lengths", "as in [100, 50, 300]")
            return None
        x, y, z = (self._length(f"{key}[{i}]", part, None, None) for i, part in enumerate(value, start=1))
        return None if x is None or y is None or z is None else (x, y, z)

    def _length(self, key: str, value: object, least: float | None, above: float | None) -> float | None:
        try:
            length = parse_length(value, unit=self.length_unit, material=self.material)
        except InputError as error:
            self.fault(key, f"is {_shown(value)}: {error.what.raw}", error.do)
            return None
        if least is not None and length < least:
            self.fault(key, f"is {format_length(length)}", f"It must be at least {format_length(least)}")
            return None
        if above is not None and length <= above:
            self.fault(key, f"is {format_length(length)}", f"It must be more than {format_length(above)}")
            return None
        return length

    def table(self, key: str) -> Table:
        """The sub-table of that key, an empty one where it is absent."""
        return self._sub(self._mapping(key), f"{key}.", key)

    def tables(self, key: str) -> list[Table]:
        """The tables within the table of that key, [key.name]; each knows its name as `key`."""
        found = []
        for name, inner in self._mapping(key).items():
            if isinstance(inner, Mapping):
                found.append(self._sub(inner, f"{key}.{_key(name)}.", name))
            else:
                self._refused(f"{key}.{_key(name)}", inner, "a table", f"[{key}.{_key(name)}]")
        return found

    def rows(self, key: str) -> list[Table]:
        """The tables of a list, [[key]]."""
        value = self._value(key)
        if isinstance(value, list) and all(isinstance(row, Mapping) for row in value):
            return [self._sub(row, f"{key}[{i}].", key) for i, row in enumerate(value, start=1)]
        heading = re.sub(r"\[\d+\]", "", f"{self._path}{key}")
        self._refused(key, value, "a list of tables", f"each headed [[{heading}]]")
        return []

    def refuse_unknown(self) -> None:
        """Fault every key that was never asked for."""
        for key in self._table:
            if key not in self._asked:
                close = difflib.get_close_matches(key, self._asked, n=1)
                known = f"{_did_you_mean(close)}There is {', '.join(self._asked)}"
                self.fault(_key(key), f"is no key of a {self._kind}", known)

    def _value(self, key: str) -> Any:
        self._asked.append(key)
        return self._table.get(key)

    def _mapping(self, key: str) -> Mapping[str, object]:
        value = self._value(key)
        if isinstance(value, Mapping):
            return value
        self._refused(key, value, "a table", f"headed [{key}]")
        return {}

    def _sub(self, table: Mapping[str, object], path: str, key: str) -> Table:
        inner = Table(table, path=self._path + path, key=key, faults=self.faults, kind=self._kind)
        inner.length_unit, inner.material = self.length_unit, self.material
        return inner

    def _refused(self, key: str, value: object, kind: str, example: str = "") -> None:
        """Fault a value of the wrong kind; an absent key is none."""
        if value is not None:
            self.fault(key, f"is {_shown(value)}", f"Give {kind} {example}".rstrip())


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _shown(value: object) -> str:
    text = {True: "true", False: "false"}[value] if isinstance(value, bool) else repr(value)
    return text if len(text) <= 60 else text[:57] + "..."


def _key(name: str) -> str:
    """A key as TOML writes it."""
    plain = name.isascii() and name.replace("-", "").replace("_", "").isalnum()
    return name if plain else '"' + name.replace("\\", "\\\\").replace('"', '\\"') + '"'


def _did_you_mean(close: Sequence[str]) -> str:
    return f"Did you mean {close[0]}? " if close else ""
