"""Bands of a perforation field: strips from the top down, each filled with its own pattern."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray

from ..shapes.outline import HoleField
from ..terms import tolerance
from ..terms.choices import Band
from ..terms.errors import InputError
from ..terms.messages import Length
from .hole_patterns import Pattern, hole_pattern
from .perforations import perforate

__all__ = ["FilledBand", "fill_bands"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FilledBand:
    """A band with its holes. region: the part of the field that it had to fill; holes: perhaps none."""

    pattern: Pattern
    region: shapely.Geometry
    holes: HoleField


def fill_bands(
    allowed: shapely.Geometry, bands: Sequence[Band], *, gap: float = 0.0, turn: float = 0.0
) -> tuple[FilledBand, ...]:
    """Every band filled with whole holes, the top one first.

    allowed: a polygon or several, mm, margins already taken off. turn: degrees, counter-clockwise, from x to the
    rows; the bands are strips of the box round `allowed` in those axes. gap: bare metal between two bands, mm; it
    is never less than the narrower of their own bars, so that bands without a gap do not run into each other.
    Raises InputError for no bands, a bad code, sizes out of range, and depths that the box has no room for.
    """
    if not bands:
        raise InputError("A perforation field has no pattern", do="Give it at least one band")
    patterns = [hole_pattern(band.code) for band in bands]
    if not (math.isfinite(gap) and gap >= 0.0 and math.isfinite(turn)):
        raise InputError(f"A perforation field has a gap of {Length(gap):g} and a turn of {turn:g} degrees",
                         do=f"Give a gap of {Length(0.0)} or more, and a turn in degrees")
    forth, back = _rotation(turn), _rotation(-turn)
    level = _turned(allowed, back)
    out = []
    for pattern, (low, high) in zip(patterns, _strips(level, bands, patterns, gap), strict=True):
        region = _strip(level, low, high)
        holes = perforate(region, pattern)
        out.append(FilledBand(pattern=pattern, region=_turned(region, forth), holes=holes.moved(forth)))
    return tuple(out)


def _strips(
    level: shapely.Geometry, bands: Sequence[Band], patterns: Sequence[Pattern], gap: float
) -> list[tuple[float, float]]:
    """Lower and upper y of every band."""
    _, bottom, _, top = level.bounds if not level.is_empty else (0.0, 0.0, 0.0, 0.0)
    given = [band.depth for band in bands if band.depth is not None]
    for band in bands:
        if band.depth is not None and not (math.isfinite(band.depth) and band.depth > 0.0):
            raise InputError(f"The band {band.code!r} is {Length(band.depth):g} deep", do=f"Give a depth above "
                                                                                          f"{Length(0.0)}, or none")
    gaps = [max(gap, min(one.bar, two.bar)) for one, two in pairwise(patterns)]
    shared = len(bands) - len(given)
    left = top - bottom - sum(given) - gap * len(gaps)
    if not level.is_empty and (left < -tolerance.TOUCH or (shared and left <= tolerance.TOUCH)):
        raise InputError(
            f"The bands of a perforation field need more than its height of {Length(top - bottom):.2f}"
            + (": nothing is left for those without a depth of their own" if shared else ""),
            by=f"{Length(-left):.2f}" if left < -tolerance.TOUCH else "",
            do="Make them less deep or the gap smaller, or leave a depth out")
    out, at = [], top
    for i, band in enumerate(bands):
        depth = band.depth if band.depth is not None else left / shared
        more_above = (gaps[i - 1] - gap) / 2 if i else 0.0
        more_below = (gaps[i] - gap) / 2 if i < len(gaps) else 0.0
        out.append((at - depth + more_below, at - more_above))
        at -= depth + gap
    return out


def _strip(level: shapely.Geometry, low: float, high: float) -> shapely.Geometry:
    """The polygons of a region between two heights."""
    if level.is_empty or high <= low:
        return shapely.Polygon()
    left, bottom, right, top = level.bounds
    if low <= bottom and high >= top:
        return level
    cut = shapely.intersection(level, shapely.box(left - 1.0, low, right + 1.0, high))
    parts = [part for part in shapely.get_parts(cut) if part.geom_type == "Polygon"]
    return shapely.MultiPolygon(parts) if parts else shapely.Polygon()


def _rotation(degrees: float) -> Floats:
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    return np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])


def _turned(region: shapely.Geometry, matrix: Floats) -> shapely.Geometry:
    return shapely.transform(region, lambda points: points @ matrix[:2, :2].T)
