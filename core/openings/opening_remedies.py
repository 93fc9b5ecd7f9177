"""The one right cure for an opening that has no room where it is, or is too small: moved a little, or widened."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from ..kit.kit import KitPlate, Opening
from ..shapes.frame import Frame
from ..terms.choices import MarkedOpening
from ..terms.remedies import ChangedOpening, Remedy

__all__ = ["SPARE", "Widening", "find_move", "grown_finely", "move_remedy"]

Floats = NDArray[np.float64]

SPARE: Final = 0.05
"""mm of metal more than was asked for, so that rounding leaves enough."""
FARTHEST: Final = 2.0
"""Times the opening's own reach and the metal beside it: what is to be moved farther was meant for another place."""
HERE: Final = 0.01
"""mm: an opening this near to a hole's middle is that hole."""


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
    label = f"Move It by {float(np.hypot(*way)):.1f} mm"
    return Remedy(label=label, changes=(ChangedOpening(name=name, move=(x, y, z)),))


@dataclass(frozen=True, slots=True, kw_only=True)
class Widening:
    """Which marked openings make the holes of plates as they are cut. marked: by name. openings: of the kit."""

    marked: Mapping[str, MarkedOpening]
    openings: tuple[Opening, ...]

    @classmethod
    def of(cls, marked: Iterable[MarkedOpening], openings: Sequence[Opening]) -> Widening:
        return cls(marked={opening.name: opening for opening in marked}, openings=tuple(openings))

    def remedy(self, plate: KitPlate, places: Sequence[Floats], least: float) -> Remedy | None:
        """All holes in these places (2,) of a drawing widened to `least` mm, where each is an opening whose size the
        user gave; None where one is not."""
        ids = {placement.id for placement in plate.placements}
        names: dict[str, None] = {}
        for at in places:
            here = [
                o.name for o in self.openings
                if o.plate in ids and np.hypot(o.centre[0] - at[0], o.centre[1] - at[1]) < HERE]
            if not here or any(name not in self.marked or self.marked[name].size is None for name in here):
                return None
            names.update(dict.fromkeys(here))
        changes = tuple(
            ChangedOpening(name=name, size=tuple(max(side, least) for side in self.marked[name].size or ()))
            for name in names)
        one = len(changes) == 1
        return Remedy(label=f"Widen {'It' if one else 'Them'} to {least:g} mm", changes=changes)
