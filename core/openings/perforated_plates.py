"""Perforation fields put on plates: where their holes may go, and what came of it."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from ..plates.plates import Plate, plate_shapes
from ..terms import tolerance
from ..terms.choices import STANDARD, Cutter, Field
from ..terms.errors import InputError
from ..terms.findings import Finding
from ..terms.memo import Remember, afresh
from ..terms.messages import Length
from .perforation_bands import FilledBand, fill_bands
from .perforation_checks import overlap_finding, perforation_findings
from .placed_openings import PlacedOpening

__all__ = ["MARGIN", "Perforated", "perforate_plates"]

Floats = NDArray[np.float64]

MARGIN: Final = 2.0
"""Bare metal round a field over the thickness, where none is chosen. Common practice, no source: 1.5 from a cut to
an edge is comfortable, and a bead along the edge needs a little more."""

_HULL_CHORD: Final = 0.1   # mm: the holes are flattened this coarsely for the outline round them


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Perforated:
    """plates: as given, with the fields in their outlines. openings: one for every field on every plate of its
    panel that took any hole."""

    plates: tuple[Plate, ...]
    openings: tuple[PlacedOpening, ...]
    findings: tuple[Finding, ...]


def perforate_plates(
    plates: Sequence[Plate],
    fields: Sequence[Field],
    find_plate: Callable[[str | int], Sequence[int]],
    keep_clear: Mapping[int, shapely.Geometry],
    cutter: Cutter = STANDARD,
    remember: Remember = afresh,
) -> Perforated:
    """The plates with every field's holes, in the order in which the fields were marked.

    find_plate: the indices of the plates that a name or a face stands for; it raises InputError for an unknown
    one. keep_clear: by index of a plate, what the holes keep the margin from besides the outline and its holes
    (tabs, bends, beads), in the plate's plane coordinates, mm. The fields' regions are in
    the plates' space. cutter: the limits that holes and bars are held to.

    The margin counts from metal's edges, not from the region that was drawn: up to its line the holes may go.
    Where two fields overlap on a plate, the later leaves the earlier's whole ground alone, and the margin round it.
    An opening's points run round the convex hull of its holes, as far as that is on the plate. Its open_share is the
    holes' area over the ground they were to fill (margins off, gaps between bands and corners too small for a hole
    counted in); standard_share is the standard's for the endless pattern, the bands weighted by their ground, None if
    one band has none.
    Raises InputError for a bad code, size, band or region, naming the panel.
    """
    out = list(plates)
    openings: list[PlacedOpening] = []
    findings: list[Finding] = []
    taken: dict[int, list[shapely.Geometry]] = {}
    for number, field in enumerate(fields, 1):
        try:
            found = find_plate(field.panel)
        except InputError as error:
            raise _without_plate(number, field.panel, error) from None
        for index in found:
            plate = out[index]
            try:
                margin = _margin(field, plate)
                bare = [*taken.get(index, ()), *((keep_clear[index],) if index in keep_clear else ())]
                ground, cut_back = remember(_ground, field, plate, margin, bare)
                bands = remember(fill_bands, ground, field.bands, gap=field.gap, turn=field.turn)
            except InputError as error:
                what = f"Perforation field {number}, on panel '{plate.name}': {error.what.raw}"
                faces = error.faces or ((field.panel,) if isinstance(field.panel, int) else ())
                raise InputError(what, where=error.where, by=error.by, do=error.do, faces=faces) from None
            holes = tuple(band.holes for band in bands if band.holes.count)
            findings += perforation_findings(plate, number, ground, bands, margin, cutter, field.panel)
            if not holes:
                continue
            out[index] = replace(plate, outline=replace(plate.outline, fields=(*plate.outline.fields, *holes)))
            openings.append(remember(_opening, index, f"perforation {number}", field, plate, ground, bands))
            if cut_back and index in taken:
                findings.append(overlap_finding(plate, number, ground, margin))
            taken.setdefault(index, []).append(ground)
    return Perforated(plates=tuple(out), openings=tuple(openings), findings=tuple(findings))


def _without_plate(number: int, panel: str | int, error: InputError) -> InputError:
    """Why a field has no plate. A face may be left out, or be one of two that were drawn in the same place."""
    do = error.do if isinstance(panel, str) else (
        "It is left out, or was dropped because another face lies there: clear the perforation of this one.")
    return InputError(f"Perforation field {number}: {error.what.raw}", do=do, faces=error.faces)


def _margin(field: Field, plate: Plate) -> float:
    margin = MARGIN * plate.thickness if field.margin is None else field.margin
    if not (math.isfinite(margin) and margin >= 0.0):
        raise InputError(f"a margin of {Length(margin):g}", do=f"Give {Length(0.0)} or more")
    return margin


def _ground(
    field: Field, plate: Plate, margin: float, bare: Sequence[shapely.Geometry]
) -> tuple[shapely.Geometry, bool]:
    """Where holes may go, in the plate's plane, and whether something in `bare` took a part of it."""
    steps = _quarter_steps(margin)
    ground = shapely.buffer(plate_shapes([plate.outline])[0], -margin, quad_segs=steps)
    if field.region is not None:
        ground = _polygons(shapely.intersection(ground, _region(field.region, plate)))
    around = shapely.buffer(shapely.union_all(list(bare)), margin, quad_segs=steps)
    if not bare or not shapely.intersects(ground, around):
        return ground, False
    return _polygons(shapely.difference(ground, around)), True


def _region(points: Sequence[tuple[float, float, float]], plate: Plate) -> shapely.Geometry:
    corners = np.asarray(points, dtype=np.float64).reshape(-1, 3)
    if len(corners) < 3 or not np.isfinite(corners).all():
        raise InputError(f"its region has {len(corners)} corners, or one that is nowhere", do="Give three or more")
    region = shapely.Polygon(plate.frame.flat(corners))
    if not region.is_valid or region.area < tolerance.VANISH:
        raise InputError("its region crosses itself, or has no area seen square to the panel",
                         do="Draw its corners in order, near the panel's plane")
    return region


def _quarter_steps(radius: float) -> int:
    """Segments of a quarter circle for which the chords stay within tolerance.CHORD of true."""
    return math.ceil(math.pi / 4 / math.acos(1 - tolerance.CHORD / max(radius, 2 * tolerance.CHORD)))


def _polygons(shape: shapely.Geometry) -> shapely.Geometry:
    """The parts that have an area."""
    parts = [part for part in shapely.get_parts(shape) if part.geom_type == "Polygon"]
    return shapely.MultiPolygon(parts) if parts else shapely.Polygon()


def _opening(
    index: int, name: str, field: Field, plate: Plate, ground: shapely.Geometry, bands: Sequence[FilledBand]
) -> PlacedOpening:
    round_ = _round(plate, np.concatenate([band.holes.rings(_HULL_CHORD).reshape(-1, 2) for band in bands]))
    open_area = sum(band.holes.area() for band in bands)
    weights = np.array([shapely.area(band.region) for band in bands])
    shares = [band.pattern.standard_share for band in bands]
    known = [share for share in shares if share is not None]
    return PlacedOpening(
        plate=index, name=name, shape="polygon", purpose="perforation",
        centre=(round_.centroid.x, round_.centroid.y), rotation=field.turn, size=(), cuts=(),
        points=shapely.get_coordinates(round_)[:-1], pattern=" + ".join(band.pattern.code for band in bands),
        count=sum(band.holes.count for band in bands),
        cut_length=sum(band.holes.length() for band in bands), open_area=open_area,
        open_share=open_area / shapely.area(ground),
        standard_share=float(weights @ known / weights.sum()) if len(known) == len(shares) else None,
        ground=tuple(
            tuple(shapely.get_coordinates(ring)[:-1] for ring in (part.exterior, *part.interiors))
            for part in shapely.get_parts(shapely.orient_polygons(ground))),
    )


def _round(plate: Plate, points: Floats) -> shapely.Polygon:
    """One polygon round all the points (n, 2) of a field, none of it past the plate's edge: their hull, or what of it
    is on the plate; where the edge parts that, all that is within the edge."""
    edge = shapely.Polygon(plate.outline.outer.flatten())
    hull = shapely.convex_hull(shapely.multipoints(points))
    if not shapely.covers(edge, hull):
        on = shapely.get_parts(_polygons(shapely.intersection(hull, edge)))
        hull = on[0] if len(on) == 1 else edge
    return shapely.orient_polygons(hull)
