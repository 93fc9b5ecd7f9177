"""The kit: everything an export is made from. Files are views of it.

Lengths in mm, angles in degrees, mass in kg, as KIT_FORMAT in the developers' notes says.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ..openings.placed_openings import PlaneOpening
from ..shapes.outline import Circle, Outline
from ..terms.choices import MetalSide, Settings
from ..terms.findings import Finding
from ..welding.consumption import Consumption
from ..welding.joint_records import Corner, Groove, Joint, Tab
from ..welding.seam import Seam

__all__ = [
    "Border", "Corner", "Groove", "Joint", "Kit", "KitEnvelope", "KitPlate", "Opening", "Placement", "Tab",
]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Placement:
    """One copy of a plate in the assembly. matrix: (4, 4), plate as cut (mm, z = 0 to thickness, z =
    thickness the outside face) to the envelope's frame; a proper rotation and a translation."""

    id: str
    panel: str
    faces: tuple[int, ...]
    matrix: NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Border:
    """Where a plate borders another. line: (2, 2), the plate's edge at the joint in its DXF coordinates,
    the plate on the left. neighbours: marks of the plates there, one where all placements agree."""

    line: NDArray[np.float64]
    neighbours: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class KitPlate:
    """One distinct plate. outline: as cut, bounding box at the origin, seen from its outside face. marked: whether its
    mark is etched; mark_at: where, mm in DXF coordinates, None for where it fits best. toward: the piece that the
    outside face of an inner plate looks at, 'P04 back'; empty for walls, and where there is none."""

    mark: str
    name: str
    material: str
    density: float
    thickness: float
    role: Literal["wall", "inner"]
    metal_side: MetalSide
    outline: Outline
    area: float
    mass: float
    cut_length: float
    pierces: int
    size: tuple[float, float]
    placements: tuple[Placement, ...]
    borders: tuple[Border, ...]
    marked: bool = True
    mark_at: tuple[float, float] | None = None
    toward: str = ""

    @property
    def quantity(self) -> int:
        return len(self.placements)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Opening(PlaneOpening):
    """An opening cut in one plate, in DXF coordinates. plate: a placement id. bolts: the round holes about it that
    belong to it."""

    id: str
    plate: str
    bolts: tuple[Circle, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class KitEnvelope:
    """One shell of the envelope. capacity: liquid inside the plates, mm3, None unless closed."""

    name: str
    closed: bool
    capacity: float | None
    plates: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Kit:
    """A kit, made by `make_kit`: all that its files are written from. corners: where three or more joints meet.
    envelopes: the closed shells of the drawing. seams: what is welded, run by run; welding: what that
    takes, None where nobody looked. checks: what was found, `error`
    first to be heeded.

    >>> Kit(name="none", settings=Settings(), plates=(), joints=(), corners=(), envelopes=(), checks=()).openings
    ()
    """

    name: str
    settings: Settings
    plates: tuple[KitPlate, ...]
    joints: tuple[Joint, ...]
    corners: tuple[Corner, ...]
    envelopes: tuple[KitEnvelope, ...]
    checks: tuple[Finding, ...]
    openings: tuple[Opening, ...] = ()
    seams: tuple[Seam, ...] = ()
    welding: Consumption | None = None
