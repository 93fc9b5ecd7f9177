"""Perforation patterns by their codes: which hole, and the lattice on which it repeats.

The codes are those of ISO 7806 (1983): shape and size, then pattern and pitch, in mm. One more is our own and
not of the standard: slots at random angles, written with the word `random`.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Final, get_args

import numpy as np
from numpy.typing import NDArray

from ..terms import tolerance
from ..terms.errors import InputError
from ..terms.messages import Length
from .hole_shapes import HoleKind, HoleShape, hole_shape
from .random_turns import random_turns

__all__ = ["PATTERN_CODES", "Pattern", "hole_pattern"]

Floats = NDArray[np.float64]

PATTERN_CODES: Final = (
    "R5T8 round staggered 60°, R5U8 round in line, R5M8 round staggered 45°, C5U8 square in line, C5Z8 square "
    "staggered, H6T6.7 hexagonal, LR5x20Z9x24 or LC5x20Z9x24 slots (round or square ends) staggered, "
    "LR5x20U9x24 or LC5x20U9x24 slots in line, LR5x20 random 26 slots at random angles (not of the standard)"
)
"""The codes that are understood, for people."""

_LETTERS: Final = {"R": "TUM", "C": "UZ", "H": "T", "LR": "UZ", "LC": "UZ"}
"""Which patterns each shape comes in. ISO 7806 as perforators use it; LC in Z by the scheme's own logic."""

_NUMBER: Final = r"(\d+(?:\.\d*)?|\.\d+)"
_CODE: Final = re.compile(
    rf"(?P<kind>[A-Z]+?)(?P<sizes>-?{_NUMBER}(?:X-?{_NUMBER})?)(?P<layout>[A-Z]+)"
    rf"(?P<pitches>-?{_NUMBER}(?:X-?{_NUMBER})?)"
)
_RANDOM: Final = "RANDOM"
_NEIGHBOURS: Final = tuple((i, j) for i in range(-2, 3) for j in range(3) if j > 0 or i > 0)
"""Lattice steps to the holes that may be nearest, one of each pair of opposites."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pattern:
    """One pattern. Lengths in mm.

    code: in its plain spelling. hole: the hole, a slot's length along x. lattice: (2, 2), rows the steps along a
    row and from row to row. bar: bare metal between the nearest two holes, at random angles the least there can
    be. standard_share: open area over whole area of the infinite pattern by the standard's formula, 0 to 1; None
    where the standard has none. random: whether each hole is turned by an angle of its own.
    """

    code: str
    hole: HoleShape
    lattice: Floats
    bar: float
    standard_share: float | None
    random: bool = False

    @property
    def per_square_metre(self) -> float:
        """Holes on a square metre of the infinite pattern."""
        return 1e6 / abs(float(np.linalg.det(self.lattice)))

    def angles(self, places: NDArray[np.int64]) -> Floats:
        """(n,) radians by which the holes at lattice places (n, 2) are turned."""
        return np.radians(random_turns(places)) if self.random else np.zeros(len(places))


def hole_pattern(code: str) -> Pattern:
    """The pattern of a code. Spaces, small letters, a multiplication sign and decimal commas are taken too.

    R w T t (60°), U t (in line), M t (a square grid turned by 45°); C w U t, Z t; H w T t, w across flats; LR or LC
    w×l U or Z t1×t2, t1 from row to row across the slots, t2 along them; Z shifts every other row by half. A bare
    L means LR. Our own: LR or LC w×l random t, centres on a triangular lattice of pitch t, each slot turned by an
    angle of its own.
    Raises InputError for an unknown code, a size that is not above 0, a slot not longer than wide, and holes that
    would touch or overlap, whichever neighbours those are.

    >>> pattern = hole_pattern("R 5 T 8")
    >>> pattern.code, round(100 * pattern.standard_share, 2), round(pattern.per_square_metre), round(pattern.bar, 3)
    ('R5T8', 35.43, 18042, 3.0)
    """
    kind, sizes, layout, pitches = _parts(code)
    if min(*sizes, *pitches) <= 0.0:
        raise InputError(f"Pattern {code!r} has a size of zero or less", do="Give every size in mm, above 0")
    if len(sizes) == 2 and sizes[1] <= sizes[0]:
        raise InputError(
            f"Pattern {code!r} has a slot that is not longer than wide: {Length(sizes[1]):g} long, "
            f"{Length(sizes[0]):g} wide",
            do="Write the width first, then the overall length")
    hole = hole_shape(kind, sizes[0], sizes[-1])
    lattice = _lattice(layout, pitches)
    spelling = "x".join(map(_plain, sizes)), "x".join(map(_plain, pitches))
    if layout == _RANDOM:
        bar, share = pitches[0] - 2 * hole.reach, None        # circles round the slots keep this, however they turn
        spelt = f"{kind}{spelling[0]} random {spelling[1]}"
    else:
        bar = min(hole.bar(np.array(step) @ lattice) for step in _NEIGHBOURS)
        share = _open_share(kind, layout, sizes, pitches)
        spelt = f"{kind}{spelling[0]}{layout}{spelling[1]}"
    if bar < tolerance.TOUCH:
        overlap = bar < -tolerance.TOUCH
        raise InputError(
            f"Pattern {code!r} has holes that would {'overlap' if overlap else 'touch'}",
            by=f"{Length(-bar):.2f}" if overlap else "",
            do=f"Make the pitch larger than {Length(2 * hole.reach):.2f}, the slot from corner to corner"
            if layout == _RANDOM else "Make the pitch larger or the hole smaller")
    return Pattern(code=spelt, hole=hole, lattice=lattice, bar=bar, standard_share=share, random=layout == _RANDOM)


def _parts(code: str) -> tuple[HoleKind, tuple[float, ...], str, tuple[float, ...]]:
    """Shape, sizes, layout and pitches of a code, each as many as its kind has."""
    plain = re.sub(r"\s+", "", code).upper().replace("×", "X").replace("*", "X").replace(",", ".")
    found = _CODE.fullmatch(plain)
    unknown = InputError(f"{code!r} is no pattern that is known", do=f"There are: {PATTERN_CODES}")
    if found is None:
        raise unknown
    kind = next((k for k in get_args(HoleKind) if k == {"L": "LR"}.get(found["kind"], found["kind"])), None)
    layout = found["layout"]
    if kind is None or layout not in (*_LETTERS[kind], *((_RANDOM,) if kind[0] == "L" else ())):
        raise unknown
    sizes, pitches = (tuple(map(float, found[part].split("X"))) for part in ("sizes", "pitches"))
    slotted = kind[0] == "L"
    wanted = (2 if slotted else 1), (2 if slotted and layout != _RANDOM else 1)
    if (len(sizes), len(pitches)) != wanted:
        raise InputError(
            f"Pattern {code!r} has {len(sizes)} size(s) and {len(pitches)} pitch(es), but its kind has {wanted[0]} "
            f"and {wanted[1]}", do=f"There are: {PATTERN_CODES}")
    if not all(map(math.isfinite, (*sizes, *pitches))):
        raise unknown
    return kind, sizes, layout, pitches


def _lattice(layout: str, pitches: tuple[float, ...]) -> Floats:
    across, along = pitches[0], pitches[-1]
    if layout in ("T", _RANDOM):
        return np.array([(across, 0.0), (across / 2, across * math.sqrt(3) / 2)])
    if layout == "M":
        half = across / math.sqrt(2)
        return np.array([(2 * half, 0.0), (half, half)])
    return np.array([(along, 0.0), (along / 2 if layout == "Z" else 0.0, across)])


def _open_share(kind: HoleKind, layout: str, sizes: tuple[float, ...], pitches: tuple[float, ...]) -> float:
    """ISO 7806, with more digits than its rounded factors (90.69, 78.54, 0.2146) have."""
    hole = {
        "R": math.pi / 4 * sizes[0] ** 2, "C": sizes[0] ** 2, "H": math.sqrt(3) / 2 * sizes[0] ** 2,
        "LR": sizes[0] * sizes[-1] - (1 - math.pi / 4) * sizes[0] ** 2, "LC": sizes[0] * sizes[-1],
    }[kind]
    cell = pitches[0] * pitches[-1]
    return hole / (cell * math.sqrt(3) / 2 if layout == "T" else cell)


def _plain(length: float) -> str:
    return f"{length:.10g}"
