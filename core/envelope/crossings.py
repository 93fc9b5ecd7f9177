"""Where a surface runs through itself: triangles of different panels that meet away from what they share.

Also which shells lie inside which. Both by triangles; boxes first, so that time grows with the surface.
"""

from __future__ import annotations

import manifold3d
import numpy as np
from numpy.typing import NDArray

from ..shapes.boxes import overlapping_boxes
from ..shapes.windings import windings
from ..terms import tolerance
from .surface import Surface, measure

__all__ = ["crossing_faces", "enclosing_shells", "triangles_of"]

Index = NDArray[np.int64]
Reals = NDArray[np.float64]
Mask = NDArray[np.bool_]


def triangles_of(surface: Surface) -> tuple[Index, Index]:
    """(t, 3) point indices of triangles that fill the faces, and (t,) the face of each.

    Convex faces are cut in fans; others by manifold3d in the plane that they mostly face. Triangles less
    high than MERGE cover nothing and have no direction: they are left away.
    """
    counts, owner = surface.counts, surface.owner
    measures = measure(surface)
    here = surface.points[surface.corners]
    along = surface.points[surface.ends] - here
    turns = np.einsum("ij,ij->i", np.cross(along, along[surface.following]), measures.normals[owner])
    hollow = np.zeros(surface.face_count, dtype=bool)
    hollow[owner[turns < 0]] = True
    hollow &= counts > 3
    local = np.arange(len(owner)) - surface.starts[owner]
    fan = np.flatnonzero(~hollow[owner] & (local >= 1) & (local < counts[owner] - 1))
    first = surface.corners[surface.starts[owner[fan]]]
    triangles = [np.stack([first, surface.corners[fan], surface.corners[fan + 1]], axis=1)]
    faces = [owner[fan]]
    for face in np.flatnonzero(hollow):
        corners = surface.corners[surface.starts[face] : surface.starts[face + 1]]
        axis = int(np.argmax(np.abs(measures.normals[face])))
        flat = np.delete(surface.points[corners], axis, axis=1)
        if (measures.normals[face, axis] > 0) == (axis == 1):
            flat = flat[:, ::-1]
        found = np.asarray(manifold3d.triangulate([flat]), dtype=np.int64).reshape(-1, 3)
        triangles.append(corners[found])
        faces.append(np.full(len(found), face))
    filled, face = np.concatenate(triangles), np.concatenate(faces)
    a, b, c = (surface.points[filled[:, i]] for i in range(3))
    longest = np.max([np.linalg.norm(p - q, axis=1) for p, q in ((a, b), (b, c), (c, a))], axis=0)
    solid = np.linalg.norm(np.cross(b - a, c - a), axis=1) > tolerance.MERGE * longest
    return filled[solid], face[solid]


def crossing_faces(surface: Surface, label: Index) -> tuple[Index, Reals]:
    """(m, 2) pairs of faces, of different panels, that cross or touch where they share nothing, sorted, and
    (m, 3) a point near each place. label: (f,) the panel of each face."""
    triangles, faces = triangles_of(surface)
    corners = surface.points[triangles]
    pairs = overlapping_boxes(corners.min(axis=1) - tolerance.TOUCH, corners.max(axis=1) + tolerance.TOUCH)
    pairs = pairs[label[faces[pairs[:, 0]]] != label[faces[pairs[:, 1]]]]
    one, two = triangles[pairs[:, 0]], triangles[pairs[:, 1]]
    shared = (one[:, :, None] == two[:, None, :])
    shares = shared.sum(axis=(1, 2))
    ready = (shares < 2) & ~_apart(surface.points, one, two, shared.any(axis=2), shared.any(axis=1))
    pairs, one, two, shared, shares = pairs[ready], one[ready], two[ready], shared[ready], shares[ready]
    # Of two triangles that share a point, only the sides away from it can meet elsewhere.
    held = np.stack([shared.any(axis=2), shared.any(axis=1)])
    whose, side, row = np.nonzero(~(held | np.roll(held, -1, axis=2)).transpose(0, 2, 1))
    both = np.stack([one, two])
    start, end = surface.points[both[whose, row, side]], surface.points[both[whose, row, (side + 1) % 3]]
    hit, at = _meets(start, end, surface.points[both[1 - whose, row]])
    hit[hit] = ~_on_shared_border(surface, faces[pairs[row[hit]]], at[hit])
    met = np.zeros(len(pairs), dtype=bool)
    places = np.zeros((len(pairs), 3))
    met[row[hit]] = True
    places[row[hit][::-1]] = at[hit][::-1]      # of several places the first
    found = np.sort(faces[pairs[met]], axis=1)
    found, first_place = np.unique(found, axis=0, return_index=True)
    return np.asarray(found), np.asarray(places[met][first_place])


def enclosing_shells(surface: Surface, shells: Index, count: int) -> Index:
    """(m, 2) pairs (inner, outer) of shells of which the first lies in the second. shells: (f,)."""
    shell = shells[surface.owner]
    points = surface.points[surface.corners]
    low, high = np.full((count, 3), np.inf), np.full((count, 3), -np.inf)
    np.minimum.at(low, shell, points)
    np.maximum.at(high, shell, points)
    boxes = overlapping_boxes(low, high)
    both = np.concatenate([boxes, boxes[:, ::-1]])
    both = both[np.all((low[both[:, 1]] <= low[both[:, 0]]) & (high[both[:, 0]] <= high[both[:, 1]]), axis=1)]
    if len(both) == 0:
        return np.empty((0, 2), dtype=np.int64)
    triangles, faces = triangles_of(surface)
    _, first = np.unique(shell, return_index=True)
    inside = [
        abs(windings(points[first[inner]][None], surface.points[triangles[shells[faces] == outer]])[0]) > 0.5
        for inner, outer in both
    ]
    return np.asarray(both[np.array(inside)])


def _on_shared_border(surface: Surface, pairs: Index, at: Reals) -> Mask:
    """Which meeting points of pairs of faces lie on a side or corner that both faces have: where a face has
    corners along a straight side its triangles may pass over them, and touch the neighbour there."""
    found = np.zeros(len(pairs), dtype=bool)
    for i, (one, two) in enumerate(pairs.tolist()):
        sides = np.arange(surface.starts[one], surface.starts[one + 1])
        others = surface.corners[surface.starts[two] : surface.starts[two + 1]]
        sides = sides[np.isin(surface.corners[sides], others)]
        start = surface.points[surface.corners[sides]]
        ends = surface.corners[np.where(sides + 1 == surface.starts[one + 1], surface.starts[one], sides + 1)]
        along = np.where(np.isin(ends, others)[:, None], surface.points[ends] - start, 0.0)
        length = np.maximum(_dot(along, along), tolerance.TOUCH**2)
        share = np.clip(_dot(at[i] - start, along) / length, 0.0, 1.0)
        off = np.linalg.norm(at[i] - start - along * share[:, None], axis=1)
        found[i] = bool((off < tolerance.STRAIGHT).any())
    return found


def _dot(a: Reals, b: Reals) -> Reals:
    return np.asarray(np.einsum("ij,ij->i", a, b))


def _apart(points: Reals, one: Index, two: Index, held_one: Mask, held_two: Mask) -> Mask:
    """Pairs of triangles of which one lies wholly on one side of the other's plane, shared points aside."""
    apart = np.zeros(len(one), dtype=bool)
    for first, second, held in ((one, two, held_two), (two, one, held_one)):
        base = points[first]
        normal = np.cross(base[:, 1] - base[:, 0], base[:, 2] - base[:, 0])
        size = np.linalg.norm(normal, axis=1)
        normal /= np.where(size > 0, size, 1.0)[:, None]
        height = np.einsum("ijk,ik->ij", points[second] - base[:, :1], normal)
        apart |= np.all((height > tolerance.TOUCH) | held, axis=1) | np.all((height < -tolerance.TOUCH) | held, axis=1)
    return apart


def _meets(start: Reals, end: Reals, triangles: Reals) -> tuple[Mask, Reals]:
    """Which segments come within TOUCH of their triangle, and (m, 3) a point where they do."""
    origin = triangles[:, 0]
    u, v = triangles[:, 1] - origin, triangles[:, 2] - origin
    normal = np.cross(u, v)
    size = np.linalg.norm(normal, axis=1)
    normal /= np.where(size > 0, size, 1.0)[:, None]
    low, high = _dot(start - origin, normal), _dot(end - origin, normal)
    gap = low - high
    pierce = np.clip(np.where(gap != 0, low / np.where(gap != 0, gap, 1.0), 0.0), 0.0, 1.0)
    hit = np.zeros(len(start), dtype=bool)
    at = np.zeros((len(start), 3))
    for share in (pierce, np.zeros(len(start)), np.ones(len(start))):
        point = start + (end - start) * share[:, None]
        near = (np.abs(low + (high - low) * share) <= tolerance.TOUCH) & _within(point, triangles, normal)
        at = np.where((near & ~hit)[:, None], point, at)
        hit |= near
    for i in range(3):
        point, distance = _nearest(start, end, triangles[:, i], triangles[:, (i + 1) % 3])
        near = distance <= tolerance.TOUCH
        at = np.where((near & ~hit)[:, None], point, at)
        hit |= near
    return hit, at


def _within(point: Reals, triangles: Reals, normal: Reals) -> Mask:
    """Points that lie over the inside of their triangle."""
    inside = np.ones(len(point), dtype=bool)
    for i in range(3):
        here, there = triangles[:, i], triangles[:, (i + 1) % 3]
        inside &= _dot(np.cross(there - here, point - here), normal) >= 0
    return inside


def _nearest(a: Reals, b: Reals, c: Reals, d: Reals) -> tuple[Reals, Reals]:
    """The point of segment a-b nearest to segment c-d, and how far that is.

    Source: Ericson, Real-Time Collision Detection, 2005, section 5.1.9 (from memory).
    """
    p, q, r = b - a, d - c, a - c
    pp, qq, pq, pr, qr = _dot(p, p), _dot(q, q), _dot(p, q), _dot(p, r), _dot(q, r)
    spare = pp * qq - pq * pq
    parallel = spare <= tolerance.RELATIVE * pp * qq   # rounding of a product of two squares, with room: no length
    s = np.where(parallel, 0.0, np.clip((pq * qr - pr * qq) / np.where(parallel, 1.0, spare), 0.0, 1.0))
    t = np.clip((pq * s + qr) / qq, 0.0, 1.0)
    s = np.clip((pq * t - pr) / pp, 0.0, 1.0)
    point = a + p * s[:, None]
    return point, np.linalg.norm(point - c - q * t[:, None], axis=1)
