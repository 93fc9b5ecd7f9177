"""A single-stroke font for etching: each letter is a few straight runs, as a laser draws them.

Drawn for this project on a grid of one sixth of the cap height; corners are cut at 45 degrees, and the pairs
that get mixed up on a shop floor are told apart (0 is crossed, 1 has a foot, l a tail, I bars).
"""

from __future__ import annotations

from functools import cache
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

__all__ = ["text_box", "text_strokes"]

_CAP: Final = 6        # grid units from the baseline to the top of a capital
_BASE: Final = 2       # the digit that is the baseline in the table below
_GAP: Final = 2        # between letters
_SPACE: Final = 3      # a space, before the gaps on its sides

_GLYPHS: Final = {
    # Runs apart by a comma, points by a space; a point is two digits, x and y.
    "A": "02 06 28 46 42, 04 44",
    "B": "02 08 38 47 46 35 44 43 32 02, 05 35",
    "C": "47 38 18 07 03 12 32 43",
    "D": "02 08 28 46 44 22 02",
    "E": "48 08 02 42, 05 35",
    "F": "48 08 02, 05 35",
    "G": "47 38 18 07 03 12 32 43 45 25",
    "H": "02 08, 42 48, 05 45",
    "I": "02 22, 12 18, 08 28",
    "J": "03 12 22 33 38 18",
    "K": "02 08, 48 04, 15 42",
    "L": "08 02 42",
    "M": "02 08 25 48 42",
    "N": "02 08 42 48",
    "O": "12 03 07 18 38 47 43 32 12",
    "P": "02 08 38 47 46 35 05",
    "Q": "12 03 07 18 38 47 43 32 12, 24 42",
    "R": "02 08 38 47 46 35 05, 15 42",
    "S": "47 38 18 07 06 15 35 44 43 32 12 03",
    "T": "08 48, 28 22",
    "U": "08 03 12 32 43 48",
    "V": "08 22 48",
    "W": "08 12 25 32 48",
    "X": "02 48, 08 42",
    "Y": "08 25 48, 25 22",
    "Z": "08 48 02 42",
    "a": "45 36 16 05 03 12 32 43, 46 42",
    "b": "08 02, 05 16 36 45 43 32 12 03",
    "c": "45 36 16 05 03 12 32 43",
    "d": "48 42, 45 36 16 05 03 12 32 43",
    "e": "04 44 45 36 16 05 03 12 32 43",
    "f": "38 28 17 12, 06 26",
    "g": "45 36 16 05 03 12 32 43, 46 41 30 10 01",
    "h": "08 02, 05 16 36 45 42",
    "i": "02 06, 07 08",
    "j": "26 21 10 00, 27 28",
    "k": "08 02, 36 03, 14 32",
    "l": "08 03 12",
    "m": "02 06, 05 16 25 22, 25 36 45 42",
    "n": "02 06, 05 16 36 45 42",
    "o": "12 03 05 16 36 45 43 32 12",
    "p": "00 06, 05 16 36 45 43 32 12 03",
    "q": "40 46, 45 36 16 05 03 12 32 43",
    "r": "02 06, 05 16 26 35",
    "s": "45 36 16 05 14 34 43 32 12 03",
    "t": "18 13 22 32, 06 36",
    "u": "06 03 12 32 43, 46 42",
    "v": "06 22 46",
    "w": "06 12 25 32 46",
    "x": "02 46, 06 42",
    "y": "06 03 12 32 43, 46 41 30 10 01",
    "z": "06 46 02 42",
    "0": "12 03 07 18 38 47 43 32 12, 13 37",
    "1": "07 18 12, 02 22",
    "2": "07 18 38 47 46 02 42",
    "3": "07 18 38 47 46 35 44 43 32 12 03, 15 35",
    "4": "32 38 04 44",
    "5": "48 08 05 35 44 43 32 12 03",
    "6": "47 38 18 07 03 12 32 43 44 35 05",
    "7": "08 48 22",
    "8": "15 06 07 18 38 47 46 35 44 43 32 12 03 04 15 35",
    "9": "03 12 32 43 47 38 18 07 06 15 45",
    "-": "05 35",
    "/": "02 38",
    ".": "02 03",
    "_": "01 41",
    "+": "05 45, 23 27",
    "#": "12 18, 32 38, 04 44, 06 46",
}
_UNKNOWN: Final = "02 08 48 42 02"  # a box: something stands here that this font does not have


class _Glyph(NamedTuple):
    """One letter in grid units, its baseline at y = 0. bottom: the lowest y, at most 0."""

    width: int
    bottom: int
    runs: tuple[NDArray[np.float64], ...]


@cache
def _glyph(letter: str) -> _Glyph:
    if letter == " ":
        return _Glyph(_SPACE, 0, ())
    points = [[(int(p[0]), int(p[1]) - _BASE) for p in run.split()] for run in _GLYPHS.get(letter, _UNKNOWN).split(",")]
    runs = tuple(np.array(run, dtype=np.float64) for run in points)
    for run in runs:
        run.setflags(write=False)
    width = max(x for run in points for x, _ in run)
    return _Glyph(width, min(0, *(y for run in points for _, y in run)), runs)


def text_box(text: str, height: float) -> tuple[float, float, float, float]:
    """(left, bottom, right, top) in mm of what `text_strokes` draws, with the full cap height; all 0 of nothing.

    >>> text_box("P01", 6.0), text_box("gap", 6.0)[1]
    ((0.0, 0.0, 14.0, 6.0), -2.0)
    """
    if not text:
        return 0.0, 0.0, 0.0, 0.0
    glyphs = [_glyph(letter) for letter in text]
    width = sum(glyph.width for glyph in glyphs) + (len(text) - 1) * _GAP
    return 0.0, min(glyph.bottom for glyph in glyphs) * height / _CAP, width * height / _CAP, height


def text_strokes(text: str, height: float) -> list[NDArray[np.float64]]:
    """Runs of (k, 2) points, mm, k at least 2, of `text` from the origin rightward on the baseline y = 0.

    height: mm, of a capital. A letter that the font does not have is drawn as a box.

    >>> [run.tolist() for run in text_strokes("L", 6.0)]
    [[[0.0, 6.0], [0.0, 0.0], [4.0, 0.0]]]
    """
    out = []
    x = 0
    for letter in text:
        glyph = _glyph(letter)
        out += [(run + np.array([x, 0.0])) * (height / _CAP) for run in glyph.runs]
        x += glyph.width + _GAP
    return out
