"""What every plate is, whether it came from a wall or from inside."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from ..envelope.envelope import Envelope
from ..inner.inner_plates import Inside
from ..terms.choices import MetalSide

__all__ = ["Piece", "pieces_of"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """One plate, in the order of all plates. faces: of the given mesh."""

    name: str
    faces: tuple[int, ...]
    thickness: float
    metal_side: MetalSide
    role: Literal["wall", "inner"]


def pieces_of(envelope: Envelope, inside: Inside) -> tuple[Piece, ...]:
    """The walls, then the inner plates."""
    walls = [
        Piece(name=p.name, faces=p.faces, thickness=p.thickness, metal_side=p.metal_side, role="wall")
        for p in envelope.panels
    ]
    inner = [
        Piece(name=own.plate.name, faces=p.faces, thickness=p.thickness, metal_side=p.metal_side, role="inner")
        for own in inside.plates for p in (envelope.inner[own.panel],)
    ]
    return (*walls, *inner)
