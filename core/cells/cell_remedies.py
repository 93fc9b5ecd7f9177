"""The one right cure for a closed space, or one that keeps its liquid: a hole where it does most, or limber holes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
import shapely
from manifold3d import Manifold
from numpy.typing import NDArray

from ..openings.opening_remedies import SPARE, grown_finely
from ..plates.plates import Plate, plate_shapes
from ..plates.tab_sizes import WEB
from ..shapes.outline import Circle
from ..terms.choices import MarkedOpening, Settings
from ..terms.messages import Length
from ..terms.remedies import AddedOpening, ChangedSetting, Remedy
from .cell_checks import box_sides, least_pool
from .cells import Cell, Vent
from .pools import OUTLETS, trapped_liquid
from .vent_holes import vent_hole

__all__ = ["CellCures"]

Floats = NDArray[np.float64]

DRAIN: Final = 10.0
"""mm: a drain to begin with. Common practice, no source: 3/8 in; water bridges a hole of less than about 6 mm."""
LIMBER: Final = (5.0, 20.0)
LIMBER_SHARE: Final = 0.1
"""mm, least and most, and share of a plate's width that limber holes take. Common practice, no source."""
MOST_DRAINS: Final = 4
"""A space that needs more low points drained wants another drawing."""
TRIES: Final = 16
"""Walls that are tried for a hole, the best first."""
SKIN: Final = 0.2
"""mm below a wall's inner surface, where it is looked for the space behind it; thinner than any sheet."""
BESIDE: Final = 1.0
"""mm: a wall this near to a place bounds the space there."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CellCures:
    """What cures of cells are found by. walls: their plates as cut. feet: by wall, where inner plates stand on it.
    bare: the inner plates without limber holes, with their solids. vents: all openings in walls. space: the room before
    inner plates part it, None where it is not known."""

    walls: Sequence[Plate]
    feet: Mapping[int, shapely.Geometry]
    bare: Sequence[tuple[Plate, Manifold]]
    vents: Sequence[Vent]
    space: Manifold | None
    settings: Settings

    def remedy(self, rule: str, cell: Cell) -> Remedy | None:
        """What cures the finding of that rule, None where nothing or a choice of several does."""
        if rule == "sealed_cell":
            return None if self.settings.sealed else self._vented(cell)
        return self._drained(cell) if rule == "cannot_drain" else None

    def _vented(self, cell: Cell) -> Remedy | None:
        """A hole for welding in the middle of the highest wall that has room for it."""
        advised = vent_hole(box_sides(cell.solid), cell.volume).welding
        best: tuple[tuple[float, float], int, Floats] | None = None
        for index in self._beside(cell)[:TRIES]:
            wall = self.walls[index]
            size = self._size(wall, advised)
            room = self._room(index, cell, size / 2)
            if not room.is_empty:
                middle = np.array(_middle(room).coords[0])
                height = float(wall.frame.solid(middle[None], wall.low)[0, 2])
                key = (round(height), round(float(room.area)))
                if best is None or key > best[0]:
                    best = key, index, middle
        if best is None:
            return None
        _, index, middle = best
        size = self._size(self.walls[index], advised)
        return Remedy(label=f"Add a {Length(size):g} Vent for Welding", changes=(
            self._opening(index, middle, "vent", "vent", size),))

    def _drained(self, cell: Cell) -> Remedy | None:
        own = [self.vents[row] for row in cell.vents]
        outlets = [vent for vent in own if vent.purpose in OUTLETS]
        carries = [vent for vent in self.vents if vent.purpose in OUTLETS]
        if carries and (limber := self._limbered(cell, carries)) is not None:
            return limber
        # where nothing carries liquid it is rain that stays, and any opening lets it out
        return self._holes(cell, outlets, "drain") if carries else self._holes(cell, own, "vent")

    def _limbered(self, cell: Cell, carries: Sequence[Vent]) -> Remedy | None:
        """Limber holes, where the whole room would drain but for the inner plates, and none was chosen for them."""
        widths = [
            2 * float(shapely.maximum_inscribed_circle(plate_shapes([plate.outline])[0]).length)
            for plate, solid in self.bare
            if cell.solid.min_gap(solid, 2 * BESIDE) < BESIDE]
        if not widths or self.settings.limber > 0 or self.space is None:
            return None
        if sum(pool.volume for pool in trapped_liquid(self.space, carries)) > least_pool(self.space.volume()):
            return None
        size = float(np.clip(round(LIMBER_SHARE * min(widths)), *LIMBER))
        return Remedy(label=f"Limber Holes of {Length(size):g}", changes=(ChangedSetting(name="limber", value=size),))

    def _holes(self, cell: Cell, outlets: Sequence[Vent], purpose: Literal["drain", "vent"]) -> Remedy | None:
        """A hole at the lowest place of every pool, where no more than a film stays then."""
        name, called = ("drain", "Drain") if purpose == "drain" else ("weep hole", "Weep Hole")
        outlets, changes = list(outlets), list[AddedOpening]()
        while len(changes) <= MOST_DRAINS:
            pools = [p for p in trapped_liquid(cell.solid, outlets) if p.volume > least_pool(cell.volume)]
            if not pools:
                break
            found = self._low_place(cell, np.array(pools[0].at))
            if found is None:
                return None
            index, flat = found
            wall = self.walls[index]
            size = self._size(wall, DRAIN)
            ring = Circle(centre=(float(flat[0]), float(flat[1])), diameter=size).flatten()
            at = wall.frame.solid(flat[None], wall.low)[0]
            if any(np.linalg.norm(at - other.at) < size for other in outlets):
                return None
            outlets.append(Vent(at=at, inward=-wall.frame.axes[2], radius=size / 2,
                                corners=wall.frame.solid(ring, wall.low), purpose=purpose, name=name))
            changes.append(self._opening(index, flat, name, purpose, size))
        else:
            return None
        if not changes:
            return None
        sizes = sorted({c.opening.size[0] for c in changes if c.opening.size})
        said = f"{Length(*dict.fromkeys((sizes[0], sizes[-1])), between=' to '):g}"
        label = f"Add a {said} {called}" if len(changes) == 1 else f"Add {len(changes)} {called}s of {said}"
        return Remedy(label=label, changes=tuple(changes))

    def _low_place(self, cell: Cell, at: Floats) -> tuple[int, Floats] | None:
        """The wall below a low place, and where on it a hole comes nearest to that place."""
        near = [i for i in self._beside(cell) if (_gap(_box(self.walls[i]), at) < BESIDE).all()]
        for index in sorted(near, key=lambda i: round(float(self.walls[i].frame.axes[2, 2]), 6))[:TRIES]:
            wall = self.walls[index]
            room = self._room(index, cell, self._size(wall, DRAIN) / 2)
            if wall.frame.axes[2, 2] < 0 and not room.is_empty:
                here = shapely.Point(wall.frame.flat(at[None])[0])
                return index, shapely.get_coordinates(shapely.shortest_line(here, room))[1]
        return None

    def _beside(self, cell: Cell) -> list[int]:
        """Walls whose boxes meet the cell's, the highest first, then the largest."""
        low, high = np.array(cell.low) - BESIDE, np.array(cell.high) + BESIDE
        boxes = np.array([_box(wall) for wall in self.walls]).reshape(-1, 2, 3)
        met = np.flatnonzero((boxes[:, 0] <= high).all(axis=1) & (boxes[:, 1] >= low).all(axis=1)).tolist()
        middle = np.round(boxes[:, :, 2].mean(axis=1)).tolist()
        return sorted(met, key=lambda i: (-middle[i], -round(self.walls[i].outline.area()), i))

    def _size(self, wall: Plate, wanted: float) -> float:
        return max(wanted, self.settings.cutter.least_hole(wall.thickness))

    def _room(self, index: int, cell: Cell, radius: float) -> shapely.Geometry:
        """Where in a wall's plane the middle of a round hole may lie that leads into the cell."""
        wall = self.walls[index]
        clear = radius + WEB * wall.thickness + SPARE
        room = grown_finely(plate_shapes([wall.outline])[0], -clear)
        taken = [shapely.MultiPoint(np.concatenate(f.rings())).convex_hull for f in wall.outline.fields]
        taken += [self.feet[index]] if index in self.feet else []
        if taken:
            room = shapely.difference(room, grown_finely(shapely.union_all(taken), clear))
        if room.is_empty:
            return room
        axes = wall.frame.axes
        flat = cell.solid.transform(np.column_stack([axes, -axes @ wall.frame.origin]))
        behind = [                                           # a plane that misses the cell gives a part without a ring
            shapely.Polygon(rings[0], rings[1:])
            for rings in (part.to_polygons() for part in flat.slice(wall.low - SKIN).decompose()) if rings]
        return shapely.intersection(room, grown_finely(shapely.union_all(behind), -radius))

    def _opening(
        self, index: int, flat: Floats, name: str, purpose: Literal["drain", "vent"], size: float
    ) -> AddedOpening:
        wall = self.walls[index]
        at = wall.frame.solid(np.asarray(flat)[None], wall.low + wall.thickness / 2)[0]
        x, y, z = (np.round(at, 2) + 0.0).tolist()
        return AddedOpening(opening=MarkedOpening(name=name, at=(x, y, z), size=(size,), purpose=purpose))


def _middle(room: shapely.Geometry) -> shapely.Point:
    """The middle of where a hole may be; where that is outside of it, the roomiest place."""
    middle = room.centroid
    return middle if room.contains(middle) else shapely.Point(shapely.maximum_inscribed_circle(room).coords[0])


def _box(wall: Plate) -> Floats:
    """(2, 3) the corners of a plate's box."""
    ring = wall.outline.outer.points
    ends = np.concatenate([wall.frame.solid(ring, height) for height in (wall.low, wall.low + wall.thickness)])
    return np.array([ends.min(axis=0), ends.max(axis=0)])


def _gap(box: Floats, at: Floats) -> Floats:
    """(3,) how far a place is from a box along each axis, mm."""
    return np.asarray(np.maximum(np.maximum(box[0] - at, at - box[1]), 0.0))
