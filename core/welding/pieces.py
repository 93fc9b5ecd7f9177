"""The plates as welding sees them: flat bodies in place."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Piece", "Pieces"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Piece:
    """One placement. name: as people call it, 'P02 front'. matrix: (4, 4), from the drawing to its place. middle: (3,)
    of its metal, in place. around: mm, the length of its outer edge; whole: whether nothing is cut into it that
    liquid passes. vessel: the number of the closed shell whose wall it is, None for others."""

    id: str
    name: str
    thickness: float
    matrix: Floats
    middle: Floats
    around: float
    whole: bool
    vessel: int | None

    @property
    def normal(self) -> Floats:
        """(3,) unit, out of its outside face."""
        return np.asarray(self.matrix[:3, 2])


Pieces = Mapping[str, Piece]
