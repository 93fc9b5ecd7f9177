"""Where on each plate something can be written so that the viewer sees it: on metal, on the face that is turned to
him, with no other plate before it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import product
from typing import Final

import bpy
import numpy as np
from mathutils import Vector
from numpy.typing import NDArray

__all__ = ["places_in_sight"]

Floats = NDArray[np.float64]

SHARES: Final = sorted(
    product((0.5, 0.25, 0.75), repeat=2), key=lambda share: (share[0] - 0.5) ** 2 + (share[1] - 0.5) ** 2
)
"""Of the plate's length and width, where is looked, the middle first."""

MOST: Final = 60
"""Plates above which only the middle of each is taken, unseen: time grows with their square, and it is spent at every
redraw."""

NEAR: Final = 4.0
"""Thicknesses within which a look at a place must meet the plate's own metal."""


def places_in_sight(
    items: Sequence[bpy.types.Object],
    depsgraph: bpy.types.Depsgraph,
    viewer: Callable[[Vector], Vector],
) -> list[Vector | None]:
    """For every plate a place on one of its faces, in the world, or None where none is seen.

    viewer: from where a place is looked at, in the world.
    """
    if len(items) > MOST:
        return [_places(item, viewer)[0] for item in items]
    boxes = _Boxes(items)
    return [
        next((at for at in _places(item, viewer) if _seen(number, at, viewer(at), items, boxes, depsgraph)), None)
        for number, item in enumerate(items)
    ]


class _Boxes:
    """The boxes of all plates at once, each in its own frame: few of them lie on a line of sight."""

    def __init__(self, items: Sequence[bpy.types.Object]) -> None:
        self.inverse = np.array([item.matrix_world.inverted_safe() for item in items]).reshape(-1, 4, 4)
        corners = np.array([item.bound_box for item in items], dtype=np.float64).reshape(-1, 8, 3)
        self.low, self.high = corners.min(axis=1), corners.max(axis=1)

    def met(self, start: Vector, end: Vector) -> list[int]:
        """Which of them the line from start to end runs through."""
        here, there = (self.inverse @ np.array([*point, 1.0]) for point in (start, end))
        begin, way = here[:, :3], there[:, :3] - here[:, :3]
        way = np.where(way == 0.0, np.finfo(np.float64).tiny, way)
        with np.errstate(over="ignore"):
            one, two = (self.low - begin) / way, (self.high - begin) / way
        enter, leave = np.minimum(one, two).max(axis=1), np.maximum(one, two).min(axis=1)
        return np.flatnonzero((enter <= leave) & (leave >= 0.0) & (enter <= 1.0)).tolist()


def _places(item: bpy.types.Object, viewer: Callable[[Vector], Vector]) -> list[Vector]:
    """Where is looked on the plate's nearer face, in the world, the middle of its box first."""
    low, high = Vector(item.bound_box[0]), Vector(item.bound_box[6])
    middle = (low + high) / 2
    eye = item.matrix_world.inverted_safe() @ viewer(item.matrix_world @ middle)
    height = high.z if eye.z > middle.z else low.z
    return [
        item.matrix_world @ Vector((low.x + x * (high.x - low.x), low.y + y * (high.y - low.y), height))
        for x, y in SHARES
    ]


def _seen(
    number: int,
    place: Vector,
    eye: Vector,
    items: Sequence[bpy.types.Object],
    boxes: _Boxes,
    depsgraph: bpy.types.Depsgraph,
) -> bool:
    own = _hit(items[number], eye, place, depsgraph)
    thickness = items[number].bound_box[6][2] - items[number].bound_box[0][2]
    if own is None or (own - place).length > NEAR * thickness:
        return False
    for other in boxes.met(eye, own):
        at = None if other == number else _hit(items[other], eye, own, depsgraph)
        if at is not None and (at - eye).length < (own - eye).length:
            return False
    return True


def _hit(item: bpy.types.Object, eye: Vector, place: Vector, depsgraph: bpy.types.Depsgraph) -> Vector | None:
    """Where the line of sight to a little past the place first meets the object; None where it does not."""
    inverse = item.matrix_world.inverted_safe()
    start, end = inverse @ eye, inverse @ place
    way = end - start
    thickness = item.bound_box[6][2] - item.bound_box[0][2]
    try:
        met, at, _, _ = item.ray_cast(start, way, distance=way.length + NEAR * thickness, depsgraph=depsgraph)
    except RuntimeError:  # it is being edited and has no triangles to look at
        return None
    return item.matrix_world @ at if met else None
