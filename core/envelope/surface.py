"""The drawn surface after mending: welded points, and faces that remember which mesh face they were.

A *side* is one face's run along one of its edges: side i starts at corner i of the flat corner list and
ends at the next corner of the same face. Two sides that join the same points are mates.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ..shapes.connectivity import next_in_rows, spread
from ..terms.places import place

__all__ = ["FaceMeasures", "Surface", "measure"]

Index = NDArray[np.int64]
Reals = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Surface:
    """points: (n, 3) mm, near the origin; origin: (3,) moves them back. corners: (k,) point
    indices of all faces one after another. starts: (f + 1,) where each face begins among them.
    sources: (f,) the face of the given mesh. drawn: (k, 2) sorted pair of point indices of the given mesh
    that each side was drawn between."""

    points: Reals
    origin: Reals
    corners: Index
    starts: Index
    sources: Index
    drawn: Index

    @property
    def face_count(self) -> int:
        return len(self.sources)

    @property
    def counts(self) -> Index:
        """(f,) corners of each face."""
        return np.diff(self.starts)

    @property
    def owner(self) -> Index:
        """(k,) the face of each side."""
        return np.repeat(np.arange(self.face_count), self.counts)

    @property
    def following(self) -> Index:
        """(k,) the next side round the same face."""
        return next_in_rows(self.starts)

    @property
    def ends(self) -> Index:
        """(k,) the point at which each side ends."""
        return self.corners[self.following]

    @property
    def edge_keys(self) -> Index:
        """(k,) a number for every pair of points with a side between them, the same whichever way it runs."""
        ends = self.ends
        return np.asarray(np.minimum(self.corners, ends) * len(self.points) + np.maximum(self.corners, ends))

    def where(self, point: int) -> str:
        """Where a point lies in the given mesh, in words."""
        return place(self.points[point] + self.origin)

    def only_sides(self, keep: NDArray[np.bool_]) -> Surface:
        """The surface without the sides not kept; each of those must start and end at one point."""
        counts = np.bincount(self.owner[keep], minlength=self.face_count)
        starts = np.concatenate([[0], np.cumsum(counts)])
        return replace(self, corners=self.corners[keep], drawn=self.drawn[keep], starts=starts)

    def only_faces(self, keep: NDArray[np.bool_]) -> Surface:
        """The surface without the faces not kept; points stay."""
        return self.in_order(np.flatnonzero(keep))

    def in_order(self, faces: Index) -> Surface:
        """The given faces, in the given order."""
        sides, _ = spread(self.starts, faces)
        starts = np.concatenate([[0], np.cumsum(self.counts[faces])])
        return replace(
            self, corners=self.corners[sides], drawn=self.drawn[sides], starts=starts, sources=self.sources[faces]
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FaceMeasures:
    """areas: (f,) mm2. normals: (f, 3) unit, by the right hand round the corners. centroids: (f, 3).
    lengths: (f,) the longest side of each face."""

    areas: Reals
    normals: Reals
    centroids: Reals
    lengths: Reals


def measure(surface: Surface) -> FaceMeasures:
    """Area, direction and centroid of every face (three corners or more), by its fan of triangles."""
    first = surface.points[surface.corners[surface.starts[:-1]]]
    owner = surface.owner
    here = surface.points[surface.corners] - first[owner]
    there = surface.points[surface.ends] - first[owner]
    fans = 0.5 * np.cross(here, there)
    vectors = np.add.reduceat(fans, surface.starts[:-1], axis=0)
    areas = np.linalg.norm(vectors, axis=1)
    normals = vectors / np.where(areas > 0, areas, 1.0)[:, None]
    signed = np.einsum("ij,ij->i", fans, normals[owner])
    moments = np.add.reduceat(signed[:, None] * (here + there) / 3.0, surface.starts[:-1], axis=0)
    lengths = np.maximum.reduceat(np.linalg.norm(there - here, axis=1), surface.starts[:-1])
    centroids = first + moments / np.where(areas > 0, areas, 1.0)[:, None]
    return FaceMeasures(areas=areas, normals=normals, centroids=centroids, lengths=lengths)
