"""The Platonic and Archimedean solids, from coxeter, as envelopes; and what is published about them."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from coxeter.families import ArchimedeanFamily, PlatonicFamily

from tackwright.core.envelope.mesh import Mesh

SIZE = 300.0  # mm, the diameter of the sphere round a solid


@dataclass(frozen=True, slots=True)
class Published:
    """faces: count by number of corners. volume: for an edge of 1."""

    faces: dict[int, int]
    volume: float


_R2, _R5 = math.sqrt(2), math.sqrt(5)

PUBLISHED: dict[str, Published] = {
    # Coxeter, Regular Polytopes, table I
    "Tetrahedron": Published({3: 4}, _R2 / 12),
    "Cube": Published({4: 6}, 1.0),
    "Octahedron": Published({3: 8}, _R2 / 3),
    "Dodecahedron": Published({5: 12}, (15 + 7 * _R5) / 4),
    "Icosahedron": Published({3: 20}, 5 * (3 + _R5) / 12),
    # Williams, The Geometrical Foundation of Natural Structure, chapter 3 (from memory)
    "Truncated Tetrahedron": Published({3: 4, 6: 4}, 23 * _R2 / 12),
    "Cuboctahedron": Published({3: 8, 4: 6}, 5 * _R2 / 3),
    "Truncated Cube": Published({3: 8, 8: 6}, (21 + 14 * _R2) / 3),
    "Truncated Octahedron": Published({4: 6, 6: 8}, 8 * _R2),
    "Rhombicuboctahedron": Published({3: 8, 4: 18}, (12 + 10 * _R2) / 3),
    "Truncated Cuboctahedron": Published({4: 12, 6: 8, 8: 6}, 22 + 14 * _R2),
    "Snub Cuboctahedron": Published({3: 32, 4: 6}, 7.889477),
    "Icosidodecahedron": Published({3: 20, 5: 12}, (45 + 17 * _R5) / 6),
    "Truncated Dodecahedron": Published({3: 20, 10: 12}, 5 * (99 + 47 * _R5) / 12),
    "Truncated Icosahedron": Published({5: 12, 6: 20}, (125 + 43 * _R5) / 4),
    "Rhombicosidodecahedron": Published({3: 20, 4: 30, 5: 12}, (60 + 29 * _R5) / 3),
    "Truncated Icosidodecahedron": Published({4: 30, 6: 20, 10: 12}, 95 + 50 * _R5),
    "Snub Icosidodecahedron": Published({3: 80, 5: 12}, 37.616650),
}


def solid(name: str, size: float = SIZE) -> Mesh:
    """One of the solids PUBLISHED names, about the origin, `size` mm across its corners, faces outward."""
    family = PlatonicFamily if name in PlatonicFamily.names else ArchimedeanFamily
    shape = family.get_shape(name)
    points = np.asarray(shape.vertices) - np.mean(shape.vertices, axis=0)
    points *= size / 2 / np.linalg.norm(points, axis=1).mean()
    faces = []
    for face in shape.faces:
        corners = points[face]
        outward = np.cross(corners[1] - corners[0], corners[2] - corners[1]) @ corners.mean(axis=0) > 0
        faces.append([int(i) for i in (face if outward else face[::-1])])
    return Mesh.of(points, faces, name=name.lower().replace(" ", "_"))


def edge_length(mesh: Mesh) -> float:
    """Length of the first face's first edge, mm: all are equal."""
    a, b = mesh.points[mesh.face(0)[:2]]
    return float(np.linalg.norm(a - b))
