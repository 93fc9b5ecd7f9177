"""In how many ways a cut plate fits its own place: one that fits more than one way can be welded in wrong."""

from __future__ import annotations

from dataclasses import dataclass

from .outline import Outline
from .outline_stack import stack_outlines
from .rigid_fit import count_fits

__all__ = ["Ways", "ways_to_fit"]


@dataclass(frozen=True, slots=True)
class Ways:
    """turns: ways to fit with the outside face out, at least 1 (as designed). turned_over: ways to fit with
    the outside face in."""

    turns: int
    turned_over: int

    @property
    def only_one(self) -> bool:
        """Whether the plate fits as designed and no other way."""
        return self.turns == 1 and self.turned_over == 0


def ways_to_fit(outline: Outline, tolerance: float) -> Ways:
    """In how many ways the piece fits its own outline, turned in the plane and turned over.

    tolerance: mm, the most a corner or hole may be off and still fit: the fit gap. Holes count too. Contours
    are compared corner by corner: a round contour made of arcs fits as often as its arcs do, not any way.

    >>> import numpy as np
    >>> from .outline import Contour
    >>> ways_to_fit(Outline(outer=Contour(points=np.array([(0, 0), (30, 0), (30, 20), (0, 20.0)]))), 0.1)
    Ways(turns=2, turned_over=2)
    """
    (piece,) = stack_outlines([outline])
    return Ways(count_fits(piece, piece, tolerance), count_fits(piece.mirrored(), piece, tolerance))
