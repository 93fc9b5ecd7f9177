"""The liquid that stays in a cell when everything that can run out has run out.

A place stays wet if no way within the cell leads from it to an outlet without rising above it. So: below any level the
cell falls into parts; a part with no outlet in it holds its liquid up to that level. The pools are the largest such
parts. Levels matter only where parts join (at saddles of the surface and at level faces) and where an outlet begins,
so the cell is cut there and nowhere else, halving the levels each time. Volumes are those of the cut solids: exact.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from manifold3d import Manifold
from numpy.typing import NDArray

from ..shapes.solid_parts import distances, parts, triangles
from .cells import Vent, way_out

__all__ = ["OUTLETS", "Pool", "trapped_liquid"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

OUTLETS: Final = ("port", "drain")
"""Purposes of the openings that liquid is meant to leave by."""
SKIM: Final = 1e-4
"""mm: a pool ends this far below the edge that it runs over, or parts that only touch there would count as one."""
STEP: Final = 1e-3
"""mm: levels nearer than this are one level: far below what surface tension holds back."""
DROP: Final = 0.1
"""mm3: a smaller part of a cut solid is rounding; no pool of that size is worth a word."""
ON: Final = 0.01
"""mm: a point this near to a cell's surface lies on it: far above rounding, far below the thinnest plate."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pool:
    """Liquid that stays. volume: mm3. at: its lowest point. depth: from there to its surface, mm."""

    volume: float
    at: tuple[float, float, float]
    depth: float


def trapped_liquid(cell: Manifold, outlets: Sequence[Vent]) -> tuple[Pool, ...]:
    """The pools that stay in `cell` (+z is up), the largest first.

    outlets: openings that lead into the cell; each lets out what reaches the lowest point of it on the cell.
    With none, all of the cell stays full. Air that is caught under a roof is taken to find its way out.
    """
    edge = np.concatenate([np.empty((0, 3)), *(way_out(vent, cell) for vent in outlets)])
    low, high = _heights(cell)
    # an outlet in the roof begins where the cell ends
    held = _search(cell, edge, low - STEP, _levels(cell, edge, low, high + STEP), []) if len(edge) else [cell]
    return tuple(sorted((_pool(part) for part in held), key=lambda p: (-round(p.volume, 3), p.at)))


def _search(solid: Manifold, edge: Floats, above: float, levels: Floats, held: list[Manifold]) -> list[Manifold]:
    """The largest parts of `solid` without an outlet that end at one of its `levels`, ascending, all over `above`.

    solid: a part with an outlet. edge: (k, 3) points of outlets on it. held: its parts without one below `above`.
    """
    if not len(levels) or not (held or _begins_above(solid, above)):
        return held
    middle = len(levels) // 2
    height = levels[middle] - SKIM
    below = [p for p in parts(solid.trim_by_plane((0.0, 0.0, -1.0), -height)) if p.volume() > DROP]
    if not below:
        return _search(solid, edge, height, levels[middle + 1:], [])
    mine = edge[edge[:, 2] <= height]
    owner = _owners(mine, below)
    keeper = _owners(np.array([_lowest(part) for part in held]).reshape(-1, 3), below)
    dry = sorted(set(owner.tolist()))
    found: list[Manifold] = []
    for index in dry:
        own = mine[owner == index]
        found += _search(
            below[index], own, above, _levels(below[index], own, above, levels[middle]),
            [part for part, k in zip(held, keeper.tolist(), strict=True) if k == index])
    wet = [part for index, part in enumerate(below) if index not in dry]
    return found + _search(solid, edge, height, levels[middle + 1:], wet)


def _levels(solid: Manifold, edge: Floats, above: float, below: float) -> Floats:
    """Levels, ascending, strictly between two heights, at which parts may join or an outlet begins."""
    corners, faces = triangles(solid)
    heights = np.append(corners[_saddles(corners[:, 2], faces), 2], edge[:, 2].min(initial=np.inf))
    heights = np.sort(heights[(heights > above + STEP / 2) & (heights < below - STEP / 2)])
    kept: list[float] = []
    for height in heights.tolist():
        if not kept or height - kept[-1] > STEP:
            kept.append(height)
    return np.array(kept)


def _saddles(heights: Floats, faces: Ints) -> NDArray[np.bool_]:
    """(n,) corners where parts below them may join: on the way round the corner the surface goes down more than
    once, or it might, by neighbours of the same height; and all corners of level faces."""
    lift = np.zeros((2, 3 * len(faces)))
    for turn in range(3):
        here, rows = faces[:, turn], slice(turn * len(faces), (turn + 1) * len(faces))
        for side in (1, 2):
            rise = heights[faces[:, (turn + side) % 3]] - heights[here]
            lift[side - 1, rows] = np.sign(rise) * (np.abs(rise) > STEP)
    corner = faces.T.ravel()
    count = len(heights)
    changes = np.bincount(corner, np.abs(lift[0] - lift[1]), count)
    tilt = np.bincount(corner, (lift[0] + lift[1]) * ((lift[0] == 0) != (lift[1] == 0)), count)
    level = np.bincount(corner, (lift[0] == 0) & (lift[1] == 0), count)
    return np.asarray((level > 0) | (changes > 4) | ((changes == 4) & (tilt != 0)))


def _begins_above(solid: Manifold, height: float) -> bool:
    """Whether a pool can begin above a height: some corner there has no lower neighbour."""
    corners, faces = triangles(solid)
    z = corners[:, 2]
    least = np.full(len(z), np.inf)
    for turn in range(3):
        np.minimum.at(least, faces[:, turn], np.minimum(z[faces[:, turn - 1]], z[faces[:, turn - 2]]))
    return bool(((z > height) & (least > z - STEP)).any())


def _owners(points: Floats, pieces: Sequence[Manifold]) -> Ints:
    """(k,) the piece nearest to each of (k, 3) points."""
    if len(pieces) < 2 or not len(points):
        return np.zeros(len(points), dtype=np.int64)
    away = _distances(points, pieces, ON)
    lost = np.isinf(away.min(axis=0))
    away[:, lost] = _distances(points[lost], pieces, np.inf)
    return np.asarray(away.argmin(axis=0))


def _distances(points: Floats, pieces: Sequence[Manifold], within: float) -> Floats:
    """(p, k) distances from the pieces to (k, 3) points, infinite where it is plain that they are over `within`."""
    away = np.full((len(pieces), len(points)), np.inf)
    for index, piece in enumerate(pieces):
        box = np.array(piece.bounding_box())
        near = (np.maximum(box[:3] - points, points - box[3:]) <= within).all(axis=1)
        away[index, near] = distances(points[near], piece, within)
    return away


def _pool(part: Manifold) -> Pool:
    x, y, z = _lowest(part).tolist()
    low, high = _heights(part)
    return Pool(volume=float(part.volume()), at=(x, y, z), depth=high - low)


def _lowest(part: Manifold) -> Floats:
    """(3,) the lowest point; of a level floor the corner that is first by x, then y."""
    corners = triangles(part)[0]
    floor = corners[corners[:, 2] <= corners[:, 2].min() + STEP]
    return np.asarray(floor[np.lexsort(np.round(floor[:, ::-1].T, 6))[0]])


def _heights(solid: Manifold) -> tuple[float, float]:
    box = solid.bounding_box()
    return float(box[2]), float(box[5])
