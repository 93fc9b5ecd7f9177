"""What is held against a scan: the drawn envelope, or plates, as triangles."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from ..envelope.crossings import triangles_of
from ..envelope.inner_faces import find_inner_faces
from ..envelope.mending import check_mesh, mend
from ..envelope.mesh import Mesh
from ..envelope.orientation import turn_outward
from ..envelope.topology import find_mates, sides_by_edge
from ..terms.choices import Choices
from ..terms.errors import TackwrightError

__all__ = ["Body", "body_of_mesh", "body_of_solids"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Body:
    """triangles: (t, 3, 3) mm. faces: (t,) the face, or the plate, that each belongs to, below face_count. shells: one
    run of triangles for each closed surface, wound outward: a point of the scan can be inside one."""

    triangles: Floats
    faces: Ints
    face_count: int
    shells: tuple[slice, ...]


def body_of_mesh(mesh: Mesh, choices: Choices | None = None) -> Body:
    """The walls of a drawing, which need not be flat. Faces are numbered as in the mesh; inner faces, which are in
    nobody's way, have no triangles. What is drawn open, or so that inside and outside cannot be told, has no shell.

    Raises InputError for a mesh without faces or with coordinates that are no numbers.
    """
    check_mesh(mesh)
    surface = mend(mesh, np.zeros(mesh.face_count, dtype=bool)).surface
    closed = False
    try:
        inner = find_inner_faces(mesh, choices or Choices(), surface)
        walls = surface.only_faces(~inner)
        closed = bool(np.all(sides_by_edge(walls)[2] == 2))
        if closed:
            walls, _, _ = turn_outward(walls, find_mates(walls))
    except TackwrightError:
        closed, walls = False, surface      # drawn halfway: its surface can still be measured
    corners, face = triangles_of(walls)
    triangles = walls.points[corners] + walls.origin
    return Body(triangles=triangles, faces=walls.sources[face], face_count=mesh.face_count,
                shells=(slice(0, len(triangles)),) if closed else ())


def body_of_solids(solids: Sequence[tuple[Floats, Ints]]) -> Body:
    """Closed solids, such as plates: (points (n, 3) mm, triangles (t, 3) wound outward) of each; a face is a solid."""
    parts = [points[triangles] for points, triangles in solids]
    ends = np.cumsum([0, *map(len, parts)])
    return Body(
        triangles=np.concatenate([np.empty((0, 3, 3)), *parts]),
        faces=np.repeat(np.arange(len(parts)), np.diff(ends)), face_count=len(parts),
        shells=tuple(slice(int(a), int(b)) for a, b in pairwise(ends)))
