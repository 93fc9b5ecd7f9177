"""Boxes that move: judged by manifold3d on the hull that a box sweeps; moves drawn apart: by scipy's solver."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from manifold3d import Manifold
from scipy.optimize import nnls
from scipy.spatial.transform import Rotation

from tackwright.core.kit.drawn_apart import Apart, draw_apart
from tackwright.core.kit.plate_boxes import PlateBoxes, meeting_pairs, parting

SIGNS = np.array(list(itertools.product((-1, 1), repeat=3)), float)


def random_boxes(seed, count=6, spread=120.0):
    random = np.random.default_rng(seed)
    return PlateBoxes(
        centres=random.uniform(-spread, spread, (count, 3)),
        axes=Rotation.random(count, random_state=seed).as_matrix(),
        halves=random.uniform([20, 10, 1], [80, 60, 4], (count, 3)))


def corners(boxes, i, by=(0.0, 0.0, 0.0)):
    return boxes.centres[i] + np.asarray(by) + (SIGNS * boxes.halves[i]) @ boxes.axes[i]


def hull(points):
    return Manifold.hull_points(points)


@pytest.mark.parametrize("seed", range(12))
def test_boxes_meet_when_what_one_sweeps_past_the_other_does(seed):
    boxes = random_boxes(seed)
    moves = np.random.default_rng(100 + seed).uniform(-150, 150, (3, 6, 3))
    found = {tuple(pair) for pair in meeting_pairs(boxes, moves).tolist()}
    for i, j in itertools.combinations(range(6), 2):
        shared = 0.0
        for here, there in itertools.pairwise(moves):
            swept = hull(np.concatenate([corners(boxes, i, step[i] - step[j]) for step in (here, there)]))
            shared = max(shared, (swept ^ hull(corners(boxes, j))).volume())
        if shared > 1.0 or shared == 0.0:  # a graze is decided by rounding
            assert ((i, j) in found) == (shared > 0.0), (i, j, shared)


def test_boxes_that_stand_still_and_touch_do_not_meet():
    boxes = PlateBoxes(centres=np.array([[0, 0, 0], [20, 0, 0], [19.9, 50, 0.0]]),
                       axes=np.tile(np.eye(3), (3, 1, 1)), halves=np.full((3, 3), 10.0))
    assert meeting_pairs(boxes, np.zeros((2, 3, 3))).tolist() == []
    down = np.zeros((2, 3, 3))
    down[1, 2] = [0, -100, 0]  # past the second, through it, and along the first by a hair
    assert meeting_pairs(boxes, down).tolist() == [[0, 2], [1, 2]]


@pytest.mark.parametrize("seed", range(12))
def test_what_parts_two_boxes_is_as_wide_as_said(seed):
    boxes = random_boxes(seed, spread=300.0)
    pairs = np.array(list(itertools.combinations(range(6), 2)))
    for (i, j), way, gap in zip(pairs, *parting(boxes, pairs), strict=True):
        assert np.linalg.norm(way) == pytest.approx(1.0)
        assert gap == pytest.approx((corners(boxes, i) @ way).min() - (corners(boxes, j) @ way).max(), abs=1e-6)
        nearest = hull(corners(boxes, i)).min_gap(hull(corners(boxes, j)), 1000.0)
        assert gap <= nearest + 1e-3, "no plane leaves more room than there is"
        assert (gap > 0) == (nearest > 0) or abs(gap) < 1e-3


def test_axes_that_part_as_well_are_taken_together_and_none_is_no_way():
    boxes = PlateBoxes(centres=np.array([[30.0, 30, 0], [0, 0, 0], [0, 0, 0]]),
                       axes=np.tile(np.eye(3), (3, 1, 1)), halves=np.full((3, 3), 10.0))
    ways, gaps = parting(boxes, np.array([[0, 1], [1, 2]]))
    assert ways[0] == pytest.approx([0.5**0.5, 0.5**0.5, 0.0])
    assert gaps[0] == pytest.approx(10 * 2**0.5), "derived: 10 mm on each axis"
    assert gaps[1] == -np.inf


@pytest.mark.parametrize("seed", range(6))
def test_demands_are_met_by_moves_hardly_larger_than_the_least(seed):
    random = np.random.default_rng(seed)
    start = random.uniform(-50, 50, (5, 3))
    pairs = np.array([[0, 1], [1, 2], [3, 2], [4, 0]])  # no circle: all can be met
    ways = random.normal(size=(4, 3))
    ways /= np.linalg.norm(ways, axis=1)[:, None]
    demands = Apart(pairs=pairs, ways=ways, by=random.uniform(20, 60, 4))
    found = draw_apart(start, demands, np.zeros_like(start))
    reached = np.einsum("mk,mk->m", found[pairs[:, 0]] - found[pairs[:, 1]], ways)
    assert (reached >= demands.by - 1e-3 * demands.by.max() - 1e-9).all()

    # the least move by Lawson and Hanson's least distance programming (1974, chapter 23), which always ends
    wanted = np.zeros((4, 5, 3))
    wanted[np.arange(4), pairs[:, 0]], wanted[np.arange(4), pairs[:, 1]] = ways, -ways
    wanted = wanted.reshape(4, 15)
    short = (demands.by - wanted @ start.ravel()) / 100.0
    rows, right = np.vstack([wanted.T, short]), np.append(np.zeros(15), 1.0)
    left = rows @ nnls(rows, right)[0] - right
    least = -100.0 * left[:-1] / left[-1]
    assert (wanted @ (start.ravel() + least) >= demands.by - 1e-9).all()
    assert np.linalg.norm(found - start) <= 1.25 * np.linalg.norm(least) + 1e-6


def test_one_demand_is_shared_evenly_and_none_changes_nothing():
    start = np.zeros((3, 3))
    demand = Apart.of([(0, 1, np.array([0.0, 0.0, 1.0]), 10.0)])
    assert draw_apart(start, demand, start).tolist() == [[0, 0, 5], [0, 0, -5], [0, 0, 0]]
    outward = np.array([[0, 0, 0], [0, 0, 1.0], [0, 0, 0]])
    assert draw_apart(start, demand, outward)[:2, 2] == pytest.approx([10.0, 0.0], abs=0.02)
    assert draw_apart(start, Apart.of([]), start) is start
