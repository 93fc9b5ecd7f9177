"""The cells of an envelope: the separate spaces that its walls and inner plates leave, and the openings of each.

Everything is exact: the room less the plates in it is one boolean of solids, and its separate parts are the cells.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from manifold3d import CrossSection, FillRule, Manifold, OpType
from numpy.typing import NDArray

from ..shapes.outline import Contour
from ..shapes.solid_parts import distances, parts, triangles

__all__ = ["SLIVER", "Cell", "Vent", "find_cells", "way_out"]

Floats = NDArray[np.float64]

SLIVER: Final = 10.0
"""mm3: a smaller space lies between a plate's square end and the wall, where the weld fills it. Our choice."""
FILM: Final = 0.1
"""mm: a space that is thinner on average is what rounding leaves between a skin and a plate along it. Our choice."""
LEAST_OPEN: Final = 1.0
"""mm2: an opening that reaches a cell with less than this does not open it: spatter closes it. Our choice."""

_PROBE: Final = 0.2
"""mm: how deep an opening is felt for the cell behind it; thinner than any sheet that could stand close by."""
_SECTIONS: Final = (0.5, 0.31, 0.69, 0.17, 0.83, 0.05, 0.95)
"""Heights, of the cell's own, at which a place inside is looked for."""
_DEEP: Final = 0.25
"""Depth of a place over the radius of its circle that is enough."""
_NEARLY: Final = 0.98
"""Share of the widest circle's radius that is as good as all of it."""
ROUGHLY = 0.01
"""Of a shape's size: how exactly its roomiest place is looked for."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Vent:
    """An opening in a wall. at: (3,) its centre on the wall's inner surface. inward: (3,) unit normal into the
    room. radius: of the largest circle in it, mm. corners: (k, 3) its edge on the inner surface, in order.
    purpose: port, vent, drain, hand_hole. index: the caller's own number for it."""

    at: Floats
    inward: Floats
    radius: float
    corners: Floats
    purpose: str
    name: str
    index: int = 0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Cell:
    """One separate space. volume: mm3. at: a point well inside. low, high: the corners of its box. vents: the rows
    of the openings that lead into it, ascending."""

    solid: Manifold
    volume: float
    at: tuple[float, float, float]
    low: tuple[float, float, float]
    high: tuple[float, float, float]
    vents: tuple[int, ...]


def find_cells(
    room: Manifold, barriers: Sequence[Manifold], vents: Sequence[Vent], least: float = SLIVER
) -> tuple[Cell, ...]:
    """The spaces that `barriers` divide `room` into, lowest corner first (by x, then y, then z).

    room: the space within the inner skin, mm. barriers: plates in it with their openings cut; where one is welded
    to another or to the skin the solids overlap, where there is a way through there is a gap. Spaces below `least`,
    mm3, or FILM are left out.
    """
    space = Manifold.batch_boolean([room, *barriers], OpType.Subtract) if barriers else room
    probes = [_probe(vent) for vent in vents]
    cells = [_cell(solid, probes) for solid in parts(space) if _is_space(solid, least)]
    return tuple(sorted(cells, key=lambda c: (*np.round(c.low, 3).tolist(), *np.round(c.high, 3).tolist(), c.volume)))


def _is_space(solid: Manifold, least: float) -> bool:
    volume = solid.volume()
    return bool(volume >= least and 2 * volume / solid.surface_area() >= FILM)


def _cell(solid: Manifold, probes: Sequence[tuple[Manifold, float]]) -> Cell:
    box = np.array(solid.bounding_box())
    open_to = []
    for row, (probe, least) in enumerate(probes):
        other = np.array(probe.bounding_box())
        if (box[:3] <= other[3:]).all() and (other[:3] <= box[3:]).all() and (probe ^ solid).volume() > least:
            open_to.append(row)
    low, high = box[:3].tolist(), box[3:].tolist()
    return Cell(
        solid=solid, volume=float(solid.volume()), at=_inside(solid), low=(low[0], low[1], low[2]),
        high=(high[0], high[1], high[2]), vents=tuple(open_to))


def way_out(vent: Vent, solid: Manifold) -> Floats:
    """(k, 3) corners, on the wall's inner surface, of the part of an opening that leads into a solid."""
    open_part = _probe(vent)[0] ^ solid
    corners = triangles(open_part)[0] if not open_part.is_empty() else np.empty((0, 3))
    return np.asarray(corners[(corners - vent.at) @ vent.inward < _PROBE / 2])


def _probe(vent: Vent) -> tuple[Manifold, float]:
    """The opening pushed a little into the room, and the volume of it that a cell must share to be reached."""
    side = np.eye(3)[int(np.argmin(np.abs(vent.inward)))]
    across = np.cross(vent.inward, side)
    across /= np.linalg.norm(across)
    axes = np.array([across, np.cross(vent.inward, across), vent.inward])
    ring = (vent.corners - vent.at) @ axes[:2].T
    solid = Manifold.extrude(CrossSection([ring.tolist()], FillRule.EvenOdd), _PROBE)
    least = min(LEAST_OPEN, abs(Contour(points=ring).area()) / 2) * _PROBE
    return solid.transform(np.column_stack([axes.T, vent.at])), least


def _inside(solid: Manifold) -> tuple[float, float, float]:
    """A place far from the surface: the middle of the widest circle in a level section, of the first that is deep for
    its width, else of the deepest."""
    low, high = solid.bounding_box()[2::3]
    most, best = 0.0, (0.0, 0.0, 0.0)
    for share in _SECTIONS:
        radius, place = _widest(solid, low + share * (high - low))
        if radius <= most:                             # it lies no deeper than its circle is wide
            continue
        depth = float(distances(np.array([place]), solid, radius)[0])
        if depth > most:
            most, best = depth, place
        if depth > _DEEP * radius:
            break
    return best


def _widest(solid: Manifold, height: float) -> tuple[float, tuple[float, float, float]]:
    """Radius and middle of the widest circle in the level section of a solid; 0 where it has no section."""
    most, best = 0.0, (0.0, 0.0, height)
    for piece in sorted(solid.slice(height).decompose(), key=lambda p: -float(p.area())):
        if piece.area() <= np.pi * most**2:            # no circle in it can be wider
            break
        rings = sorted(map(np.asarray, piece.to_polygons()), key=lambda r: -Contour(points=r).area())
        shape = shapely.Polygon(rings[0], rings[1:])
        circle = shapely.maximum_inscribed_circle(shape, tolerance=ROUGHLY * shape.area**0.5)
        if circle.length > 1.001 * most:
            x, y = _middle(shape, circle)
            most, best = circle.length, (x, y, height)
    return most, best


def _middle(shape: shapely.Polygon, circle: shapely.LineString) -> tuple[float, float]:
    """Of all places where a circle nearly as wide has room, the middle one: a long shape has many, and rounding must
    not choose. circle: from the middle of the widest to its rim."""
    room = shapely.buffer(shape, -_NEARLY * circle.length)
    parts = sorted(shapely.get_parts(room), key=lambda p: (-round(float(p.area), 2), *np.round(p.bounds, 2).tolist()))
    middles = [part.centroid for part in parts[:1] if part.contains(part.centroid)]
    x, y = middles[0].coords[0] if middles else circle.coords[0]
    return x, y
