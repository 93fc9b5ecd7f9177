"""Sheet is not its nominal thickness: by how much it may be thicker, and so how wide a slot must be that takes it."""

from __future__ import annotations

import csv
from functools import cache
from importlib.resources import files
from typing import Final

from ..terms.choices import Choices
from ..terms.metal import Family, Material
from .materials import material_of

__all__ = ["LEAST_CLEARANCE", "over_nominal", "thickness_gap"]

LEAST_CLEARANCE: Final = 0.1
"""mm in all between a plate's two faces and its slot: less is lost in the cut's own deviation (ISO 9013 class 1)."""


@cache
def _rows(family: Family) -> tuple[tuple[float, float], ...]:
    """Up to which thickness, and how much over it, mm; thinnest first. The sources stand in the file."""
    text = files(__package__).joinpath("data", "sheet_tolerances.csv").read_text(encoding="utf-8")
    rows = csv.DictReader(line for line in text.splitlines() if not line.startswith("#"))
    return tuple((float(row["up_to"]), float(row["over"])) for row in rows if row["family"] == family)


def over_nominal(family: Family, thickness: float) -> float:
    """How many mm a sheet may be thicker than it is called. Thicker plate than the table has is taken as its thickest,
    and other metals as steel.

    >>> over_nominal("aluminium", 3.0), over_nominal("steel", 3.0), over_nominal("other", 6.0)
    (0.17, 0.15, 0.28)
    """
    rows = _rows("steel" if family == "other" else family)
    return next((over for up_to, over in rows if thickness <= up_to), rows[-1][1])


def thickness_gap(choices: Choices, thickness: float) -> float:
    """mm by which slots and notches are wider than the plate of that nominal thickness that goes into them: as the
    settings say, else as the material's own row does, else by the tolerance of its sheet."""
    asked = choices.settings.thickness_gap
    return asked if asked is not None else max(_thicker(material_of(choices), thickness), LEAST_CLEARANCE)


def _thicker(material: Material, thickness: float) -> float:
    return material.thicker if material.thicker is not None else over_nominal(material.family, thickness)
