"""Joints, as a kit tells of them: where plates meet, and what lies along there."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ..terms.choices import JointKind

__all__ = ["Corner", "Groove", "Joint", "Tab"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Tab:
    """One locating tab. on: placement id; at: from the joint's line[0] to its centre; width; flank: of
    each flanking tab, 0 where the neighbour is notched instead; reach: how far it goes past the root;
    fit_gap: both sides together; thickness_gap: by which its slot is wider than its plate is thick, 0
    where it has none."""

    on: str
    at: float
    width: float
    flank: float
    reach: float
    fit_gap: float
    thickness_gap: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Groove:
    """The space left for weld: the side it opens to, its included angle, its section in mm2."""

    side: Literal["outside", "inside"]
    angle: float
    area: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Joint:
    """Where two plates meet along a line. plates: placement ids, the through plate (or the wall) first; one
    at a free edge. line: (2, 3) the root line. angle: dihedral through the inside of the envelope."""

    id: str
    kind: JointKind
    plates: tuple[str, ...]
    line: NDArray[np.float64]
    length: float
    angle: float
    overlap: float
    root_gap: float
    groove: Groove | None
    tabs: tuple[Tab, ...]
    mesh_edges: tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Corner:
    """A point where three or more joints meet; void: the volume to fill there beyond the grooves, mm3."""

    id: str
    at: tuple[float, float, float]
    joints: tuple[str, ...]
    void: float
