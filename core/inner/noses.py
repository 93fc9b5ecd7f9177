"""Blunt noses: where a plate runs out in a point along what it stands on, the point would burn away in the weld."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from ..terms import tolerance
from .tees import FREE, StandingRing

__all__ = ["blunted", "nose_of"]

Floats = NDArray[np.float64]

NOSE: Final = 1.5
"""Height of a nose over thickness. Common practice, no source."""
NOSE_MM: Final = 5.0
"""And in mm, at least. Common practice, no source."""
SHARP: Final = 75.0
"""Degrees: a corner sharper than this is a point. Our choice: gussets end at 30 to 60."""
MOST: Final = 0.25
"""A nose takes at most this share of either side."""
LEAST: Final = 0.5
"""mm: a lower one is none; about a kerf."""


def nose_of(asked: float | None, thickness: float) -> float:
    """How high noses are, mm: as asked for, 0 for none, else by the plate's thickness.

    >>> nose_of(None, 3.0), nose_of(None, 8.0), nose_of(0.0, 3.0)
    (5.0, 12.0, 0.0)
    """
    return max(NOSE * thickness, NOSE_MM) if asked is None else asked


def blunted(ring: StandingRing, height: float) -> tuple[StandingRing, list[Floats]]:
    """The ring with every point cut off square to the side that stands there, where the cut is `height` mm long; and
    the tips (2,) that are gone. A point is a sharp corner between a side that stands on something and a free one."""
    points: list[Floats] = []
    face: list[int] = []
    tips: list[Floats] = []
    count = len(ring.points)
    for i in range(count):
        here, before, after = ring.points[i], ring.points[i - 1], ring.points[(i + 1) % count]
        faces = int(ring.face[i - 1]), int(ring.face[i])
        cut = _cut(here, (before, after), faces, height)
        if cut is None:
            points.append(here)
            face.append(faces[1])
        else:
            points += cut
            face += [FREE, faces[1]]
            tips.append(here)
    return StandingRing(points=np.array(points), face=np.array(face, dtype=np.int64)), tips


def _cut(here: Floats, beside: tuple[Floats, Floats], faces: tuple[int, int], height: float) -> list[Floats] | None:
    """The two corners in place of one, on the side before it and on the side after; None where it is no point."""
    standing = [face >= 0 for face in faces]
    if height <= 0 or sum(standing) != 1 or FREE not in faces:
        return None
    ways = [(corner - here) for corner in beside]
    lengths = [float(np.linalg.norm(way)) for way in ways]
    back, ahead = (way / max(length, tolerance.NONZERO) for way, length in zip(ways, lengths, strict=True))
    if back[0] * ahead[1] - back[1] * ahead[0] >= 0:         # hollow
        return None
    angle = float(np.arccos(np.clip(back @ ahead, -1.0, 1.0)))
    if not np.radians(tolerance.ROUNDING) < angle < np.radians(SHARP):
        return None
    foot, slope = lengths[standing.index(True)], lengths[standing.index(False)]
    height = min(height, MOST * foot * float(np.tan(angle)), MOST * slope * float(np.sin(angle)))
    if height < LEAST:
        return None
    along = [height / float(np.tan(angle)) if stands else height / float(np.sin(angle)) for stands in standing]
    return [here + back * along[0], here + ahead * along[1]]
