"""A kit with what is welded of it, and what that takes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ..terms.metal import Family
from ..terms.process import Process
from ..welding.consumption import consumption_of
from ..welding.pieces import Piece, Pieces
from ..welding.process_table import process_for
from ..welding.seams import seams_of
from ..welding.weld_checks import check_welds
from .kit import Kit, KitPlate, Placement

__all__ = ["pieces_of", "welded"]


def welded(kit: Kit, family: Family) -> Kit:
    """The kit with its seams, and findings about them. family: of its metal. Raises InputError for a process that is
    not known."""
    rule, pieces = kit.settings.weld, pieces_of(kit)

    def process_of(thickness: float) -> Process:
        return process_for(rule.process, rule.processes, family, thickness)

    seams = seams_of(kit.joints, kit.corners, pieces, rule)
    return replace(
        kit, seams=seams, welding=consumption_of(seams, pieces, rule, process_of),
        checks=(*kit.checks, *check_welds(kit.joints, seams, pieces, process_of)))


def pieces_of(kit: Kit) -> Pieces:
    """The kit's placements as welding sees them, by id."""
    vessels = {
        name: number for number, shell in enumerate(kit.envelopes) if shell.closed for name in shell.plates}
    pierced = {opening.plate for opening in kit.openings}
    return {
        placement.id: _piece(plate, placement, vessels, placement.id in pierced)
        for plate in kit.plates for placement in plate.placements}


def _piece(plate: KitPlate, placement: Placement, vessels: dict[str, int], pierced: bool) -> Piece:
    outer = plate.outline.outer.flatten()
    edge = np.linalg.norm(outer - np.roll(outer, 1, axis=0), axis=1)
    middle = placement.matrix @ [*outer.mean(axis=0), plate.thickness / 2, 1.0]
    return Piece(
        id=placement.id, name=f"{plate.mark} {placement.panel}", thickness=plate.thickness, matrix=placement.matrix,
        middle=middle[:3], around=float(edge.sum()), whole=not pierced and not plate.outline.fields,
        vessel=vessels.get(placement.id) if plate.role == "wall" else None)
