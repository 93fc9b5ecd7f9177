"""Openings once they have a plate: what was cut, and where on it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ..shapes.outline import Hole

__all__ = ["PlacedOpening"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlacedOpening:
    """An opening on the plate with index `plate`, in that plate's own plane coordinates, mm.

    cuts: every hole it makes (an opening with bolts makes several); empty for a perforation field, whose holes
    are the outline's fields. The other members are those of kit.Opening; ground is in the plate's plane, too.
    """

    plate: int
    name: str
    shape: Literal["round", "slot", "rectangle", "polygon"]
    purpose: Literal["port", "vent", "drain", "hand_hole", "limber", "perforation"]
    centre: tuple[float, float]
    rotation: float
    size: tuple[float, ...]
    cuts: tuple[Hole, ...]
    points: NDArray[np.float64] | None = None
    pattern: str = ""
    count: int = 1
    cut_length: float = 0.0
    open_area: float = 0.0
    open_share: float = 0.0
    standard_share: float | None = None
    ground: tuple[tuple[NDArray[np.float64], ...], ...] = ()
