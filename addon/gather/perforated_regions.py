"""Faces that carry one perforation, put together: a panel of several faces is perforated once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ...core.envelope.mesh import Mesh
from ...core.shapes.connectivity import components, next_in_rows
from ...core.terms import tolerance
from ...core.terms.errors import InputError

__all__ = ["PerforatedRegion", "perforated_regions"]

Index = NDArray[np.int64]
Point = tuple[float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class PerforatedRegion:
    """field: number of the perforation. face: the first of the region's faces. corners: round the region, mm,
    None where it is a whole panel."""

    field: int
    face: int
    corners: tuple[Point, ...] | None


def perforated_regions(mesh: Mesh, fields: Index, kinds: Index) -> list[PerforatedRegion]:
    """The regions of the mesh's faces, by field and then by face.

    fields: (f,) the number of each face's perforation, 0 for none; kinds: (f,) numbers that differ where two faces
    cannot be one panel, -1 for a face that is left out. Faces belong together that share an edge, a plane, a
    kind and a field. Raises InputError for a region that goes round faces without the perforation.
    """
    links = _flat_links(mesh, kinds)
    panels = components(mesh.face_count, *links.T)
    alike = links[fields[links[:, 0]] == fields[links[:, 1]]]
    regions = components(mesh.face_count, *alike.T)
    marked = np.flatnonzero((fields > 0) & (kinds >= 0))
    found = []
    for first in np.unique(regions[marked]).tolist():
        faces = np.flatnonzero(regions == first)
        whole = len(faces) == np.count_nonzero(panels == panels[first])
        corners = None if whole else _border(mesh, faces)
        found.append(PerforatedRegion(field=int(fields[first]), face=first, corners=corners))
    return sorted(found, key=lambda region: (region.field, region.face))


def _flat_links(mesh: Mesh, kinds: Index) -> Index:
    """(n, 2) pairs of faces of a kind that share an edge and look the same way, or the opposite one."""
    owner = np.repeat(np.arange(mesh.face_count), np.diff(mesh.starts))
    ends = mesh.corners[next_in_rows(mesh.starts)]
    edges = np.sort(np.column_stack([mesh.corners, ends]), axis=1)
    order = np.lexsort((owner, edges[:, 1], edges[:, 0]))
    pairs = []
    for apart in (1, 2, 3):  # up to four faces share an edge: the flat pair at a tee may not be neighbours here
        a, b = order[:-apart], order[apart:]
        shared = (edges[a] == edges[b]).all(axis=1)
        pairs.append(np.column_stack([owner[a], owner[b]])[shared])
    links = np.concatenate(pairs)
    links = links[(kinds[links[:, 0]] == kinds[links[:, 1]]) & (kinds[links[:, 0]] >= 0)]
    normals = _normals(mesh, owner, ends)
    a, b = normals[links[:, 0]], normals[links[:, 1]]
    off = np.linalg.norm(np.cross(a, b), axis=1)
    return links[off <= np.sin(np.radians(tolerance.FLAT_ANGLE))]


def _normals(mesh: Mesh, owner: Index, ends: Index) -> NDArray[np.float64]:
    """(f, 3) unit normals."""
    first = mesh.points[mesh.corners[mesh.starts[:-1]]][owner]
    fans = np.cross(mesh.points[mesh.corners] - first, mesh.points[ends] - first)
    normals = np.add.reduceat(fans, mesh.starts[:-1], axis=0)
    lengths = np.linalg.norm(normals, axis=1)
    return np.asarray(normals / np.where(lengths > 0, lengths, 1.0)[:, None])


def _border(mesh: Mesh, faces: Index) -> tuple[Point, ...]:
    """The corners round the faces, in order."""
    sides = [(int(a), int(b)) for f in faces for a, b in zip(mesh.face(f), np.roll(mesh.face(f), -1), strict=True)]
    within = set(sides)
    following: dict[int, list[int]] = {}
    for a, b in sides:
        if (b, a) not in within:
            following.setdefault(a, []).append(b)
    start = point = min(following, default=-1)
    loop = []
    while len(following.get(point, ())) == 1:
        loop.append(point)
        (point,) = following.pop(point)
    if following or point != start:
        raise InputError(
            "A perforation goes round faces that do not have it",
            do="Give it to those too, or to fewer faces at a time, or turn the faces to look the same way.",
            faces=faces,
        )
    return tuple((float(x), float(y), float(z)) for x, y, z in mesh.points[loop])
