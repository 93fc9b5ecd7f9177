"""The one right cure for an opening that has no room where it is, or is too small: moved a little, or widened."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from ..shapes.frame import Frame
from ..terms.messages import Length
from ..terms.remedies import ChangedOpening, Remedy

__all__ = ["SPARE", "find_move", "grown_finely", "move_remedy"]

Floats = NDArray[np.float64]

SPARE: Final = 0.05
"""mm of metal more than was asked for, so that rounding leaves enough."""
FARTHEST: Final = 2.0
"""Times the opening's own reach and the metal beside it: what is to be moved farther was meant for another place."""


def find_move(
    edge: shapely.Polygon, holes: Sequence[shapely.Polygon], shapes: Sequence[shapely.Polygon],
    centre: tuple[float, float], least: float,
) -> tuple[float, float] | None:
    """The shortest way, mm in the plate's plane, to a place where a circle round all of an opening's `shapes` leaves
    `least` mm of metal to the plate's edge and to other holes; None where that is far, or nowhere."""
    points = np.concatenate([shapely.get_coordinates(shape) for shape in shapes])
    reach = float(np.hypot(*(points - centre).T).max()) + least + SPARE
    room = grown_finely(edge, -reach)
    if holes:
        room = shapely.difference(room, grown_finely(shapely.union_all(holes), reach))
    if room.is_empty:
        return None
    here = shapely.Point(centre)
    x, y = np.round(shapely.get_coordinates(shapely.shortest_line(here, room))[1] - centre, 2).tolist()
    return (x, y) if 0.0 < float(np.hypot(x, y)) <= FARTHEST * reach else None


def grown_finely(shape: shapely.Geometry, by: float) -> shapely.Geometry:
    """A shape grown by so many mm, shrunk where it is less than 0, the rounds about its corners far within SPARE."""
    return shapely.buffer(shape, by, quad_segs=64)


def move_remedy(name: str, way: tuple[float, float], frame: Frame) -> Remedy:
    """An opening moved in its plate's plane."""
    x, y, z = (np.round(np.array(way) @ frame.axes[:2], 4) + 0.0).tolist()
    label = f"Move It by {Length(float(np.hypot(*way))):.1f}"
    return Remedy(label=label, changes=(ChangedOpening(name=name, move=(x, y, z)),))
