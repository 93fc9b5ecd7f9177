"""Seams as a torch sees them."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from ..terms import tolerance
from .joint_records import Joint
from .pieces import Pieces
from .seam import Seam
from .torch_ways import TorchLine

__all__ = ["plug_line", "seam_line"]

Floats = NDArray[np.float64]

FLAT = 180.0


def seam_line(seam: Seam, joint: Joint, pieces: Pieces, numbers: Mapping[str, int]) -> TorchLine:
    """The line of a seam along a joint. numbers: of the plates among the shields, by placement."""
    own = tuple(numbers[name] for name in seam.pieces)
    if seam.kind in ("slot", "plug"):
        # down the middle of the slot
        line, wedge = (seam.path[:2] + seam.path[[3, 2]]) / 2, FLAT
    elif seam.kind in ("corner", "butt", "lap"):
        line = seam.path + seam.toward * _out_of_groove(seam, pieces)
        wedge = FLAT if seam.kind != "corner" else joint.angle if seam.side == "inside" else 2 * FLAT - joint.angle
    else:
        line, wedge = seam.path, seam.angle
    return TorchLine(line=line, toward=seam.toward, wedge=wedge, plates=own)


def plug_line(seam: Seam, pieces: Pieces, numbers: Mapping[str, int]) -> TorchLine:
    """Where the slots of a tee would be seen on the far side of its wall. seam: one of the tee's sides."""
    wall = pieces[seam.pieces[0]]
    into = -wall.normal if float(wall.normal @ seam.toward) > 0.0 else wall.normal
    return TorchLine(
        line=seam.path + wall.thickness * into, toward=into, wedge=FLAT,
        plates=tuple(numbers[name] for name in seam.pieces))


def _out_of_groove(seam: Seam, pieces: Pieces) -> float:
    """How far from the root both plates' faces on the torch's side are left."""
    far = 0.0
    for piece in (pieces[name] for name in seam.pieces):
        outside = float(seam.toward @ piece.normal) > 0.0
        normal = piece.normal if outside else -piece.normal
        face = piece.matrix[:3, 3] + (piece.normal * piece.thickness if outside else 0.0)
        climb = float(normal @ seam.toward)
        if climb > tolerance.SAME_WAY:
            far = max(far, float(normal @ (face - seam.path[0])) / climb)
    return far
