"""How large a hole a closed space wants before it is heated, as those who publish figures say.

Figures for welding alone are not published: a hole has only to let the air out. Galvanisers' figures are larger, for
zinc has to run in and out.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from ..terms import tolerance
from ..terms.messages import Length, Message

__all__ = ["VentHole", "vent_hole"]

WELDING: Final = 3.0
"""mm: lets the air of a space out while its seams are welded. Common practice, no source: 1/16 to 1/8 in."""

BOX_SHARES: Final = ((609.6, 0.25), (406.4, 0.30), (203.2, 0.40))
"""Least height + width of a box section, mm, and the open share of its section at each end. American Galvanizers
Association, Venting and Drainage, Box Sections: 24 in 25 %, 16 in 30 %, 8 in 40 %; a smaller box is left open."""

VESSEL_HOLE: Final = 50.0
VESSEL_SHARE: Final = 0.5e9
"""mm, and mm3: large hollow vessels have a vent and a drain of at least 50 mm for every 0.5 m3. Galvanizers
Association of Australia, design manual, Structural Sections."""

SLENDER: Final = 3.0
"""Length over the larger side from which a space is a box section rather than a vessel. Our choice."""

LARGEST: Final = 0.5
"""Of a space's middle side: a wider hole leaves too little of the plate, so that side stays open. Our choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class VentHole:
    """Advice. welding: least diameter while it is welded, mm. galvanising: least diameter of each hole, mm, None
    where one side should stay open. count: of such holes, half of them vents at the top, half drains. assumption:
    what the figures for galvanising rest on, in words."""

    welding: float
    galvanising: float | None
    count: int
    assumption: str

    def __post_init__(self) -> None:
        object.__setattr__(self, "assumption", Message(self.assumption))


def vent_hole(sides: tuple[float, float, float], volume: float) -> VentHole:
    """Advice for a space. sides: of the box that it fills, mm, in any order; volume: mm3.

    It is advice to start from: the galvaniser, local codes and licensed practice decide.

    >>> vent_hole((300.0, 300.0, 2000.0), 1.8e8)
    VentHole(welding=3.0, galvanising=185.4, count=2, assumption='box section 300 × 300 mm, 30 % of it open at each end\
 (American Galvanizers Association)')
    """
    small, large, length = sorted(sides)
    if length >= SLENDER * large:
        share = next((share for least, share in BOX_SHARES if small + large >= least - tolerance.TIE), None)
        name = f"box section {Length(large, small, between=' × '):.0f}"
        who = "(American Galvanizers Association)"
        if share is None:
            return VentHole(
                welding=WELDING, galvanising=None, count=2,
                assumption=f"{name}, too small for holes: its ends stay open {who}")
        hole = math.sqrt(4 * share * small * large / math.pi)
        said = f"{name}, {100 * share:.0f} % of it open at each end {who}"
        return VentHole(welding=WELDING, galvanising=_fitting(hole, small), count=2, assumption=said)
    count = 2 * math.ceil(volume / VESSEL_SHARE)
    said = "hollow vessel, a vent and a drain for every 0.5 m³ (Galvanizers Association of Australia)"
    return VentHole(welding=WELDING, galvanising=_fitting(VESSEL_HOLE, large * LARGEST), count=count, assumption=said)


def _fitting(hole: float, room: float) -> float | None:
    return round(hole, 1) if hole <= room else None
