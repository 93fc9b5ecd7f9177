"""What is etched on each plate beside its neighbours' marks, and what an inner plate's face looks at."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from ..shapes.motions import undone
from ..terms import tolerance
from ..terms.choices import Choices, PanelChoice
from ..terms.findings import Finding
from ..terms.messages import Length
from .kit import Kit, KitPlate, Placement
from .piece_names import piece_names

__all__ = ["with_marks"]

Floats = NDArray[np.float64]

ROOM: Final = 4.0
"""mm of metal round the place of a mark: the least height of one and what it stays away from cuts."""
_CHORD: Final = 0.1


def with_marks(kit: Kit, choices: Choices) -> Kit:
    """The kit whose plates know where their mark goes, whether there is one, and what their outside face looks at where
    they are inside; findings about places where no mark can be."""
    names = piece_names(kit)
    shapes = {plate.mark: _shape(plate) for plate in kit.plates}
    plates, found = [], list[Finding]()
    for plate in kit.plates:
        chosen = [_chosen(placement, choices) for placement in plate.placements]
        at = next((_flat(placement, choice.mark_at) for placement, choice in zip(plate.placements, chosen, strict=True)
                   if choice.mark_at is not None), None)
        found += _no_room(plate, at, shapes[plate.mark])
        toward = _toward(plate, kit.plates, shapes, names) if plate.role == "inner" else ""
        plates.append(replace(
            plate, marked=all(choice.mark is not False for choice in chosen), mark_at=at, toward=toward))
    return replace(kit, plates=tuple(plates), checks=(*kit.checks, *found))


def _chosen(placement: Placement, choices: Choices) -> PanelChoice:
    """What was chosen for a plate: by its faces, and behind that by its name."""
    by_name = choices.panels.get(placement.panel, PanelChoice())
    own = [choices.faces[face] for face in placement.faces if face in choices.faces]
    mark = next((one.mark for one in own if one.mark is not None), by_name.mark)
    at = next((one.mark_at for one in own if one.mark_at is not None), by_name.mark_at)
    return PanelChoice(mark=mark, mark_at=at)


def _flat(placement: Placement, point: tuple[float, float, float] | None) -> tuple[float, float]:
    """A place in the drawing's frame as a place on the plate's own drawing."""
    x, y = (undone(placement.matrix) @ [*(point or (0.0, 0.0, 0.0)), 1.0])[:2]
    return float(x), float(y)


def _shape(plate: KitPlate) -> shapely.Polygon:
    outline = plate.outline
    return shapely.Polygon(outline.outer.flatten(_CHORD), [hole.flatten(_CHORD) for hole in outline.holes])


def _no_room(plate: KitPlate, at: tuple[float, float] | None, shape: shapely.Polygon) -> Iterator[Finding]:
    if at is None:
        return
    point = shapely.Point(at)
    if shape.contains(point) and shape.boundary.distance(point) >= ROOM:
        return
    where = "off the plate" if not shape.contains(point) else (
        f"{Length(float(shape.boundary.distance(point))):.1f} from a cut or an edge")
    yield Finding(
        rule="mark_misplaced", level="warning", about=tuple(one.id for one in plate.placements),
        faces=tuple(face for one in plate.placements for face in one.faces),
        message=f"The place chosen for the mark of '{plate.name}' is {where}: it is etched where it fits. Give a place "
        f"with {Length(ROOM):g} of metal round it.")


def _toward(
    plate: KitPlate, plates: Sequence[KitPlate], shapes: Mapping[str, shapely.Polygon], names: Mapping[str, str]
) -> str:
    """What the outside face of an inner plate looks at: the first plate that a line from its middle, square to it,
    comes to. Empty where it comes to none, or copies of it look at different ones."""
    inside = shapely.point_on_surface(shapes[plate.mark])
    seen = {_first_hit(placement, inside, plate, plates, shapes, names) for placement in plate.placements}
    return seen.pop() if len(seen) == 1 else ""


def _first_hit(
    placement: Placement, inside: shapely.Point, plate: KitPlate, plates: Sequence[KitPlate],
    shapes: Mapping[str, shapely.Polygon], names: Mapping[str, str],
) -> str:
    start = (placement.matrix @ [inside.x, inside.y, plate.thickness, 1.0])[:3]
    way = placement.matrix[:3, 2]
    best, name = np.inf, ""
    for other in plates:
        for one in other.placements:
            if one.id == placement.id:
                continue
            back = undone(one.matrix)
            origin, along = (back @ [*start, 1.0])[:3], back[:3, :3] @ way
            if abs(along[2]) < tolerance.RELATIVE:
                continue
            far = (other.thickness / 2 - origin[2]) / along[2]
            x, y = (origin + along * far)[:2]
            if 0.0 < far < best and shapes[other.mark].covers(shapely.Point(x, y)):
                best, name = far, names[one.id]
    return name
