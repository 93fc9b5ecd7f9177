"""Messages for people that keep their quantities as data.

A check writes what it has to say in one piece, `f"{Length(gap):.2f} of metal is left"`. The quantity goes into the text
as a token; `Message` takes it out again, so that text and quantities are apart, and whoever shows the message puts it
into words in the reader's units. As a string a message is what it says in mm.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final, Literal

__all__ = [
    "Angle", "Area", "Kind", "Length", "Liquid", "Mass", "Message", "Place", "Quantity", "Run", "Volume", "raw",
]

Kind = Literal["length", "run", "area", "volume", "liquid", "mass", "angle", "place"]

_UNITS: Final[dict[Kind, str]] = {
    "length": " mm", "run": " m", "area": " mm²", "volume": " mm³", "liquid": "", "mass": " kg", "angle": "°",
    "place": " mm",
}
LITRE: Final = 1e6
"""mm3."""
_OPEN, _CLOSE, _FIELD = "\ue000", "\ue001", "\ue002"
"""Private characters that no keyboard types (Unicode, private use area)."""
_TOKEN: Final = re.compile(f"{_OPEN}([^{_CLOSE}]*){_CLOSE}")


@dataclass(frozen=True, slots=True)
class Quantity:
    """One or more values of a kind that are told together. values: mm, mm2, mm3, kg or degrees. spec: how each is
    written in these units, as `format` has it, and `~` after it for no idle zeros; between: what stands between."""

    kind: Kind
    values: tuple[float, ...]
    spec: str = "g"
    between: str = " x "

    def __format__(self, spec: str) -> str:
        """The quantity as a token, its values to be written so."""
        values = ",".join(repr(float(value)) for value in self.values)
        return f"{_OPEN}{_FIELD.join((self.kind, values, spec or self.spec, self.between))}{_CLOSE}"

    @classmethod
    def parse(cls, token: str) -> Quantity:
        kind, values, spec, between = token.split(_FIELD)
        if kind not in _UNITS:
            raise ValueError(f"no kind of quantity is called {kind!r}")
        return cls(kind=kind, values=tuple(map(float, values.split(","))), spec=spec, between=between)

    def __str__(self) -> str:
        """In mm, kg and degrees."""
        told = self.between.join(map(self._written, self.values))
        return f"({told}) mm" if self.kind == "place" else told + _UNITS[self.kind]

    def _written(self, value: float) -> str:
        if self.kind == "place":
            return f"{round(value, 3) + 0.0:.10g}"
        if self.kind == "liquid":
            number, unit = (value / LITRE, "L") if value >= 0.1 * LITRE else (1000.0 * value / LITRE, "mL")
            return f"{number:.0f} {unit}" if number >= 1000 else f"{number:.3g} {unit}"
        text = format(value / 1000.0 if self.kind == "run" else value, self.spec.removesuffix("~"))
        return text.rstrip("0").rstrip(".") if self.spec.endswith("~") else text


def Length(*values: float, between: str = " x ") -> Quantity:  # noqa: N802  it reads as what it makes
    """mm.

    >>> str(Message(f"{Length(3.0, 4.5):g} wide, {Length(0.123):.2f} apart"))
    '3 x 4.5 mm wide, 0.12 mm apart'
    """
    return Quantity("length", values, between=between)


def Area(*values: float, between: str = " x ") -> Quantity:  # noqa: N802
    """mm2."""
    return Quantity("area", values, between=between)


def Volume(*values: float) -> Quantity:  # noqa: N802
    """mm3."""
    return Quantity("volume", values)


def Run(*values: float) -> Quantity:  # noqa: N802
    """mm, told in metres."""
    return Quantity("run", values)


def Liquid(*values: float) -> Quantity:  # noqa: N802
    """mm3, told in litres.

    >>> [str(Liquid(volume)) for volume in (1.23456e9, 2.54321e6, 2500.0)]
    ['1235 L', '2.54 L', '2.5 mL']
    """
    return Quantity("liquid", values)


def Mass(*values: float) -> Quantity:  # noqa: N802
    """kg."""
    return Quantity("mass", values)


def Angle(*values: float, between: str = " x ") -> Quantity:  # noqa: N802
    """Degrees."""
    return Quantity("angle", values, between=between)


def Place(*values: float) -> Quantity:  # noqa: N802
    """A point, mm."""
    return Quantity("place", values, between=", ")


def _parsed(token: str) -> Quantity | str:
    """What looks like a token and is none, in somebody's name for a plate, stays as it is."""
    try:
        return Quantity.parse(token)
    except ValueError:
        return token


class Message(str):
    """A text with its quantities. parts: the words and, among them, the quantities, as they follow each other.

    >>> told = Message(f"{Length(12.7):g} of metal at {Angle(60.0):.1f}")
    >>> str(told), [part.values for part in told.quantities]
    ('12.7 mm of metal at 60.0°', [(12.7,), (60.0,)])
    """

    __slots__ = ("parts",)

    parts: tuple[str | Quantity, ...]

    def __new__(cls, text: str) -> Message:
        """From a text with tokens; a message stays what it is."""
        if isinstance(text, Message):
            return text
        parts = tuple(_parsed(piece) if row % 2 else piece for row, piece in enumerate(_TOKEN.split(text)))
        message = super().__new__(cls, "".join(map(str, parts)))
        message.parts = parts
        return message

    def __reduce__(self) -> tuple[type[Message], tuple[str]]:
        return Message, (self.raw,)

    @property
    def quantities(self) -> tuple[Quantity, ...]:
        return tuple(part for part in self.parts if isinstance(part, Quantity))

    @property
    def raw(self) -> str:
        """The text with its tokens, to be put into another message, or kept."""
        return "".join(part if isinstance(part, str) else format(part, "") for part in self.parts)

    def lines(self) -> Iterator[Message]:
        """Its lines, each a message."""
        return map(Message, self.raw.splitlines())


def raw(text: str) -> str:
    """A text to be put into a message: with the tokens of its quantities, where it has any."""
    return text.raw if isinstance(text, Message) else text
