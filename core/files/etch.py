"""Where the texts go that are etched on a plate: its own mark, and the neighbours' marks along its edges.

All on the outside face, seen from outside, clear of every cut. A text for which there is no room is left out.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from ..kit.kit import Border, KitPlate
from ..shapes.outline import HoleField, Outline
from . import stroke_font

__all__ = ["EtchText", "etch_strokes", "etch_texts"]

MARK_HEIGHT: Final = (2.0, 3.0, 8.0)
"""mm: the mark's cap height, at least when space is short, usually at least, at most. Common practice, no source."""

NEIGHBOUR_HEIGHTS: Final = (3.0, 2.4, 1.9, 1.5)
"""mm: cap heights tried for a neighbour's mark, the wanted one first. Common practice, no source."""

MOST_NEIGHBOURS: Final = 3
"""Marks etched at one edge; a piece used in more places than that is told from the assembly."""

CLEAR: Final = (1.0, 6.0)
"""mm: a text stays the plate's thickness away from every cut, within these bounds: melt and grinding reach
about that far, and beyond the upper bound the text would only stray from its edge."""

_ROOM: Final = 0.05      # mm more than the clearance, so that rounding cannot decide whether a text fits
_CHORD: Final = 0.1      # mm: arcs are flattened coarsely, for the clearance only
_ALMOST: Final = 15.0    # degrees: a mark that would be tilted this little stands straight
_APART: Final = 0.4      # between two texts, in cap heights
_STEPS: Final = (0.0, -0.25, 0.25, -0.5, 0.5, -0.75, 0.75, -1.0, 1.0)   # places along an edge, middle to ends
SAME = 1e-6
"""Relative, and degrees: boxes and directions that differ by less are the same, so that rounding chooses none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class EtchText:
    """One text. at: where its baseline begins, mm in DXF coordinates; angle: degrees, counter-clockwise from
    x; height: of a capital, mm."""

    text: str
    at: tuple[float, float]
    angle: float
    height: float


def etch_strokes(text: EtchText) -> list[NDArray[np.float64]]:
    """Runs of (k, 2) points, mm in DXF coordinates, that draw one text."""
    turn = _rotations(np.array([text.angle]))[0]
    return [run @ turn.T + text.at for run in stroke_font.text_strokes(text.text, text.height)]


def etch_texts(plate: KitPlate) -> tuple[EtchText, ...]:
    """The texts for one plate: its mark first, then the neighbours' in the order of `plate.borders`.

    The mark reads along the plate's longest direction. A neighbour's mark stands on its edge, read with the
    edge at your feet; it moves along the edge, then inward, then shrinks until it is clear of every cut and
    every other text. Empty where the plate is too small for any.
    """
    clear = min(max(plate.thickness, CLEAR[0]), CLEAR[1])
    free = _polygon(plate.outline).buffer(-clear, join_style="mitre")
    if free.is_empty:
        return ()
    room = _Room(free, plate.outline.fields, clear)
    texts = [_place_mark(plate, room)] if plate.marked else []
    texts += [_place_neighbours(border, clear + _ROOM, room) for border in plate.borders if border.neighbours]
    return tuple(text for text in texts if text is not None)


class _Room:
    """The part of one plate where texts may go, less what is taken.

    free: as if there were no perforations; bare: less the ground round each field of them. A text keeps clear of
    the single holes, so it may still stand on such ground.
    """

    def __init__(self, free: shapely.Geometry, fields: Sequence[HoleField], clear: float) -> None:
        shapely.prepare(free)
        self.free = self.bare = free
        self.taken: list[shapely.Geometry] = []
        self.clear = clear
        self.holes: shapely.STRtree | None = None
        rings = [field.rings(_CHORD) for field in fields if field.count]
        if rings:
            self.holes = shapely.STRtree(np.concatenate([shapely.polygons(placed) for placed in rings]))
            grounds = [shapely.convex_hull(shapely.multipoints(placed.reshape(-1, 2))) for placed in rings]
            bare = free.difference(shapely.union_all(shapely.buffer(grounds, clear, join_style="mitre")))
            self.bare = free if bare.is_empty else bare

    def take(
        self, text: str, height: float, centres: NDArray[np.float64], angles: Sequence[float]
    ) -> EtchText | None:
        """The text at the first of the (m, 2) centres, turned by its angle, where it fits; that place is taken."""
        left, bottom, right, top = stroke_font.text_box(text, height)
        half = np.array([right - left, top - bottom]) / 2
        turns = _rotations(np.asarray(angles, dtype=np.float64))
        boxes = _boxes(centres, turns, half)
        fits = shapely.contains(self.free, boxes)
        if self.holes is not None and fits.any():
            fits[self.holes.query(boxes, predicate="dwithin", distance=self.clear)[0]] = False
        if self.taken and fits.any():
            wide = _boxes(centres, turns, half + _APART * height)
            fits &= ~shapely.intersects(wide[:, None], np.array(self.taken)[None, :]).any(axis=1)
        if not fits.any():
            return None
        best = int(np.argmax(fits))
        self.taken.append(boxes[best])
        x, y = centres[best] - turns[best] @ (half + np.array([left, bottom]))
        return EtchText(text=text, at=(float(x), float(y)), angle=float(angles[best]), height=height)


def _place_mark(plate: KitPlate, room: _Room) -> EtchText | None:
    """The mark where it was asked for, at the middle of the plate, or where bare metal is widest, as large as the space
    allows."""
    mark, outline = plate.mark, plate.outline
    angle, breadth = _lie(outline.outer.flatten(_CHORD))
    square = 90.0 * round(angle / 90.0)
    if abs(angle - square) <= _ALMOST:
        angle = _upright(square)
    least, usual, most = MARK_HEIGHT
    wanted = min(max(breadth / 6, usual), most)
    across = _upright(angle + 90)
    if plate.mark_at is not None:
        asked = _shrunk(mark, room, np.repeat(np.array([plate.mark_at]), 2, axis=0), (angle, across), (least, wanted))
        if asked is not None:
            return asked
    middle = _point(shapely.centroid(room.free))
    text = room.take(mark, wanted, middle[None], [angle])
    if text is not None:
        return text
    pole = shapely.get_point(shapely.maximum_inscribed_circle(room.bare, tolerance=breadth / 100), 0)
    centres = np.repeat(np.array([middle, _point(pole)]), 2, axis=0)
    return _shrunk(mark, room, centres, (angle, across, angle, across), (least, wanted))


def _shrunk(
    mark: str, room: _Room, centres: NDArray[np.float64], angles: Sequence[float], heights: tuple[float, float]
) -> EtchText | None:
    """The mark at the first of the centres where it fits, as large as it does. heights: the least and the wanted."""
    least, height = heights
    while height >= least:
        text = room.take(mark, height, centres, angles)
        if text is not None:
            return text
        height *= 0.8
    return None


def _place_neighbours(border: Border, clear: float, room: _Room) -> EtchText | None:
    """The neighbours' marks beside one edge."""
    text = "/".join(border.neighbours[:MOST_NEIGHBOURS])
    start, end = border.line
    length = float(np.hypot(*(end - start)))
    if length == 0.0:
        return None
    along = (end - start) / length
    inward = np.array([-along[1], along[0]])
    angle = math.degrees(math.atan2(along[1], along[0]))
    for height in NEIGHBOUR_HEIGHTS:
        left, bottom, right, top = stroke_font.text_box(text, height)
        slack = max(0.0, length - (right - left)) / 2
        rows = clear + (top - bottom) / 2 + np.arange(3) * height
        steps = np.array(_STEPS if slack else (0.0,)) * slack + length / 2
        centres = start + (steps[None, :, None] * along + rows[:, None, None] * inward).reshape(-1, 2)
        placed = room.take(text, height, centres, [angle] * len(centres))
        if placed is not None:
            return placed
    return None


def _lie(points: NDArray[np.float64]) -> tuple[float, float]:
    """(angle in degrees, breadth in mm) of the smallest rectangle round (k, 2) points, along its long side.

    Of rectangles that are equal but for rounding, the one that is turned least.
    """
    hull = shapely.get_coordinates(shapely.convex_hull(shapely.multipoints(points)))
    sides = np.diff(hull, axis=0)
    sides = sides[np.hypot(sides[:, 0], sides[:, 1]) > _CHORD]
    u = sides / np.hypot(sides[:, 0], sides[:, 1])[:, None]
    length = np.ptp(hull @ u.T, axis=0)
    breadth = np.ptp(hull @ np.column_stack([-u[:, 1], u[:, 0]]).T, axis=0)
    angles = np.degrees(np.arctan2(u[:, 1], u[:, 0])) + np.where(breadth > length, 90.0, 0.0)
    angles = np.round([_upright(angle) for angle in angles], 9)
    areas = length * breadth
    same = np.flatnonzero(areas <= areas.min() * (1 + SAME))
    best = same[np.lexsort((angles[same], np.round(np.abs(angles[same]), 6)))[0]]
    return float(angles[best]), float(min(length[best], breadth[best]))


def _upright(angle: float) -> float:
    """The angle in degrees, or its reverse, that reads from the left or from below: over -90 up to 90."""
    turned = (angle + 90.0) % 180.0 - 90.0
    return 90.0 if abs(turned + 90.0) < SAME else turned


def _rotations(angles: NDArray[np.float64]) -> NDArray[np.float64]:
    """(m, 2, 2) counter-clockwise rotations by (m,) degrees."""
    c, s = np.cos(np.radians(angles)), np.sin(np.radians(angles))
    return np.asarray(np.stack([c, -s, s, c], axis=-1).reshape(-1, 2, 2))


def _boxes(
    centres: NDArray[np.float64], turns: NDArray[np.float64], half: NDArray[np.float64]
) -> NDArray[np.object_]:
    """(m,) rectangles of half size (2,) about (m, 2) centres, turned by (m, 2, 2)."""
    corners = np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]]) * half
    return np.asarray(shapely.polygons(centres[:, None] + corners @ turns.transpose(0, 2, 1)))


def _polygon(outline: Outline) -> shapely.Polygon:
    holes = [hole.flatten(_CHORD) for hole in outline.holes]
    return shapely.Polygon(outline.outer.flatten(_CHORD), holes)


def _point(point: shapely.Point) -> NDArray[np.float64]:
    return np.asarray(shapely.get_coordinates(point)[0])
