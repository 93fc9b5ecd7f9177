"""What welding takes: filler to buy, wire, time with the arc burning, heat; and which joints must be tight."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from ..terms.choices import WeldRule
from ..terms.process import Process
from .pieces import Pieces
from .seam import Seam

__all__ = ["NOTHING", "Consumption", "consumption_of", "passes_of", "thinnest"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Consumption:
    """Lengths in mm, volumes in mm3. process: its name, several joined. welded: of all runs; tight: how many seams must
    be, tight_welded: their length; hold, hold_welded: the others'. slots, plugs: how many. deposited: what brings all
    flush; laid: with the root gaps and the reinforcement; bought: laid over the efficiency. wire: by diameter, the
    length to buy. arc_time: minutes. heat: least and most of a pass, kJ/mm."""

    process: str
    welded: float
    tight: int
    tight_welded: float
    hold: int
    hold_welded: float
    slots: int
    plugs: int
    deposited: float
    laid: float
    bought: float
    wire: tuple[tuple[float, float], ...]
    arc_time: float
    heat: tuple[float, float]


NOTHING = Consumption(
    process="", welded=0.0, tight=0, tight_welded=0.0, hold=0, hold_welded=0.0, slots=0, plugs=0, deposited=0.0,
    laid=0.0, bought=0.0, wire=(), arc_time=0.0, heat=(0.0, 0.0))
"""Of a kit that nobody looked at."""


def thinnest(seam: Seam, pieces: Pieces) -> float:
    """mm, of the plates that a seam joins."""
    return min((pieces[name].thickness for name in seam.pieces), default=0.0)


def passes_of(seam: Seam, process: Process, thin: float) -> int:
    """How many passes fill it: a groove as deep as the plate by what one pass fills, a fillet by its throat."""
    deep = thin if seam.groove_area > 0 and seam.size == 0 else seam.size * math.sqrt(0.5)
    return max(1, math.ceil(deep / process.fill))


def consumption_of(
    seams: Sequence[Seam], pieces: Pieces, rule: WeldRule, process_of: Callable[[float], Process]
) -> Consumption:
    """The sums over all seams. process_of: the row for a thickness, mm."""
    runs = [seam for seam in seams if seam.kind != "corner_fill"]
    thin = [thinnest(seam, pieces) for seam in seams]
    rows = [process_of(thickness) for thickness in thin]
    laid = [(seam.filler + seam.gap * thickness * seam.welded) * (1.0 + rule.reinforcement)
            for seam, thickness in zip(seams, thin, strict=True)]
    bought = [volume / row.efficiency for volume, row in zip(laid, rows, strict=True)]
    wire: dict[float, float] = {}
    for volume, row in zip(bought, rows, strict=True):
        wire[row.wire] = wire.get(row.wire, 0.0) + volume / (math.pi / 4 * row.wire**2)
    tight = [seam for seam in runs if seam.tight]
    heats = [row.heat for row in rows]
    return Consumption(
        process=" and ".join(dict.fromkeys(row.name for row in rows)),
        welded=math.fsum(seam.welded for seam in runs),
        tight=len(tight), tight_welded=math.fsum(seam.welded for seam in tight),
        hold=len(runs) - len(tight), hold_welded=math.fsum(seam.welded for seam in runs if not seam.tight),
        slots=sum(seam.kind == "slot" for seam in runs), plugs=sum(seam.kind == "plug" for seam in runs),
        deposited=math.fsum(seam.filler for seam in seams), laid=math.fsum(laid), bought=math.fsum(bought),
        wire=tuple(sorted((size, length) for size, length in wire.items() if length > 0)),
        arc_time=math.fsum(
            passes_of(seam, row, t) * seam.welded / row.speed for seam, row, t in zip(seams, rows, thin, strict=True)),
        heat=(float(np.min(heats)), float(np.max(heats))) if heats else (0.0, 0.0),
    )
