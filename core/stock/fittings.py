"""Fittings that are welded into plates, and the round hole that each needs.

Sizes from open standards, each with its source; a user's own come from a CSV file. What is from memory or common
practice says so. Makers differ: the fitting in hand is the last word.
"""

from __future__ import annotations

import difflib
import functools
import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from ..terms.errors import InputError, TackwrightError
from .lengths import format_length, parse_length
from .own_tables import read_own_table
from .units import INCH

__all__ = ["CLEARANCE", "FITTINGS", "Fitting", "find_fitting", "read_fittings_csv"]

CLEARANCE: Final = 0.5
"""mm on the diameter, between a fitting and its hole. Common practice, no source, is 0.2 to 0.5; the upper end, since
pipe may be 0.4 mm (1/64 in) over its nominal outside (ASTM A53, from memory) and a cut hole a little under."""

_IN_HAND: Final = "measure the one in hand: makers' outside sizes differ"


@dataclass(frozen=True, slots=True, kw_only=True)
class Fitting:
    """One fitting. outside: diameter of what passes through the plate, None where only the hole is known. hole:
    diameter to cut. Both mm. also: other spellings that find it."""

    name: str
    outside: float | None
    hole: float
    source: str
    remarks: str = ""
    also: tuple[str, ...] = ()


def _row(name: str, outside: float, source: str, remarks: str = "", also: tuple[str, ...] = ()) -> Fitting:
    return Fitting(name=name, outside=outside, hole=outside + CLEARANCE, source=source, remarks=remarks, also=also)


_PIPE: Final = "ASME B36.10 and B1.20.1: outside of the pipe, inches"
_COUPLING: Final = "ASME B16.11, class 3000 threaded couplings, mm; read in a reprint"
_NPT: Final = (                 # size, outside of the pipe (in), outside of the coupling (mm)
    ("1/8", 0.405, 16.0), ("1/4", 0.540, 19.0), ("3/8", 0.675, 22.0), ("1/2", 0.840, 28.0), ("3/4", 1.050, 35.0),
    ("1", 1.315, 44.0), ("1 1/4", 1.660, 57.0), ("1 1/2", 1.900, 64.0), ("2", 2.375, 76.0), ("2 1/2", 2.875, 92.0),
    ("3", 3.500, 108.0),
)

_ISO_228: Final = "ISO 228-1: major diameter, mm; read in reprints that agree"
_G: Final = (
    ("1/8", 9.728), ("1/4", 13.157), ("3/8", 16.662), ("1/2", 20.955), ("3/4", 26.441), ("1", 33.249),
    ("1 1/4", 41.910), ("1 1/2", 47.803), ("2", 59.614),
)

_ISO_6149: Final = "ISO 261: the major diameter is the nominal; sizes as in ISO 6149-1, read in reprints"
_METRIC: Final = (
    (10, "1"), (12, "1.5"), (14, "1.5"), (16, "1.5"), (18, "1.5"), (20, "1.5"), (22, "1.5"), (27, "2"), (33, "2"),
    (42, "2"), (48, "2"), (60, "2"),
)

_HOSE: Final = "bores: ISO 1307, mm; that the tube is as wide as the hose's bore: common practice, no source"
_TUBES: Final = (               # bore of the hose, outside of the nearest tube sold
    (4, 4), (5, 5), (6.3, 6), (8, 8), (10, 10), (12.5, 12), (16, 16), (19, 19), (20, 20), (25, 25), (31.5, 32),
    (38, 38), (40, 40), (50, 50), (51, 51), (63, 63), (76, 76), (80, 80), (90, 90), (100, 100),
)

_NECK: Final = "common practice, no source"
_NECKS: Final = (("2", 2.0), ("2 1/4", 2.25), ("3", 3.0))

_BUNG: Final = "common practice, no source: bungs are turned from bar of the usual sizes"
_BUNGS_INCH: Final = (
    ("5/8", 0.625), ("3/4", 0.75), ("7/8", 0.875), ("1", 1.0), ("1 1/8", 1.125), ("1 1/4", 1.25), ("1 3/8", 1.375),
    ("1 1/2", 1.5), ("1 3/4", 1.75), ("2", 2.0),
)
_BUNGS_MM: Final = (16, 18, 20, 22, 25, 28, 30, 32, 35, 40, 45, 50)

FITTINGS: Final[tuple[Fitting, ...]] = (
    *(_row(f"NPT {size}", pipe * INCH, _PIPE, "a pipe nipple, through the plate",
           (f"{size} NPT", f"NPT {size} in", f"{size} in NPT")) for size, pipe, _ in _NPT),
    *(_row(f"NPT {size} coupling", outside, _COUPLING,
           "whole or half, through the plate; one that stands on the plate needs a hole of its bore only",
           (f"NPT {size} half coupling", f"{size} NPT coupling", f"{size} NPT half coupling"))
      for size, _, outside in _NPT),
    *(_row(f"G {size}", major, _ISO_228, "a male thread, through the plate; a socket is wider: measure it",
           (f"G {size} in", f"{size} G", f"BSPP {size}")) for size, major in _G),
    *(_row(f"M {size} x {pitch}", float(size), _ISO_6149,
           "a male thread, through the plate; a boss is wider: measure it") for size, pitch in _METRIC),
    *(_row(f"tube {tube}", float(tube), _HOSE, f"for hose of {bore:g} mm bore; a bead on it is 1 to 2 mm wider",
           (f"hose {bore:g}", f"tube {bore:g}", f"tube {tube} mm")) for bore, tube in _TUBES),
    *(_row(f"filler neck {size} in", inches * INCH, _NECK, _IN_HAND, (f"filler neck {size}", f"filler neck {inches:g}",
                                                                     f"filler neck {inches:g} in"))
      for size, inches in _NECKS),
    *(_row(f"bung {size} in", inches * INCH, _BUNG, _IN_HAND) for size, inches in _BUNGS_INCH),
    *(_row(f"bung {size}", float(size), _BUNG, _IN_HAND, (f"bung {size} mm",)) for size in _BUNGS_MM),
)


def find_fitting(name: str, own: Mapping[str, float]) -> Fitting:
    """The fitting of that name; upper and lower case, spaces and hyphens do not matter.

    own: the user's rows, name to the diameter of the hole in mm; they go before the table's. Raises InputError,
    with the names that come close, for a name that is in neither.

    >>> round(find_fitting('1/2" npt', {}).hole, 2), find_fitting("my bung", {"My Bung": 31.0}).hole
    (21.84, 31.0)
    """
    wanted = _key(name)
    for own_name, hole in own.items():
        if _key(own_name) == wanted:
            return Fitting(name=own_name, outside=None, hole=hole, source="the user's own table")
    table = _by_key()
    if wanted in table:
        return table[wanted]
    names = {_key(n): n for n in own} | {key: fitting.name for key, fitting in table.items()}
    close = dict.fromkeys(names[k] for k in difflib.get_close_matches(wanted, names, n=6, cutoff=0.6))
    meant = " or ".join(f"'{n}'" for n in list(close)[:3])
    hint = f"Did you mean {meant}? " if meant else ""
    raise InputError(
        f"fitting {name!r} is not known",
        do=f"{hint}'tackwright fittings' lists what there is; others go into a CSV file with the columns name, hole")


@functools.cache
def _by_key() -> Mapping[str, Fitting]:
    """The table by all its names; of two with one name the first."""
    return {_key(name): fitting for fitting in reversed(FITTINGS) for name in (fitting.name, *fitting.also)}


def read_fittings_csv(path: Path | str) -> dict[str, float]:
    """The user's own fittings: name to the diameter of the hole, mm.

    The file has a header line with the columns `name` and `hole`; others are left alone. A hole is a length as
    anywhere: 28, 28mm, 1.1in, 1 1/8in. Raises InputError with every fault found, each with its file and line.
    """
    found: dict[str, float] = {}
    seen: dict[str, str] = {}
    faults: list[TackwrightError] = []
    for line, row in read_own_table(path, ("name", "hole"), "name,hole"):
        name = row["name"]
        if not name or not row["hole"]:
            faults.append(InputError(f"{line} lacks a name or a hole", do="Give both, as in my bung,28mm"))
            continue
        try:
            hole = parse_length(row["hole"])
        except InputError as error:
            faults.append(InputError(f"{line}: {error.what.raw}", do=error.do))
            continue
        if hole <= 0:
            faults.append(InputError(f"{line}: the hole is {format_length(hole)}", do="It must be more than 0 mm"))
        elif (key := _key(name)) in seen:
            already = f"{line}: '{name}' stands in {seen[key]} already"
            faults.append(InputError(already, do="Keep one of the two"))
        else:
            found[name], seen[key] = hole, line.rpartition(", ")[2]
    if faults:
        raise InputError.several(faults)
    return found


def _key(name: str) -> str:
    """A name without what does not matter: case, spaces, hyphens, and how inches and fractions are typed."""
    text = re.sub(r"(?<=\d)(?=[¼½¾⅛⅜⅝⅞])", " ", name)
    text = unicodedata.normalize("NFKC", text).casefold().replace("⁄", "/").replace("×", "x")
    text = re.sub(r"[\"″”]|inch(es)?\b", "in", text)
    return re.sub(r"[\s-]+", "", text)
