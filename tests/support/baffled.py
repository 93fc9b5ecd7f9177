"""Envelopes with plates drawn inside: freehand rectangles in boxes, random cuts through random hulls."""

from __future__ import annotations

import numpy as np
import shapely
from drawn_meshes import box, faces_of
from scipy.spatial import ConvexHull

from tackwright.core.envelope.mesh import Mesh
from tackwright.core.make_kit import make_kit
from tackwright.core.terms.choices import Choices, PanelChoice, Settings

QUIET = Settings(thickness=3.0, sealed=True)


def with_inner(mesh: Mesh, rings, settings: Settings = QUIET, names=None, **more):
    """The mesh with a face for every ring of points, each an inner plate, and the choices that say so."""
    faces, points = faces_of(mesh), [np.asarray(mesh.points)]
    walls, count = len(faces), len(mesh.points)
    for ring in rings:
        faces.append(list(range(count, count + len(ring))))
        points.append(np.asarray(ring, dtype=float))
        count += len(ring)
    own = [{"inner": True} for _ in rings]
    for row, name in enumerate(names or ()):
        own[row]["name"] = name
    chosen = {walls + row: PanelChoice(**values) for row, values in enumerate(own)}
    return Mesh.of(np.concatenate(points), faces, name=mesh.name), Choices(settings=settings, faces=chosen, **more)


def boxed(rings, settings: Settings = QUIET, size=(300.0, 200.0, 150.0), **more):
    """The kit of a box with plates inside."""
    mesh, choices = with_inner(box(*size), rings, settings, **more)
    return make_kit(mesh, choices)


def upright(x, y=(0.0, 200.0), z=(0.0, 150.0), lean=0.0):
    """A rectangle across the box at x, its upper side `lean` mm farther."""
    return [(x, y[0], z[0]), (x, y[1], z[0]), (x + lean, y[1], z[1]), (x + lean, y[0], z[1])]


def along(y, x=(0.0, 300.0), z=(0.0, 150.0)):
    return [(x[0], y, z[0]), (x[1], y, z[0]), (x[1], y, z[1]), (x[0], y, z[1])]


def shelf(z, x=(0.0, 300.0), y=(0.0, 200.0), drop=0.0):
    return [(x[0], y[0], z), (x[1], y[0], z - drop), (x[1], y[1], z - drop), (x[0], y[1], z)]


def inner_of(kit):
    """The distinct inner plates."""
    return [plate for plate in kit.plates if plate.role == "inner"]


def tees(kit):
    return [joint for joint in kit.joints if joint.kind == "tee"]


def rules(kit, level=None):
    return {f.rule for f in kit.checks if level is None or f.level == level}


def random_baffled(seed: int):
    """A random convex hull of flat facets with one to three planes through it, drawn too large or too small or
    with a side left free; every setting at random."""
    random = np.random.default_rng(seed)
    points = random.normal(size=(int(random.integers(6, 14)), 3))
    points *= np.array([150.0, 120.0, 105.0]) / np.linalg.norm(points, axis=1)[:, None]
    hull = ConvexHull(points)
    faces = []
    for corners, plane in zip(hull.simplices, hull.equations, strict=True):
        a, b, c = points[corners]
        outward = np.cross(b - a, c - a) @ plane[:3] > 0
        faces.append([int(i) for i in (corners if outward else corners[::-1])])
    used = sorted({i for face in faces for i in face})
    walls = Mesh.of(points[used], [[used.index(i) for i in face] for face in faces], name="hull")
    rings, metals = [], []
    for _ in range(int(random.integers(1, 4))):
        normal = random.normal(size=3)
        normal /= np.linalg.norm(normal)
        ring = _cut(hull.equations, normal, normal * random.uniform(-60.0, 60.0), random)
        if ring is not None:
            rings.append(ring)
            metals.append({"inner": True, "thickness": float(random.choice([2.0, 3.0, 5.0])),
                               "limber": float(random.choice([0.0, 10.0]))})
    settings = Settings(
        thickness=float(random.choice([2.0, 3.0, 4.0])), corner=str(random.choice(["open", "closed", "half-open"])),
        metal_side=str(random.choice(["inside", "outside", "centred"])), sealed=True,
        root_gap=float(random.choice([0.0, 0.0, 0.8])), tab_short=float(random.choice([0.0, 1.0])),
        slot_relief=float(random.choice([0.0, 0.4])),
    )
    mesh, choices = with_inner(walls, rings, settings)
    chosen = {walls.face_count + row: PanelChoice(**metal) for row, metal in enumerate(metals)}
    return mesh, Choices(settings=settings, faces=chosen)


def _cut(equations, normal, point, random):
    """The plane's section through the half-spaces, made larger or smaller; None where it is small."""
    u = np.cross(normal, [0.3, 0.5, 0.81])
    u /= np.linalg.norm(u)
    v = np.cross(normal, u)
    shape = shapely.box(-1e3, -1e3, 1e3, 1e3)
    for plane in equations:
        a, c = np.array([plane[:3] @ u, plane[:3] @ v]), plane[:3] @ point + plane[3]
        size = np.linalg.norm(a)
        if size > 1e-9:
            shape &= _half(-c * a / size**2, a / size)
    if shape.area < 3000.0:
        return None
    shape = shape.buffer(-random.uniform(-3.0, 9.0), join_style="mitre")
    if random.random() < 0.3:
        way = random.normal(size=2)
        shape &= _half(np.asarray(shape.centroid.coords[0]), way / np.linalg.norm(way))
    return [point + u * x + v * y for x, y in shape.exterior.coords[:-1]]


def _half(at, way):
    """The half plane against `way` from a point."""
    side = np.array([-way[1], way[0]])
    return shapely.Polygon([at - 2e3 * side, at + 2e3 * side, at + 2e3 * side - 4e3 * way, at - 2e3 * side - 4e3 * way])
