"""A draft: the kit as far as its plates go. Nothing in it changes when the kit is completed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..inner.interior import Interior
from ..plates.plates import Plate
from ..plates.solve import Solved
from ..terms import tolerance
from ..terms.choices import Choices
from ..terms.metal import Material
from .kit import KitPlate, Placement
from .marks import Marked
from .moved_kit import moved_plates

__all__ = ["Draft", "draft_plates", "kit_plates", "placement_ids"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Draft:
    """Plates as they will be cut, marked, and all that a kit is completed from; as it was solved, about the drawing's
    middle. plates: the distinct ones, but for what they border and how they are marked."""

    name: str
    choices: Choices
    solved: Solved
    interior: Interior
    marked: tuple[Marked, ...]
    plates: tuple[KitPlate, ...]


def draft_plates(draft: Draft) -> tuple[KitPlate, ...]:
    """The kit's plates where they lie in the drawing, but for what they border and how they are marked."""
    return moved_plates(draft.plates, draft.solved.envelope.origin)


def kit_plates(plates: Sequence[Plate], marked: Sequence[Marked], material: Material) -> tuple[KitPlate, ...]:
    """The distinct plates, one a mark, but for what they border and their marks. plates: all, by number."""
    ids = placement_ids(marked, len(plates))
    return tuple(_kit_plate(mark, ids, plates, material) for mark in marked)


def placement_ids(marked: Sequence[Marked], count: int) -> list[str]:
    """What every one of `count` placements is called."""
    ids = [""] * count
    for mark in marked:
        for number, (index, _) in enumerate(mark.members, 1):
            ids[index] = f"{mark.mark}-{number}"
    return ids


def _kit_plate(mark: Marked, ids: Sequence[str], plates: Sequence[Plate], material: Material) -> KitPlate:
    first, outline = plates[mark.members[0][0]], mark.outline
    placements = tuple(
        Placement(id=ids[index], panel=plates[index].name, faces=plates[index].faces, matrix=matrix)
        for index, matrix in mark.members
    )
    corners = outline.outer.flatten()
    area = outline.area()
    return KitPlate(
        mark=mark.mark, name=_name([p.panel for p in placements]), material=material.name, density=material.density,
        thickness=first.thickness, role=first.role, metal_side=first.metal_side, outline=outline, area=area,
        mass=area * first.thickness * material.density * tolerance.CUBIC_METRE, cut_length=outline.cut_length(),
        pierces=outline.pierces(), size=(float(np.ptp(corners[:, 0])), float(np.ptp(corners[:, 1]))),
        placements=placements, borders=(),
    )


def _name(panels: list[str]) -> str:
    """What a plate is called: after its panels, while they are few."""
    return " + ".join(panels) if len(panels) <= 3 else panels[0]
