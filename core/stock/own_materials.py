"""Metals of the user's own, kept in a CSV file that can be shared.

    name,family,density,corner,gauges,filler,needs_filler,source,remarks,thicker
    copper C110,other,8940,open,,ERCu,,data sheet,,0.1

Only the first three columns are needed: what is left out is as usual in the family.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable
from pathlib import Path
from typing import Final, Literal, cast, get_args

from ..terms.errors import InputError, TackwrightError
from ..terms.metal import Family, GaugeTable, Material
from .gauges import GAUGE_TABLES
from .own_tables import own_rows, read_text

__all__ = ["FAMILIES", "material_row", "materials_csv", "materials_from_text", "own_material", "read_materials_csv"]

FAMILIES: Final[tuple[Family, ...]] = get_args(Family)
COLUMNS: Final = (
    "name", "family", "density", "corner", "gauges", "filler", "needs_filler", "source", "remarks", "thicker")
LIGHTEST: Final = 500.0
"""kg/m3: no metal is lighter than lithium (534, handbooks of chemistry); less is g/cm3 by mistake."""
HEAVIEST: Final = 23000.0
"""kg/m3: none is heavier than osmium (22590, handbooks of chemistry)."""
MOST_OVER: Final = 3.0
"""mm: plate of 80 mm may be 1.8 over (EN 10029); more is the thickness itself by mistake."""
_BEGIN: Final = "name,family,density"
_YES: Final = {"yes": True, "true": True, "1": True, "no": False, "false": False, "0": False, "": False}
_USUAL: Final = "as usual in the family"


def own_material(
    *,
    name: str,
    family: Family,
    density: float,
    corner: Literal["open", "closed"] | None = None,
    gauges: GaugeTable | None = None,
    filler: str = "",
    needs_filler: bool = False,
    source: str = "",
    remarks: str = "",
    thicker: float | None = None,
) -> Material:
    """A material of the user's own. corner, gauges, thicker: None for what is usual in the family. Raises
    InputError for a density that no metal has, and for sheet that is thinner than it is called."""
    if not LIGHTEST <= density <= HEAVIEST:
        hint = f"Give kg/m3: {density:g} g/cm3 is {1000 * density:g}" if LIGHTEST <= 1000 * density <= HEAVIEST else (
            f"Give kg/m3, from {LIGHTEST:g} to {HEAVIEST:g}")
        raise InputError(f"the density of '{name}' is {density:g} kg/m3", do=hint)
    if thicker is not None and not 0.0 <= thicker <= MOST_OVER:
        raise InputError(
            f"thicker of '{name}' is {thicker:g}", do=f"Give mm over its nominal thickness, 0 to {MOST_OVER:g}")
    return Material(
        name=name, family=family, density=density, density_source=source or "the user's own table",
        filler=filler, filler_source="the user's own table", needs_filler=needs_filler,
        gauge_table=gauges or (None if family == "other" else family),
        default_corner=corner or ("closed" if family in ("steel", "stainless") else "open"),
        corner_source="the user's own table" if corner else _USUAL, remarks=remarks,
        thicker=thicker,
    )


def read_materials_csv(path: Path | str) -> tuple[Material, ...]:
    """The materials of a file. Raises InputError with every fault found, each with its file and line."""
    return materials_from_text(read_text(Path(path)), str(path))


def materials_from_text(text: str, where: str) -> tuple[Material, ...]:
    """As `read_materials_csv`, of a text. where: what faults name."""
    found: dict[str, Material] = {}
    lines: dict[str, str] = {}
    faults: list[TackwrightError] = []
    for line, row in own_rows(text, where, ("name", "family", "density"), _BEGIN):
        try:
            material = _material(row)
        except InputError as error:
            faults.append(InputError(f"{line}: {error.what.raw}", do=error.do))
            continue
        if (key := material.name.casefold()) in found:
            already = f"{line}: '{material.name}' stands in {lines[key]} already"
            faults.append(InputError(already, do="Keep one of the two"))
        else:
            found[key], lines[key] = material, line.rpartition(", ")[2]
    if faults:
        raise InputError.several(faults)
    return tuple(found.values())


def materials_csv(materials: Iterable[Material]) -> str:
    """The file of these materials, as `read_materials_csv` reads it."""
    text = io.StringIO()
    table = csv.writer(text, lineterminator="\n")
    table.writerow(COLUMNS)
    table.writerows(material_row(m) for m in materials)
    return text.getvalue()


def material_row(material: Material) -> tuple[str, ...]:
    """Its cells in the order of the columns."""
    return (
        material.name, material.family, f"{material.density:.10g}",
        "" if material.corner_source == _USUAL else material.default_corner,
        material.gauge_table or "", material.filler, "yes" if material.needs_filler else "", material.density_source,
        material.remarks, "" if material.thicker is None else f"{material.thicker:.10g}",
    )


def _material(row: dict[str, str]) -> Material:
    name = " ".join(row["name"].split())
    if not name:
        raise InputError("the name is missing", do="Give one, as in copper C110,other,8940")
    try:
        density = float(row["density"])
    except ValueError:
        raise InputError(f"the density of '{name}' is {row['density']!r}", do="Give a number, in kg/m3") from None
    try:
        thicker = float(row["thicker"]) if row.get("thicker") else None
    except ValueError:
        raise InputError(f"thicker of '{name}' is {row['thicker']!r}", do="Give a number, in mm") from None
    needs = row.get("needs_filler", "").casefold()
    if needs not in _YES:
        raise InputError(f"needs_filler of '{name}' is {needs!r}", do="Give yes or no")
    return own_material(
        name=name,
        family=cast(Family, _word(row, "family", FAMILIES)),
        density=density,
        corner=cast(Literal["open", "closed"] | None, _word(row, "corner", ("open", "closed", "")) or None),
        gauges=cast(GaugeTable | None, _word(row, "gauges", (*GAUGE_TABLES, "")) or None),
        filler=row.get("filler", ""),
        needs_filler=_YES[needs],
        source=row.get("source", ""),
        remarks=row.get("remarks", ""),
        thicker=thicker,
    )


def _word(row: dict[str, str], column: str, words: tuple[str, ...]) -> str:
    said = row.get(column, "").casefold()
    said = {"aluminum": "aluminium", "galvanised": "galvanized"}.get(said, said)
    if said not in words:
        raise InputError(f"{column} of '{row['name']}' is {said!r}", do=f"Use one of {', '.join(filter(None, words))}")
    return said
