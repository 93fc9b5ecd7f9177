"""Seams of corners and butts: a groove filled flush, or a fillet where there is none."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..plates.section import solve_section
from ..terms.choices import WeldRule
from .fillet_sizes import fillet_area, fillet_leg
from .joint_records import Corner, Joint
from .pieces import Pieces
from .seam import Seam

__all__ = ["corner_fill", "corner_seam"]

Floats = NDArray[np.float64]

GROOVE = 0.05
"""mm2: what is less is no groove to fill (a hundredth of that of a sheet of 2 mm)."""


def corner_seam(joint: Joint, pieces: Pieces, rule: WeldRule) -> Seam:
    """The seam along a corner, or where two plates butt.

    A groove is filled flush; over the fingers of tabs what they leave of it. Where there is none, at a square closed
    corner and at a butt, a bead as large as a fillet is laid from outside: into the corner where the edge is
    re-entrant, over the seam where it is not.
    """
    one, two = (pieces[name] for name in joint.plates)
    out = one.normal + two.normal
    inward = joint.groove is not None and joint.groove.side == "inside"
    area = joint.groove.area if joint.groove is not None else 0.0
    wedge = min(joint.angle, 360.0 - joint.angle)
    tight = one.vessel is not None and one.vessel == two.vessel
    if area > GROOVE:
        leg, opening, toward, filler = 0.0, joint.groove.angle if joint.groove else 0.0, -out if inward else out, (
            _groove_filler(joint, pieces, area, wedge))
    else:
        leg, opening, toward, inward = fillet_leg(rule, min(one.thickness, two.thickness)), wedge, out, False
        sine = float(np.sin(np.radians(wedge))) if joint.angle > 180.0 and joint.kind != "butt" else 1.0
        filler = fillet_area(leg, sine) * joint.length
    return Seam(
        id=joint.id, joint=joint.id, kind="butt" if joint.kind == "butt" else "corner", pieces=joint.plates,
        path=joint.line,
        toward=_unit(toward), length=joint.length, welded=joint.length, angle=opening,
        side="inside" if inward else "outside", size=leg, size_of="leg" if leg else "", groove_area=area,
        filler=filler, gap=joint.root_gap, tight=tight)


def _groove_filler(joint: Joint, pieces: Pieces, area: float, wedge: float) -> float:
    """mm3: the groove all along, but over the fingers what a corner leaves that is closed by the finger's plate."""
    left = {
        name: float(solve_section(wedge, pieces[name].thickness, pieces[other].thickness, 1.0).groove)
        for name, other in (joint.plates, joint.plates[::-1])}
    volume = area * joint.length
    for tab in joint.tabs:
        other = next(name for name in joint.plates if name != tab.on)
        volume -= tab.width * (area - left[tab.on]) + 2 * tab.flank * (area - left[other])
    return max(volume, 0.0)


def corner_fill(corner: Corner, seams: dict[str, Seam], pieces: Pieces) -> Seam:
    """What is filled at a point where joints meet. seams: of the joints, by their ids."""
    met = [seams[name] for name in corner.joints if name in seams]
    names = tuple(sorted({piece for seam in met for piece in seam.pieces}))
    toward = sum((pieces[name].normal for name in names), np.zeros(3))
    return Seam(
        id=corner.id, joint="", kind="corner_fill", pieces=names, path=np.array([corner.at], dtype=np.float64),
        toward=_unit(toward), length=0.0, welded=0.0, angle=0.0, side="outside", size=0.0, size_of="", groove_area=0.0,
        filler=max(corner.void, 0.0), gap=0.0, tight=any(seam.tight for seam in met))


def _unit(vector: Floats) -> Floats:
    length = float(np.linalg.norm(vector))
    return vector / length if length > 0 else np.array([0.0, 0.0, 1.0])
