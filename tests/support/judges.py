"""Outside judges of a kit: manifold3d on the placed solids, rebuilt from the files that the kit writes."""

import itertools

import numpy as np
import trimesh
from manifold3d import Manifold, OpType
from scipy.spatial import ConvexHull, HalfspaceIntersection
from written_solids import written_solids

from tackwright.core.envelope.mesh import Mesh
from tackwright.core.kit.kit import Kit


def placed_solids(kit: Kit) -> dict[str, Manifold]:
    """Every placement's solid, by id, rebuilt from the files that the kit would write."""
    return written_solids(kit)


def worst_overlap(kit: Kit) -> float:
    """The largest volume, mm3, that any two placed solids share: all pairs, no broad phase."""
    solids = list(placed_solids(kit).values())
    boxes = np.array([s.bounding_box() for s in solids])
    worst = 0.0
    for i, j in itertools.combinations(range(len(solids)), 2):
        if (boxes[i, :3] <= boxes[j, 3:]).all() and (boxes[j, :3] <= boxes[i, 3:]).all():
            worst = max(worst, (solids[i] ^ solids[j]).volume())
    return worst


def cavities(kit: Kit, bead: float, fill: float = 0.0) -> list[float]:
    """Volumes, mm3, of the spaces that the plates close off from the outside, largest first, once a round bead
    of radius `bead` runs along every joint line and a drop of radius `fill` sits in every corner."""
    parts = list(placed_solids(kit).values())
    ball, drop = Manifold.sphere(bead, 12), Manifold.sphere(max(fill, 1e-3), 16)
    for joint in kit.joints:
        if joint.kind != "free":
            parts.append(Manifold.batch_hull([ball.translate(joint.line[0]), ball.translate(joint.line[1])]))
    if fill > 0:
        parts += [drop.translate(corner.at) for corner in kit.corners]
    whole = Manifold.batch_boolean(parts, OpType.Add)
    # a closed-off space is a surface of its own, turned inside out
    return sorted((-s.volume() for s in whole.decompose() if s.volume() < 0), reverse=True)


def offset_volume(mesh: Mesh, depth: float) -> float:
    """Volume, mm3, of a convex mesh with every face moved in by `depth`: half-spaces met by qhull."""
    rows = []
    middle = mesh.points.mean(axis=0)
    for index in range(mesh.face_count):
        ring = mesh.points[mesh.face(index)]
        normal = sum(np.cross(ring[i] - ring[0], ring[i + 1] - ring[0]) for i in range(1, len(ring) - 1))
        normal = normal / np.linalg.norm(normal)
        rows.append([*normal, -(normal @ ring[0]) + depth])
    corners = HalfspaceIntersection(np.array(rows), middle).intersections
    return float(ConvexHull(corners).volume)


def mesh_volume(mesh: Mesh) -> float:
    """Volume, mm3, by trimesh, of a closed mesh of flat convex faces."""
    triangles = [(f[0], f[i], f[i + 1]) for f in map(mesh.face, range(mesh.face_count)) for i in range(1, len(f) - 1)]
    return float(trimesh.Trimesh(mesh.points, triangles).volume)
