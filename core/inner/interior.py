"""An envelope fitted out: the record that the road of a kit hands from room to room."""

from __future__ import annotations

from dataclasses import dataclass

from ..openings.placed_openings import PlacedOpening
from ..plates.plates import Plate
from ..plates.trimming import Assembly
from ..terms.findings import Finding
from .inner_plates import Inside
from .room import Room
from .tee_tabs import TabPlan, Tee

__all__ = ["Interior"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Interior:
    """An envelope fitted out. assembly: all plates, the walls first, then the inner plates. inside: the inner ones
    before tabs. tabs: of their tees. openings: on any plate. findings: what was found on the way. room: where inner
    plates needed it. untabbed: all plates as they were before tabs. former: tees that trimming took."""

    assembly: Assembly
    inside: Inside
    tabs: TabPlan
    openings: tuple[PlacedOpening, ...]
    findings: tuple[Finding, ...]
    room: Room | None
    untabbed: tuple[Plate, ...]
    former: tuple[Tee, ...]
