"""From a mesh as drawn to a surface fit for reading: checked, moved near the origin, welded, cleaned.

What can be mended without changing the shape is mended, with a note; what cannot be read is refused.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ..shapes.boxes import overlapping_boxes
from ..shapes.connectivity import components, rows_from_lowest, spread
from ..terms import tolerance
from ..terms.errors import InputError
from ..terms.findings import Finding
from ..terms.messages import Length
from ..terms.places import listed, point_at
from .drawing_remedies import delete_faces
from .mesh import Mesh
from .surface import Surface, measure

__all__ = ["Mended", "broken_at_points", "check_mesh", "mend", "weld_points"]

Index = NDArray[np.int64]
Reals = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Mended:
    """The surface, and what was done to it."""

    surface: Surface
    notes: tuple[Finding, ...]


def check_mesh(mesh: Mesh) -> None:
    """Refuse a mesh that is empty, points nowhere or has coordinates that are no numbers (InputError)."""
    if mesh.face_count == 0 or len(mesh.corners) == 0:
        raise InputError(f"The mesh '{mesh.name}' has no faces", do="Draw the faces where metal shall be.")
    owner = np.repeat(np.arange(mesh.face_count), np.diff(mesh.starts))
    astray = np.unique(owner[(mesh.corners < 0) | (mesh.corners >= len(mesh.points))])
    if len(astray):
        raise InputError(
            f"{listed('Face', astray)} point at points that do not exist: the mesh has {len(mesh.points)}", faces=astray
        )
    unreal = np.flatnonzero(~np.isfinite(mesh.points).all(axis=1))
    if len(unreal):
        faces = np.unique(owner[np.isin(mesh.corners, unreal)])
        raise InputError(
            f"Coordinates that are not finite numbers at {listed('point', unreal)}"
            + (f" of {listed('face', faces)}" if len(faces) else ""),
            do="Delete or move these points.",
            faces=faces,
        )
    if mesh.face_names and len(mesh.face_names) != mesh.face_count:
        raise InputError(f"The mesh has {mesh.face_count} faces but {len(mesh.face_names)} face names")


def mend(mesh: Mesh, left_out: NDArray[np.bool_]) -> Mended:
    """The mesh as a clean surface, in an order that only its geometry decides.

    left_out: (f,) faces to drop from the start. Points nearer than MERGE become one; repeated corners,
    faces without area and faces drawn twice go, and rims nearer than TEAR are closed, with a note; a free side that
    passes over a free point is broken there. Raises InputError where nothing remains. The mesh must have passed
    `check_mesh`.
    """
    used = mesh.points[np.unique(mesh.corners)]
    origin = np.round((used.min(axis=0) + used.max(axis=0)) / 2.0) + 0.0
    following = np.arange(1, len(mesh.corners) + 1)
    filled = np.diff(mesh.starts) > 0
    following[mesh.starts[1:][filled] - 1] = mesh.starts[:-1][filled]
    surface = Surface(
        points=mesh.points - origin,
        origin=origin,
        corners=mesh.corners,
        starts=mesh.starts,
        sources=np.arange(mesh.face_count),
        drawn=np.sort(np.stack([mesh.corners, mesh.corners[following]], axis=1), axis=1),
    ).only_faces(filled & ~left_out)
    notes: list[Finding] = []
    thin_from_the_start = mesh.face_count - int(filled.sum())
    surface = _weld(surface)
    surface, dropped = _without_thin_faces(surface)
    if thin_from_the_start or len(dropped):
        gone = np.sort(np.concatenate([np.flatnonzero(~filled), dropped]))
        notes.append(_note("face_without_area", f"{listed('Face', gone)} without area, not used", gone))
    surface, dropped = _without_doubles(surface)
    if len(dropped):
        notes.append(_note("face_twice", f"{listed('Face', dropped)} drawn twice, one of each used", dropped))
    surface, torn = _closed(surface)
    notes += torn
    if surface.face_count == 0:
        raise InputError(
            f"No face of '{mesh.name}' is left to read: all are left out or without area",
            faces=range(mesh.face_count),
        )
    return Mended(surface=_in_canonical_order(broken_at_points(surface)), notes=tuple(notes))


def weld_points(points: Reals) -> tuple[Index, Index]:
    """Points nearer than MERGE made one: the rows of those that stay (the first of them in geometric order, sorted
    by z, y, x), and for every point which of them it is."""
    # Rounded first, so that noise on a level row of points does not decide their order.
    rough = np.round(points, 2)
    order = np.lexsort((points[:, 0], points[:, 1], points[:, 2], rough[:, 0], rough[:, 1], rough[:, 2]))
    rank = np.empty_like(order)
    rank[order] = np.arange(len(order))
    a, b = _near_pairs(points[order], tolerance.MERGE)
    kept, where = np.unique(components(len(points), a, b), return_inverse=True)
    return order[kept], where.reshape(-1)[rank]


def _closed(surface: Surface) -> tuple[Surface, list[Finding]]:
    """The surface with points at its rims that are nearer than TEAR made one, and a note of it."""
    rims = np.unique(_rim(surface))
    a, b = _near_pairs(surface.points[rims], tolerance.TEAR)
    if not len(a):
        return surface, []
    apart = float(np.linalg.norm(surface.points[rims[a]] - surface.points[rims[b]], axis=1).max())
    near = np.isin(surface.corners, rims[np.concatenate([a, b])])
    faces = np.unique(surface.sources[surface.owner[near]])
    one = components(len(rims), a, b)
    first = np.full(len(rims), len(rims))
    np.minimum.at(first, one, np.arange(len(rims)))
    stays = np.arange(len(surface.points))
    stays[rims] = rims[first[one]]
    joined = replace(surface, corners=stays[surface.corners])
    joined = joined.only_sides(joined.corners != joined.ends)
    joined, _ = _without_thin_faces(_compact(joined))
    joined, _ = _without_doubles(joined)
    place = surface.points[rims[a[0]]] + surface.origin
    count = len(np.unique(one[np.concatenate([a, b])]))
    return joined, [Finding(
        rule="torn_mesh", level="note", faces=tuple(int(f) for f in faces), at=point_at(place),
        message=f"The mesh was torn at {count} {'place' if count == 1 else 'places'}, by {Length(apart):.2g} at most, "
        "and "
        "was closed there. Merge these points by distance to have the drawing so.")]


def _rim(surface: Surface) -> Index:
    """The points of every side that no other face has."""
    _, where, uses = np.unique(surface.edge_keys, return_inverse=True, return_counts=True)
    free = uses[where.reshape(-1)] == 1
    return np.concatenate([surface.corners[free], surface.ends[free]])


def _compact(surface: Surface) -> Surface:
    """The surface without the points that no face uses."""
    used, corners = np.unique(surface.corners, return_inverse=True)
    return replace(surface, points=surface.points[used], corners=corners.reshape(-1))


def _weld(surface: Surface) -> Surface:
    """The surface with its points welded and repeated corners dropped. Points no face uses are dropped too."""
    used, corners = np.unique(surface.corners, return_inverse=True)
    kept, where = weld_points(surface.points[used])
    welded = replace(surface, points=surface.points[used][kept], corners=where[corners.reshape(-1)])
    return welded.only_sides(welded.corners != welded.ends)


def _near_pairs(points: Reals, within: float) -> tuple[Index, Index]:
    """Pairs of points nearer than `within`; equal ones stand beside each other. A grid of such cells: each point
    meets those of its own cell and of the 26 around it, so that no pair is missed across a border between cells."""
    same = np.flatnonzero((np.diff(points, axis=0) == 0).all(axis=1))   # sorted, so equal ones are neighbours
    first = np.ones(len(points), dtype=bool)
    first[same + 1] = False
    alone = np.flatnonzero(first)
    cells = np.floor(points[alone] / within).astype(np.int64)
    mix = np.array([73856093, 19349663, 83492791], dtype=np.int64)      # primes: a hash, checked by distance
    keys = cells @ mix
    order = np.argsort(keys, kind="stable")
    found = keys[order]
    steps = np.stack(np.meshgrid(*[[-1, 0, 1]] * 3, indexing="ij"), axis=-1).reshape(-1, 3)
    wanted = (keys + (steps[13:] @ mix)[:, None]).ravel()               # half of them; the others mirror these
    low, high = (np.searchsorted(found, wanted, side) for side in ("left", "right"))
    row = np.repeat(np.arange(len(wanted)), high - low)
    offset = np.arange(len(row)) - np.repeat(np.cumsum(high - low) - (high - low), high - low)
    here, there = row % len(alone), order[low[row] + offset]
    near = np.linalg.norm(points[alone[here]] - points[alone[there]], axis=1) < within
    near &= here != there
    return np.concatenate([same, alone[here[near]]]), np.concatenate([same + 1, alone[there[near]]])


def _without_thin_faces(surface: Surface) -> tuple[Surface, Index]:
    """Faces with area only, and the mesh faces that went."""
    enough = surface.counts >= 3
    thin = [surface.sources[~enough]]
    surface = surface.only_faces(enough)
    if surface.face_count:
        solid = measure(surface).areas >= tolerance.NO_AREA
        thin.append(surface.sources[~solid])
        surface = surface.only_faces(solid)
    return surface, np.concatenate(thin)


def _without_doubles(surface: Surface) -> tuple[Surface, Index]:
    """One of each set of faces over the same points, and the mesh faces that went."""
    extra = np.zeros(surface.face_count, dtype=bool)
    for count in np.unique(surface.counts):
        faces = np.flatnonzero(surface.counts == count)
        rows = np.sort(surface.corners[surface.starts[faces][:, None] + np.arange(count)], axis=1)
        order = np.lexsort((surface.sources[faces], *rows.T[::-1]))
        again = np.concatenate([[False], (np.diff(rows[order], axis=0) == 0).all(axis=1)])
        extra[faces[order[again]]] = True
    return surface.only_faces(~extra), np.sort(surface.sources[extra])


def broken_at_points(surface: Surface, every_side: bool = False) -> Surface:
    """Free sides broken at the free points that lie on them (a wide face beside two narrow ones).

    every_side: break the others too, as where a wide face and a baffle share a side that two narrow faces end
    on; but not at the points of a face with that same side, which is a sliver.
    """
    ends, keys = surface.ends, surface.edge_keys
    _, where, uses = np.unique(keys, return_inverse=True, return_counts=True)
    free = np.flatnonzero(uses[where.reshape(-1)] == 1)
    if len(free) == 0:
        return surface
    loose = np.unique(np.concatenate([surface.corners[free], ends[free]]))
    if every_side:
        here, there, rim = surface.points[surface.corners], surface.points[ends], surface.points[loose]
        low, high = rim.min(axis=0) - tolerance.STRAIGHT, rim.max(axis=0) + tolerance.STRAIGHT
        free = np.flatnonzero(np.all((np.minimum(here, there) <= high) & (np.maximum(here, there) >= low), axis=1))
    start, stop = surface.points[surface.corners[free]], surface.points[ends[free]]
    boxes_low = np.concatenate([np.minimum(start, stop), surface.points[loose]]) - tolerance.STRAIGHT
    boxes_high = np.concatenate([np.maximum(start, stop), surface.points[loose]]) + tolerance.STRAIGHT
    pairs = overlapping_boxes(boxes_low, boxes_high)
    pairs = pairs[(pairs[:, 0] < len(free)) & (pairs[:, 1] >= len(free))]
    side, point = free[pairs[:, 0]], loose[pairs[:, 1] - len(free)]
    origin = surface.points[surface.corners[side]]
    along = surface.points[ends[side]] - origin
    length = np.linalg.norm(along, axis=1)
    offset = surface.points[point] - origin
    at = np.einsum("ij,ij->i", offset, along) / length
    off = np.linalg.norm(offset - along * (at / length)[:, None], axis=1)
    hit = (off < tolerance.STRAIGHT) & (at > tolerance.STRAIGHT) & (at < length - tolerance.STRAIGHT)
    side, point, at = side[hit], point[hit], at[hit]
    # one row for each hit and each face with that side
    by_key = np.argsort(keys, kind="stable")
    low, high = (np.searchsorted(keys[by_key], keys[side], way) for way in ("left", "right"))
    hits = np.repeat(np.arange(len(side)), high - low)
    sharing = np.arange(len(hits)) + np.repeat(high - np.cumsum(high - low), high - low)
    corners, rows = spread(surface.starts, surface.owner[by_key[sharing]])
    own = np.zeros(len(side), dtype=bool)
    np.logical_or.at(own, hits[rows], surface.corners[corners] == point[hits[rows]])
    order = np.lexsort((at, side))[~own[np.lexsort((at, side))]]
    side, point = side[order], point[order]
    counts = surface.counts + np.bincount(surface.owner[side], minlength=surface.face_count)
    return replace(
        surface,
        corners=np.insert(surface.corners, side + 1, point),
        drawn=np.insert(surface.drawn, side + 1, surface.drawn[side], axis=0),
        starts=np.concatenate([[0], np.cumsum(counts)]),
    )


def _in_canonical_order(surface: Surface) -> Surface:
    """Each face begun at its lowest point and the faces sorted by their points: from here on nothing
    depends on the order in which the mesh listed them."""
    sides = rows_from_lowest(surface.corners, surface.starts)
    turned = replace(surface, corners=surface.corners[sides], drawn=surface.drawn[sides])
    columns = [turned.corners[turned.starts[:-1] + i] for i in range(3)]
    return turned.in_order(np.lexsort((turned.counts, *columns[::-1])))


def _note(rule: str, message: str, faces: Index) -> Finding:
    return Finding(rule=rule, level="note", message=message + ".", faces=tuple(int(f) for f in faces),
                   remedy=delete_faces(faces))
