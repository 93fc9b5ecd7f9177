"""Scans squared up: motions made by scipy are found again, with noise and with points that belong to nothing."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from tackwright.core.scan.square_up import fit_plane, scale_for, square_up
from tackwright.core.terms.errors import InputError

INSIDE = np.array([500.0, 400.0, 300.0])


def patches(seed=0, noise=0.0, stray=0.0, lean=0.0):
    """A floor z = 0 and a wall x = 0 that leans outward by so many degrees, seen from a room at x, z > 0."""
    random = np.random.default_rng(seed)
    floor = np.column_stack([random.uniform(100, 900, 400), random.uniform(0, 800, 400), np.zeros(400)])
    wall = np.column_stack([np.zeros(300), random.uniform(0, 800, 300), random.uniform(50, 600, 300)])
    wall[:, 0] -= wall[:, 2] * np.tan(np.radians(lean))
    out = []
    for patch in (floor, wall):
        moved = patch + random.normal(size=patch.shape) * noise
        count = int(stray * len(moved))
        moved[:count] += random.uniform(20, 200, (count, 3))  # all to one side: a mean would follow them
        out.append(moved)
    return out


@given(st.integers(0, 10_000))
def test_a_moved_room_is_moved_back(seed):
    random = np.random.default_rng(seed)
    angles = [random.uniform(-180, 180), *random.uniform(-60, 60, 2)]
    turn = Rotation.from_euler("zxy", angles, degrees=True).as_matrix()
    shift = random.uniform(-3000, 3000, 3)
    floor, wall = (patch @ turn.T + shift for patch in patches(seed))
    found = square_up(floor, wall, inside=turn @ INSIDE + shift)
    back = found.motion[:3, :3]
    assert np.linalg.det(back) == pytest.approx(1.0) and back @ back.T == pytest.approx(np.eye(3), abs=1e-12)
    level = floor @ back.T + found.motion[:3, 3]
    assert level[:, 2] == pytest.approx(0.0, abs=1e-8)
    upright = wall @ back.T + found.motion[:3, 3]
    assert min(np.ptp(upright[:, 0]), np.ptp(upright[:, 1])) < 1e-8
    assert (upright[:, 2] > 0).all()
    corner = back @ found.corner + found.motion[:3, 3]
    assert corner == pytest.approx(0.0, abs=1e-8)
    assert found.angle == pytest.approx(90.0, abs=1e-6)


def test_the_turn_about_the_upright_is_the_smallest():
    for degrees in (-44.0, -10.0, 30.0, 44.0, 100.0):
        turn = Rotation.from_euler("z", degrees, degrees=True).as_matrix()
        found = square_up(*(patch @ turn.T for patch in patches()), inside=turn @ INSIDE)
        back = Rotation.from_matrix(found.motion[:3, :3]).as_euler("zyx", degrees=True)[0]
        assert back == pytest.approx(-((degrees + 45.0) % 90.0 - 45.0), abs=1e-9)


def test_noise_and_strays_do_not_turn_the_floor():
    floor, wall = patches(3, noise=1.0, stray=0.3)
    found = square_up(floor, wall, inside=INSIDE)
    assert found.floor.normal @ [0, 0, 1] == pytest.approx(1.0, abs=1e-5) or \
        found.floor.normal @ [0, 0, -1] == pytest.approx(1.0, abs=1e-5)
    assert found.floor.rms == pytest.approx(1.0, abs=0.2)
    assert found.floor.share == pytest.approx(0.7, abs=0.04)
    plain = np.linalg.svd(floor - floor.mean(axis=0), full_matrices=False)[2][2]
    assert abs(plain[2]) < 0.999                             # what least squares alone would have made of it


def test_a_wall_that_leans_is_told_and_keeps_leaning():
    floor, wall = patches(lean=6.0)
    found = square_up(floor, wall, inside=INSIDE)
    assert found.angle == pytest.approx(96.0, abs=1e-6)      # through the room
    assert (floor @ found.motion[:3, :3].T + found.motion[:3, 3])[:, 2] == pytest.approx(0.0, abs=1e-8)


def test_a_chosen_point_comes_over_the_origin():
    floor, wall = patches()
    found = square_up(floor, wall, inside=INSIDE, origin=np.array([200.0, 300.0, 77.0]))
    at = found.motion @ [200.0, 300.0, 77.0, 1.0]
    assert at[:3] == pytest.approx([0.0, 0.0, 77.0])


@pytest.mark.parametrize(("points", "said"), [
    ([(0, 0, 0), (1, 0, 0)], "has 2 points"),
    ([(i, 0, 0) for i in range(9)], "no more than a line"),
    ([(i * 10.0, (i % 2) * 0.5, 0) for i in range(50)], "no more than a line"),
    ([(1, 2, 3)] * 5, "no more than a line"),
])  # fmt: skip
def test_what_is_no_area_is_refused(points, said):
    with pytest.raises(InputError, match=f"The floor.*{said}"):
        square_up(np.array(points, dtype=float), patches()[1], inside=INSIDE)


def test_floor_and_wall_of_one_direction_are_refused():
    floor, _ = patches()
    with pytest.raises(InputError, match="the same way"):
        square_up(floor, floor + [0, 0, 500.0], inside=INSIDE)


def test_three_points_make_a_plane():
    found = fit_plane(np.array([(0, 0, 0), (100, 0, 0), (0, 100, 100.0)]))
    assert abs(found.normal @ np.array([0, -1, 1]) / np.sqrt(2)) == pytest.approx(1.0)
    assert found.share == 1.0 and found.rms == pytest.approx(0.0, abs=1e-9)


def test_scales():
    assert scale_for(40.0, 1000.0) == 25.0
    for measured, true in ((0.0, 10.0), (10.0, 0.0), (10.0, float("nan")), (float("inf"), 1.0)):
        with pytest.raises(InputError, match="cannot become"):
            scale_for(measured, true)
    with pytest.raises(InputError, match="1e\\+05 times"):
        scale_for(1.0, 1e5)
