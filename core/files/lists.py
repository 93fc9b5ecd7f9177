"""The lists of a kit: what is cut, what is welded, what goes into its openings, what was found."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from ..kit.kit import Kit, KitPlate, Opening
from ..kit.piece_names import piece_names
from ..stock.said_units import said
from ..welding.seam import Seam
from .list_table import Cell, Column, table

__all__ = ["cut_list", "findings_list", "openings_list", "weld_list"]

_CUT = (
    Column(name="mark"), Column(name="name"), Column(name="quantity", kind="count", total=True),
    Column(name="material"), Column(name="thickness", kind="length"), Column(name="width", kind="length"),
    Column(name="height", kind="length"), Column(name="area", kind="area", total=True, per="quantity"),
    Column(name="mass", kind="mass", total=True, per="quantity"),
    Column(name="cut_length", kind="length", total=True, per="quantity"),
    Column(name="pierces", kind="count", total=True, per="quantity"),
    Column(name="bends", kind="count", total=True, per="quantity"),
)
_WELD = (
    Column(name="id"), Column(name="kind"), Column(name="plates"), Column(name="length", kind="length", total=True),
    Column(name="angle", kind="angle"), Column(name="side"), Column(name="size", kind="length"),
    Column(name="groove_area", kind="area"), Column(name="filler", kind="volume", total=True), Column(name="run"),
    Column(name="tight"), Column(name="reach"), Column(name="size_of"),
    Column(name="welded", kind="length", total=True),
)
_OPENINGS = (
    Column(name="id"), Column(name="name"), Column(name="plate"), Column(name="purpose"), Column(name="fitting"),
    Column(name="shape"), Column(name="size", kind="length"), Column(name="size_2", kind="length"),
    Column(name="corner_radius", kind="length"), Column(name="x", kind="length"), Column(name="y", kind="length"),
    Column(name="bolts", kind="count"), Column(name="bolt_hole", kind="length"),
    Column(name="bolt_circle", kind="length"), Column(name="holes", kind="count"),
)
_FINDINGS = (Column(name="level"), Column(name="rule"), Column(name="plates"), Column(name="message"))


def cut_list(kit: Kit) -> bytes:
    """A row per distinct plate, of one piece; the sums are of all."""
    return table(_CUT, [_cut_row(plate) for plate in kit.plates], kit.settings.dxf_units)


def weld_list(kit: Kit) -> bytes:
    """A row for each run of weld and each slot, then one for each point where joints meet: what a welder welds.

    groove_area: of its section. filler: weld metal that brings it flush, or its fillet at the size that stands there:
    no root gap, no reinforcement, no spatter. size_of: whether the size is a leg or a throat. welded: of the length
    what is welded, less in stitches.
    """
    names = piece_names(kit)
    return table(_WELD, [_weld_row(seam, names) for seam in kit.seams], kit.settings.dxf_units)


def openings_list(kit: Kit) -> bytes:
    """What to buy and weld in: a row per opening that somebody asked for, limber holes apart. x, y: its middle from the
    left and the lower edge of the drawing of its plate."""
    names = piece_names(kit)
    rows = [_opening_row(opening, names) for opening in kit.openings if opening.purpose != "limber"]
    return table(_OPENINGS, rows, kit.settings.dxf_units)


def findings_list(kit: Kit) -> bytes:
    """What was found, in the kit's units, the gravest first."""
    names, order = piece_names(kit), ("error", "warning", "note")
    rows: list[list[Cell]] = [
        [finding.level, finding.rule, ", ".join(names.get(one, one) for one in finding.about),
         said(finding.message, kit.settings.dxf_units)]
        for finding in sorted(kit.checks, key=lambda one: order.index(one.level))]
    return table(_FINDINGS, rows, kit.settings.dxf_units)


def _cut_row(plate: KitPlate) -> list[Cell]:
    return [
        plate.mark, plate.name, plate.quantity, plate.material, plate.thickness, *plate.size, plate.area, plate.mass,
        plate.cut_length, plate.pierces, 0]


def _weld_row(seam: Seam, names: Mapping[str, str]) -> list[Cell]:
    run = seam.kind != "corner_fill"
    return [
        seam.id, seam.kind, ", ".join(names[one] for one in seam.pieces), seam.length if run else None,
        seam.angle if run else None, seam.side, seam.size or None, seam.groove_area or None, seam.filler,
        seam.run if run else "", "yes" if seam.tight else "no", seam.reach, seam.size_of,
        seam.welded if run else None]


def _opening_row(opening: Opening, names: Mapping[str, str]) -> list[Cell]:
    size: list[float | None] = [*opening.size[:3], None, None, None]
    bolts = opening.bolts
    circle = 2 * float(np.linalg.norm(np.subtract(bolts[0].centre, opening.centre))) if bolts else None
    return [
        opening.id, opening.name, names[opening.plate], opening.purpose, opening.fitting or opening.pattern,
        opening.shape, *size[:3], *opening.centre, len(bolts) or None, bolts[0].diameter if bolts else None, circle,
        opening.count]
