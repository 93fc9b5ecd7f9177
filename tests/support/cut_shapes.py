"""Envelopes that ask much of an outline: random hulls, noisy meshes, boxes made one, shells in one mesh, crates of
inner plates, blocks with a triangle missing. Each from a seed: a mesh and choices."""

from __future__ import annotations

import itertools

import numpy as np
from baffled import random_baffled, with_inner
from drawn_meshes import box, faces_of, freehand_box, together
from manifold3d import Manifold
from scipy.spatial import ConvexHull

from tackwright.core.envelope.mesh import Mesh
from tackwright.core.terms.choices import Choices, Settings

CORNERS = ("open", "half-open", "closed")
SIDES = ("inside", "outside", "centred")


def random_settings(random: np.random.Generator, **more) -> Settings:
    return Settings(**{
        "corner": str(random.choice(CORNERS)), "metal_side": str(random.choice(SIDES)), "sealed": True,
        "thickness": float(random.choice([1.5, 3.0, 6.0])), "root_gap": float(random.choice([0.0, 0.0, 0.8]))} | more)


def random_hull(seed: int):
    """Points on a sphere drawn out along its axes: facets that meet at any angle."""
    random = np.random.default_rng(seed)
    points = random.normal(size=(int(random.integers(7, 20)), 3))
    points *= np.array([180.0, 150.0, 120.0]) / np.linalg.norm(points, axis=1)[:, None]
    return _hull(points), Choices(settings=random_settings(random))


def _hull(points: np.ndarray) -> Mesh:
    hull = ConvexHull(points)
    faces = []
    for corners, plane in zip(hull.simplices, hull.equations, strict=True):
        a, b, c = points[corners]
        faces.append([int(i) for i in (corners if np.cross(b - a, c - a) @ plane[:3] > 0 else corners[::-1])])
    return Mesh.of(points, faces, name="hull")


def jittered(seed: int):
    """A freehand box, or a union of boxes, with every point off by 0.02 mm."""
    random = np.random.default_rng(seed)
    if seed % 2:
        mesh = freehand_box(seed, count=int(random.integers(2, 10)), noise=0.02)
    else:
        mesh = boxes_made_one(seed)[0]
        mesh = Mesh.of(mesh.points + random.uniform(-0.02, 0.02, mesh.points.shape), faces_of(mesh), name="jittered")
    return mesh, Choices(settings=random_settings(random))


def boxes_made_one(seed: int):
    """Two to four boxes on a grid of 20 mm that overlap or touch, made one by a boolean: triangles."""
    random = np.random.default_rng(seed)
    whole = Manifold.cube((300, 240, 160))
    for _ in range(int(random.integers(1, 4))):
        size = 20.0 * random.integers(3, 9, size=3)
        at = 20.0 * random.integers(-3, 12, size=3)
        whole = whole + Manifold.cube(tuple(size)).translate(tuple(at))
    whole = max(whole.decompose(), key=lambda part: part.volume())
    mesh = whole.to_mesh()
    return (Mesh.of(np.asarray(mesh.vert_properties[:, :3], dtype=float), np.asarray(mesh.tri_verts), name="boxes"),
            Choices(settings=random_settings(random)))


def two_shells(seed: int):
    """Two boxes in one mesh, apart or touching along a face, an edge or a corner."""
    random = np.random.default_rng(seed)
    gap = float(random.choice([0.0, 1.0, 40.0]))
    at = [(300.0 + gap, 0, 0), (300.0 + gap, 200.0, 0), (300.0 + gap, 30.0, 20.0), (0, 0, 100.0 + gap)][
        int(random.integers(4))]
    return together(box(), box(200.0, 160.0, 80.0, at=at)), Choices(settings=random_settings(random))


def crate(seed: int):
    """A box with two by two inner plates through each other, drawn a little short or long, some leaning."""
    random = np.random.default_rng(seed)
    w, d, h = random.uniform(200, 400), random.uniform(160, 300), random.uniform(100, 200)
    rings = []
    for share in (0.33, 0.67):
        off = random.uniform(-4, 4, size=4)
        lean = float(random.choice([0.0, 0.0, 15.0]))
        x, y = w * share, d * share
        rings.append([(x, off[0], off[2]), (x, d - off[1], off[2]), (x + lean, d - off[1], h - off[3]),
                      (x + lean, off[0], h - off[3])])
        rings.append([(off[1], y, off[3]), (w - off[0], y, off[3]), (w - off[0], y + lean, h - off[2]),
                      (off[1], y + lean, h - off[2])])
    settings = random_settings(
        random, slot_relief=float(random.choice([0.0, 0.4])), limber=float(random.choice([0.0, 12.0])),
        tab_short=float(random.choice([0.0, 0.5])))
    return with_inner(box(w, d, h), rings, settings)


def torn_block(seed: int):
    """A block with a triangle missing from one of its faces: at a corner, on an edge, or beside an edge."""
    random = np.random.default_rng(seed)
    mesh = box(*random.uniform((200, 150, 100), (320, 240, 180)))
    face = int(random.integers(6))
    faces = faces_of(mesh)
    ring = mesh.points[faces[face]]
    a, b, d = ring[0], ring[1], ring[3]
    u, v = b - a, d - a
    kind = int(random.integers(5))
    s, t = random.uniform(0.1, 0.4, size=2)
    turn = int(random.integers(4))
    # shares along two sides of the face from the corner
    triangle = [
        [(0, 0), (s, 0), (0, t)],                    # at a corner, along both edges
        [(0, 0), (s, 0.1 * t), (0.1 * s, t)],        # touching a corner only
        [(0.3, 0), (0.3 + s, 0), (0.4, t)],          # along an edge
        [(0.4, 0), (0.4 + s, t), (0.4 - s, t)],      # touching an edge with a point
        [(0.3, 0.5 * t), (0.3 + s, 0.5 * t), (0.4, 1.5 * t)],     # clear of everything, maybe narrowly
    ][kind]
    if kind == 4 and random.random() < 0.5:
        triangle = [(x, y * 0.02 + float(random.choice([0.001, 0.01, 0.02]))) for x, y in triangle]
    triangle = np.array(triangle)
    centre = np.array([0.5, 0.5])
    for _ in range(turn):
        triangle = (triangle - centre) @ np.array([[0, 1], [-1, 0]]) + centre
    points = a + triangle[:, :1] * u + triangle[:, 1:] * v
    return _with_gap(mesh, face, points, triangle), Choices(settings=random_settings(random))


def _with_gap(mesh: Mesh, face: int, points: np.ndarray, shares: np.ndarray) -> Mesh:
    """The mesh with a triangle left out of one face: the rest of it as triangles."""
    import shapely

    faces = faces_of(mesh)
    ring = mesh.points[faces[face]]
    u, v = ring[1] - ring[0], ring[3] - ring[0]
    rest = shapely.difference(shapely.box(0, 0, 1, 1), shapely.Polygon(shares))
    flat = shapely.constrained_delaunay_triangles(rest)
    triangles = []
    extra: list[np.ndarray] = []
    for part in shapely.get_parts(flat):
        corners = np.asarray(part.exterior.coords)[:-1]
        if not shapely.Polygon(corners).exterior.is_ccw:
            corners = corners[::-1]
        triangles.append([len(mesh.points) + len(extra) + i for i in range(3)])
        extra += [ring[0] + x * u + y * v for x, y in corners]
    kept = [f for i, f in enumerate(faces) if i != face]
    return Mesh.of(np.concatenate([mesh.points, extra]), [*kept, *triangles], name="torn block")


def baffled(seed: int):
    return random_baffled(seed)


KINDS = {
    "hull": random_hull, "jittered": jittered, "boxes": boxes_made_one, "shells": two_shells, "crate": crate,
    "torn": torn_block, "baffled": baffled,
}


def drawn(kind: str, seed: int) -> tuple[Mesh, Choices]:
    return KINDS[kind](seed)


def some(kinds, count: int):
    return list(itertools.product(kinds, range(count)))
