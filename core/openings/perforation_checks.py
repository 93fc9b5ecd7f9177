"""What the laser, and the sheet, will find hard about a perforation field: findings, one a band and not one a hole."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import shapely

from ..plates.plates import Plate, plate_shapes
from ..terms import tolerance
from ..terms.choices import Cutter
from ..terms.findings import Finding, Level
from ..terms.messages import Length
from ..terms.remedies import ChangedField, Remedy
from .perforation_bands import FilledBand

__all__ = ["overlap_finding", "perforation_findings"]


def perforation_findings(
    plate: Plate, number: int, ground: shapely.Geometry, bands: Sequence[FilledBand], margin: float,
    cutter: Cutter, panel: str | int,
) -> Iterator[Finding]:
    """Findings about one field on one plate, their places in the plates' frame.

    number: of the field, from 1. ground: where its holes might go, in the plate's plane; margin: mm, taken off
    before. panel: as the field has it. cutter: the limits that they are held to, as single holes are. (Punched sheet
    has the same usual ones: ISO 10630 is for plate thinner than its holes and bars.)
    """
    field = f"perforation field {number}"
    if ground.is_empty:
        widest = 2 * shapely.maximum_inscribed_circle(plate_shapes([plate.outline])[0]).length
        yield _finding(
            plate, "perforation_empty", ground,
            f"{field} has no room: the plate is {Length(widest):.1f} wide at its widest, and a margin of "
            f"{Length(margin):g} to "
            "edges, tabs, slots, joints and other fields leaves nothing of it in the region. Make the margin smaller, "
            "or move the region.")
        return
    for count, band in enumerate(bands, 1):
        which = f"{field}, " + (f"band {count}, " if len(bands) > 1 else "")
        yield from _band_findings(plate, ground, band, cutter, which)
    least = cutter.least_web(plate.thickness)
    if margin < least - tolerance.TIE and any(band.holes.count for band in bands):
        yield _finding(
            plate, "web_too_small", ground,
            f"{field} has a margin of {Length(margin):g} in {Length(plate.thickness):g} plate; keep {Length(least):g} "
            "or more, or it "
            "burns away.", remedy=Remedy(label=f"Margin of {Length(least):g}", changes=(
                ChangedField(field=number - 1, panel=panel, margin=least),)))


def overlap_finding(plate: Plate, number: int, ground: shapely.Geometry, margin: float) -> Finding:
    """That a field gave way to an earlier one."""
    return _finding(
        plate, "fields_overlap", ground,
        f"perforation field {number} reaches an earlier one and keeps {Length(margin):g} away from it. Draw their "
        "regions "
        "apart if that is not meant.", "note")


def _band_findings(
    plate: Plate, ground: shapely.Geometry, band: FilledBand, cutter: Cutter, which: str
) -> Iterator[Finding]:
    which, hole, thickness = which + band.pattern.code, band.pattern.hole, plate.thickness
    if not band.holes.count:
        room = 0.0 if band.region.is_empty else 2 * shapely.maximum_inscribed_circle(band.region).length
        size = Length(*dict.fromkeys((hole.width, hole.length)))
        yield _finding(
            plate, "perforation_empty", ground,
            f"{which}: no whole hole fits: it is {size:g}, and what margins and bands leave is {Length(room):.1f} "
            "wide at its "
            "widest. Make the margin smaller, the band deeper or the hole smaller.")
        return
    least = cutter.least_hole(thickness)
    if hole.width < least - tolerance.TIE:
        yield _finding(
            plate, "hole_too_small", band.region,
            f"{which}: {band.holes.count} holes {Length(hole.width):g} wide in {Length(thickness):g} plate; "
            f"{cutter.maker} "
            f"{Length(least):g} or more. Widen them.")
    if band.pattern.bar < cutter.least_web(thickness) - tolerance.TIE:
        yield _finding(
            plate, "web_too_small", band.region,
            f"{which}: {Length(band.pattern.bar):.2f} of metal between holes in {Length(thickness):g} plate; keep "
            f"{Length(cutter.least_web(thickness)):g} or more, or it burns away. Make the pitch larger or the hole "
            "smaller.")


def _finding(
    plate: Plate, rule: str, at: shapely.Geometry, text: str, level: Level = "warning", remedy: Remedy | None = None
) -> Finding:
    """About a plate, at a point of a part of it, or at a corner where that part is empty."""
    inside = shapely.get_coordinates(plate_shapes([plate.outline])[0] if at.is_empty else at.point_on_surface())
    x, y, z = plate.frame.solid(inside[:1])[0].tolist()
    return Finding(rule=rule, level=level, message=f"'{plate.name}': {text}", at=(x, y, z), panels=(plate.number,),
                   remedy=remedy)
