"""How numbers are rounded and written, the same in every file and on every platform.

Rounding drops the last binary digits, in which platforms' math libraries differ, and never leaves a -0.0.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from ..terms import tolerance

__all__ = ["DIRECTION", "number_text", "rounded", "rounded_list"]

DIRECTION: Final = 12
"""Decimals for the entries of a rotation: at ten metres the last one moves a point by 1e-8 mm."""

_DIGITS: Final = 12
"""Significant digits at most: a sum in double precision is good for about this many."""


def rounded(value: float, decimals: int = tolerance.WRITE) -> float:
    """`value` at `decimals` decimals and at most 12 significant digits, never -0.0.

    >>> rounded(-0.0000001), rounded(1 / 3), rounded(7912345.123456789)
    (0.0, 0.333333, 7912345.12346)
    """
    out = round(float(value), decimals) + 0.0
    return float(f"{out:.{_DIGITS}g}") if abs(out) >= 10.0 ** (_DIGITS - decimals) else out


def rounded_list(values: NDArray[np.float64], decimals: int = tolerance.WRITE) -> Any:
    """Nested lists of Python floats of an array of any shape, rounded, without -0.0.

    >>> rounded_list(np.array([[1.0000000004, -0.0]]))
    [[1.0, 0.0]]
    """
    return (np.round(np.asarray(values, dtype=np.float64), decimals) + 0.0).tolist()


def number_text(value: float, decimals: int = tolerance.WRITE) -> str:
    """The rounded number in plain digits: no exponent, no zeros after the last digit that says something.

    >>> number_text(3.0), number_text(0.00001), number_text(-0.0), number_text(1e16)
    ('3', '0.00001', '0', '10000000000000000')
    """
    text = f"{rounded(value, decimals):.{decimals}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
