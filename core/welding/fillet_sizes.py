"""How large fillets are, how long stitches: where nobody said."""

from __future__ import annotations

from typing import Final

from ..terms import tolerance
from ..terms.choices import WeldRule

__all__ = ["fillet_area", "fillet_leg", "welded_length"]

_LEAST_LEGS: Final = ((6.4, 3.0), (12.7, 5.0), (19.0, 6.0), (float("inf"), 8.0))
"""Up to which thickness (of the thinner plate), the least leg of a fillet, mm. Source: AWS D1.1, table of minimum
fillet weld sizes, from memory."""


def fillet_leg(rule: WeldRule, thin: float) -> float:
    """The leg of a fillet, mm: as the rule says, else the least that the standard asks for, no more than the thinner
    plate (AWS D1.1 too, from memory: an edge is not to be melted away).

    >>> fillet_leg(WeldRule(), 2.0), fillet_leg(WeldRule(), 6.0), fillet_leg(WeldRule(leg=4.0), 3.0)
    (2.0, 3.0, 4.0)
    """
    if rule.leg is not None:
        return rule.leg
    return min(thin, next(leg for up_to, leg in _LEAST_LEGS if thin <= up_to))


def fillet_area(leg: float, sine: float) -> float:
    """mm2 of a flat fillet with equal legs between two faces at an angle of that sine."""
    return 0.5 * leg * leg * sine


def welded_length(rule: WeldRule, length: float, tight: bool) -> float:
    """How much of a fillet's length is welded: all where liquid needs it, where stitches are off, or where two do not
    fit; else stitches, one at each end."""
    if tight or rule.stitch <= 0 or length < rule.pitch + rule.stitch:
        return length
    count = 1 + int((length - rule.stitch) / rule.pitch + tolerance.ROUNDING)
    return min(length, count * rule.stitch)
