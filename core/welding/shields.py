"""Plates in the way of rays: which of them each ray meets."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ..terms import tolerance

__all__ = ["Shields", "met", "met_by_bundles", "shields"]

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Index = NDArray[np.int64]

_AT_ONCE: Final = 100_000
"""Pairs of a ray and a triangle that are worked on together: bounds the memory."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Shield:
    """One plate. axes: (3, 3) rows, of its box; half: (3,) of the box's sides. to_local: (3, 3 t) and offset (3 t,):
    a point goes to the triangles' own coordinates, t each: heights over them, then shares of their two sides. planes:
    (3, m) outward normals and (m,) heights of a plate without a hollow, which is what lies below them all."""

    centre: Floats
    axes: Floats
    half: Floats
    to_local: Floats
    offset: Floats
    planes: tuple[Floats, Floats] | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shields:
    """Plates by number; None for one without a triangle. low, high: (3,) corners of the box round them all."""

    plates: tuple[_Shield | None, ...]
    low: Floats
    high: Floats


def shields(triangles: Floats, plate: Index, count: int) -> Shields:
    """triangles: (t, 3, 3) corners, mm, of closed solids; plate: (t,) the number of the plate that each is of, below
    count. Triangles without area are left out."""
    area = np.linalg.norm(np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0]), axis=1) / 2
    triangles, plate, area = (part[area > tolerance.NO_AREA] for part in (triangles, plate, area))
    ends = triangles.reshape(-1, 3)
    own = [plate == number for number in range(count)]
    return Shields(
        plates=tuple(_shield(triangles[rows], area[rows]) if rows.any() else None for rows in own),
        low=ends.min(axis=0, initial=np.inf), high=ends.max(axis=0, initial=-np.inf))


def _shield(triangles: Floats, area: Floats) -> _Shield:
    first, second = triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0]
    normal = np.cross(first, second)
    axes = _box_axes(triangles, normal, int(np.argmax(area)))
    along = triangles.reshape(-1, 3) @ axes.T
    low, high = along.min(axis=0), along.max(axis=0)
    own = np.linalg.inv(np.stack([normal, first, second], axis=2))
    return _Shield(
        centre=(low + high) / 2 @ axes, axes=axes, half=(high - low) / 2 + tolerance.TOUCH,
        to_local=np.ascontiguousarray(own.transpose(2, 1, 0).reshape(3, -1)),
        offset=-np.einsum("tij,tj->it", own, triangles[:, 0]).reshape(-1),
        planes=_planes(triangles, normal))


def _box_axes(triangles: Floats, normal: Floats, largest: int) -> Floats:
    """(3, 3) unit rows: along the longest side of the largest triangle, across it, and square to it."""
    sides = np.roll(triangles[largest], -1, axis=0) - triangles[largest]
    along = sides[np.argmax(np.linalg.norm(sides, axis=1))]
    up = normal[largest] / np.linalg.norm(normal[largest])
    along = along / np.linalg.norm(along)
    return np.stack([along, np.cross(up, along), up])


def _planes(triangles: Floats, normal: Floats) -> tuple[Floats, Floats] | None:
    """The planes of the triangles, each once, where no corner lies above one."""
    normal = normal / np.linalg.norm(normal, axis=1, keepdims=True)
    high = np.einsum("ij,ij->i", normal, triangles[:, 0])
    if float((triangles.reshape(-1, 3) @ normal.T - high).max()) > tolerance.TOUCH:
        return None
    _, once = np.unique(np.round(np.column_stack([normal, high]), tolerance.WRITE), axis=0, return_index=True)
    return np.ascontiguousarray(normal[once].T), high[once]


def met(shields: Shields, start: Floats, way: Floats, length: float) -> Flags:
    """(n, d, plates) which plates each ray meets. start: (n, 3); way: (n, d, 3) of length 1, all d from one start;
    length: mm, may be inf."""
    count, many = way.shape[:2]
    out = np.zeros((count, many, len(shields.plates)), dtype=np.bool_)
    for number, shield in enumerate(shields.plates):
        if shield is None:
            continue
        near = _near(shield, start, length)
        starts, ways = np.repeat(start[near], many, axis=0), way[near].reshape(-1, 3)
        rays = _through_box(shield, starts, ways, np.array([length]), 0.0)
        hit = rays[_hits(shield, starts[rays], ways[rays], np.broadcast_to(length, len(rays)))]
        out[near[hit // many], hit % many, number] = True
    return out


def met_by_bundles(shields: Shields, start: Floats, way: Floats, length: Floats, around: float) -> Flags:
    """(n, plates) which plates a ray of each bundle meets. start, way: (n, k, 3); length: (k,), mm, may be inf. All
    rays of a bundle are within `around` of its last one."""
    out = np.zeros((len(start), len(shields.plates)), dtype=np.bool_)
    for number, shield in enumerate(shields.plates):
        if shield is None:
            continue
        near = _near(shield, start[:, -1], float(length[-1]) + around)
        near = near[_through_box(shield, start[near, -1], way[near, -1], length[-1:], around)]
        some = start[near].reshape(-1, 3), way[near].reshape(-1, 3), np.tile(length, len(near))
        rays = _through_box(shield, *some, 0.0)
        hit = rays[_hits(shield, *(part[rays] for part in some))]
        out[near[hit // len(length)], number] = True
    return out


def _near(shield: _Shield, start: Floats, length: float) -> Index:
    """What starts near enough for the ball round the plate's box."""
    apart = start - shield.centre
    return np.flatnonzero(np.einsum("ij,ij->i", apart, apart) <= (length + float(np.linalg.norm(shield.half))) ** 2)


def _through_box(shield: _Shield, start: Floats, way: Floats, length: Floats, around: float) -> Index:
    """Which rays pass the plate's box within `around`. length: (n,), or (1,) of all."""
    at = shield.axes @ start.T - (shield.axes @ shield.centre)[:, None]
    going = shield.axes @ way.T
    np.copyto(going, tolerance.RELATIVE, where=np.abs(going) < tolerance.RELATIVE)
    np.reciprocal(going, out=going)
    at *= going
    wide = np.abs(going, out=going)
    wide *= (shield.half + around)[:, None]
    # from minus `at` less `wide` to minus `at` and `wide` it is between the sides
    leaves = (wide - at).min(axis=0)
    enters = -((at + wide).min(axis=0))
    return np.flatnonzero((np.maximum(enters, 0.0) <= leaves) & (enters <= length))


def _hits(shield: _Shield, start: Floats, way: Floats, length: Floats) -> Flags:
    """(n,) which rays meet a triangle of the plate."""
    at_once = _hits_at_once if shield.planes is None else _hits_hull
    step = max(1, _AT_ONCE // len(shield.offset))
    parts = [slice(first, first + step) for first in range(0, len(start), step)]
    return np.concatenate([
        np.zeros(0, dtype=np.bool_), *(at_once(shield, start[p], way[p], length[p]) for p in parts)])


def _hits_hull(shield: _Shield, start: Floats, way: Floats, length: Floats) -> Flags:
    """As `_hits`, by a plate's planes."""
    assert shield.planes is not None
    normals, high = shield.planes
    below, climb = high - start @ normals, way @ normals
    climb[np.abs(climb) < tolerance.RELATIVE] = tolerance.RELATIVE
    far = below / climb
    enters = np.where(climb < 0.0, far, 0.0).max(axis=1)
    leaves = np.where(climb > 0.0, far, np.inf).min(axis=1)
    return np.asarray((enters <= leaves) & (enters <= length))


def _hits_at_once(shield: _Shield, start: Floats, way: Floats, length: Floats) -> Flags:
    """As `_hits` (D. Baldwin and M. Weber, Fast ray-triangle intersections by coordinate transformation, JCGT 5(3),
    2016)."""
    high, u, v = np.split(start @ shield.to_local + shield.offset, 3, axis=1)
    climb, along_u, along_v = np.split(way @ shield.to_local, 3, axis=1)
    with np.errstate(divide="ignore", invalid="ignore"):     # a ray along a triangle's plane meets its neighbours
        far = -high / climb
        u += far * along_u
        v += far * along_v
        edge = -tolerance.EDGE_OF_TRIANGLE
        inside = (np.minimum(far, np.minimum(u, v)) >= edge) & (far <= length[:, None])
        inside &= u + v <= 1.0 - edge
    return np.asarray(inside.any(axis=1))
