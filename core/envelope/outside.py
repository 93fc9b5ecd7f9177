"""Which sides of the faces look at the outside, where a drawing has faces inside it too.

Every face has two sides. Round an edge the faces are sorted by their angle, and the side of one that looks at
the side of the next is joined with it: both bound the same cell of space. At a free edge a face's own two sides
are joined, unless the edge goes round a hole in a flat region: that is thought closed by a cap.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..shapes.connectivity import components, next_in_rows, numbered
from ..terms import tolerance
from ..terms.errors import InputError
from ..terms.places import listed
from .surface import FaceMeasures, Surface, measure
from .topology import sides_by_edge

__all__ = ["Outlook", "inward_of_sides", "look_out"]

Index = NDArray[np.int64]
Reals = NDArray[np.float64]
Mask = NDArray[np.bool_]

_FLAT_VOLUME = 1e-9
"""Of a part's area to the power 1.5: a cell with less is the rounding of a surface seen from both its sides."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Outlook:
    """outside: (f, 2) whether the front (where the normal points) and the back of each face look at the outside.
    part: (f,) the part, connected by edges, that each face belongs to. branching: (k,) sides at an edge of three
    or more. caps: (c, 3, 3) triangles that close the holes of flat regions, outward; an open part has none."""

    outside: Mask
    part: Index
    branching: Mask
    caps: Reals


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Caps:
    """sides: (s,) free sides round holes; hole: (s,) which; agree: (s,) whether the side's face looks the way the
    cap does. triangles: (s, 3, 3), the way the cap does."""

    sides: Index
    hole: Index
    agree: Mask
    triangles: Reals
    count: int


def look_out(surface: Surface) -> Outlook:
    """Which sides of the faces look at the outside. Raises InputError for a part whose own parts touch only at
    a point, so that its cells cannot be told apart."""
    measures = measure(surface)
    order, heads, counts = sides_by_edge(surface)
    caps = _caps(surface, measures, order[heads[counts == 1]])
    front, back = _joined_sides(surface, measures, order, heads, counts, caps)
    cap = 2 * surface.face_count + 2 * caps.hole
    face = surface.owner[caps.sides]
    a = np.concatenate([front, 2 * face, 2 * face + 1])
    b = np.concatenate([back, cap + ~caps.agree, cap + caps.agree])
    cell = components(2 * (surface.face_count + caps.count), a, b)

    first = np.repeat(order[heads], counts)
    part, part_count = numbered(components(surface.face_count, surface.owner[order], surface.owner[first]))
    outside = _unbounded(surface, measures, caps, cell, part, part_count)
    branching = np.zeros(len(order), dtype=bool)
    branching[order] = np.repeat(counts > 2, counts)
    turned = np.where(outside[cap][:, None, None], caps.triangles, caps.triangles[:, ::-1])
    faces = outside[: 2 * surface.face_count].reshape(-1, 2)
    closing = outside[cap] != outside[cap + 1]
    return Outlook(outside=faces, part=part, branching=branching, caps=turned[closing])


def inward_of_sides(surface: Surface, measures: FaceMeasures) -> Reals:
    """(k, 3) for every side the unit vector in its face, square to the side, to the inside of the face."""
    along = surface.points[surface.ends] - surface.points[surface.corners]
    inward = np.cross(measures.normals[surface.owner], along)
    return np.asarray(inward / np.maximum(np.linalg.norm(inward, axis=1), tolerance.TOUCH)[:, None])


def _joined_sides(
    surface: Surface, measures: FaceMeasures, order: Index, heads: Index, counts: Index, caps: _Caps
) -> tuple[Index, Index]:
    """Pairs of face sides (2 f the front, 2 f + 1 the back) that look at each other at an edge."""
    corners, ends = surface.corners[order], surface.ends[order]
    ahead = corners < ends
    axis = surface.points[np.maximum(corners, ends)] - surface.points[np.minimum(corners, ends)]
    axis /= np.linalg.norm(axis, axis=1)[:, None]
    inward = inward_of_sides(surface, measures)[order]
    edge = np.repeat(np.arange(len(heads)), counts)
    zero = inward[heads][edge]
    around = np.arctan2(
        np.einsum("ij,ij->i", np.cross(axis, zero), inward), np.einsum("ij,ij->i", zero, inward))
    sorted_round = np.lexsort((np.arange(len(order)), np.round(around, 9), edge))
    following = next_in_rows(np.append(heads, len(order)))
    # Turning on about the axis one leaves a face by its front if its side runs along the axis.
    face, ahead = surface.owner[order][sorted_round], ahead[sorted_round]
    leaves, enters = 2 * face + ~ahead, 2 * face[following] + ahead[following]
    capped = np.isin(order[sorted_round], caps.sides)
    return leaves[~capped], enters[~capped]


def _caps(surface: Surface, measures: FaceMeasures, free: Index) -> _Caps:
    """The holes of flat regions: free edges in a closed ring, all in one plane, whose faces lie in it, outside
    the ring."""
    start, end = surface.corners[free], surface.ends[free]
    uses = np.bincount(np.concatenate([start, end]), minlength=len(surface.points))
    ring, count = numbered(components(len(surface.points), start, end)[start])
    whole = np.ones(count, dtype=bool)
    whole[ring[uses[start] != 2]] = False
    whole[ring[uses[end] != 2]] = False
    size = np.maximum(np.bincount(ring, minlength=count), 1)
    a, b = surface.points[start], surface.points[end]
    middle = np.stack([np.bincount(ring, weights=a[:, i] + b[:, i], minlength=count) for i in range(3)], axis=1)
    middle = middle / (2.0 * size[:, None])
    normals = measures.normals[surface.owner[free]]
    _, first = np.unique(ring, return_index=True)
    agree = np.einsum("ij,ij->i", normals, normals[first][ring]) > 0
    # seen from where the first face looks, a face's side runs backwards round a hole
    closing = np.where(agree[:, None, None], np.stack([middle[ring], b, a], axis=1),
                       np.stack([middle[ring], a, b], axis=1))
    vectors = np.cross(closing[:, 1] - closing[:, 0], closing[:, 2] - closing[:, 0])
    total = np.stack([np.bincount(ring, weights=vectors[:, i], minlength=count) for i in range(3)], axis=1)
    unit = total / np.maximum(np.linalg.norm(total, axis=1), tolerance.NO_AREA)[:, None]
    lean = np.where(agree, 1.0, -1.0) * np.einsum("ij,ij->i", normals, unit[ring])
    height = np.abs(np.einsum("ij,ij->i", a - middle[ring], unit[ring]))
    whole[ring[(lean < np.cos(np.radians(tolerance.NOISY_ANGLE))) | (height > tolerance.FLAT)]] = False
    kept = whole[ring]
    hole, hole_count = numbered(ring[kept])
    return _Caps(sides=free[kept], hole=hole, agree=agree[kept], triangles=closing[kept], count=hole_count)


def _unbounded(
    surface: Surface, measures: FaceMeasures, caps: _Caps, cell: Index, part: Index, part_count: int
) -> Mask:
    """Which face sides (and then cap sides) bound the outside: of the cells of each part the one whose surface,
    seen from it, encloses a volume; seen from any other it is inside out. An open part has no other."""
    weight = np.bincount(part, weights=measures.areas, minlength=part_count)
    middle = np.stack([np.bincount(part, weights=measures.areas * measures.centroids[:, i], minlength=part_count)
                       for i in range(3)], axis=1) / weight[:, None]
    face_volume = np.einsum("ij,ij->i", measures.centroids - middle[part], measures.normals) * measures.areas / 3.0
    cap_part = np.zeros(caps.count, dtype=np.int64)
    cap_part[caps.hole] = part[surface.owner[caps.sides]]
    spread_out = caps.triangles - middle[cap_part[caps.hole]][:, None]
    cones = np.einsum("ij,ij->i", spread_out[:, 0], np.cross(spread_out[:, 1], spread_out[:, 2])) / 6.0
    cap_volume = np.bincount(caps.hole, weights=cones, minlength=caps.count)
    volumes = np.concatenate([face_volume, cap_volume])
    both = np.stack([volumes, -volumes], axis=1).reshape(-1)
    owner = np.repeat(np.concatenate([part, cap_part]), 2)
    cells, cell_count = numbered(cell)
    cell_part = np.zeros(cell_count, dtype=np.int64)
    cell_part[cells] = owner
    volume = np.bincount(cells, weights=both, minlength=cell_count)
    wide = volume > _FLAT_VOLUME * weight[cell_part] ** 1.5
    torn = np.flatnonzero(np.bincount(cell_part[wide], minlength=part_count) > 1)
    if len(torn):
        faces = np.sort(surface.sources[np.isin(part, torn)])
        raise InputError(
            f"{listed('Face', faces)}: parts of this surface touch only at a point, so that inside and outside "
            "cannot be told", do="Join them along an edge or move them apart.", faces=faces)
    closed = np.bincount(cell_part[wide], minlength=part_count) > 0
    return np.asarray((wide | ~closed[cell_part])[cells])
