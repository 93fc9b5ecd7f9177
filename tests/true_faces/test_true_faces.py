"""Faces flattened together. Judges: closed forms, scipy's optimisers, and laws over random solids."""

from __future__ import annotations

import itertools
from contextlib import nullcontext

import numpy as np
import pytest
from drawn_meshes import box, box_with_hole, extruded, faces_of, freehand_box, without
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.optimize import least_squares
from solids_data import PUBLISHED, solid
from strategies import convex_envelopes, moved, prism_envelopes, rigid_motions

from tackwright.core.envelope.mesh import Mesh
from tackwright.core.envelope.read_envelope import read_envelope
from tackwright.core.terms import tolerance
from tackwright.core.terms.choices import Choices
from tackwright.core.terms.errors import InputError
from tackwright.core.true_faces.face_wishes import GRIDS, FaceWishes
from tackwright.core.true_faces.true_faces import true_faces

NOISE = 1e-3  # mm: what single precision leaves at a few hundred mm, with room
PRICE = 1000.0  # of a face bent by a mm, over a point moved by one: the bound is then within a millionth


def noisy(mesh: Mesh, size: float, seed: int = 0) -> Mesh:
    """Every point off by a normal amount along each axis."""
    points = mesh.points + np.random.default_rng(seed).normal(0.0, size, mesh.points.shape)
    return Mesh.of(points, faces_of(mesh), name=mesh.name)


def off_planes(mesh: Mesh, points: np.ndarray) -> np.ndarray:
    """(f,) how far the farthest corner of each face is from its plane of total least squares, by SVD."""
    out = []
    for face in faces_of(mesh):
        away = points[face] - points[face].mean(axis=0)
        out.append(np.abs(away @ np.linalg.svd(away)[2][2]).max())
    return np.array(out)


def cost(mesh: Mesh, points: np.ndarray) -> float:
    return float(((points - mesh.points) ** 2).sum())


def triple_products(faces: list[list[int]], points: np.ndarray) -> np.ndarray:
    """Six times the volume of the tetrahedron on each face's first three corners and each other one, over the area
    of those three: 0 where flat. A condition of its own kind, for the judges."""
    values = []
    for a, b, c, *rest in faces:
        normal = np.cross(points[b] - points[a], points[c] - points[a])
        values += [(points[d] - points[a]) @ normal / np.linalg.norm(normal) for d in rest]
    return np.array(values)


def judged(mesh: Mesh, held: tuple[int, ...] = ()) -> float:
    """The least sum of squared moves for flat faces, from below, by scipy's least squares.

    Faces may be bent at a price: an easier problem than flat ones, so its least cost is a bound. The moves are among
    the residuals, so the Jacobian has full rank, however many of the conditions say the same (14 faces on 12 points):
    an optimiser that takes them for constraints stops there, on some processors."""
    faces, free = faces_of(mesh), np.setdiff1d(np.arange(len(mesh.points)), held)

    def bent(x: np.ndarray) -> np.ndarray:
        points = mesh.points.copy()
        points[free] += x.reshape(-1, 3)
        return triple_products(faces, points)

    found = least_squares(
        lambda x: np.concatenate([x, PRICE * bent(x)]), np.zeros(3 * len(free)), method="trf", ftol=1e-12, xtol=1e-12,
        gtol=1e-12)
    assert found.success, found.message
    assert np.abs(bent(found.x)).max() < 1e-5                # hardly bent, so the bound is near
    return float(2 * found.cost)


# Closed forms --------------------------------------------------------------------------------------------


@pytest.mark.parametrize("height", [0.5, 4.0, 40.0])
def test_a_square_with_a_lifted_corner_moves_a_quarter_of_it_everywhere(height):
    # derived: the only part of (h, 0, 0, 0) that no plane has is h/4 (1, -1, 1, -1); to the first order
    mesh = Mesh.of([(0, 0, height), (100, 0, 0), (100, 100, 0), (0, 100, 0)], [(0, 1, 2, 3)])
    found = true_faces(mesh)
    tilt = np.hypot(height / 200, height / 200)
    assert found.moved == pytest.approx(np.full(4, height / 4), rel=2 * tilt**2 + 1e-5)
    assert found.off.max() < NOISE


@given(st.integers(0, 10**6), st.integers(4, 9))
def test_one_face_goes_to_its_plane_of_total_least_squares(seed, corners):
    # Eckart and Young 1936: the least sum of squared distances to a plane is the smallest eigenvalue of the scatter
    turn = np.arange(corners) / corners * 2 * np.pi
    outline = np.column_stack([300 * np.cos(turn), 200 * np.sin(turn), np.zeros(corners)])
    mesh = noisy(Mesh.of(outline, [tuple(range(corners))]), 8.0, seed)
    away = mesh.points - mesh.points.mean(axis=0)
    least = np.linalg.eigvalsh(away.T @ away)[0]
    assert cost(mesh, true_faces(mesh).points) == pytest.approx(least, rel=1e-4, abs=NOISE)


def test_a_box_with_a_corner_pulled_along_an_edge_comes_back_by_quarters():
    # derived: the top's twist is taken up by its four corners, each along its own upright edge
    drawn = box()
    points = drawn.points.copy()
    points[7, 2] += 2.0
    mesh = Mesh.of(points, faces_of(drawn))
    moves = true_faces(mesh).points - points
    top = [1, 3, 5, 7]
    assert np.abs(moves[top, 2]) == pytest.approx(np.full(4, 0.5), abs=2e-3)
    assert np.abs(moves[[0, 2, 4, 6]]).max() < 0.02


def test_many_points_inside_a_panel_only_go_into_its_plane():
    # the plane is that of all the points, as if each were a corner: compared with the scatter of all
    side = np.linspace(0.0, 300.0, 13)
    grid = np.array([(x, y, 0.0) for x in side for y in side])
    grid[:, 2] = np.random.default_rng(4).normal(0.0, 0.01, len(grid))
    faces = [(13 * i + j, 13 * i + 13 + j, 13 * i + 14 + j, 13 * i + 1 + j) for i in range(12) for j in range(12)]
    mesh = Mesh.of(grid, faces)
    away = grid - grid.mean(axis=0)
    found = true_faces(mesh)
    assert cost(mesh, found.points) == pytest.approx(np.linalg.eigvalsh(away.T @ away)[0], rel=1e-3)
    flat = found.points - found.points.mean(axis=0)
    assert np.abs(flat @ np.linalg.svd(flat)[2][2]).max() < NOISE


# Judged by scipy -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(("name", "seed"), [
    ("Cube", 1), ("Cube", 2), ("Cuboctahedron", 4), ("Dodecahedron", 5), ("Rhombicuboctahedron", 6),
    ("Truncated Octahedron", 7)])
def test_no_optimiser_finds_a_nearer_flat_drawing(name, seed):
    mesh = noisy(solid(name), 3.0, seed)
    least = judged(mesh)
    assert least - NOISE <= cost(mesh, true_faces(mesh).points) <= least * (1 + 1e-5) + NOISE


def test_no_optimiser_finds_a_nearer_one_round_pinned_points():
    mesh = noisy(box(), 3.0, 7)
    least = judged(mesh, (0, 5))
    assert least - NOISE <= cost(mesh, true_faces(mesh, pinned=[0, 5]).points) <= least * (1 + 1e-5) + NOISE


# Laws ----------------------------------------------------------------------------------------------------


@given(convex_envelopes(), st.integers(0, 10**6))
def test_perturbed_solids_come_back_flat_and_nearer_than_the_solid_they_were(mesh, seed):
    drawn = noisy(mesh, 0.3, seed)
    found = true_faces(drawn)
    assert off_planes(drawn, found.points).max() < NOISE
    assert found.off.max() < NOISE
    # the solid itself is flat, so the nearest flat drawing is no farther than that
    assert cost(drawn, found.points) <= cost(drawn, mesh.points) * (1 + 1e-6) + NOISE


@given(prism_envelopes(), st.integers(0, 10**6))
def test_perturbed_prisms_come_back_flat_and_can_be_read(mesh, seed):
    drawn = noisy(mesh, 0.2, seed)
    found = true_faces(drawn)
    assert found.off.max() < NOISE
    envelope = read_envelope(Mesh.of(found.points, faces_of(mesh)), Choices())
    assert not [note for note in envelope.notes if note.rule == "warped_face_mended"]
    assert len(envelope.panels) == mesh.face_count


@given(st.one_of(convex_envelopes(), prism_envelopes()))
def test_what_is_flat_does_not_move(mesh):
    assert true_faces(mesh).largest[0] < NOISE


def test_a_solid_of_triangles_is_flat_as_it_is():
    for name in ("Tetrahedron", "Octahedron", "Icosahedron"):
        assert true_faces(noisy(solid(name), 5.0)).largest[0] < NOISE


@given(st.sampled_from(sorted(PUBLISHED)), st.randoms(use_true_random=False))
def test_the_order_of_faces_and_points_does_not_matter(name, random):
    mesh = noisy(solid(name), 1.0)
    order = list(range(len(mesh.points)))
    random.shuffle(order)
    place = np.argsort(order)
    faces = [[int(place[i]) for i in face] for face in faces_of(mesh)]
    random.shuffle(faces)
    shuffled = true_faces(Mesh.of(mesh.points[order], faces))
    assert shuffled.points[place] == pytest.approx(true_faces(mesh).points, abs=NOISE)


@given(st.sampled_from(["Cube", "Cuboctahedron", "Dodecahedron", "Snub Cuboctahedron"]), rigid_motions())
def test_a_moved_drawing_is_flattened_alike(name, motion):
    mesh = noisy(solid(name), 2.0)
    there = true_faces(moved(mesh, motion)).points
    back = (there - motion[:3, 3]) @ motion[:3, :3]
    assert back == pytest.approx(true_faces(mesh).points, abs=NOISE)


@given(st.sets(st.integers(0, 7), max_size=3), st.integers(0, 1000))
def test_pinned_points_stay_and_the_others_still_come_flat(pinned, seed):
    mesh = noisy(box(), 1.0, seed)
    found = true_faces(mesh, pinned=pinned)
    assert found.moved[list(pinned)] == pytest.approx(0.0)
    assert found.points[list(pinned)] == pytest.approx(mesh.points[list(pinned)], abs=NOISE)
    assert found.off.max() < NOISE


# What is flat is held ------------------------------------------------------------------------------------


def dragged(mesh: Mesh, point: int, by: np.ndarray) -> tuple[Mesh, list[int]]:
    """One point moved, and the faces that are bent by it."""
    points = mesh.points.copy()
    points[point] += by
    drawn = Mesh.of(points.astype(np.float32).astype(float), faces_of(mesh), name=mesh.name)
    return drawn, np.flatnonzero(off_planes(drawn, points) > 0.1).tolist()


def nearest_on_planes(mesh: Mesh, faces: list[int], point: int) -> np.ndarray:
    """The place nearest to a point that lies in the plane of the other corners of each face. Derived: the least
    change to a system of linear equations, which numpy.linalg.lstsq gives."""
    normals, heights = [], []
    for face in (faces_of(mesh)[f] for f in faces):
        others = mesh.points[[corner for corner in face if corner != point]]
        middle = others.mean(axis=0)
        normals.append(np.linalg.svd(others - middle)[2][2])
        heights.append(normals[-1] @ (middle - mesh.points[point]))
    return mesh.points[point] + np.linalg.lstsq(np.array(normals), np.array(heights), rcond=1e-9)[0]


@settings(max_examples=25)
@given(
    st.one_of(st.sampled_from(["Cube", "Cuboctahedron", "Dodecahedron", "Rhombicuboctahedron"]).map(solid),
              convex_envelopes(), prism_envelopes()),
    st.integers(0, 10**6), st.booleans())
def test_a_dragged_corner_goes_back_alone(mesh, seed, all_faces):
    random = np.random.default_rng(seed)
    point, size = int(random.integers(len(mesh.points))), float(np.ptp(mesh.points, axis=0).min())
    drawn, bent = dragged(mesh, point, random.normal(0.0, 0.02 * size, 3))
    flat = [f for f, face in enumerate(faces_of(mesh)) if len(face) > 3 and f not in bent]
    assume(off_planes(drawn, drawn.points)[flat].max(initial=0.0) < NOISE / 4)
    assume(bent and {corner for f in flat for corner in faces_of(mesh)[f]} == set(range(len(mesh.points))) - {point})
    found = true_faces(drawn, faces=None if all_faces else bent)
    assert np.flatnonzero(found.moved > NOISE).tolist() == [point] and not found.let_go and not found.unmet
    assert (np.delete(found.moved, point) == 0.0).all()
    assert found.points[point] == pytest.approx(nearest_on_planes(drawn, bent, point), abs=2 * NOISE)
    assert found.largest == (pytest.approx(found.moved[point]), point)


@pytest.mark.parametrize("corners", [[7], [7, 6], [7, 5, 3], [7, 5, 3, 1]])
def test_corners_that_were_dragged_go_and_the_floor_stays(corners):
    mesh = box()
    points = mesh.points.copy()
    points[corners] += np.random.default_rng(1).normal(0.0, 8.0, (len(corners), 3))
    bent = np.flatnonzero(off_planes(mesh, points) > NOISE).tolist()
    drawn = Mesh.of(points, faces_of(mesh))
    found = true_faces(drawn, faces=bent)
    flat = sorted({corner for f, face in enumerate(faces_of(mesh)) if f not in bent for corner in face})
    assert {0, 2, 4, 6} <= set(flat) | set(corners)
    assert (found.moved[flat] == 0.0).all() and not found.let_go
    assert off_planes(drawn, found.points).max() < NOISE


def test_of_a_corner_dragged_within_the_lid_only_that_and_the_one_below_it_move():
    # two walls are bent, and all that tells which end of their common edge was dragged is gone: the ends share it
    drawn, bent = dragged(box(), 7, np.array([20.0, 12.0, 0.0]))
    found = true_faces(drawn, faces=bent)
    assert bent == [1, 3] and np.flatnonzero(found.moved).tolist() == [6, 7] == list(found.let_go)
    assert found.points[[6, 7], 2] == pytest.approx([0.0, 100.0], abs=NOISE)
    assert found.moved[[6, 7]] == pytest.approx(np.hypot(20.0, 12.0) / 2, rel=0.2)


def test_a_floor_drawn_on_the_grid_stays_where_all_else_is_freehand():
    mesh = noisy(box(), 3.0, 7)
    points = mesh.points.copy()
    points[[0, 2, 4, 6]] = box().points[[0, 2, 4, 6]]
    found = true_faces(Mesh.of(points, faces_of(mesh)))
    assert (found.moved[[0, 2, 4, 6]] == 0.0).all() and found.off.max() < NOISE and not found.let_go


def test_a_corner_dragged_out_of_a_mesh_that_is_off_by_hundredths_hardly_moves_the_others():
    drawn, bent = dragged(noisy(box(), 0.01, 2), 7, np.array([12.0, -9.0, 20.0]))
    found = true_faces(drawn)
    assert bent == [1, 3, 5] and found.off.max() < NOISE
    assert found.points[7] == pytest.approx(nearest_on_planes(drawn, bent, 7), abs=0.2)
    assert np.delete(found.moved, 7).max() < 0.1             # the largest of 24 numbers of 0.01 each is about 0.025


def test_a_dragged_corner_that_is_pinned_draws_others_along_and_these_are_told():
    drawn, bent = dragged(box(), 7, np.array([10.0, 8.0, 16.0]))
    found = true_faces(drawn, faces=bent, pinned=[7])
    assert found.moved[7] == 0.0 and found.off.max() < NOISE
    assert set(found.let_go) == set(np.flatnonzero(found.moved > NOISE)) and 0 < len(found.let_go) < 7


@pytest.mark.parametrize("seed", [1, 2])
def test_wishes_begin_from_what_the_dragged_corner_went_back_to(seed):
    drawn, _ = dragged(box(), 7, np.random.default_rng(seed).normal(0.0, 3.0, 3))
    found = true_faces(drawn, wishes=FaceWishes(square=True, within=5.0))
    assert found.points == pytest.approx(box().points, abs=2 * NOISE)


# Panels, inner faces, choices of faces -------------------------------------------------------------------


def test_faces_drawn_as_one_panel_stay_one():
    mesh = freehand_box(1, 12, 0.02)                         # six walls of triangles, each off by hundredths
    found = true_faces(mesh)
    before, after = (read_envelope(Mesh.of(p, faces_of(mesh)), Choices()) for p in (mesh.points, found.points))
    assert len(before.panels) == len(after.panels) == 6
    for panel in after.panels:
        corners = found.points[np.unique(np.concatenate([mesh.face(f) for f in panel.faces]))]
        away = corners - corners.mean(axis=0)
        assert np.abs(away @ np.linalg.svd(away)[2][2]).max() < NOISE


def test_inner_faces_are_flattened_with_the_walls_round_them():
    walls = box()
    middle = [(150.0, 0, 0), (150, 200, 0), (150, 200, 100), (150, 0, 100)]
    faces = [[0, 1, 3, 2], [4, 6, 7, 5]]
    for a, b, c, d in ([0, 4, 5, 1], [2, 3, 7, 6], [0, 2, 6, 4], [1, 5, 7, 3]):
        faces.append([a, b, c, d])
    points = np.concatenate([walls.points, middle])
    split = {(0, 4): 8, (2, 6): 9, (3, 7): 10, (1, 5): 11}   # the baffle's corners are points of the walls' edges
    faces = [[q for a, b in itertools.pairwise([*f, f[0]]) for q in (a, *([split[tuple(sorted((a, b)))]]
             if tuple(sorted((a, b))) in split else []))] for f in faces]
    mesh = noisy(Mesh.of(points, [*faces, [8, 9, 10, 11]]), 1.0, 3)
    found = true_faces(mesh)
    assert found.off.max() < NOISE and found.largest[0] < 5.0
    assert off_planes(mesh, mesh.points)[-1] > 0.1           # the baffle was not flat


def test_only_the_points_of_chosen_faces_move_and_flat_neighbours_stay_flat():
    drawn = box()
    points = drawn.points.copy()
    points[7, 2] += 4.0                                      # within the planes of right and back: only the top is off
    mesh = Mesh.of(points, faces_of(drawn))
    found = true_faces(mesh, faces=[5])
    assert np.flatnonzero(found.moved).tolist() == [1, 3, 5, 7]
    assert found.off.max() < NOISE and not found.unmet


def test_a_neighbour_that_cannot_stay_flat_is_said():
    # four flat faces round point 4; three of one's corners are pinned off its plane, so that 4 must leave the others'
    points = np.array(
        [(100.0 * i, 100.0 * j, 40.0 * abs(i - 1) + 30.0 * abs(j - 1)) for i in range(3) for j in range(3)])
    points[0, 2] += 8.0
    mesh = Mesh.of(points, [(0, 3, 4, 1), (3, 6, 7, 4), (1, 4, 5, 2), (4, 7, 8, 5)])
    found = true_faces(mesh, faces=[0], pinned=[0, 1, 3])
    assert np.flatnonzero(found.moved).tolist() == [4]
    assert found.off[0] < NOISE
    (unmet,) = found.unmet
    assert str(unmet).endswith("not flat any more")
    assert unmet.faces == tuple(np.flatnonzero(found.off > NOISE).tolist()) and unmet.by > 0.1


def test_a_wide_face_stays_joined_to_the_narrow_ones_beside_it():
    # the front's lower edge runs past a point between two floor faces that the front does not have
    points = [(0, 0, 0), (100, 0, 0), (200, 0, 0), (200, 100, 0), (100, 100, 0), (0, 100, 0), (0, 0, 80), (200, 0, 80)]
    mesh = Mesh.of(np.array(points, float), [(0, 1, 4, 5), (1, 2, 3, 4), (2, 0, 6, 7)])
    shift = np.random.default_rng(3).normal(0.0, 1.0, mesh.points.shape)
    shift[1] = (shift[0] + shift[2]) / 2                     # still on the edge
    found = true_faces(Mesh.of(mesh.points + shift, faces_of(mesh)), wishes=FaceWishes(parallel=True))
    a, b, c = found.points[:3]
    assert np.linalg.norm(np.cross(b - a, c - a)) / np.linalg.norm(c - a) < NOISE


def test_points_drawn_twice_move_together():
    loose = box()
    points = np.concatenate([loose.points[face] for face in faces_of(loose)])
    faces = np.arange(len(points)).reshape(-1, 4)
    shift = np.random.default_rng(1).normal(0.0, 1.0, loose.points.shape)
    points = points + np.concatenate([shift[face] for face in faces_of(loose)])
    apart = true_faces(Mesh.of(points, faces)).points
    whole = true_faces(Mesh.of(loose.points + shift, faces_of(loose))).points
    assert apart == pytest.approx(np.concatenate([whole[face] for face in faces_of(loose)]), abs=NOISE)


def test_faces_with_holes_and_open_shells_come_flat():
    hollow = extruded([(0, 0), (200, 0), (200, 80), (90, 90), (60, 200), (0, 180)], 120)
    for mesh in (box_with_hole(), without(box(), 5), hollow):
        assert true_faces(noisy(mesh, 0.5, 2)).off.max() < NOISE


# Wishes --------------------------------------------------------------------------------------------------


def normals_of(mesh: Mesh, points: np.ndarray) -> np.ndarray:
    out = []
    for face in faces_of(mesh):
        away = points[face] - points[face].mean(axis=0)
        out.append(np.linalg.svd(away)[2][2])
    return np.array(out)


def test_square_makes_a_freehand_box_a_box():
    mesh = noisy(box(), 3.0, 5)
    found = true_faces(mesh, wishes=FaceWishes(square=True, within=5.0))
    assert not found.unmet
    assert np.abs(normals_of(mesh, found.points)).max(axis=1) == pytest.approx(1.0, abs=1e-9)
    # derived: the nearest box to corners that may go anywhere has each side at the mean of its corners
    for axis, column in itertools.product(range(3), (0.0, 1.0)):
        mine = box().points[:, axis] == column * (300.0, 200.0, 100.0)[axis]
        assert found.points[mine, axis] == pytest.approx(mesh.points[mine, axis].mean(), abs=NOISE)


def test_the_work_can_be_ended_before_any_of_its_steps():
    def ended_at(most, **asked):
        steps = []

        def step(done, total):
            steps.append((done, total))
            if len(steps) > most:
                raise TimeoutError

        with pytest.raises(TimeoutError) if most < np.inf else nullcontext():
            true_faces(noisy(box(), 3.0, 5), progress=step, **asked)
        assert all(0 <= done < total for done, total in steps)
        return len(steps)

    flat, square = ended_at(np.inf), ended_at(np.inf, wishes=FaceWishes(square=True, within=5.0))
    assert 1 < flat < square                                   # the wishes' own steps count too
    for most in (0, flat, square - 1):
        assert ended_at(most, wishes=FaceWishes(square=True, within=5.0)) == most + 1


def test_square_goes_by_neighbours_where_no_axis_is_near():
    turn = np.linalg.qr(np.random.default_rng(8).normal(size=(3, 3)))[0]
    mesh = noisy(Mesh.of(box().points @ turn.T, faces_of(box())), 2.0, 6)
    found = true_faces(mesh, wishes=FaceWishes(square=True, within=5.0))
    assert not found.unmet
    angles = np.abs(normals_of(mesh, found.points) @ normals_of(mesh, found.points).T)
    assert np.minimum(angles, 1 - angles) == pytest.approx(0.0, abs=1e-5)


@pytest.mark.parametrize("faces", [[0], [1], [2, 3], [0, 5], [0, 1, 2, 3, 4]])
def test_square_goes_for_some_faces_of_a_drawing_too(faces):
    mesh = noisy(box(), 3.0, 5)
    found = true_faces(mesh, faces=faces, wishes=FaceWishes(square=True, within=5.0))
    assert found.off[faces].max() < tolerance.FLAT
    assert np.abs(normals_of(mesh, found.points)[faces]).max(axis=1) == pytest.approx(1.0, abs=1e-9)


def test_parallel_is_no_more_than_that():
    lean = np.array([[1, 0, 0], [0.2, 1, 0], [0, 0, 1]])     # of a fifth: the ends are far from square to the front
    mesh = noisy(Mesh.of(box().points @ lean, faces_of(box())), 1.0, 9)
    found = true_faces(mesh, wishes=FaceWishes(parallel=True, within=4.0))
    normals = normals_of(mesh, found.points)
    along = np.abs(np.einsum("ij,ij->i", normals[::2], normals[1::2]))
    assert along == pytest.approx(1.0, abs=1e-9)             # left and right, front and back, bottom and top
    assert abs(normals[0] @ normals[2]) > np.sin(np.radians(4))
    assert not found.unmet


def test_nearly_coplanar_neighbours_become_one_panel():
    bent = extruded([(0, 0), (150, 1.5), (300, 0), (300, 200), (0, 200)], 100)     # a wall with a kink of 1.1 degrees
    mesh = noisy(bent, 0.1, 3)
    apart, one = (true_faces(mesh, wishes=wishes) for wishes in (FaceWishes(), FaceWishes(parallel=True)))
    assert len(read_envelope(Mesh.of(apart.points, faces_of(mesh)), Choices()).panels) == 7
    assert len(read_envelope(Mesh.of(one.points, faces_of(mesh)), Choices()).panels) == 6


@pytest.mark.parametrize("grid", GRIDS)
def test_face_offsets_go_to_the_grid(grid):
    mesh = noisy(box(), 0.3, 11)
    origin = np.array([7.3, -2.1, 0.4])
    found = true_faces(mesh, wishes=FaceWishes(snap="offsets", grid=grid, origin=origin))
    assert not found.unmet and found.off.max() < NOISE
    normals = normals_of(mesh, found.points)
    far = [(found.points[face].mean(axis=0) - origin) @ n for face, n in zip(faces_of(mesh), normals, strict=True)]
    steps = np.array(far) / grid
    assert np.abs(steps - np.round(steps)).max() * grid < NOISE
    assert found.largest[0] < 3 * grid + 2.0


@pytest.mark.parametrize("grid", GRIDS)
def test_edges_of_a_square_box_get_round_lengths(grid):
    mesh = noisy(box(), 0.3, 12)
    found = true_faces(mesh, wishes=FaceWishes(square=True, snap="lengths", grid=grid))
    assert not found.unmet
    lengths = np.ptp(found.points, axis=0)
    assert np.abs(lengths / grid - np.round(lengths / grid)).max() * grid < NOISE


def test_edges_that_cannot_all_be_round_are_said_and_faces_stay_flat():
    mesh = noisy(box(), 2.0, 13)                             # twelve lengths of a box are not free of each other
    found = true_faces(mesh, wishes=FaceWishes(snap="lengths"))
    assert found.off.max() < NOISE
    edges = {tuple(sorted(pair)) for face in faces_of(mesh) for pair in itertools.pairwise([*face, face[0]])}
    length = {e: np.linalg.norm(found.points[e[0]] - found.points[e[1]]) for e in edges}
    odd = {e for e, size in length.items() if abs(size - round(size)) > 2 * NOISE}
    (unmet,) = found.unmet
    assert unmet.wish == "of a round length" and odd <= {tuple(sorted(e)) for e in unmet.edges}
    assert 0 < len(unmet.edges) < 12


def test_a_wish_that_pins_forbid_is_given_up_and_said():
    mesh = noisy(box(), 1.0, 14)
    found = true_faces(mesh, pinned=[0, 1, 2], wishes=FaceWishes(square=True, within=5.0))
    assert found.off.max() < NOISE
    assert "not square to an axis" in " ".join(map(str, found.unmet))
    assert 0 in {face for one in found.unmet for face in one.faces}   # its plane is given by the three


@settings(max_examples=16)
@given(st.integers(0, 10**6), st.sampled_from(["offsets", "lengths", "off"]), st.booleans(), st.booleans())
def test_faces_are_flat_whatever_is_wished(seed, snap, parallel, square):
    mesh = noisy(solid("Truncated Octahedron"), 1.5, seed)
    found = true_faces(mesh, wishes=FaceWishes(parallel=parallel, square=square, within=4.0, snap=snap))
    assert found.off.max() < NOISE
    assert found.largest[0] < 60.0


# Storage and refusals ------------------------------------------------------------------------------------


def test_the_result_is_what_single_precision_keeps():
    mesh = noisy(box(), 2.0, 15)
    world = np.diag([1000.0, 500.0, -2000.0, 1.0])           # unevenly scaled and mirrored, metres
    world[:3, 3] = (100.0, 200.0, 300.0)
    found = true_faces(mesh, storage=np.linalg.inv(world))
    assert found.stored.dtype == np.float32
    back = found.stored.astype(np.float64) @ world[:3, :3].T + world[:3, 3]
    assert found.points == pytest.approx(back, abs=1e-12)
    assert off_planes(mesh, back).max() < NOISE


def test_a_drawing_too_far_away_to_be_stored_flat_is_refused():
    mesh = noisy(box(), 1.0, 16)
    far = Mesh.of(mesh.points + 1e7, faces_of(mesh))
    with pytest.raises(InputError, match="not stay flat in the numbers that are stored.*move it nearer"):
        true_faces(far)


def test_a_face_pinned_out_of_flat_is_named_with_how_far():
    drawn = box()
    points = drawn.points.copy()
    points[7, 2] += 4.0
    with pytest.raises(InputError, match=r"Face 5 .*4 of its corners are pinned.*by 1\.000 mm. Unpin one") as error:
        true_faces(Mesh.of(points, faces_of(drawn)), pinned=[1, 3, 5, 7])
    assert error.value.faces == (5,)


def test_a_point_whose_planes_conflict_is_refused_by_its_faces():
    # four walls' planes are given by pins below and beside; the roof's corner is then fixed, and the roof is not flat
    mesh = noisy(box(), 3.0, 17)
    with pytest.raises(InputError, match=r"by \d+\.\d+ mm") as error:
        true_faces(mesh, pinned=[0, 1, 2, 3, 4, 5, 6])
    assert error.value.faces


def test_faces_that_only_come_flat_by_folding_are_refused():
    points = [(0, 0, 0), (100, 0, 0), (100, 1, 60), (0, 1, -60)]     # a strip 1 mm high, twisted by 60
    with pytest.raises(InputError, match="folding") as error:
        true_faces(Mesh.of(points, [(0, 1, 2, 3)]))
    assert error.value.faces == (0,) and error.value.edges


@pytest.mark.parametrize(("wishes", "match"), [
    ({"within": 30.0}, "30 degrees"), ({"within": -1.0}, "-1 degrees"), ({"grid": 0.0}, "grid of 0 mm"),
    ({"grid": float("nan")}, "grid of nan"),
])
def test_impossible_options_are_refused(wishes, match):
    with pytest.raises(InputError, match=match):
        FaceWishes(**wishes)


def test_nothing_to_flatten_is_refused():
    with pytest.raises(InputError, match="No face to flatten"):
        true_faces(box(), faces=[])
    with pytest.raises(InputError, match="has no faces"):
        true_faces(Mesh.of([(0, 0, 0)], []))


def test_the_limit_is_what_the_reader_takes_for_flat():
    assert NOISE <= tolerance.FLAT / 50
