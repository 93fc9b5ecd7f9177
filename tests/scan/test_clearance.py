"""Room between a body and a scan: against every pair of triangles, and closed forms."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import nnls
from scipy.spatial.transform import Rotation

from tackwright.core.envelope.mesh import Mesh
from tackwright.core.scan.clearance import clearance
from tackwright.core.scan.clearance_body import body_of_mesh, body_of_solids
from tackwright.core.scan.scan_index import index_scan
from tackwright.core.shapes.triangle_distance import nearest_on_triangles, triangle_distances
from tackwright.core.terms.errors import InputError

SIZE = np.array([200.0, 150.0, 120.0])


def box(size=SIZE, turn=None, at=(0, 0, 0)):
    solid = trimesh.creation.box(size)
    points = solid.vertices if turn is None else solid.vertices @ turn.T
    return Mesh.of(points + np.asarray(at), solid.faces, name="box")


def soup(seed, count=300, reach=300.0):
    """Triangles here and there."""
    rng = np.random.default_rng(seed)
    corners = rng.uniform(-reach, reach, (count, 1, 3)) + rng.normal(size=(count, 3, 3)) * 20
    return corners.reshape(-1, 3), np.arange(3 * count).reshape(-1, 3)


def nearest_by_search(one, other):
    """Distance of two triangles by least squares over weights of both's corners that are not negative (scipy's NNLS,
    which always ends) and each add up to 1 (a row that weighs as much as that takes)."""
    scale = 1e4
    rows = np.vstack([np.concatenate([one, -other]).T, scale * np.repeat(np.eye(2), 3, axis=1)])
    weights, _ = nnls(rows, np.array([0, 0, 0, scale, scale]))
    return np.linalg.norm(weights[:3] @ one - weights[3:] @ other)


def test_triangles_are_as_far_apart_as_a_search_finds():
    rng = np.random.default_rng(1)
    one, other = rng.normal(size=(150, 3, 3)), rng.normal(size=(150, 3, 3)) + 1.5 * rng.normal(size=(150, 1, 3))
    found, at_one, at_other = triangle_distances(one, other)
    judged = [nearest_by_search(a, b) for a, b in zip(one, other, strict=True)]
    assert found == pytest.approx(judged, abs=1e-5)
    assert np.linalg.norm(at_one - at_other, axis=1) == pytest.approx(found, abs=1e-12)


def test_triangles_without_area_count_as_what_they_are():
    point = np.array([[[0, 0, 3.0]] * 3])
    flat = np.array([[[-1, -1, 0], [4, -1, 0], [-1, 4, 0.0]]])
    line = np.array([[[0, 0, 1], [0, 0, 5], [0, 0, 1.0]]])
    assert triangle_distances(point, flat)[0] == pytest.approx([3.0])
    assert triangle_distances(line, flat)[0] == pytest.approx([1.0])
    assert triangle_distances(point, point + 2)[0] == pytest.approx([np.sqrt(12)])


@pytest.mark.parametrize("seed", range(6))
def test_every_face_has_the_room_that_all_pairs_have(seed):
    turn = Rotation.random(random_state=seed).as_matrix()
    points, triangles = soup(seed)
    body = body_of_mesh(box(turn=turn))
    found = clearance(body, index_scan(points, triangles), farthest=1000.0)
    pairs = (np.repeat(body.triangles, len(triangles), axis=0), np.tile(points[triangles], (len(body.triangles), 1, 1)))
    apart = triangle_distances(*pairs)[0].reshape(len(body.triangles), -1)
    # a box's closed form for what is inside: the least distance to a side
    depth = (SIZE / 2 - np.abs(points @ turn)).min(axis=1)
    inside = (depth > 0)[triangles].any(axis=1)
    assert found.collisions.tolist() == np.flatnonzero((apart <= 1e-6).any(axis=0) | inside).tolist()
    assert found.least == pytest.approx(-depth.max() if inside.any() else apart.min(), abs=1e-3)
    room = np.full(body.face_count, np.inf)
    np.minimum.at(room, body.faces, apart.min(axis=1))
    free = room > 1e-6
    clear = free & (found.room > 0)                          # others are reached only from inside
    assert found.room[clear] == pytest.approx(room[clear], abs=1e-3)
    assert (found.room[free] <= room[free] + 1e-3).all()
    middles = np.repeat(found.patches.mean(axis=1), len(body.triangles), axis=0)
    on, _ = nearest_on_triangles(middles, np.tile(body.triangles, (len(found.patches), 1, 1)))
    owner = body.faces[np.linalg.norm(middles - on, axis=1).reshape(len(found.patches), -1).argmin(axis=1)]
    of_patches = np.array([found.patch_room[owner == f].min() for f in range(body.face_count)])
    assert found.room[clear] == pytest.approx(np.abs(of_patches[clear]))
    assert (of_patches <= found.room + 1e-9).all()           # beyond the scan a patch has less than none


QUADS = [(0, 3, 2, 1), (4, 5, 6, 7), (0, 1, 5, 4), (1, 2, 6, 5), (2, 3, 7, 6), (3, 0, 4, 7)]
"""Bottom, top, front, right, back, left."""


def crate(size):
    """A box of six faces."""
    points = [(x, y, z) for z in (-0.5, 0.5) for x, y in ((-0.5, -0.5), (0.5, -0.5), (0.5, 0.5), (-0.5, 0.5))]
    return Mesh.of(np.array(points) * size, QUADS, name="crate")


def room_round_crate(**more):
    outer = crate((300, 260, 200))
    triangles = [(a, b, c) for q in QUADS for a, b, c in ((q[0], q[1], q[2]), (q[0], q[2], q[3]))]
    return clearance(body_of_mesh(crate(SIZE)), index_scan(outer.points, np.array(triangles)), **more)


def test_the_room_in_a_box_within_a_box_is_the_gap_between_them():
    found = room_round_crate()
    assert found.room == pytest.approx([40.0] * 6)           # every face has an edge at the top or bottom, or is one
    middles = found.patches.mean(axis=1)
    top = middles[:, 2] > 60 - 1e-6
    assert found.patch_room[top] == pytest.approx(40.0)
    right = (middles[:, 0] > 100 - 1e-6) & (np.abs(found.patches[:, :, 2]).max(axis=1) < 45)
    assert right.any() and found.patch_room[right] == pytest.approx(50.0)  # away from top and bottom by more
    assert len(found.collisions) == 0
    assert found.places[0].room == pytest.approx(40.0)
    assert np.linalg.norm(np.subtract(found.places[0].at, found.places[0].scan)) == pytest.approx(40.0)


def test_room_for_welding_is_taken_off_everywhere():
    bare, asked = (room_round_crate(weld_room=room) for room in (0.0, 45.0))
    assert asked.room == pytest.approx(bare.room - 45.0)
    assert asked.places[0].room == pytest.approx(-5.0)
    assert len(asked.collisions) == 0                        # too little room is no collision


def test_what_is_farther_than_asked_is_not_measured():
    found = room_round_crate(farthest=35.0)
    assert np.isinf(found.room).all() and np.isinf(found.least) and not found.places
    near = room_round_crate(farthest=45.0)
    assert near.least == pytest.approx(40.0)
    assert np.isinf(near.patch_room).any()                   # those in the middle of the sides


def test_tight_places_stand_apart():
    ball = trimesh.creation.icosphere(subdivisions=4, radius=20.0)
    points = np.concatenate([ball.vertices + at for at in ((150, 0, 0), (-155, 0, 0), (0, 0, 100))])
    triangles = np.concatenate([ball.faces + i * len(ball.vertices) for i in range(3)])
    found = clearance(body_of_mesh(box()), index_scan(points, triangles), farthest=60.0)
    # the ball's facets stand inside the sphere by some hundredths
    assert found.places[0].room == pytest.approx(20.0, abs=0.1)
    assert np.array(found.places[0].at)[2] == pytest.approx(60.0)
    near = [place.room for place in found.places if abs(place.at[1]) < 5 and abs(place.at[2]) < 5]
    assert near == pytest.approx([30.0, 35.0], abs=0.1)      # the right side's, then the left side's
    spots = np.array([place.at for place in found.places])
    apart = np.linalg.norm(spots[:, None] - spots, axis=2)[np.triu_indices(len(spots), 1)]
    assert apart.min() >= 0.15 * SIZE.max()


@settings(max_examples=8)
@given(st.integers(0, 10_000), st.integers(0, 10_000))
def test_moving_both_changes_nothing(seed, motion):
    rng = np.random.default_rng(motion)
    turn, shift = Rotation.random(random_state=motion).as_matrix(), rng.uniform(-2000, 2000, 3)
    points, triangles = soup(seed, 80, 200.0)
    still = clearance(body_of_mesh(box()), index_scan(points, triangles))
    moved = clearance(body_of_mesh(box(turn=turn, at=shift)), index_scan(points @ turn.T + shift, triangles))
    assert moved.room == pytest.approx(still.room, abs=5e-3)  # the scan is kept in single precision
    assert moved.least == pytest.approx(still.least, abs=5e-3)


def test_a_face_beyond_a_wall_of_the_scan_is_in_the_way_all_over():
    wall = np.array([(70, -400, -400), (70, 400, -400), (70, 400, 400), (70, -400, 400.0)])
    found = clearance(body_of_mesh(crate(SIZE)), index_scan(wall, np.array([(0, 1, 2), (0, 2, 3)])))
    middles = found.patches.mean(axis=1)
    beyond = (middles[:, 0] > 100 - 1e-6) & (np.abs(found.patches[..., 1]).max(axis=1) < 44) \
        & (np.abs(found.patches[..., 2]).max(axis=1) < 29)   # nearer to the wall than its crossing with other faces
    assert beyond.any()
    assert found.patch_room[beyond] == pytest.approx(-30.0)
    free = middles[:, 0] < -100 + 1e-6
    assert found.patch_room[free] == pytest.approx(170.0)    # the wall lies inside there too, but nearer to others


@pytest.mark.parametrize("seed", range(4))
def test_the_tightest_alone_are_as_tight(seed):
    points, triangles = soup(seed, 200)
    body, scan = body_of_mesh(box()), index_scan(points, triangles)
    everywhere, tightest = (clearance(body, scan, everywhere=every) for every in (True, False))
    assert tightest.room == pytest.approx(everywhere.room)
    assert tightest.collisions.tolist() == everywhere.collisions.tolist()
    assert np.isinf(tightest.patch_room).sum() >= np.isinf(everywhere.patch_room).sum()


def test_winding_and_inner_faces_do_not_matter():
    drawn = box()
    turned = Mesh.of(drawn.points, drawn.corners.reshape(-1, 3)[:, ::-1], name="box")
    points, triangles = soup(4)
    scan = index_scan(points, triangles)
    assert clearance(body_of_mesh(turned), scan).room == pytest.approx(clearance(body_of_mesh(drawn), scan).room)
    across = np.array([(0, -75, -60), (0, 75, -60), (0, 75, 60), (0, -75, 60.0)])
    with_baffle = Mesh.of(
        np.concatenate([drawn.points, across]), [*drawn.corners.reshape(-1, 3).tolist(), (8, 9, 10, 11)], name="box")
    found = clearance(body_of_mesh(with_baffle), scan)
    assert found.room[:12] == pytest.approx(clearance(body_of_mesh(drawn), scan).room)
    assert np.isinf(found.room[12])                          # an inner plate is in nobody's way


def test_an_open_drawing_has_no_inside():
    drawn = box()
    opened = Mesh.of(drawn.points, drawn.corners.reshape(-1, 3)[:-2], name="box")
    inner = box((40, 40, 40))
    scan = index_scan(inner.points, inner.corners.reshape(-1, 3))
    assert len(clearance(body_of_mesh(drawn), scan).collisions) == 12
    assert len(clearance(body_of_mesh(opened), scan).collisions) == 0


def test_a_scan_inside_a_plate_is_in_its_way():
    first, second = box((100, 100, 4)), box((100, 100, 4), at=(0, 0, 50))
    body = body_of_solids([(m.points, m.corners.reshape(-1, 3)) for m in (first, second)])
    poke = np.array([(0, 0, -30), (1, 0, -30), (0, 0, 0.5)])
    found = clearance(body, index_scan(poke, np.array([(0, 1, 2)])))
    assert found.room == pytest.approx([-1.5, 47.5])         # 0.5 over the middle of 4 mm; 48 - 0.5 to the next
    assert found.collisions.tolist() == [0]


def test_what_is_no_number_is_left_out_and_nothing_at_all_is_refused():
    points, triangles = soup(2, 40)
    points[5] = np.nan
    index = index_scan(points, triangles)
    assert sorted(index.order.tolist()) == [i for i in range(40) if i != 1]
    with pytest.raises(InputError, match="no triangles"):
        index_scan(points[:3] * np.nan, np.array([(0, 1, 2)]))
    with pytest.raises(InputError, match="no triangles"):
        index_scan(points, np.empty((0, 3), dtype=int))


def test_every_ball_holds_its_triangles():
    points, triangles = soup(7, 5000, 900.0)
    index = index_scan(points, triangles)
    corners = index.corners(np.arange(len(index)))
    for number, (centre, radius) in enumerate(zip(index.block_centres, index.block_radii, strict=True)):
        own = index.rows_of_blocks(np.array([number]))
        assert np.linalg.norm(corners[own] - centre, axis=2).max() <= radius * (1 + 1e-12)
    groups = np.repeat(np.arange(len(index.group_radii)), 64)[: len(index.block_radii)]
    off = np.linalg.norm(index.block_centres - index.group_centres[groups], axis=1) + index.block_radii
    assert (off <= index.group_radii[groups] * (1 + 1e-12)).all()
    assert index.corners(np.argsort(index.order)) + index.origin == pytest.approx(points[triangles], abs=1e-3)
