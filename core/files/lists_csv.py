"""The cut list and the weld list: tables for people and spreadsheets (RFC 4180, UTF-8)."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable
from itertools import chain

from ..kit.kit import Corner, Joint, Kit, KitPlate
from .numbers import number_text

__all__ = ["cut_list", "weld_list"]

_CUT_COLUMNS = (
    "mark", "name", "quantity", "material", "thickness", "width", "height", "area", "mass", "cut_length", "pierces",
    "bends",
)
_WELD_COLUMNS = ("id", "kind", "plates", "length", "angle", "groove_side", "groove_area", "filler_volume")


def cut_list(kit: Kit) -> bytes:
    """A row per distinct plate: mm, mm2, kg, of one piece."""
    return _table(_CUT_COLUMNS, (_cut_row(plate) for plate in kit.plates))


def weld_list(kit: Kit) -> bytes:
    """A row per joint, then a row per corner, each a leak path until it is welded: mm, degrees, mm2, mm3.

    filler_volume: weld metal that brings a joint flush (groove section times length), or that fills a corner
    beyond its joints' grooves; no reinforcement, no root gap, no spatter.
    """
    plates_of = {joint.id: joint.plates for joint in kit.joints}
    joints = (_joint_row(joint) for joint in kit.joints)
    corners = (_corner_row(corner, plates_of) for corner in kit.corners)
    return _table(_WELD_COLUMNS, chain(joints, corners))


def _cut_row(plate: KitPlate) -> list[str]:
    return [
        _words(plate.mark), _words(plate.name), str(plate.quantity), _words(plate.material),
        *map(number_text, (plate.thickness, *plate.size, plate.area, plate.mass, plate.cut_length)),
        str(plate.pierces), "0",
    ]


def _joint_row(joint: Joint) -> list[str]:
    side, area = (joint.groove.side, joint.groove.area) if joint.groove else ("outside", 0.0)
    return [
        _words(joint.id), joint.kind, _words(" ".join(joint.plates)), number_text(joint.length),
        number_text(joint.angle), side, number_text(area), number_text(area * joint.length),
    ]


def _corner_row(corner: Corner, plates_of: dict[str, tuple[str, ...]]) -> list[str]:
    plates = sorted({plate for joint in corner.joints for plate in plates_of[joint]})
    return [_words(corner.id), "corner", _words(" ".join(plates)), "", "", "", "", number_text(corner.void)]


def _table(columns: tuple[str, ...], rows: Iterable[list[str]]) -> bytes:
    stream = io.StringIO(newline="")
    table = csv.writer(stream, lineterminator="\r\n")
    table.writerow(columns)
    table.writerows(rows)
    return stream.getvalue().encode(errors="replace")


def _words(text: str) -> str:
    """Text for a cell, on one line and never taken for a formula: a spreadsheet runs what begins like one,
    and shows what follows an apostrophe as it stands. Source: OWASP, "CSV Injection"."""
    if not text.isprintable():
        text = "".join(c if c.isprintable() else " " for c in text)
    return f"'{text}" if text.lstrip().startswith(("=", "+", "-", "@")) else text
