"""Scans made here, as a scanner would give them: noisy, with holes, in no direction at all."""

from __future__ import annotations

import numpy as np

NICHE = (900.0, 600.0, 700.0)
"""mm: width, depth and height of the niche behind a bench. Its front is open, its floor z = 0, its back y = depth."""


def niche(triangles, *, noise=0.5, holes=12, seed=1):
    """(points (n, 3) mm, triangles (t, 3)) of a niche of three walls, floor and ceiling, about so many triangles.

    noise: of every point, mm, one standard deviation. holes: where the scanner saw nothing, some centimetres wide.
    A pipe of 30 mm radius stands in the corner at the left, from floor to ceiling: nobody drew it in.
    """
    random = np.random.default_rng(seed)
    width, depth, height = NICHE
    sides = [                                            # a corner and two edges that turn to the inside
        ((0, 0, 0), (width, 0, 0), (0, depth, 0)),
        ((0, 0, height), (0, depth, 0), (width, 0, 0)),
        ((0, depth, 0), (width, 0, 0), (0, 0, height)),
        ((0, 0, 0), (0, depth, 0), (0, 0, height)),
        ((width, 0, 0), (0, 0, height), (0, depth, 0)),
    ]
    areas = np.array([np.linalg.norm(np.cross(a, b)) for _, a, b in sides])
    pipe = 2 * np.pi * 30.0 * height
    step = np.sqrt(2 * (areas.sum() + pipe) / triangles)
    points, faces, count = [], [], 0
    for corner, one, other in sides:
        grid = _grid(np.linalg.norm(one), np.linalg.norm(other), step)
        points.append(np.array(corner) + grid[0] @ np.array([one, other], dtype=float))
        faces.append(grid[1] + count)
        count += len(grid[0])
    flat, squares = _grid(2 * np.pi * 30.0, height, step, least=48)
    turn = 2 * np.pi * flat[:, 0]
    points.append(np.column_stack([
        45 + 30 * np.cos(turn), depth - 45 + 30 * np.sin(turn), flat[:, 1] * height]))
    faces.append(squares + count)
    places, triangles = np.concatenate(points), np.concatenate(faces)
    seen = np.ones(len(triangles), dtype=bool)
    middles = places[triangles].mean(axis=1)
    for centre in places[random.choice(len(places), holes, replace=False)]:
        seen &= np.linalg.norm(middles - centre, axis=1) > random.uniform(10, 40)
    return places + random.normal(size=places.shape) * noise, triangles[seen]


def _grid(width, height, step, least=1):
    """A unit square as a grid of triangles whose sides are about `step` where the square is so wide and high."""
    across, up = max(least, round(width / step)), max(1, round(height / step))
    x, y = np.meshgrid(np.linspace(0, 1, across + 1), np.linspace(0, 1, up + 1), indexing="ij")
    first = (np.arange(across)[:, None] * (up + 1) + np.arange(up)).ravel()
    squares = np.stack([first, first + up + 1, first + up + 2, first, first + up + 2, first + 1], axis=1)
    return np.column_stack([x.ravel(), y.ravel()]), squares.reshape(-1, 3)
