"""A draft: the kit as far as its plates go. Nothing in it changes when the kit is completed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..envelope.envelope import Envelope
from ..inner.interior import Interior
from ..plates.solve import Solved
from ..stock.materials import material_of
from ..terms.choices import Choices
from ..terms.metal import Material
from .kit import KitPlate, Placement
from .marks import Marked
from .pieces import Piece

__all__ = ["Draft", "draft_plates", "placement_ids"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Draft:
    """Plates as they will be cut, marked, and all that a kit is completed from."""

    name: str
    choices: Choices
    solved: Solved
    interior: Interior
    pieces: tuple[Piece, ...]
    marked: tuple[Marked, ...]


def draft_plates(draft: Draft) -> tuple[KitPlate, ...]:
    """The kit's plates, but for what they border."""
    envelope, pieces = draft.solved.envelope, draft.pieces
    material = material_of(draft.choices)
    ids = placement_ids(draft.marked, len(draft.interior.assembly.plates))
    return tuple(_kit_plate(envelope, mark, ids, pieces, material) for mark in draft.marked)


def placement_ids(marked: tuple[Marked, ...], count: int) -> list[str]:
    """What every one of `count` placements is called."""
    ids = [""] * count
    for mark in marked:
        for number, (index, _) in enumerate(mark.members, 1):
            ids[index] = f"{mark.mark}-{number}"
    return ids


def _kit_plate(
    envelope: Envelope, mark: Marked, ids: list[str], pieces: Sequence[Piece], material: Material
) -> KitPlate:
    first = pieces[mark.members[0][0]]
    outline = mark.outline
    matrices = np.array([matrix for _, matrix in mark.members])
    matrices[:, :3, 3] += envelope.origin
    placements = tuple(
        Placement(id=ids[index], panel=pieces[index].name, faces=pieces[index].faces, matrix=matrix)
        for (index, _), matrix in zip(mark.members, matrices, strict=True)
    )
    corners = outline.outer.flatten()
    area = outline.area()
    return KitPlate(
        mark=mark.mark, name=_name([p.panel for p in placements]), material=material.name, density=material.density,
        thickness=first.thickness, role=first.role, metal_side=first.metal_side, outline=outline, area=area,
        mass=area * first.thickness * material.density * 1e-9, cut_length=outline.cut_length(),
        pierces=outline.pierces(), size=(float(np.ptp(corners[:, 0])), float(np.ptp(corners[:, 1]))),
        placements=placements, borders=(),
    )


def _name(panels: list[str]) -> str:
    """What a plate is called: after its panels, while they are few."""
    return " + ".join(panels) if len(panels) <= 3 else panels[0]
