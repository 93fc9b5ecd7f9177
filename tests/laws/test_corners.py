"""Corners in kit.json are where root lines meet: judged from the file, on hulls and unions of boxes."""

from __future__ import annotations

import json

import numpy as np
import pytest
import trimesh
from drawn_meshes import box, extruded
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.spatial import ConvexHull, HalfspaceIntersection
from strategies import blocks, numbers

from tackwright.core.envelope.mesh import Mesh
from tackwright.core.files.kit_json import kit_json
from tackwright.core.make_kit import make_kit
from tackwright.core.terms.choices import Choices, Settings, TabRule
from tackwright.core.terms.errors import InputError

TOGETHER = 2.0
"""Over the thickness: lines that end so near to a point meet there (as root_corners.py has it; own number)."""


def hull(seed, count, size=150.0):
    """A convex hull of random points on an ellipsoid, in triangles: the more points, the blunter."""
    random = np.random.default_rng(seed)
    points = random.normal(size=(count, 3))
    points *= np.array([1.0, 0.8, 0.7]) * size / np.linalg.norm(points, axis=1)[:, None]
    found, faces = ConvexHull(points), []
    for corners, plane in zip(found.simplices, found.equations, strict=True):
        a, b, c = points[corners]
        ahead = np.cross(b - a, c - a) @ plane[:3] > 0
        faces.append([int(i) for i in (corners if ahead else corners[::-1])])
    return Mesh.of(points, faces, name="hull")


def written(mesh, thickness, side="inside", corner="open"):
    """What kit.json says of a kit without tabs, and how thick the plates are."""
    chosen = Settings(thickness=thickness, metal_side=side, corner=corner, sealed=True, tabs=TabRule(on=False))
    try:
        return json.loads(kit_json(make_kit(mesh, Choices(settings=chosen))))
    except InputError:
        assume(False)


def lines_of(kit):
    return {joint["id"]: np.array(joint["line"]) for joint in kit["joints"]}


def away(point, line):
    """How far a point lies from a line, mm."""
    begin, end = line
    length = float((end - begin) @ (end - begin))
    share = np.clip((point - begin) @ (end - begin) / length, 0, 1) if length > 1e-12 else 0.0
    return float(np.linalg.norm(begin + share * (end - begin) - point))


def meets(kit, thickness):
    """Every corner's lines end at it, or pass it; and two of them at least."""
    lines = lines_of(kit)
    for corner in kit["corners"]:
        at = np.array(corner["at"])
        assert len(set(corner["joints"])) == len(corner["joints"]) >= 2, corner
        for joint in corner["joints"]:
            assert away(at, lines[joint]) <= TOGETHER * thickness + 1e-5, (corner, joint)
            ends = np.linalg.norm(lines[joint] - at, axis=1)
            assert ends.min() <= TOGETHER * thickness + 1e-5, (corner, joint)
        assert corner["void"] >= 0
    ids = [corner["id"] for corner in kit["corners"]]
    assert ids == [f"V{number:02d}" for number in range(1, len(ids) + 1)]


def adds_up(kit, mesh):
    """Metal, grooves and voids fill the space between the drawn faces and the inner ones."""
    triangles = [(f[0], f[i], f[i + 1]) for f in map(mesh.face, range(mesh.face_count)) for i in range(1, len(f) - 1)]
    shell = trimesh.Trimesh(mesh.points, triangles).volume - kit["envelopes"][0]["capacity"]
    metal = sum(plate["area"] * plate["thickness"] * plate["quantity"] for plate in kit["plates"])
    weld = sum(joint["groove"]["area"] * joint["length"] for joint in kit["joints"])
    weld += sum(corner["void"] for corner in kit["corners"])
    # corners of which some overlap more than they leave open are told as 0, and what was trimmed is cut with room
    assert metal + weld == pytest.approx(shell, abs=0.03 * weld)


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 10_000), st.integers(8, 44), numbers(100, 400), st.sampled_from([2.0, 6.0]))
def test_the_lines_of_a_corner_end_there(seed, count, size, thickness):
    mesh = hull(seed, count, size)
    kit = written(mesh, thickness)
    meets(kit, thickness)
    adds_up(kit, mesh)


@pytest.mark.parametrize(("seed", "count", "thickness"), [
    (104, 20, 6.0), (103, 18, 6.0), (112, 36, 6.0), (113, 38, 6.0), (108, 28, 6.0), (7, 44, 6.0),
])
def test_blunt_hulls_of_thick_metal(seed, count, thickness):
    """Their root lines end up to 65 mm from the drawn corners."""
    mesh = hull(seed, count)
    kit = written(mesh, thickness)
    meets(kit, thickness)
    adds_up(kit, mesh)


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 10_000), st.integers(6, 14), st.sampled_from(["inside", "outside", "centred"]),
       st.sampled_from(["open", "half-open", "closed"]))
def test_where_three_planes_meet_the_corner_is_that_point(seed, count, side, corner):
    """A body of random half-spaces: qhull finds the corners of its inner skin."""
    random = np.random.default_rng(seed)
    normals = random.normal(size=(count, 3))
    normals /= np.linalg.norm(normals, axis=1)[:, None]
    planes = np.column_stack([np.vstack([normals, np.eye(3), -np.eye(3)]), np.full(count + 6, -100.0)])
    points = HalfspaceIntersection(planes, np.zeros(3)).intersections
    faces = []
    for plane in planes:
        on = np.flatnonzero(np.abs(points @ plane[:3] + plane[3]) < 1e-6)
        if len(on) >= 3:
            across = np.linalg.svd(plane[None, :3])[2][1:]
            across = across if np.cross(*across) @ plane[:3] > 0 else across[::-1]
            flat = (points[on] - points[on].mean(axis=0)) @ across.T
            faces.append(on[np.argsort(np.arctan2(flat[:, 1], flat[:, 0]))].tolist())
    mesh = Mesh.of(points, faces, name="body")
    kit = written(mesh, 3.0, side, corner)
    meets(kit, 3.0)
    depth = {"inside": 3.0, "centred": 1.5, "outside": 0.0}[side]
    inner = HalfspaceIntersection(planes + np.array([0, 0, 0, depth]), np.zeros(3)).intersections
    assume(len(inner) == len(points) == len(kit["corners"]))         # else one edge or other is swallowed
    at = np.array([c["at"] for c in kit["corners"]])
    off = np.linalg.norm(at[:, None] - inner[None], axis=2).min(axis=1)
    assume(min(j["length"] for j in kit["joints"]) > 1.0)
    assert off.max() < 1e-4
    assert all(len(c["joints"]) == 3 for c in kit["corners"])


@settings(max_examples=15, deadline=None)
@given(blocks(), st.sampled_from(["inside", "outside"]), st.sampled_from([1.5, 3.0]))
def test_unions_of_boxes(drawn, side, thickness):
    kit = written(drawn[0], thickness, side)
    meets(kit, thickness)
    assert kit["corners"]


@pytest.mark.parametrize("side", ["inside", "outside"])
def test_a_box_has_eight_corners_of_three_joints(side):
    kit = written(box(), 3.0, side)
    depth = 3.0 if side == "inside" else 0.0
    wanted = sorted((x, y, z) for x in (depth, 300 - depth) for y in (depth, 200 - depth) for z in (depth, 100 - depth))
    assert sorted(tuple(c["at"]) for c in kit["corners"]) == [pytest.approx(place) for place in wanted]
    assert all(len(c["joints"]) == 3 for c in kit["corners"])
    if side == "outside":
        adds_up_outside = sum(c["void"] for c in kit["corners"])
        assert adds_up_outside == pytest.approx(8 * 3.0**3)


def test_a_short_edge_that_the_metal_swallows_joins_two_corners():
    """A ridge of 4 mm under 6 mm of metal: the four long lines meet where the ridge would be."""
    mesh = Mesh.of(
        [(-40, -100, 0), (40, -100, 0), (40, 100, 0), (-40, 100, 0), (-2, 0, 90), (2, 0, 90)],
        [(0, 3, 2, 1), (0, 1, 5, 4), (2, 3, 4, 5), (1, 2, 5), (3, 0, 4)], name="roof")
    kit = written(mesh, 6.0)
    meets(kit, 6.0)
    adds_up(kit, mesh)
    gone = [j["id"] for j in kit["joints"] if j["length"] == 0.0]
    assert len(gone) == 1 and len(kit["corners"]) < 6
    lines = lines_of(kit)
    assert np.ptp(lines[gone[0]], axis=0) == pytest.approx(0.0)
    top = [c for c in kit["corners"] if c["at"][2] > 50]
    reaching = {joint for joint, line in lines.items() if line[:, 2].max() > 50}
    assert {joint for corner in top for joint in corner["joints"]} >= reaching - set(gone)


def test_a_prism_with_a_hollow_keeps_its_corners():
    kit = written(extruded([(0, 0), (300, 0), (300, 120), (120, 120), (120, 260), (0, 260)], 150), 3.0)
    meets(kit, 3.0)
    assert len(kit["corners"]) == 12
