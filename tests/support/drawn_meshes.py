"""Meshes as people draw them: boxes, prisms, freehand triangulations. Lengths in mm."""

from __future__ import annotations

import itertools

import numpy as np
from scipy.spatial import Delaunay

from tackwright.core.envelope.mesh import Mesh
from tackwright.core.terms.choices import Choices, Settings

THIN = Choices(settings=Settings(thickness=1.0))


def faces_of(mesh: Mesh) -> list[list[int]]:
    return [[int(i) for i in mesh.face(f)] for f in range(mesh.face_count)]


def box(a: float = 300.0, b: float = 200.0, c: float = 100.0, at=(0.0, 0.0, 0.0)) -> Mesh:
    """A box with one corner `at`, its faces in the order left, right, front, back, bottom, top."""
    points = np.array(list(itertools.product([0.0, a], [0.0, b], [0.0, c]))) + at
    return Mesh.of(
        points, [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)], name="box"
    )


def without(mesh: Mesh, *gone: int) -> Mesh:
    return Mesh.of(mesh.points, [f for i, f in enumerate(faces_of(mesh)) if i not in gone], name=mesh.name)


def together(*meshes: Mesh) -> Mesh:
    faces, offset = [], 0
    for mesh in meshes:
        faces += [[i + offset for i in face] for face in faces_of(mesh)]
        offset += len(mesh.points)
    return Mesh.of(np.concatenate([m.points for m in meshes]), faces, name="several")


def extruded(outline, height: float) -> Mesh:
    """A prism over a plane outline, counter-clockwise."""
    outline = np.asarray(outline, dtype=float)
    n = len(outline)
    low = np.column_stack([outline, np.zeros(n)])
    points = np.concatenate([low, low + np.array([0.0, 0.0, height])])
    sides = [(i, (i + 1) % n, (i + 1) % n + n, i + n) for i in range(n)]
    return Mesh.of(points, [tuple(range(n))[::-1], tuple(range(n, 2 * n)), *sides], name="prism")


def box_with_hole(triangles: bool = False) -> Mesh:
    """A box 300 x 200 x 100 with a hole 100 x 80 right through from bottom to top."""
    outer = [(0, 0), (300, 0), (300, 200), (0, 200)]
    inner = [(100, 60), (200, 60), (200, 140), (100, 140)]
    points = [(x, y, z) for z in (0, 100) for x, y in outer + inner]
    faces = []
    for i in range(4):
        j = (i + 1) % 4
        faces += [(8 + i, 8 + j, 12 + j, 12 + i), (j, i, 4 + i, 4 + j)]          # top and bottom frames
        faces += [(i, j, 8 + j, 8 + i), (4 + j, 4 + i, 12 + i, 12 + j)]          # walls outside and in the hole
    if triangles:
        faces = [t for a, b, c, d in faces for t in ((a, b, c), (a, c, d))]
    return Mesh.of(points, faces, name="frame")


def freehand_box(seed: int, count: int = 12, noise: float = 0.0) -> Mesh:
    """A box 300 x 200 x 100 whose six sides are triangulated over stray points, some of them along the
    edges, every point off by up to `noise` in each direction."""
    random = np.random.default_rng(seed)
    size = np.array([300.0, 200.0, 100.0])
    along = {axis: np.sort(random.uniform(10, size[axis] - 10, 3)) for axis in range(3)}
    points: list[tuple[float, ...]] = []
    faces = []
    for axis, high in itertools.product(range(3), (False, True)):
        u, v = (axis + 1) % 3, (axis + 2) % 3
        flat = [random.uniform((5, 5), (size[u] - 5, size[v] - 5)) for _ in range(count)]
        flat += [(a, b) for a in (0, size[u]) for b in (0, size[v])]
        flat += [(a, b) for a in along[u] for b in (0, size[v])] + [(a, b) for a in (0, size[u]) for b in along[v]]
        flat = np.array(flat)
        solid = np.empty((len(flat), 3))
        solid[:, u], solid[:, v], solid[:, axis] = flat[:, 0], flat[:, 1], size[axis] * high
        for triangle in Delaunay(flat).simplices:
            a, b, c = flat[triangle]
            area = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
            if abs(area) > 1e-6:
                faces.append([len(points) + int(i) for i in (triangle if (area > 0) == high else triangle[::-1])])
        points += [tuple(p) for p in solid]
    kept, where = np.unique(np.round(points, 6), axis=0, return_inverse=True)
    kept = kept + random.uniform(-noise, noise, kept.shape)
    return Mesh.of(kept, [[int(where[i]) for i in face] for face in faces], name="freehand")


def geodesic_sphere(rounds: int, radius: float) -> Mesh:
    """An icosahedron whose triangles are quartered `rounds` times and pushed out to the sphere."""
    g = (1 + 5**0.5) / 2
    points = np.array([(a, b * g, 0) for a in (-1, 1) for b in (-1, 1)])
    points = np.concatenate([np.roll(points, i, axis=1) for i in range(3)])
    gaps = np.linalg.norm(points[:, None] - points[None], axis=2)
    near = np.abs(gaps - 2) < 1e-9
    triples = [
        (a, b, c) for a, b, c in itertools.combinations(range(12), 3) if near[a, b] and near[b, c] and near[a, c]
    ]
    triangles = points[np.array(triples)]
    for _ in range(rounds):
        a, b, c = triangles.transpose(1, 0, 2)
        ab, bc, ca = (a + b) / 2, (b + c) / 2, (c + a) / 2
        triangles = np.concatenate([np.stack(t, axis=1) for t in ((a, ab, ca), (ab, b, bc), (ca, bc, c), (ab, bc, ca))])
    soup = triangles.reshape(-1, 3)
    soup = soup / np.linalg.norm(soup, axis=1)[:, None] * radius
    return Mesh.of(soup, np.arange(len(soup)).reshape(-1, 3), name="sphere")


def shuffled(mesh: Mesh, random: np.random.Generator) -> Mesh:
    """The same mesh with its faces and points in another order, and each face begun elsewhere."""
    to = random.permutation(len(mesh.points))
    points = np.empty_like(mesh.points)
    points[to] = mesh.points
    faces = faces_of(mesh)
    order = random.permutation(len(faces))
    turned = [list(np.roll(to[faces[i]], int(random.integers(9)))) for i in order]
    names = [mesh.face_names[i] for i in order] if mesh.face_names else ()
    return Mesh.of(points, turned, face_names=names, name=mesh.name)
