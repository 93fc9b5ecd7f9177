"""Rooms and plates as solids, and the same cells and pools counted on voxels, for tests of cells. Lengths in mm."""

from __future__ import annotations

import heapq

import numpy as np
from manifold3d import CrossSection, Manifold

from tackwright.core.cells.cells import Vent


def block(low, high) -> Manifold:
    size = np.subtract(high, low).astype(float)
    return Manifold.cube(size.tolist()).translate([float(x) for x in low])


def profile(points, width) -> Manifold:
    """The solid of a counter-clockwise polygon (x, z) drawn out along y from 0 to `width`."""
    return Manifold.extrude(CrossSection([[(float(x), float(z)) for x, z in points]]), width).transform(
        [[1, 0, 0, 0], [0, 0, -1, width], [0, 1, 0, 0]])


def vent(at, inward, size, purpose="drain", name=None, corners=48) -> Vent:
    """A round opening of diameter `size`, or (corners=4) a square one with sides of `size` along the axes."""
    at, inward = np.asarray(at, dtype=float), np.asarray(inward, dtype=float)
    across = np.cross(inward, np.eye(3)[int(np.argmin(np.abs(inward)))])
    across /= np.linalg.norm(across)
    up = np.cross(inward, across)
    turn = (np.arange(corners) + (0.5 if corners == 4 else 0)) / corners * 2 * np.pi
    reach = size / np.sqrt(2) if corners == 4 else size / 2
    ring = at + reach * (np.cos(turn)[:, None] * across + np.sin(turn)[:, None] * up)
    return Vent(at=at, inward=inward, radius=size / 2, corners=ring, purpose=purpose, name=name or purpose)


def flooded(free: np.ndarray, heights: np.ndarray, seeds: np.ndarray) -> np.ndarray:
    """Which voxels stay wet. free, seeds: (x, y, z) booleans; heights: of the voxels' middles.

    A flood from the outlets in the order of the highest point passed: a voxel is dry when it is reached without
    passing anything higher than itself.
    """
    passed = np.full(free.shape, np.inf)
    queue = []
    for voxel in map(tuple, np.argwhere(free & seeds)):
        passed[voxel] = heights[voxel]
        heapq.heappush(queue, (heights[voxel], voxel))
    while queue:
        height, voxel = heapq.heappop(queue)
        if height > passed[voxel]:
            continue
        for axis in range(3):
            for step in (-1, 1):
                other = list(voxel)
                other[axis] += step
                if not 0 <= other[axis] < free.shape[axis]:
                    continue
                other = tuple(other)
                needed = max(height, heights[other])
                if free[other] and needed < passed[other]:
                    passed[other] = needed
                    heapq.heappush(queue, (needed, other))
    return free & (passed > heights + 1e-9)


class GridRoom:
    """A random room on a grid: plates one voxel thick along the axes with windows, and square openings in its walls.

    The solids of the plates are a hair larger than their voxels, so that plates that meet at an edge seal there as
    their voxels do.
    """

    HAIR = 0.01

    def __init__(self, seed: int, shape=(16, 9, 12), grid=10.0) -> None:
        rng = np.random.default_rng(seed)
        self.shape, self.grid = np.array(shape), grid
        self.free = np.ones(shape, dtype=bool)
        self.room = block((0, 0, 0), self.shape * grid)
        self.plates = []
        for _ in range(int(rng.integers(2, 9))):
            axis = int(rng.integers(3))
            low, high = np.zeros(3, dtype=int), self.shape.copy()
            low[axis] = rng.integers(1, shape[axis] - 1)
            high[axis] = low[axis] + 1
            for other in {0, 1, 2} - {axis}:
                if rng.random() < 0.4:                            # it ends freely
                    side = int(rng.integers(2))
                    cut = int(rng.integers(2, shape[other] - 1))
                    low[other], high[other] = (cut, high[other]) if side else (low[other], cut)
            plate, metal = self._solid(low, high), np.zeros(shape, dtype=bool)
            metal[tuple(map(slice, low, high))] = True
            for _ in range(int(rng.integers(0, 3))):
                a = np.array([rng.integers(x, y) for x, y in zip(low, high, strict=True)])
                b = np.minimum(a + rng.integers(1, 4, 3), high)
                plate -= self._solid(a, b, -self.HAIR, axis)
                metal[tuple(map(slice, a, b))] = False
            self.plates.append(plate)
            self.free &= ~metal
        self.seeds, self.vents = [], []
        for index in range(int(rng.integers(1, 4))):
            seed_voxels = np.zeros(shape, dtype=bool)
            y, z = int(rng.integers(0, shape[1] - 1)), int(rng.integers(0, shape[2] - 1))
            side = int(rng.integers(2))
            seed_voxels[-1 if side else 0, y:y + 2, z:z + 2] = True
            self.seeds.append(seed_voxels)
            at = (shape[0] * grid * side, (y + 1) * grid, (z + 1) * grid)
            self.vents.append(vent(at, (1 - 2 * side, 0, 0), 2 * grid, name=f"drain {index}", corners=4))

    def _solid(self, low, high, grow=HAIR, through=None):
        by = np.full(3, grow)
        if through is not None:
            by[through] = 5 * self.HAIR
        return block(np.asarray(low) * self.grid - by, np.asarray(high) * self.grid + by)

    def finer(self, by: int = 1) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Each voxel parted into by³: which are free, which lie on an outlet, and their middles (x, y, z, 3)."""
        free, seeds = (a.repeat(by, 0).repeat(by, 1).repeat(by, 2) for a in (self.free, np.any(self.seeds, axis=0)))
        seeds[1:-1] = False
        middles = np.stack(np.meshgrid(*map(np.arange, free.shape), indexing="ij"), axis=-1) + 0.5
        return free, seeds, middles * self.grid / by

    def slack(self) -> float:
        """mm3 by which solids and voxels may differ: the hair round all plates."""
        return 3 * self.HAIR * sum(plate.surface_area() for plate in self.plates) + 1.0
