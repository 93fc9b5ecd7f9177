"""Openings whose size the user gave, widened where the shop cuts no hole so small."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ..terms.choices import MarkedOpening
from ..terms.messages import Length
from ..terms.remedies import ChangedOpening, Remedy
from .kit import KitPlate, Opening

__all__ = ["Widening"]

Floats = NDArray[np.float64]

HERE: Final = 0.01
"""mm: an opening this near to a hole's middle is that hole."""


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
        return Remedy(label=f"Widen {'It' if one else 'Them'} to {Length(least):g}", changes=changes)
