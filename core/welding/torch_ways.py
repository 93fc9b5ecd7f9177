"""How a torch may come to a weld: the line that it is held to, the directions it may have, and the rays that stand for
its width."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ..terms import tolerance
from .shields import Shields, met_by_bundles

__all__ = ["TorchLine", "onward", "sampled", "stick", "torch_ways"]

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

LOOKED_EVERY: Final = 60.0
"""mm: how far apart the places are at which a weld is tried: between two of them no hand-wide thing hides."""

LEAST_PLACES: Final = 3
MOST_PLACES: Final = 12

ROUND: Final = 6
"""Rays round the torch. Between two of them on a nozzle of 16 mm lie 8 mm."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TorchLine:
    """A weld as a torch sees it. line: (2, 3) its root, mm. toward: (3,) from the root out to the torch, midway between
    the faces that it is laid on. wedge: degrees between these faces, 180 for a weld on flat metal. plates: those that
    it joins, which must both be there; by number."""

    line: Floats
    toward: Floats
    wedge: float
    plates: tuple[int, ...]


def sampled(line: TorchLine) -> Floats:
    """(n, 3) places along a weld, none at its ends, each a little before the root."""
    start, end = line.line
    length = float(np.linalg.norm(end - start))
    count = 1 if length <= tolerance.MERGE else int(np.clip(np.ceil(length / LOOKED_EVERY), LEAST_PLACES, MOST_PLACES))
    share = (np.arange(count) + 0.5) / count
    return np.asarray(start + share[:, None] * (end - start) + tolerance.OFF_ROOT * _unit(line.toward))


_LEANS: Final = np.array([(0.0, 0.0)] + [
    (size * np.cos(np.radians(turn)), size * np.sin(np.radians(turn)))
    for size, turns in (
        (0.5, (90, 270, 0, 180, 45, 225, 135, 315)),
        (1.0, (90, 270, 0, 180, 60, 240, 120, 300, 30, 210, 150, 330)))
    for turn in turns])
"""(d, 2) shares of the greatest lean, across the weld and along it: opposite ones in turn, for the first are tried
first."""


def torch_ways(line: TorchLine, lean: float, taper: float) -> Floats:
    """(d, 3) directions from the root to the torch, the one midway first: a cone about it, pressed into the wedge.

    lean, taper: degrees, how far the torch may lean and half the angle of its tip, which stays within the wedge.
    """
    toward = _unit(line.toward)
    along = line.line[1] - line.line[0]
    along = along - toward * float(along @ toward)
    if np.linalg.norm(along) <= tolerance.MERGE:
        along = np.cross(toward, np.eye(3)[np.argmin(np.abs(toward))])
    along = _unit(along)
    across = np.cross(toward, along)
    widest = np.radians([min(lean, max(line.wedge / 2 - taper, 0.0)), lean])
    leans = _LEANS * widest
    angle = np.linalg.norm(leans, axis=1)
    share = np.sinc(angle / np.pi)[:, None] * leans
    return np.asarray(np.cos(angle)[:, None] * toward + share[:, :1] * across + share[:, 1:] * along)


_TURNS: Final = np.radians([(0.0, 0.0)] + [
    (tilt, 360.0 * k / count) for tilt, count in ((30.0, 6), (60.0, 9), (85.0, 12)) for k in range(count)])
"""(e, 2) how far the arm turns from the torch's direction at the hand, and which way."""


def onward(way: Floats) -> Floats:
    """(n, e, 3) directions in which an arm may go on from the hand that holds a torch with those (n, 3) directions:
    straight on first, at most square to it."""
    one, two = _square_to(way)
    tilt, turn = _TURNS.T
    across = np.cos(turn)[:, None] * one[:, None] + np.sin(turn)[:, None] * two[:, None]
    return np.asarray(np.cos(tilt)[:, None] * way[:, None] + np.sin(tilt)[:, None] * across)


def stick(shields: Shields, start: Floats, way: Floats, *, tip: float, radius: float, length: float) -> Flags:
    """(n, plates) which plates are in the way of a round stick: pointed at its start, `tip` long until it is as wide as
    it gets, and a ray along its middle. start, way: (n, 3). length: mm, with the tip; may be inf."""
    one, two = _square_to(way)
    turn = np.arange(ROUND) * 2 * np.pi / ROUND
    rim = radius * (np.cos(turn)[:, None] * one[:, None] + np.sin(turn)[:, None] * two[:, None])
    to_rim = rim + tip * way[:, None]
    slant = float(np.hypot(tip, radius))
    count = len(start)
    many = (count, ROUND, 3)
    starts = np.concatenate([np.broadcast_to(start[:, None], many), start[:, None] + to_rim, start[:, None]], axis=1)
    ways = np.concatenate([to_rim / slant, np.broadcast_to(way[:, None], many), way[:, None]], axis=1)
    lengths = np.array([slant] * ROUND + [length - tip] * ROUND + [length])
    return met_by_bundles(shields, starts, ways, lengths, around=radius)


def _square_to(way: Floats) -> tuple[Floats, Floats]:
    """Two directions square to each of (n, 3), and to each other."""
    one = np.cross(way, np.eye(3)[np.argmin(np.abs(way), axis=1)])
    one = one / np.linalg.norm(one, axis=1, keepdims=True)
    return one, np.cross(way, one)


def _unit(vector: Floats) -> Floats:
    return np.asarray(vector / max(float(np.linalg.norm(vector)), tolerance.NONZERO))
