"""What the laser, and the person with a loose plate in hand, will find hard: findings about single plates."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from ..shapes.bed_fit import fits_bed, smallest_box
from ..shapes.fit_ways import mistakes
from ..shapes.outline import Circle
from ..shapes.rings import grown
from ..terms import tolerance
from ..terms.choices import STANDARD, Cutter
from ..terms.findings import Finding
from ..terms.messages import Length
from ..terms.remedies import Remedy
from .kit import KitPlate
from .widening import Widening

__all__ = ["check_plates"]

NOTHING: Final = Widening.of((), ())
CLOSEST: Final = 0.05
"""mm: plates go together that differ by no more than their fit gap, or by this: a laser cuts no closer."""
CLOSE = 1e-3
"""mm: metal is too narrow where it lacks so much; less is the rounding of offsets."""


def check_plates(
    plates: tuple[KitPlate, ...], fit_gap: float, cutter: Cutter = STANDARD, widening: Widening = NOTHING
) -> tuple[Finding, ...]:
    """Findings about distinct plates, in the order of the marks; then about several together. cutter: the limits that
    they are held to. widening: the openings that may be widened."""
    found: list[Finding] = []
    for plate in plates:
        found += _foil(plate, cutter)
        found += _past_the_bed(plate, cutter)
        found += _small_holes(plate, cutter, widening)
        found += _thin_webs(plate, cutter)
    found += _wrong_places(plates, fit_gap)
    return tuple(found)


def _finding(
    plate: KitPlate, rule: str, text: str, point: NDArray[np.float64], level: str = "warning",
    remedy: Remedy | None = None,
) -> Finding:
    about = tuple(p.id for p in plate.placements)
    at = (plate.placements[0].matrix @ [point[0], point[1], plate.thickness, 1.0])[:3]
    return Finding(
        rule=rule, level="note" if level == "note" else "warning",
        message=f"{plate.mark} '{plate.name}': {text}", about=about,
        at=(float(at[0]), float(at[1]), float(at[2])),
        faces=tuple(f for p in plate.placements for f in p.faces), remedy=remedy,
    )


def _foil(plate: KitPlate, cutter: Cutter) -> Iterator[Finding]:
    if plate.thickness < cutter.thinnest and cutter.thinnest > STANDARD.thinnest:
        yield _finding(
            plate, "thickness_doubtful",
            f"{Length(plate.thickness):g} is thinner than the {Length(cutter.thinnest):g} that the shop takes. Use "
            "thicker "
            "sheet, or have it made elsewhere.", plate.outline.outer.points.mean(axis=0))
    elif plate.thickness < cutter.thinnest:
        yield _finding(
            plate, "thickness_doubtful",
            f"{Length(plate.thickness):g} is foil, not sheet, and burns through at the first spark. Is the unit right?",
            plate.outline.outer.points.mean(axis=0))


def _past_the_bed(plate: KitPlate, cutter: Cutter) -> Iterator[Finding]:
    points = plate.outline.outer.flatten()
    if cutter.bed is None or fits_bed(points, cutter.bed):
        return
    long, short = smallest_box(points)
    yield _finding(
        plate, "plate_too_large",
        f"{Length(long, short):.0f}, more than the {Length(max(cutter.bed), min(cutter.bed)):g} that the cutter "
        "takes, however it is turned. Split its face in the drawing, or have it cut elsewhere.",
        plate.outline.outer.points.mean(axis=0))


def _small_holes(plate: KitPlate, cutter: Cutter, widening: Widening) -> Iterator[Finding]:
    """One finding for all holes of a width: the slots of a thin plate's tabs are many and alike."""
    least = cutter.least_hole(plate.thickness)
    found: dict[str, list[NDArray[np.float64]]] = {}
    for hole in plate.outline.holes:
        if isinstance(hole, Circle):
            width, at = hole.diameter, np.asarray(hole.centre)
        else:
            shape = shapely.Polygon(hole.flatten())
            width, at = 2 * shapely.maximum_inscribed_circle(shape).length, np.asarray(shape.centroid.coords[0])
        if width < least - tolerance.TOUCH:
            found.setdefault(f"{width:.2f}", []).append(at)
    for size, places in sorted(found.items()):
        holes = "a hole" if len(places) == 1 else f"{len(places)} holes"
        yield _finding(
            plate, "hole_too_small",
            f"{holes} {Length(float(size)):.2f} wide in {Length(plate.thickness):g} plate; {cutter.maker} "
            f"{Length(least):g} or more. "
            f"Widen {'it, or drill it' if len(places) == 1 else 'them, or drill them'}.", places[0],
            remedy=widening.remedy(plate, places, least))


def _thin_webs(plate: KitPlate, cutter: Cutter) -> Iterator[Finding]:
    """Metal between two contours, or across a neck of the outline, that is thinner than the sheet; and the
    same for the slots that the outline leaves open."""
    least = cutter.least_web(plate.thickness)
    rings = plate.outline.rings()
    lines = np.array([shapely.LinearRing(ring) for ring in rings], dtype=object)
    near = shapely.STRtree(lines).query(lines, predicate="dwithin", distance=least - tolerance.TOUCH)
    for i, j in sorted((a, b) for a, b in near.T.tolist() if a < b):
        gap = shapely.distance(lines[i], lines[j])
        at = shapely.shortest_line(lines[i], lines[j]).centroid.coords[0]
        yield _finding(
            plate, "web_too_small",
            f"{Length(gap):.2f} of metal between two cuts in {Length(plate.thickness):g} plate; keep "
            f"{Length(least):g} or "
            "more, or it burns away.", np.asarray(at))
    whole = shapely.Polygon(rings[0], rings[1:])
    reach = least / 2 - CLOSE
    for at in _lost(whole, grown(grown(whole, -reach), reach), least):
        yield _finding(
            plate, "web_too_small",
            f"a neck or finger is narrower than {_as_thick(least, plate)}; it burns away or bends. Widen it.", at)
    least = cutter.hole_ratio * plate.thickness
    reach = least / 2 - CLOSE
    for at in _lost(grown(grown(shapely.Polygon(rings[0]), reach), -reach), shapely.Polygon(rings[0]), least):
        yield _finding(
            plate, "slot_too_small",
            f"a slot of the outline is narrower than {_as_thick(least, plate)}. Widen it.", at)


def _as_thick(least: float, plate: KitPlate) -> str:
    if least == plate.thickness:
        return f"the {Length(plate.thickness):g} sheet is thick"
    return f"the {Length(least):g} that the shop keeps in {Length(plate.thickness):g} plate"


def _lost(more: shapely.Geometry, less: shapely.Geometry, least: float) -> list[NDArray[np.float64]]:
    """Middles of the parts of `more` that are not in `less` and are no mere rounding of a corner."""
    # offsets of needles may come out invalid
    parts = shapely.get_parts(shapely.difference(shapely.make_valid(more), shapely.make_valid(less)))
    return [np.asarray(g.centroid.coords[0]) for g in parts if g.area > 0.2 * least**2]


def _wrong_places(plates: tuple[KitPlate, ...], fit_gap: float) -> Iterator[Finding]:
    """Plates that fit their own place wrongly, and plates that fit in each other's."""
    found = mistakes([plate.outline for plate in plates], [plate.thickness for plate in plates], max(fit_gap, CLOSEST))
    for index, ways in found.own:
        more = f"turned ({ways.turns} more way{'s' if ways.turns > 1 else ''})" if ways.turns else ""
        how = " and ".join(filter(None, (more, "turned over" if ways.turned_over else "")))
        yield _finding(
            plates[index], "fits_more_than_one_way",
            f"its outline also fits its place {how}, with its holes in the wrong places: check its mark and outside "
            "face before tacking.", plates[index].outline.outer.points.mean(axis=0), "note")
    for group in found.among:
        alike = [plates[index] for index in group]
        names = [f"{plate.mark} '{plate.name}'" for plate in alike]
        first = _finding(alike[0], "fits_more_than_one_way", "", alike[0].outline.outer.points.mean(axis=0), "note")
        yield replace(
            first, about=tuple(p.id for plate in alike for p in plate.placements),
            faces=tuple(f for plate in alike for p in plate.placements for f in p.faces),
            message=f"{', '.join(names[:-1])} and {names[-1]} have one outline and other holes: each fits in the place "
            f"of the other{'' if len(names) == 2 else 's'}. Check their marks before tacking.")
