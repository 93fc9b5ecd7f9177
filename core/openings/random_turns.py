"""Angles that look random and are the same on every machine: drawn from a place in a lattice, not from a clock."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

__all__ = ["random_turns"]

_STEP: Final = np.uint64(0x9E3779B97F4A7C15)
_MIX: Final = ((30, np.uint64(0xBF58476D1CE4E5B9)), (27, np.uint64(0x94D049BB133111EB)))
_LAST: Final = np.uint64(31)


def random_turns(places: NDArray[np.int64]) -> NDArray[np.float64]:
    """(n,) angles, whole degrees from 0 to 179, one for each lattice place (n, 2) of whole numbers.

    The place's two numbers make one of 64 bits, and the mixing step of the SplitMix64 sequence stirs it
    (Steele, Lea and Flood, Fast Splittable Pseudorandom Number Generators, 2014): whole-number arithmetic
    alone. Equal places give equal angles.

    >>> random_turns(np.array([[0, 0], [1, 0], [0, 1], [-1, 0]])).tolist()
    [115.0, 5.0, 76.0, 20.0]
    """
    column, row = np.ascontiguousarray(places[:, 0]).astype(np.uint64), places[:, 1].astype(np.uint64)
    bits = (row << np.uint64(32)) + (column & np.uint64(0xFFFFFFFF)) + _STEP
    for shift, factor in _MIX:
        bits = (bits ^ (bits >> np.uint64(shift))) * factor
    bits ^= bits >> _LAST
    return np.asarray(bits % np.uint64(180), dtype=np.float64)
