"""A proof that two plates do not clash, finer than a parting plane: tabs and notches may interlock.

Where the planes of two plates cross, each plate meets the other's sheet only in a strip of its own plane. Along the
line of crossing both strips are cut into windows in which neither outline has a corner. Seen along the line, what a
plate has in a window lies in rectangles, and rectangles of the two plates that keep clear of each other in every
window are the proof. No solid is needed for it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ..terms import tolerance
from .plates import Plate

__all__ = ["parted_along_crossing"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

_PARALLEL: Final = 1e-4
"""Sine of the angle between planes below which the line where they cross is too ill-defined to measure along."""
_LEVEL: Final = 1e-200
"""mm: a side that rises less is level; lengths divided by such a rise would be too large for a number."""
_AT_ONCE: Final = 100_000
"""Sides looked at together: bounds the memory, to about 100 MB."""


@dataclass(frozen=True, slots=True, eq=False)
class _Sides:
    """The straight sides of all plates' flattened rings, plate after plate, and the plates' sheets."""

    start: Floats    # (s, 2) in the plate's plane
    end: Floats      # (s, 2)
    first: Ints      # (p + 1,)
    axes: Floats     # (p, 3, 3)
    origin: Floats   # (p, 3)
    low: Floats      # (p,)
    high: Floats     # (p,)


@dataclass(frozen=True, slots=True, eq=False)
class _Borders:
    """What bounds a plate's part in its strip, seen square to the line of crossing. row: (b,) the pair's. begin, end:
    (b,) where along the line. at, to: (b,) how far across it, in the plate's plane, at the two."""

    row: Ints
    begin: Floats
    end: Floats
    at: Floats
    to: Floats

    def across(self, along: Floats) -> Floats:
        """How far across the line each border is at `along` (b,)."""
        share = (along - self.begin) / np.maximum(self.end - self.begin, tolerance.TOUCH)
        return np.asarray(self.at + (self.to - self.at) * np.clip(share, 0.0, 1.0))


def parted_along_crossing(plates: Sequence[Plate], pairs: Ints) -> Bools:
    """(k,) which of `pairs` (k, 2) are proved not to share space; touching (tolerance.TOUCH) is not sharing."""
    out = np.zeros(len(pairs), dtype=bool)
    if not len(pairs):
        return out
    sides = _sides_of(plates, np.unique(pairs))
    total = np.cumsum(np.diff(sides.first)[pairs].sum(axis=1))
    begin = 0
    while begin < len(pairs):
        before = total[begin - 1] if begin else 0
        end = max(begin + 1, int(np.searchsorted(total, before + _AT_ONCE, side="right")))
        out[begin:end] = _parted(sides, pairs[begin:end])
        begin = end
    return out


def _sides_of(plates: Sequence[Plate], used: Ints) -> _Sides:
    """Of the plates that are used; the others have none."""
    start: list[Floats] = []
    end: list[Floats] = []
    counts = np.zeros(len(plates), dtype=np.int64)
    for index in used.tolist():
        for ring in plates[index].outline.rings():
            start.append(ring)
            end += [ring[1:], ring[:1]]
            counts[index] += len(ring)
    low = np.array([p.low for p in plates])
    return _Sides(
        np.concatenate(start), np.concatenate(end), np.concatenate([[0], np.cumsum(counts)]),
        np.array([p.frame.axes for p in plates]), np.array([p.frame.origin for p in plates]),
        low, low + np.array([p.thickness for p in plates]))


def _parted(sides: _Sides, pairs: Ints) -> Bools:
    normals = sides.axes[pairs, 2]
    line = np.cross(normals[:, 0], normals[:, 1])
    sine = np.linalg.norm(line, axis=1)
    line /= np.maximum(sine, _PARALLEL)[:, None]
    parted = sine > _PARALLEL
    borders = [_borders(sides, pairs[:, column], pairs[:, 1 - column], line) for column in (0, 1)]
    windows = _windows(borders, len(pairs))
    boxes = [_rectangles(own, *windows) for own in borders]
    for _, _, _, rows in boxes:
        parted[rows] = False                            # what cannot be told is not parted
    (one, low1, high1, _), (two, low2, high2, _) = boxes
    begin, stop = (np.searchsorted(two, one, side=side) for side in ("left", "right"))
    first = np.repeat(np.arange(len(one)), stop - begin)
    second = np.arange(len(first)) - np.repeat(np.cumsum(stop - begin) - stop, stop - begin)
    row = windows[0][one[first]]
    clear = _clear(sides, pairs[row], line[row], (low1[first], high1[first]), (low2[second], high2[second]))
    parted[row[~clear]] = False
    return np.asarray(parted)


def _borders(sides: _Sides, own: Ints, other: Ints, line: Floats) -> _Borders:
    """What bounds the plates `own` (k,) within the sheets of `other`: parts of their sides, and stretches of the
    strip's two edges."""
    frame, toward = sides.axes[own], sides.axes[other, 2]
    square = np.cross(frame[:, 2], line)
    slope = np.einsum("ki,ki->k", toward, square)           # sine of the angle, either way
    slope = np.where(np.abs(slope) <= _PARALLEL, 1.0, slope)
    lean = np.einsum("ki,ki->k", toward, frame[:, 2])
    tilt = np.sort(lean[:, None] * np.stack([sides.low[own], sides.high[own]], axis=1), axis=1)
    away = np.einsum("ki,ki->k", toward, sides.origin[other])
    out_of = np.einsum("ki,ki->k", frame[:, 2], sides.origin[own])
    # along `square` from the world's origin: toward . (square t + normal n) is within the other's sheet
    least = sides.low[other] + away - lean * out_of - tilt[:, 1]
    most = sides.high[other] + away - lean * out_of - tilt[:, 0]
    bounds = np.sort(np.stack([least, most]) / slope, axis=0)
    bounds += np.array([[tolerance.TOUCH], [-tolerance.TOUCH]])
    rows, picked = _rows_of(sides.first, own)
    a, b = (_seen(sides, own, rows, end[picked], line) for end in (sides.start, sides.end))
    s, t = (_seen(sides, own, rows, end[picked], square) for end in (sides.start, sides.end))
    level = np.abs(t - s) <= _LEVEL
    rise = np.where(level, 1.0, t - s)
    cuts = [(bound[rows] - s) / rise for bound in bounds]
    enter = np.where(level, 0.0, np.clip(np.minimum(*cuts), 0.0, 1.0))
    leave = np.where(level, 1.0, np.clip(np.maximum(*cuts), 0.0, 1.0))
    # a side on an edge of the strip counts as below it, here and where the edges are crossed
    within = (np.maximum(s, t) > bounds[0][rows]) & (np.minimum(s, t) <= bounds[1][rows])
    ends = [(a + (b - a) * share, s + (t - s) * share) for share in (enter, leave)]
    back = ends[0][0] > ends[1][0]
    out = [(rows, *(np.where(back, *pair) for pair in (
        (ends[1][0], ends[0][0]), (ends[0][0], ends[1][0]), (ends[1][1], ends[0][1]), (ends[0][1], ends[1][1]))))]
    out = [tuple(column[within] for column in out[0])]
    for bound, cut in zip(bounds, cuts, strict=True):
        crossed = (s <= bound[rows]) != (t <= bound[rows])   # by an even number of the sides of a ring
        at, row = (a + (b - a) * cut)[crossed], rows[crossed]
        order = np.lexsort((at, row))
        row = row[order][::2]
        out.append((row, at[order][::2], at[order][1::2], bound[row], bound[row]))
    return _Borders(*(np.concatenate(column) for column in zip(*out, strict=True)))


def _seen(sides: _Sides, own: Ints, rows: Ints, points: Floats, way: Floats) -> Floats:
    """(s,) how far along `way` (k, 3) of their row the points (s, 2) of plates lie."""
    flat = np.einsum("kai,ki->ka", sides.axes[own, :2], way)[rows]
    return np.asarray(np.einsum("sa,sa->s", points, flat) + np.einsum("ki,ki->k", way, sides.origin[own])[rows])


def _rows_of(first: Ints, plates: Ints) -> tuple[Ints, Ints]:
    """For every side of every one of `plates` (k,): which of them it is of, and its number."""
    counts = first[plates + 1] - first[plates]
    rows = np.repeat(np.arange(len(plates)), counts)
    return rows, np.arange(len(rows)) - np.repeat(np.cumsum(counts) - counts - first[plates], counts)


def _windows(borders: Sequence[_Borders], count: int) -> tuple[Ints, Floats, Floats]:
    """The stretches between ends of borders, longer than TOUCH: the row, start and end of each, in order."""
    row = np.concatenate([part for own in borders for part in (own.row, own.row)])
    at = np.concatenate([part for own in borders for part in (own.begin, own.end)])
    order = np.lexsort((at, row))
    row, at = row[order], at[order]
    real = (row[1:] == row[:-1]) & (at[1:] - at[:-1] > tolerance.TOUCH)
    return row[:-1][real], at[:-1][real], at[1:][real]


def _rectangles(own: _Borders, row: Ints, start: Floats, end: Floats) -> tuple[Ints, Floats, Floats, Ints]:
    """What a plate has in every window: the window's number, ascending, least and greatest distance across the line;
    and the rows for which that cannot be told."""
    middle = (start + end) / 2
    # windows are in order, so those that a border passes through are neighbours; ranks stand for (row, place)
    order = np.lexsort((np.concatenate([middle, own.begin, own.end]), np.concatenate([row, own.row, own.row])))
    passed = np.cumsum(order < len(row))
    rank = np.empty(len(order), dtype=np.int64)
    rank[order] = passed
    first, last = np.split(rank[len(row) :], 2)
    border = np.repeat(np.arange(len(own.row)), last - first)
    window = np.arange(len(border)) - np.repeat(np.cumsum(last - first) - last, last - first)
    order = np.lexsort((_part(own, border).across(middle[window]), window))
    border, window = border[order], window[order]
    odd = np.flatnonzero(np.bincount(window, minlength=len(row)) % 2)
    told = ~np.isin(window, odd)
    border, window = border[told], window[told]
    near = np.stack([_part(own, border).across(at[window]) for at in (start, end)])
    return window[::2], near[:, ::2].min(axis=0), near[:, 1::2].max(axis=0), row[odd]


def _part(borders: _Borders, rows: Ints) -> _Borders:
    return _Borders(borders.row[rows], borders.begin[rows], borders.end[rows], borders.at[rows], borders.to[rows])


def _clear(
    sides: _Sides, pairs: Ints, line: Floats, one: tuple[Floats, Floats], two: tuple[Floats, Floats]
) -> Bools:
    """(k,) whether two rectangles seen along `line`, one of each plate of a pair, are parted by a side of either."""
    middles, halves = [], []
    for column, (low, high) in enumerate((one, two)):
        plate = pairs[:, column]
        normal = sides.axes[plate, 2]
        square = np.cross(normal, line)
        out_of = np.einsum("ki,ki->k", normal, sides.origin[plate]) + (sides.low[plate] + sides.high[plate]) / 2
        middles.append(square * ((low + high) / 2)[:, None] + normal * out_of[:, None])
        halves.append((square * ((high - low) / 2)[:, None],
                       normal * ((sides.high[plate] - sides.low[plate]) / 2)[:, None]))
    parted = np.zeros(len(pairs), dtype=bool)
    for column in (0, 1):
        normal = sides.axes[pairs[:, column], 2]
        for axis in (normal, np.cross(normal, line)):
            apart = np.abs(np.einsum("ki,ki->k", middles[1] - middles[0], axis))
            room = sum(np.abs(np.einsum("ki,ki->k", half, axis)) for both in halves for half in both)
            parted |= apart > room - tolerance.TOUCH
    return parted
