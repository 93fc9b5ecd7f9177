"""Which points of a scan lie inside a closed body, and how deep."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ..shapes.triangle_distance import nearest_on_triangles
from ..shapes.windings import windings
from .clearance_body import Body
from .scan_index import BLOCK, ScanIndex

__all__ = ["InsidePoints", "balls_meet_box", "depths_inside", "inside_points"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

INSIDE: Final = 0.5
"""Of a winding number, which is 1 inside and 0 outside up to rounding."""
MOST_PAIRS: Final = 1 << 18
"""Pairs of a point and a triangle measured at once: some 100 MB of passing arrays."""
PER_FACE: Final = 64
"""So many of the deepest points of each face are told: places are chosen among them."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class InsidePoints:
    """points: (k, 3) of the scan, mm from its origin, the deepest of every face of the body; depths: (k,) mm below
    its surface; feet: (k, 3) where they are nearest to it; faces: (k,) of the body there. rows: of all of the scan's
    triangles with a corner inside."""

    points: Floats
    depths: Floats
    feet: Floats
    faces: Ints
    rows: Ints


def inside_points(body: Body, scan: ScanIndex) -> InsidePoints:
    """The points of a scan inside the closed shells of a body. A block of the scan that the surface does not reach is
    wholly inside or outside, so that one of its points tells."""
    found: list[tuple[Floats, Floats, Floats, Ints]] = []
    rows: list[Ints] = [np.empty(0, dtype=np.int64)]
    for shell in body.shells:
        triangles = body.triangles[shell] - scan.origin
        inner_rows = _rows_inside(triangles, scan)
        corners = np.unique(scan.triangles[inner_rows])
        points = scan.points[corners].astype(np.float64)
        inside = windings(points, triangles) > INSIDE
        points = points[inside]
        with_corner = np.isin(scan.triangles[inner_rows], corners[inside]).any(axis=1)
        rows.append(inner_rows[with_corner])
        if len(points):
            found.append(_deepest(points, triangles, body.faces[shell]))
    if not found:
        none = np.empty((0, 3))
        return InsidePoints(points=none, depths=np.empty(0), feet=none, faces=np.empty(0, dtype=np.int64), rows=rows[0])
    points, depths, feet, faces = (np.concatenate(column) for column in zip(*found, strict=True))
    return InsidePoints(points=points, depths=depths, feet=feet, faces=faces, rows=np.unique(np.concatenate(rows)))


def depths_inside(points: Floats, body: Body, origin: Floats) -> Floats:
    """(n,) how deep points, mm from `origin`, lie below the surface of the shell that they are in; -inf outside."""
    depths = np.full(len(points), -np.inf)
    for shell in body.shells:
        triangles = body.triangles[shell] - origin
        inside = windings(points, triangles) > INSIDE
        if inside.any():
            depths[inside] = _nearest(points[inside], triangles)[0]
    return depths


def _rows_inside(triangles: Floats, scan: ScanIndex) -> Ints:
    """The scan's triangles in blocks that lie inside or that the surface may pass through."""
    low, high = triangles.min(axis=(0, 1)), triangles.max(axis=(0, 1))
    balls = np.arange(len(scan.group_radii))
    balls = balls[balls_meet_box(scan.group_centres, scan.group_radii, low, high)]
    blocks = (balls[:, None] * BLOCK + np.arange(BLOCK)).ravel()
    blocks = blocks[blocks < len(scan.block_radii)]
    blocks = blocks[balls_meet_box(scan.block_centres[blocks], scan.block_radii[blocks], low, high)]
    if not len(blocks):
        return np.empty(0, dtype=np.int64)
    apart, _, _ = _nearest(scan.block_centres[blocks], triangles)
    touched = apart <= scan.block_radii[blocks]
    first = scan.points[scan.triangles[blocks * BLOCK, 0]].astype(np.float64)
    within = np.zeros(len(blocks), dtype=np.bool_)
    within[~touched] = windings(first[~touched], triangles) > INSIDE
    return scan.rows_of_blocks(blocks[touched | within])


def balls_meet_box(centres: Floats, radii: Floats, low: Floats, high: Floats) -> NDArray[np.bool_]:
    """Which balls come into a box."""
    off = np.maximum(np.maximum(low - centres, centres - high), 0.0)
    return np.asarray(np.linalg.norm(off, axis=1) <= radii)


def _nearest(points: Floats, triangles: Floats) -> tuple[Floats, Floats, Ints]:
    """Of every point the distance to a surface, the nearest point of it, and the triangle that has it."""
    apart, feet = np.empty(len(points)), np.empty((len(points), 3))
    which = np.empty(len(points), dtype=np.int64)
    step = max(1, MOST_PAIRS // len(triangles))
    for start in range(0, len(points), step):
        some = points[start : start + step]
        on, _ = nearest_on_triangles(
            np.repeat(some, len(triangles), axis=0), np.tile(triangles, (len(some), 1, 1)))
        on = on.reshape(len(some), len(triangles), 3)
        distance = np.linalg.norm(on - some[:, None], axis=2)
        best = distance.argmin(axis=1)
        own = slice(start, start + len(some))
        apart[own], which[own] = distance[np.arange(len(some)), best], best
        feet[own] = on[np.arange(len(some)), best]
    return apart, feet, which


def _deepest(points: Floats, triangles: Floats, faces: Ints) -> tuple[Floats, Floats, Floats, Ints]:
    apart, feet, which = _nearest(points, triangles)
    nearest = faces[which]
    order = np.lexsort((-apart, nearest))
    heads = np.flatnonzero(np.diff(nearest[order], prepend=-1))
    place = np.arange(len(order)) - np.repeat(heads, np.diff(np.append(heads, len(order))))
    kept = order[place < PER_FACE]
    return points[kept], apart[kept], feet[kept], nearest[kept]
