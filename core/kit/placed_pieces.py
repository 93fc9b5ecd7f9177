"""The placements of a kit in one row, with what decides how they can leave each other."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..shapes.connectivity import components, numbered
from .kit import Joint, Kit, KitPlate, Placement
from .plate_boxes import PlateBoxes

__all__ = ["PlacedPieces", "placed_pieces"]

Floats = NDArray[np.float64]
Index = NDArray[np.int64]

CLEAR = 0.14
"""How far apart a wall and what it stood on are at the end, as a share of the assembly's diagonal."""

THICKNESSES = 8.0
"""The same at least, in thicknesses of the thickest plate: after a fifth of the way every tab is out of its slot, and
by half its length more."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlacedPieces:
    """The placements of a kit, all of them in one row. wall: (n,) bool. faces: (n, 3) unit normals, outward for walls.
    group: (n,) which of them hang together. facing: (n,) bool, at a re-entrant corner. slotted: (n,) bool, inner
    plates that are slotted through another one or hang together with such. reach: mm, what walls move at least."""

    ids: tuple[str, ...]
    boxes: PlateBoxes
    outer: tuple[Floats, ...]
    wall: NDArray[np.bool_]
    faces: Floats
    group: Index
    facing: NDArray[np.bool_]
    slotted: NDArray[np.bool_]
    reach: float
    thickest: float


def placed_pieces(kit: Kit) -> PlacedPieces:
    """In the order of the kit's plates and their placements. kit: with at least one plate."""
    rows: list[tuple[KitPlate, Placement]] = [(plate, placed) for plate in kit.plates for placed in plate.placements]
    ids = tuple(placed.id for _, placed in rows)
    turns = np.array([placed.matrix[:3, :3] for _, placed in rows])
    at = np.array([placed.matrix[:3, 3] for _, placed in rows])
    halves = np.array([[*plate.size, plate.thickness] for plate, _ in rows]) / 2
    boxes = PlateBoxes(
        centres=np.einsum("nij,nj->ni", turns, halves) + at, axes=turns.transpose(0, 2, 1), halves=halves)
    corners = np.concatenate([boxes.centres + boxes.halves[:, axis, None] * sign * boxes.axes[:, axis]
                              for axis in (0, 1) for sign in (-1, 1)])
    middle = corners.mean(axis=0)
    size = 2.0 * float(np.sqrt(((corners - middle) ** 2).sum(axis=1).max()))
    thickest = max(plate.thickness for plate, _ in rows)
    wall = np.array([plate.role == "wall" for plate, _ in rows])
    return PlacedPieces(
        ids=ids, boxes=boxes, outer=tuple(plate.outline.outer.flatten() for plate, _ in rows),
        wall=wall, faces=turns[:, :, 2],
        # a plate that stands free in its envelope goes with it
        group=_hanging_together(ids, [*(joint.plates for joint in kit.joints), *(e.plates for e in kit.envelopes)]),
        facing=np.isin(ids, [name for joint in kit.joints if joint.angle > 180.0 for name in joint.plates]),
        slotted=_slotted(ids, kit.joints, wall),
        reach=max(CLEAR * size, THICKNESSES * thickest), thickest=thickest)


def _hanging_together(ids: Sequence[str], sets: Sequence[tuple[str, ...]]) -> Index:
    """(n,) the number of the group that each placement belongs to, in the order of their first ones. sets: placements
    that go together."""
    row = {name: i for i, name in enumerate(ids)}
    links = [(row[one], row[two]) for names in sets for one, two in itertools.pairwise(names)]
    a, b = np.array(links, dtype=np.int64).reshape(-1, 2).T
    return numbered(components(len(ids), a, b))[0]


def _slotted(ids: Sequence[str], joints: Sequence[Joint], wall: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """(n,) inner plates that are slotted through another one, or that hang together with such."""
    walls = {name for name, is_wall in zip(ids, wall, strict=True) if is_wall}
    parts = _hanging_together(ids, [joint.plates for joint in joints if walls.isdisjoint(joint.plates)])
    crossed = {name for joint in joints if joint.kind == "cross" for name in joint.plates}
    return np.isin(parts, parts[np.isin(ids, list(crossed))])
