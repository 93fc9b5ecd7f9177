"""What a solid is made of: its triangles, its separate parts, and how far points are from its surface."""

from __future__ import annotations

from typing import Final

import numpy as np
from manifold3d import Manifold, Mesh64
from numpy.typing import NDArray

from .triangle_distance import nearest_on_triangles
from .windings import windings

__all__ = ["distances", "enclosed", "parts", "triangles"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_AT_ONCE: Final = 500_000
"""Pairs of a point and a triangle that are worked on together: bounds the memory."""


def triangles(solid: Manifold) -> tuple[Floats, Ints]:
    """(n, 3) corners and (m, 3) their indices, counter-clockwise seen from outside."""
    mesh = solid.to_mesh64()
    return np.asarray(mesh.vert_properties)[:, :3], np.asarray(mesh.tri_verts).astype(np.int64)


def parts(solid: Manifold) -> list[Manifold]:
    """The separate parts of a solid, each with the hollows inside it."""
    pieces = solid.decompose()
    # the surface of a hollow is a piece of its own, inside out
    whole = sorted((p for p in pieces if p.volume() > 0), key=lambda p: float(p.volume()))
    hollows = [triangles(p) for p in pieces if p.volume() < 0]
    solid = list(whole)
    for corners, faces in hollows:
        # the smallest part round a hollow is the one it is in
        home = next((i for i, part in enumerate(solid) if enclosed(corners[:1], part)[0]), None)
        if home is not None:
            whole[home] -= _turned(corners, faces)
    return whole


def _turned(corners: Floats, faces: Ints) -> Manifold:
    """The solid whose surface these triangles are, seen from inside."""
    return Manifold(Mesh64(np.array(corners), np.array(faces[:, ::-1], dtype=np.uint64, order="C")))


def enclosed(points: Floats, solid: Manifold) -> NDArray[np.bool_]:
    """(k,) which of (k, 3) points lie in the solid: its surface winds round them. For points off the surface."""
    corners, faces = triangles(solid)
    return np.asarray(windings(points, corners[faces]) > 0.5)


def distances(points: Floats, solid: Manifold, within: float = np.inf) -> Floats:
    """(k,) distances, mm, from (k, 3) points to the solid's surface; what is farther than `within` may come out
    larger than it is."""
    if not len(points):
        return np.empty(0)
    corners, faces = triangles(solid)
    ends = corners[faces]
    near_by = ((ends.min(axis=1) <= points.max(axis=0) + within) & (ends.max(axis=1) >= points.min(axis=0) - within))
    near = ends[near_by.all(axis=1)]
    out = np.full(len(points), np.inf)
    for rows in _rows(len(points), len(near)):
        some = points[rows]
        each = np.repeat(some, len(near), axis=0)
        on, _ = nearest_on_triangles(each, np.tile(near, (len(some), 1, 1)))
        apart = np.linalg.norm(each - on, axis=1).reshape(len(some), len(near))
        out[rows] = apart.min(axis=1, initial=np.inf)
    return out


def _rows(points: int, faces: int) -> list[slice]:
    step = max(1, _AT_ONCE // max(faces, 1))
    return [slice(i, i + step) for i in range(0, points, step)]
