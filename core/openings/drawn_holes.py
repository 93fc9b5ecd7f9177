"""Holes drawn in the mesh: polygons that stand for circles, and polygons that are meant as such."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from ..envelope.envelope import DrawnHole
from ..plates.plates import Plate
from ..shapes.outline import Circle
from ..terms import tolerance
from ..terms.messages import Length
from .opening_shapes import rounded_polygon
from .piercing import Note, Pierced, Wanted, pierce
from .placed_openings import PlacedOpening

__all__ = ["circle_through", "place_drawn_holes"]

Floats = NDArray[np.float64]

FEWEST: Final = 8
"""Corners: a polygon with fewer is meant as one: hexagons are drawn for their own sake, octagons for circles."""

WIDEST_STEP: Final = 60.0
"""Degrees between neighbouring corners of a drawn circle; a wider step is a flat or an arc, not a circle."""

SHARE: Final = 0.01
"""Of the radius: corners farther than this from the circle do not stand for it, however small it is."""


def place_drawn_holes(
    holes: Sequence[DrawnHole], plates: Sequence[Plate], hole_radius: float, web: float
) -> Pierced:
    """The plates with the holes that were drawn in their panels cut.

    hole_radius: to which the corners of those that stay polygons are rounded, mm, 0 for none.
    web: metal to leave beside a hole, over the thickness. A hole on a panel without
    a plate is passed over; one that cannot be cut is left out with an `error`.
    """
    plate_of = {plate.number: index for index, plate in enumerate(plates)}
    wanted = [
        _wanted(hole, plate_of[hole.panel], plates[plate_of[hole.panel]].name, hole_radius)
        for hole in holes if hole.panel in plate_of]
    return pierce(plates, wanted, web)


def circle_through(points: Floats) -> Circle | None:
    """The circle that a polygon's corners (k, 2) stand for, through them; None where they stand for none."""
    if len(points) < FEWEST:
        return None
    middle = points.mean(axis=0)
    near = points - middle                  # least squares in x, y and x2 + y2, about the middle for its conditioning
    system = np.column_stack([2 * near, np.ones(len(near))])
    x, y, rest = np.linalg.lstsq(system, (near**2).sum(axis=1), rcond=None)[0].tolist()
    radius = math.sqrt(max(0.0, rest + x * x + y * y))
    spokes = near - (x, y)
    if np.abs(np.hypot(*spokes.T) - radius).max() > min(tolerance.ROUND, SHARE * radius):
        return None
    after = np.roll(spokes, -1, axis=0)
    steps = np.degrees(np.arctan2(
        spokes[:, 0] * after[:, 1] - spokes[:, 1] * after[:, 0], (spokes * after).sum(axis=1)))
    once = abs(abs(steps.sum()) - 360.0) < 1.0 and (np.all(steps > 0) or np.all(steps < 0))
    if not once or np.abs(steps).max() > WIDEST_STEP:
        return None
    return Circle(centre=(float(middle[0] + x), float(middle[1] + y)), diameter=2 * radius)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Meant:
    """What a drawn hole is cut as."""

    opening: PlacedOpening
    notes: tuple[Note, ...]


def _wanted(hole: DrawnHole, plate: int, name: str, radius: float) -> Wanted:
    meant = _as_circle(hole, plate, name) or _as_polygon(hole, plate, name, radius)
    return Wanted(opening=meant.opening, said=f"the hole drawn in '{name}'", notes=meant.notes, edges=hole.mesh_edges)


def _as_circle(hole: DrawnHole, plate: int, name: str) -> _Meant | None:
    circle = circle_through(hole.points)
    if circle is None:
        return None
    corners = max(len(hole.points), len(hole.mesh_edges))       # some may have been dropped as lying on a straight run
    text = (f"The hole in '{name}', drawn with {corners} corners, is cut as a circle of "
            f"{Length(circle.diameter):.2f~}, through its corners.")
    return _Meant(
        opening=PlacedOpening(
            plate=plate, name="drawn hole", shape="round", purpose="port", centre=circle.centre, rotation=0.0,
            size=(circle.diameter,), cuts=(circle,)),
        notes=(Note(rule="drawn_circle", text=text),))


def _as_polygon(hole: DrawnHole, plate: int, name: str, radius: float) -> _Meant:
    rounded = rounded_polygon(hole.points, radius)
    notes = []
    if rounded.smallest < radius - tolerance.TIE:
        got = f"to {Length(rounded.smallest):.2f} where they are shortest" if rounded.smallest > 0 else "not at all"
        notes.append(Note(
            rule="drawn_hole_radius",
            text=f"The corners of the hole drawn in '{name}' were to be rounded to {Length(radius):g}; its sides are "
            "too "
            f"short for that, and they are rounded {got}. Draw the hole larger, or choose a smaller radius."))
    points = rounded.contour.flatten()
    centre = shapely.Polygon(points).centroid
    return _Meant(
        opening=PlacedOpening(
            plate=plate, name="drawn hole", shape="polygon", purpose="port", centre=(centre.x, centre.y),
            rotation=0.0, size=(), cuts=(rounded.contour,), points=points),
        notes=tuple(notes))


def _trimmed(length: float) -> str:
    """A length in mm to a hundredth, without idle zeros."""
    return f"{length:.2f}".rstrip("0").rstrip(".")
