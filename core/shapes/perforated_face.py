"""The face of a plate in triangles where holes go by the thousand.

Joining every hole to the outline takes a time that grows with the square of their number. So the face is parted by
a grid into cells of a few dozen holes, and each is done by itself. Cells share the points on the lines between them
exactly: every contour gets its points there first, and no line runs through a corner of one.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
import shapely
from manifold3d import triangulate
from numpy.typing import NDArray

from ..terms import tolerance
from .outline import Contour, HoleField, Outline

__all__ = ["perforated_face"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_CHORD: Final = 0.1
"""mm: perforations are shown this coarsely, twelve points for a small round one, but as large as they are, so that the
plate's volume is right. What is cut is exact."""

_IN_A_CELL: Final = 40
"""Holes, about. From 20 to 80 the time is the same within a fifth."""


def perforated_face(outline: Outline) -> tuple[Floats, Ints, Ints]:
    """The face less all its holes, as points (n, 2), triangles (m, 3) and rim (k, 2).

    Triangles and rim are indices of points. Triangles run counter-clockwise; each of their edges belongs to one
    other, or to the rim, which leaves the metal on its left. The outline has at least one hole in a field.
    """
    rings = outline.rings()
    plain = len(rings)
    holes = _holes(outline, rings)
    points = np.concatenate([*rings, *(placed.reshape(-1, 2) for placed in holes)])
    counts = np.array([len(ring) for ring in rings] + [placed.shape[1] for placed in holes for _ in placed])
    middles = np.concatenate([field.centres for field in outline.fields])
    lines = _grid(points, middles)
    for axis in (0, 1):
        points, counts = _cut_at(points, counts, axis, lines[axis])
    contours = shapely.linearrings(points, indices=np.repeat(np.arange(len(counts)), counts))
    face = shapely.polygons(contours[0], contours[1:plain])
    flat, triangles = _triangles(_cells(face, shapely.polygons(contours[plain:]), points, lines))
    return flat, triangles, _rim(triangles, len(flat))


def _holes(outline: Outline, rings: list[Floats]) -> list[Floats]:
    """Every field's holes in so few points, yet of their true area: the corners lie a little outside the true shape.
    Where that is more than the bars allow, none do. rings: of the outline."""
    plain = [field.rings(_CHORD) for field in outline.fields]
    large = [field.centres[:, None] + (placed - field.centres[:, None]) * _swell(field)
             for field, placed in zip(outline.fields, plain, strict=True)]
    shapes = np.concatenate([shapely.polygons(placed) for placed in large])
    tree = shapely.STRtree(shapes)
    apart = tree.query(shapes, predicate="intersects").shape[1] == len(shapes)
    edges = np.array([shapely.LinearRing(ring) for ring in rings], dtype=object)
    return large if apart and not tree.query(edges, predicate="intersects").size else plain


def _swell(field: HoleField) -> float:
    """What makes a flattened hole as large as it is cut."""
    flat = Contour(points=field.shape.flatten(_CHORD))
    return math.sqrt(abs(field.shape.area() / flat.area()))


def _grid(points: Floats, middles: Floats) -> tuple[Floats, Floats]:
    """Where the lines of the grid cross x and y: evenly over the holes, each moved to the widest gap near it."""
    low, high = middles.min(axis=0), middles.max(axis=0)
    size = np.maximum(high - low, tolerance.ROUNDING * np.abs(middles).max() + tolerance.ROUNDING)
    cells = len(middles) / _IN_A_CELL
    out = []
    for axis in (0, 1):
        number = round(math.sqrt(cells * size[axis] / size[1 - axis]))
        number = min(number, int(cells) + 1)
        wanted = low[axis] + size[axis] * np.arange(1, number) / max(number, 1)
        at = np.unique(points[:, axis])
        first = np.searchsorted(at, wanted - size[axis] / max(number, 1) / 4)
        last = np.searchsorted(at, wanted + size[axis] / max(number, 1) / 4)
        found = []
        for a, b in zip(first.tolist(), last.tolist(), strict=True):
            near = at[max(a - 1, 0) : b + 1]
            best = int(np.argmax(np.diff(near)))
            found.append((near[best] + near[best + 1]) / 2)
        out.append(np.array(found))
    return out[0], out[1]


def _cut_at(points: Floats, counts: Ints, axis: int, lines: Floats) -> tuple[Floats, Ints]:
    """The contours, one after another, with a point more wherever a run crosses a line of the grid."""
    ends = np.cumsum(counts)
    after = np.arange(1, len(points) + 1)
    after[ends - 1] = ends - counts
    here, there = points[:, axis], points[after, axis]
    lowest = np.searchsorted(lines, np.minimum(here, there))
    more = np.searchsorted(lines, np.maximum(here, there)) - lowest
    run = np.repeat(np.arange(len(points)), more)
    nth = np.arange(len(run)) - np.repeat(np.cumsum(more) - more, more)
    line = np.where(here[run] < there[run], lowest[run] + nth, lowest[run] + more[run] - 1 - nth)
    share = (lines[line] - here[run]) / (there[run] - here[run])
    new = points[run] + share[:, None] * (points[after[run]] - points[run])
    new[:, axis] = lines[line]
    place = np.arange(len(points)) + np.cumsum(more) - more
    out = np.empty((len(points) + len(new), 2))
    out[place] = points
    out[place[run] + 1 + nth] = new
    return out, np.add.reduceat(more + 1, ends - counts)


def _cells(
    face: shapely.Polygon, holes: NDArray[np.object_], points: Floats, lines: tuple[Floats, Floats]
) -> NDArray[np.object_]:
    """The polygons of metal in every cell of the grid."""
    low, high = points.min(axis=0) - 1.0, points.max(axis=0) + 1.0
    x, y = (np.concatenate([low[axis : axis + 1], lines[axis], high[axis : axis + 1]]) for axis in (0, 1))
    boxes = shapely.box(x[:-1, None], y[None, :-1], x[1:, None], y[None, 1:]).ravel()
    metal = shapely.intersection(face, boxes)
    cell, hole = shapely.STRtree(holes).query(boxes, predicate="intersects")
    order = np.argsort(cell, kind="stable")
    cell, hole = cell[order], hole[order]
    drilled = np.unique(cell)
    gone = shapely.multipolygons(holes[hole], indices=np.searchsorted(drilled, cell))
    metal[drilled] = shapely.difference(metal[drilled], gone)
    parts = shapely.get_parts(metal)
    return np.asarray(shapely.orient_polygons(parts[shapely.get_type_id(parts) == shapely.GeometryType.POLYGON]))


def _triangles(cells: NDArray[np.object_]) -> tuple[Floats, Ints]:
    """The cells' triangles, points that several cells have counted once."""
    rings, cell_of = shapely.get_rings(cells, return_index=True)
    flat, ring_of = shapely.get_coordinates(rings, return_index=True)
    last = np.append(ring_of[1:] != ring_of[:-1], True)      # a closing point repeats the first
    flat, ring_of = flat[~last], ring_of[~last]
    parts = np.split(flat, np.flatnonzero(np.diff(ring_of)) + 1)
    starts = np.searchsorted(ring_of, np.searchsorted(cell_of, np.arange(len(cells))))
    bounds = np.searchsorted(cell_of, np.arange(len(cells) + 1)).tolist()
    found = [
        np.asarray(triangulate(parts[a:b])).reshape(-1, 3) + start
        for a, b, start in zip(bounds, bounds[1:], starts.tolist(), strict=False)
    ]
    same, number = np.unique(flat[:, 0] + 1j * flat[:, 1], return_inverse=True)
    return np.column_stack([same.real, same.imag]), number[np.concatenate(found)]


def _rim(triangles: Ints, count: int) -> Ints:
    """(k, 2) the edges that one triangle alone has, in its sense."""
    edges = np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]])
    single = ~np.isin(edges[:, 0] * count + edges[:, 1], edges[:, 1] * count + edges[:, 0])
    return np.asarray(edges[single])
