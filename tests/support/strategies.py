"""Hypothesis strategies: envelopes, outlines and motions that are valid by construction. Lengths in mm.

Every face is a polygon seen counter-clockwise from outside. The limits below keep a plate of 3 mm
buildable everywhere: what is drawn is never sharper or smaller than the named limits say.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from hypothesis import assume
from hypothesis import strategies as st
from manifold3d import Manifold, OpType
from scipy.spatial import HalfspaceIntersection

from tackwright.core.envelope.mesh import Mesh

SHORTEST = 20.0  # mm: the shortest edge of any envelope made here, near seven times a plate of 3 mm
SHARPEST = 25.0  # degrees: corners and dihedrals lie between this and 360 minus this
STRAIGHT = 4.0   # degrees: they are never nearer than this to 180, where an edge would be none


def numbers(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high, allow_nan=False, width=64)


@st.composite
def directions(draw) -> np.ndarray:
    """(3,) unit vectors, even over the sphere."""
    z, angle = draw(numbers(-1, 1)), draw(numbers(0, 2 * math.pi))
    across = math.sqrt(1 - z * z)
    return np.array([across * math.cos(angle), across * math.sin(angle), z])


@st.composite
def rigid_motions(draw, reach: float = 500.0) -> np.ndarray:
    """(4, 4) proper rotations with a translation of up to `reach` mm along each axis."""
    axis, angle = draw(directions()), draw(numbers(-math.pi, math.pi))
    cross = np.cross(np.eye(3), -axis)
    motion = np.eye(4)
    motion[:3, :3] = np.eye(3) + math.sin(angle) * cross + (1 - math.cos(angle)) * cross @ cross  # Rodrigues
    motion[:3, 3] = [draw(numbers(-reach, reach)) for _ in range(3)]
    return motion


@st.composite
def plane_motions(draw, reach: float = 500.0) -> np.ndarray:
    """(3, 3) proper motions of the plane."""
    angle = draw(numbers(-math.pi, math.pi))
    c, s = math.cos(angle), math.sin(angle)
    return np.array([[c, -s, draw(numbers(-reach, reach))], [s, c, draw(numbers(-reach, reach))], [0, 0, 1]])


def moved(mesh: Mesh, motion: np.ndarray) -> Mesh:
    """The mesh under a (4, 4) motion."""
    points = mesh.points @ motion[:3, :3].T + motion[:3, 3]
    return Mesh.of(points, [mesh.face(i) for i in range(mesh.face_count)], name=mesh.name)


def edge_angles(mesh: Mesh) -> dict[tuple[int, int], float]:
    """Dihedral angle through the inside, degrees, of every edge (a < b) of a closed mesh of flat faces."""
    normals, sides = [], {}
    for i in range(mesh.face_count):
        face = mesh.face(i)
        corners = mesh.points[face]
        normal = np.cross(corners - corners[0], np.roll(corners, -1, axis=0) - corners[0]).sum(axis=0)
        normals.append(normal / np.linalg.norm(normal))
        sides.update({(int(a), int(b)): i for a, b in zip(face, np.roll(face, -1), strict=True)})
    angles = {}
    for (a, b), face in sides.items():
        if a < b:
            along = mesh.points[b] - mesh.points[a]
            n, m = normals[face], normals[sides[b, a]]
            turn = math.atan2(np.cross(n, m) @ along / np.linalg.norm(along), n @ m)
            angles[a, b] = 180.0 - math.degrees(turn)
    return angles


def edge_lengths(mesh: Mesh) -> np.ndarray:
    """Length of every edge of a closed mesh, mm, twice: once for each face it borders."""
    faces = [mesh.points[mesh.face(i)] for i in range(mesh.face_count)]
    return np.concatenate([np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1) for corners in faces])


# Outlines and prisms -------------------------------------------------------------------------------------

_LOWEST = {3: 0.75, 4: 0.65}  # least radius over the greatest, by count of corners, so that no corner is a spike


def corner_angles(points: np.ndarray) -> np.ndarray:
    """(n,) inner angles, degrees, of a counter-clockwise polygon (n, 2)."""
    z = points @ np.array([1, 1j])
    return np.degrees(np.angle((np.roll(z, 1) - z) / (np.roll(z, -1) - z)) % (2 * math.pi))


@st.composite
def star_polygons(draw, corners: tuple[int, int] = (3, 10), radius: tuple[float, float] = (200.0, 400.0)) -> np.ndarray:
    """(n, 2) counter-clockwise polygons, often concave, whose every corner is seen from the origin.

    The shares of the full turn and the radii are bounded so that no corner is a spike and no edge short; a
    corner that comes out nearly straight is left out.
    """
    count = draw(st.integers(*corners))
    shares = np.array(draw(st.lists(numbers(0.7, 1.3), min_size=count, max_size=count)))
    reach = np.array(draw(st.lists(numbers(_LOWEST.get(count, 0.5), 1), min_size=count, max_size=count)))
    turns = np.cumsum(shares) / shares.sum() * 2 * math.pi
    points = np.column_stack([np.cos(turns), np.sin(turns)]) * (reach * draw(numbers(*radius)))[:, None]
    while True:
        bend = np.abs(corner_angles(points) - 180)
        if bend.min() >= 2 * STRAIGHT:  # a lean makes a dihedral straighter than the corner under it
            return points
        points = np.delete(points, int(bend.argmin()), axis=0)


def prism(outline: np.ndarray, height: float, scale: float = 1.0, name: str = "prism") -> Mesh:
    """A prism on a counter-clockwise outline (n, 2); its top is the outline scaled about the origin."""
    n = len(outline)
    floor = np.column_stack([outline, np.zeros(n)])
    top = np.column_stack([outline * scale, np.full(n, height)])
    sides = [(i, (i + 1) % n, n + (i + 1) % n, n + i) for i in range(n)]
    return Mesh.of(np.vstack([floor, top]), [tuple(range(n))[::-1], tuple(range(n, 2 * n)), *sides], name=name)


@st.composite
def prism_envelopes(draw, taper: bool = True) -> Mesh:
    """Prisms on outlines that are often concave; with `taper`, their walls may lean in or out by up to 35°."""
    outline = draw(star_polygons())
    height = draw(numbers(80, 400))
    if not taper or not draw(st.booleans()):
        return prism(outline, height)
    edges = np.roll(outline, -1, axis=0) - outline
    depth = np.abs(outline[:, 0] * edges[:, 1] - outline[:, 1] * edges[:, 0]) / np.linalg.norm(edges, axis=1)
    lean = math.radians(draw(numbers(-35, 35)))                # of the wall that leans the most
    scale = 1 - math.tan(lean) * height / depth.max()
    return prism(outline, height, min(max(scale, 0.65), 1.35), name="tapered prism")


@dataclass(frozen=True, slots=True)
class Wedge:
    """A prism with one edge of a chosen angle. angle: dihedral, degrees; edge: its two point indices."""

    mesh: Mesh
    angle: float
    edge: tuple[int, int]


@st.composite
def angle_wedges(draw, low: float = 20.0, high: float = 160.0) -> Wedge:
    """Prisms with one edge whose dihedral lies in low..high, within 20..160 (a wedge) or 200..340 (a notch)."""
    assert (20 <= low <= high <= 160) or (200 <= low <= high <= 340)
    angle = draw(numbers(low, high))
    arm, height = draw(numbers(150, 300)), draw(numbers(100, 400))
    half = math.radians(angle if angle < 180 else 360 - angle) / 2
    x, y = arm * math.sin(half), arm * math.cos(half)   # the arms go up from the edge, left and right
    if angle <= 90:
        outline = [(0, 0), (x, y), (-x, y)]
    elif angle < 180:                                   # a triangle would be too sharp at its other corners
        up = y + draw(numbers(80, 200))
        outline = [(0, 0), (x, y), (x, up), (-x, up), (-x, y)]
    else:
        land, depth = draw(numbers(60, 150)), draw(numbers(60, 150))
        outline = [(0, 0), (-x, y), (-x - land, y), (-x - land, -depth), (x + land, -depth), (x + land, y), (x, y)]
    mesh = prism(np.array(outline, dtype=float), height, name=f"wedge of {angle:.6g} degrees")
    return Wedge(mesh, angle, (0, len(outline)))


# Convex envelopes ----------------------------------------------------------------------------------------


def convex_mesh(planes: np.ndarray, name: str = "convex") -> Mesh:
    """The solid n . x <= d of planes (k, 4), rows (n, d), n unit vectors, d > 0, as flat faces of many corners."""
    raw = HalfspaceIntersection(planes * [1, 1, 1, -1], np.zeros(3)).intersections
    near = np.linalg.norm(raw[:, None] - raw[None], axis=2) < 1e-6
    points = raw[np.unique(near.argmax(axis=1))]          # the first of each bundle of equal points
    on = np.abs(points @ planes[:, :3].T - planes[:, 3]) < 1e-5
    faces = []
    for normal, corners in zip(planes[:, :3], (np.flatnonzero(column) for column in on.T), strict=True):
        if len(corners) < 3:
            continue                                      # a plane that cuts nothing off
        across = np.cross(normal, np.eye(3)[np.abs(normal).argmin()])
        arms = points[corners] - points[corners].mean(axis=0)
        turn = np.arctan2(arms @ np.cross(normal, across), arms @ across)
        faces.append(corners[np.argsort(turn)])
    return Mesh.of(points, faces, name=name)


def _buildable(mesh: Mesh) -> bool:
    if edge_lengths(mesh).min() < SHORTEST:
        return False
    angles = edge_angles(mesh).values()
    return min(angles) >= SHARPEST and max(angles) <= 180 - STRAIGHT


@st.composite
def convex_envelopes(draw, cuts: int = 12) -> Mesh:
    """A box, or eight tangent planes of a sphere of radius 150, with up to `cuts` random plane cuts.

    A cut that would leave a short edge or a sharp dihedral is not made, so every draw gives an envelope.
    """
    if draw(st.booleans()):
        halves = [draw(numbers(60, 250)) for _ in range(6)]
        planes = np.column_stack([np.vstack([np.eye(3), -np.eye(3)]), halves])
    else:
        signs = np.array([(x, y, z) for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)]) / math.sqrt(3)
        planes = np.column_stack([signs, np.full(8, 150.0)])
    mesh = convex_mesh(planes)
    for _ in range(draw(st.integers(0, cuts))):
        normal = draw(directions())
        depth = draw(numbers(0.5, 0.95)) * (mesh.points @ normal).max()
        more = np.vstack([planes, [*normal, depth]])
        cut = convex_mesh(more)
        if _buildable(cut):
            planes, mesh = more, cut
    return mesh


def envelopes() -> st.SearchStrategy[Mesh]:
    """Any of the envelopes above."""
    wedges = st.one_of(angle_wedges(), angle_wedges(200, 340)).map(lambda wedge: wedge.mesh)
    return st.one_of(convex_envelopes(), prism_envelopes(), wedges)


@st.composite
def blocks(draw) -> tuple[Mesh, float]:
    """A mesh and its volume."""
    size, place = st.sampled_from([60, 120, 180]), st.sampled_from([0, 60, 120])
    parts = [Manifold.cube([draw(size) for _ in range(3)]).translate([draw(place) for _ in range(3)])
             for _ in range(draw(st.integers(1, 4)))]
    solid = Manifold.batch_boolean(parts, OpType.Add)
    if draw(st.booleans()):
        solid -= Manifold.cube([60, 60, 500]).translate([draw(st.sampled_from([30, 75])), 30, -50])
    if draw(st.booleans()):
        normal = np.array([draw(st.floats(-0.6, 0.6)), draw(st.floats(-0.6, 0.6)), 1.0])
        normal /= np.linalg.norm(normal)
        middle = np.array(solid.bounding_box()).reshape(2, 3).mean(axis=0)
        solid = solid.trim_by_plane((-normal).tolist(), float(-(normal @ middle) - draw(st.floats(30, 60))))
    assume(solid.num_tri() > 0 and len(solid.decompose()) == 1)
    mesh = solid.to_mesh64()
    return Mesh.of(np.asarray(mesh.vert_properties)[:, :3], np.asarray(mesh.tri_verts), name="blocks"), solid.volume()
