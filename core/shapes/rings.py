"""Polygons side by side: every side a line of its own that can be moved, so that neighbours meet again."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from ..terms import tolerance
from .mitre import Lines, met

__all__ = [
    "HAIR", "cleaned", "grown", "joined", "less", "met_again", "opened", "polygon_parts", "rings_of", "shared",
    "side_normals",
]

Floats = NDArray[np.float64]

HAIR = 0.02
"""mm: what is narrower than this is rounding between two walls, not plate; far below the kerf."""

PINCH = 0.25
"""mm: half the width of the gap that is cut where two cuts touch: about a kerf."""

_GRID = 1e-9
"""mm: to which corners are rounded where shapes are laid over each other whose sides may lie on each other: far above
the rounding of doubles at ten metres, far below what is written. Without it shapely can lose a shape whole."""

def polygon_parts(shape: shapely.Geometry) -> list[shapely.Polygon]:
    """The polygons of any shape that have an area, outer rings counter-clockwise, the largest first."""
    parts = [p for p in shapely.get_parts(shape) if p.geom_type == "Polygon" and p.area > 0]
    parts = [shapely.geometry.polygon.orient(p) for p in parts]
    return sorted(parts, key=lambda p: (-round(p.area, 6), *p.bounds))


def rings_of(shape: shapely.Polygon) -> list[Floats]:
    """(k, 2) corners of its rings, not closed, the outer first."""
    return [np.asarray(ring.coords, dtype=np.float64)[:-1] for ring in (shape.exterior, *shape.interiors)]


def side_normals(ring: Floats) -> Floats:
    """(k, 2) unit normals of the sides from each corner to the next, away from the metal (metal on the left)."""
    along = np.roll(ring, -1, axis=0) - ring
    along /= np.maximum(np.linalg.norm(along, axis=1), tolerance.NONZERO)[:, None]
    return np.column_stack([along[:, 1], -along[:, 0]])


def less(shape: shapely.Geometry, taken: shapely.Geometry) -> shapely.Geometry:
    """The shape without another one. Sides of the two may lie on each other, as nearly as they like."""
    return shapely.difference(_areas(shape), _areas(taken), grid_size=_GRID)


def shared(one: shapely.Geometry, two: shapely.Geometry) -> shapely.Geometry:
    """What two shapes have in common; their sides may lie on each other."""
    return shapely.intersection(_areas(one), _areas(two), grid_size=_GRID)


def joined(shapes: Sequence[shapely.Geometry]) -> shapely.Geometry:
    """All that lies in any of the shapes; their sides may lie on each other."""
    return shapely.union_all([_areas(shape) for shape in shapes], grid_size=_GRID)


def _areas(shape: shapely.Geometry) -> shapely.Geometry:
    """The shape without the points and lines at which two shapes had touched."""
    if shape.geom_type != "GeometryCollection":
        return shape
    return shapely.MultiPolygon([p for p in shapely.get_parts(shape) if p.geom_type == "Polygon"])


def grown(shape: shapely.Geometry, by: float) -> shapely.Geometry:
    """The shape made wider by `by` mm all round, its corners kept; narrower where it is negative."""
    with np.errstate(divide="ignore", invalid="ignore"):     # at a needle's tip, of which nothing is kept
        return shapely.buffer(shape, by, join_style="mitre", mitre_limit=20.0)


def opened(shape: shapely.Geometry, width: float) -> shapely.Geometry:
    """The shape without hairs and necks narrower than `width`, its corners where they were."""
    return grown(grown(shape, -width / 2), width / 2)


def cleaned(shape: shapely.Geometry) -> list[shapely.Polygon]:
    """The parts of a shape as a laser can follow them, the largest first: without hairs and slits, without points
    that lie on each other, and where a hole touches an edge or another hole, with a gap cut between them."""
    out = []
    # where cuts run along sides, points are left that lie on each other: offset, they turn a shape inside out
    closed = grown(grown(shapely.simplify(shape, tolerance.TOUCH), HAIR / 2), -HAIR / 2)
    for part in polygon_parts(opened(closed, HAIR)):
        rings = [_straightened(ring, HAIR / 4) for ring in rings_of(part)]
        whole: shapely.Geometry = shapely.Polygon(rings[0], [ring for ring in rings[1:] if len(ring) > 2])
        while (pinch := _pinch(whole)) is not None:
            whole = shapely.difference(whole, shapely.box(*(pinch - PINCH), *(pinch + PINCH)))
        out += polygon_parts(whole)
    return sorted(out, key=lambda p: (-round(p.area, 6), *p.bounds))


def _straightened(ring: Floats, within: float) -> Floats:
    """The ring without corners that lie within `within` mm of the straight run past them, the flattest first: the same
    ones go wherever the ring begins and whichever way it runs."""
    kept = list(range(len(ring)))
    while len(kept) > 3:
        here = ring[kept]
        off = _off(here, np.roll(here, 1, axis=0), np.roll(here, -1, axis=0))
        flat = np.argsort(off, kind="stable")[: int((off <= within).sum())].tolist()
        gone = next((i for i in flat if _stays(ring, kept, i, within)), None)
        if gone is None:
            break
        del kept[gone]
    return ring[kept]


def _stays(ring: Floats, kept: Sequence[int], gone: int, within: float) -> bool:
    """Whether all corners left out between the neighbours of one that goes lie within `within` mm of a straight run."""
    begin, end = kept[gone - 1], kept[(gone + 1) % len(kept)]
    rows = np.arange(begin + 1, end if end > begin else end + len(ring)) % len(ring)
    return bool((_off(ring[rows], ring[begin], ring[end]) <= within).all())


def _off(points: Floats, starts: Floats, ends: Floats) -> Floats:
    """(k,) how far points are from the segments beside them."""
    along = ends - starts
    square = np.maximum((along**2).sum(axis=-1), tolerance.NONZERO)
    share = np.clip(((points - starts) * along).sum(axis=-1) / square, 0.0, 1.0)
    return np.asarray(np.linalg.norm(points - starts - share[..., None] * along, axis=-1))


def _pinch(shape: shapely.Geometry) -> Floats | None:
    """Where two rings of a shape touch, or nearly."""
    for part in polygon_parts(shape):
        lines = np.array([part.exterior, *part.interiors], dtype=object)
        near = shapely.STRtree(lines).query(lines, predicate="dwithin", distance=HAIR)
        for i, j in sorted((a, b) for a, b in near.T.tolist() if a < b):
            return np.asarray(shapely.shortest_line(lines[i], lines[j]).centroid.coords[0])
    return None


def met_again(ring: Floats, normals: Floats, offsets: Floats) -> tuple[Floats, NDArray[np.int64]]:
    """The ring whose side i lies on the line normals[i] . p = offsets[i].

    ring: (k, 2) corners before the move. Returns corners and, for the side from each of them, the side of the
    given ring that it is; -1 for a step between neighbours whose lines do not cross in earnest.
    """
    before = np.roll(normals, 1, axis=0)
    ends, starts = met(_lines(ring, before, np.roll(offsets, 1)), _lines(ring, normals, offsets), ring)
    step = np.linalg.norm(ends - starts, axis=1) > tolerance.ROUNDING
    kept = np.column_stack([step, np.ones_like(step)])
    source = np.column_stack([np.full(len(ring), -1), np.arange(len(ring))])
    return np.stack([ends, starts], axis=1)[kept], source[kept]


def _lines(points: Floats, normals: Floats, offsets: Floats) -> Lines:
    """Lines through the points, moved to where normals . p = offsets."""
    along = np.column_stack([-normals[:, 1], normals[:, 0]])
    return Lines(points, along, -normals, (normals * points).sum(axis=1) - offsets)
