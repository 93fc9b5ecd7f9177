"""Figures in the units that the reader uses, and messages put into them.

Messages keep their quantities as data; `said` puts one into words where it is shown, so that no check needs to know who
reads.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import replace
from typing import Final

from ..terms import tolerance
from ..terms.messages import Kind, Message, Quantity
from .units import FOOT, GALLON, INCH, POUND, Units

__all__ = [
    "length_said", "mass_said", "quantity_said",
    "run_said", "said", "volume_said",
]

_FINEST: Final = 64
"""Parts of an inch on a steel rule."""
_KEPT_DIGITS: Final = 5e-6
"""Relative: lengths are kept to six digits, which leaves them off by up to half of the last."""
_FARTHEST: Final = 0.005
"""mm: more off than this is no fraction, however long the length; a quarter of tolerance.STRAIGHT, and a
fortieth of the half-step between two fractions, so that few lengths hit one by chance."""


def length_said(mm: float, units: Units) -> str:
    """A length: to a micrometre, or as the fraction of an inch that it is, or in decimals of an inch.

    >>> length_said(12.5, "mm"), length_said(4.7625, "in"), length_said(38.1, "in"), length_said(3.0, "in")
    ('12.5 mm', '3/16"', '1 1/2"', '0.118"')
    """
    if not math.isfinite(mm):
        return f"{mm:g} mm" if units == "mm" else f'{mm:g}"'
    if units == "mm":
        return f"{_decimals(mm, 3)} mm"
    return f'{_fraction(mm) or _decimals(mm / INCH, 3)}"'


def run_said(mm: float, units: Units) -> str:
    """A long length, such as of all cuts or welds: metres, or feet.

    >>> run_said(12345.0, "mm"), run_said(12345.0, "in")
    ('12.3 m', '40.5 ft')
    """
    return f"{_digits(mm / 1000.0)} m" if units == "mm" else f"{_digits(mm / FOOT)} ft"


def volume_said(mm3: float, units: Units) -> str:
    """A volume: litres, or US gallons; small ones in smaller units.

    >>> volume_said(5.361e6, "mm"), volume_said(2500.0, "mm"), volume_said(5.361e6, "in"), volume_said(32774.128, "in")
    ('5.36 L', '2.5 mL', '1.42 US gal', '2 in³')
    """
    if units == "mm":
        if abs(mm3) >= 1e5:
            return f"{_digits(mm3 / 1e6)} L"
        return f"{_digits(mm3 / 1e3)} mL" if abs(mm3) >= 100.0 else f"{_digits(mm3)} mm³"
    return f"{_digits(mm3 / GALLON)} US gal" if abs(mm3) >= 0.1 * GALLON else f"{_digits(mm3 / INCH**3)} in³"


def mass_said(kg: float, units: Units) -> str:
    """A mass.

    >>> mass_said(12.345, "mm"), mass_said(0.012, "mm"), mass_said(12.345, "in"), mass_said(0.012, "in")
    ('12.3 kg', '12 g', '27.2 lb', '0.423 oz')
    """
    if units == "mm":
        return f"{_digits(kg)} kg" if abs(kg) >= 0.1 else f"{_digits(kg * 1000.0)} g"
    pounds = kg / POUND
    return f"{_digits(pounds)} lb" if abs(pounds) >= 0.1 else f"{_digits(pounds * 16.0)} oz"


def said(text: str, units: Units) -> str:
    """A message in the units of who reads it: its quantities put into words.

    A text without any, such as a file of an older version keeps, was written in mm: figures with a unit after a space
    are found in it. What stands in quotes is a name and stays ("3mm" is how a length is typed).

    >>> from ..terms.messages import Length
    >>> said(f"'tank 12 mm': {Length(12.7):.1f} of metal", "in"), said(f"{Length(3.0, 4.7625):g}", "in")
    ('\\'tank 12 mm\\': 1/2" of metal', '0.118" x 3/16"')
    >>> said("'tank 12 mm': 12.7 mm of metal, at (0, 25.4, 50.8) mm; 645.16 mm2", "in")
    '\\'tank 12 mm\\': 1/2" of metal, at (0, 1, 2) in; 1 in²'
    """
    message = Message(text)
    if message.quantities:
        return "".join(part if isinstance(part, str) else quantity_said(part, units) for part in message.parts)
    text = _SIGNS.sub(_sign, message)
    return text if units == "mm" else _SAID.sub(_in_inches, text)


def quantity_said(quantity: Quantity, units: Units) -> str:
    """A quantity of a message: in mm as the message has it.

    >>> from ..terms.messages import Area, Place
    >>> quantity_said(Area(645.16), "in"), quantity_said(Place(0.0, 25.4, 50.8), "in"), quantity_said(Area(9.0), "mm")
    ('1 in²', '(0, 1, 2) in', '9 mm²')
    """
    if units == "mm":
        return str(quantity)
    if quantity.kind == "place":
        return f"({', '.join(_decimals(value / INCH, 3) for value in quantity.values)}) in"
    return quantity.between.join(_BY_KIND[quantity.kind](value, quantity) for value in quantity.values)


_BY_KIND: Final[dict[Kind, Callable[[float, Quantity], str]]] = {
    "length": lambda value, _: length_said(value, "in"),
    "run": lambda value, _: run_said(value, "in"),
    "area": lambda value, _: f"{_digits(value / INCH**2)} in²",
    "volume": lambda value, _: f"{_digits(value / INCH**3)} in³",
    "liquid": lambda value, _: volume_said(value, "in"),
    "mass": lambda value, _: mass_said(value, "in"),
    "angle": lambda value, whole: str(replace(whole, values=(value,))),
}

_SIGNS: Final = re.compile(
    r"(?P<name>(?<!\w)'[^'\n]*'(?!\w))|(?<!/)(?P<unit>\b(?:mm|m))(?P<power>[23])\b|(?P<deg> deg\b)")


def _sign(found: re.Match[str]) -> str:
    """The signs that texts of older versions lack."""
    if found["name"]:
        return found["name"]
    return "°" if found["deg"] else found["unit"] + {"2": "²", "3": "³"}[found["power"]]


_NUMBER: Final = r"(?:(?<![\w.)])[+-]|(?<![\w.+-]))(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?"
_UNIT: Final = r"(?![\w/²³])"                       # nothing that makes another unit of it, such as kg/m3
_SAID: Final = re.compile(
    r"(?P<name>(?<!\w)'(?:[^'\n]|(?<=\w)'(?=\w))*'(?!\w)|(?<![\w\"/])\"[^\"\n]*\"(?!\w))"
    rf"|(?P<both>{_NUMBER} mm \((?P<inches>{_NUMBER} in)\)|{_NUMBER} L \((?P<gallons>{_NUMBER} US gal)\))"
    rf"|\((?P<place>{_NUMBER}(?:, {_NUMBER})+)\) mm{_UNIT}"
    rf"|(?P<figures>{_NUMBER}(?:(?: x | to | and | or ){_NUMBER})?) (?P<unit>(?:mm|m)[²³]?|cm|mL|L|kg){_UNIT}"
)
_FIGURE: Final = re.compile(_NUMBER)


def _in_inches(found: re.Match[str]) -> str:
    if found["name"]:
        return found[0]
    if found["both"]:
        return found["inches"] or found["gallons"]
    if found["place"]:
        return "(" + _FIGURE.sub(lambda n: _decimals(float(n[0]) / INCH, 3), found["place"]) + ") in"
    unit = found["unit"]
    if unit in _WHOLE:
        return _FIGURE.sub(lambda n: _WHOLE[unit](float(n[0])), found["figures"])
    size, name = _OTHERS[unit]
    return _FIGURE.sub(lambda n: _digits(float(n[0]) / size), found["figures"]) + f" {name}"


_WHOLE: Final[dict[str, Callable[[float], str]]] = {
    "mm": lambda x: length_said(x, "in"), "cm": lambda x: length_said(10.0 * x, "in"),
    "L": lambda x: volume_said(1e6 * x, "in"), "mL": lambda x: volume_said(1e3 * x, "in"),
    "kg": lambda x: mass_said(x, "in"),
}
_OTHERS: Final = {
    "m": (FOOT / 1000.0, "ft"),
    "mm²": (INCH**2, "in²"), "mm³": (INCH**3, "in³"), "m²": (FOOT**2 / 1e6, "ft²"), "m³": (FOOT**3 / 1e9, "ft³"),
}


def _fraction(mm: float) -> str:
    """The fraction of an inch that a length is, "" where it is none."""
    parts = round(abs(mm) / INCH * _FINEST)
    off = abs(abs(mm) - parts * INCH / _FINEST)
    if off > min(max(tolerance.MERGE, _KEPT_DIGITS * abs(mm)), _FARTHEST) or (parts == 0 and off > 0.0):
        return ""
    whole, over = divmod(parts, _FINEST)
    common = math.gcd(over, _FINEST)
    below = f"{over // common}/{_FINEST // common}" if over else ""
    sign = "-" if mm < 0 and parts else ""
    return sign + (f"{whole} {below}" if whole and below else below or str(whole))


def _decimals(value: float, places: int) -> str:
    """So many decimals, more where fewer than two digits would be left, without idle zeros."""
    if value and abs(value) < 10.0 ** (1 - places):
        places = 1 - math.floor(math.log10(abs(value)))
    if places > 9:
        return "0"
    text = f"{value:.{places}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text


def _digits(value: float) -> str:
    """Three digits, all of them before the decimal point."""
    if not math.isfinite(value) or value == 0:
        return f"{value + 0.0:g}"
    text = f"{value:.{max(0, 2 - math.floor(math.log10(abs(value))))}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
