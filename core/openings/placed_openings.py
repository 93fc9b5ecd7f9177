"""Openings once they have a plate: what was cut, and where on it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ..shapes.outline import Hole

__all__ = ["PlacedOpening", "PlaneOpening"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlaneOpening:
    """An opening in the coordinates of a plane, mm: a plate's own, or that of its drawing. rotation: degrees,
    counter-clockwise from x. size: round (d,), slot (overall length, width), rectangle (w, h, corner radius),
    polygon () with points (k, 2). name: what the user called it, or a word for what it is. fitting: what goes into
    it, if that gave its size.

    A perforation field is one opening, a polygon round its holes that stays within the plate's edge. pattern: its
    codes; count: of holes, each a pierce; cut_length: of all of them, mm; open_area: mm2; ground: what they were to
    fill, polygons as rings (k, 2), outer ones first; open_share: open area over the ground's; standard_share: what the
    standard gives for the infinite pattern, None for a pattern it has no formula for.
    """

    name: str
    shape: Literal["round", "slot", "rectangle", "polygon"]
    purpose: Literal["port", "vent", "drain", "hand_hole", "limber", "perforation"]
    centre: tuple[float, float]
    rotation: float
    size: tuple[float, ...]
    points: NDArray[np.float64] | None = None
    pattern: str = ""
    count: int = 1
    cut_length: float = 0.0
    open_area: float = 0.0
    open_share: float = 0.0
    standard_share: float | None = None
    ground: tuple[tuple[NDArray[np.float64], ...], ...] = ()
    fitting: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlacedOpening(PlaneOpening):
    """An opening in the plane of the plate with number `plate`. cuts: every hole it makes (an opening with bolts makes
    several); empty for a perforation field, whose holes are the outline's fields."""

    plate: int
    cuts: tuple[Hole, ...]
