"""Which welds a torch gets to in the finished kit, which only before a plate closes them, and which never.

At places along the weld a torch is tried in directions about the middle of its wedge, thick as its nozzle; from where
the hand is an arm must get out of the kit. Whose plate is in each way is kept, so what a plate that is still missing
frees is a question of sets.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from ..terms import tolerance
from ..terms.choices import Torch
from .shields import Shields, met
from .torch_ways import TorchLine, onward, sampled, stick, torch_ways

__all__ = ["Reach", "reaches"]

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Index = NDArray[np.int64]
Off = frozenset[int]

REACHED_SHARE: Final = 0.8
"""The share of a weld's places that must be reached for the weld to count as reachable; the length of the rest is told.
Our choice: a torch that is in the way of itself at one end of a seam is the welder's daily bread."""

MOST_OFF: Final = 2
"""Plates that may have to be missing while a weld is made, at first; all sets of so many are looked at."""

MORE_OFF: Final = 6
"""The same where that is not enough, as in stacks that are welded one plate after the other; of these only sets that a
torch was found to need at one place. Where it takes more, nobody would find the order."""

ENOUGH: Final = 5
"""Directions of the torch that are tried with its whole width where a plate is known by then that frees the weld alone;
twice as many where it takes more plates. Else all."""

HOPED: Final = 12
"""So many where an arm without any width would get out of the finished kit."""

TRIED_ON: Final = 10
"""Directions of the arm that are tried with its whole width, for each of them."""

NEAR_BY: Final = 500.0
"""mm: how far the arm's middle is followed first; most ways end before."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reach:
    """when: 'end', in the finished kit; 'before', until the plates of `before` (by number) are put on; 'none'.
    unreached: mm of the weld where even so no torch gets to. narrow: none, for the plates that it joins leave the torch
    no room themselves."""

    when: Literal["end", "before", "none"]
    before: tuple[int, ...] = ()
    unreached: float = 0.0
    narrow: bool = False


def reaches(
    lines: Sequence[TorchLine], shields: Shields, torch: Torch, doors: Floats | None = None
) -> tuple[Reach, ...]:
    """For each weld, in their order. doors: (k, 3) the middles of openings that an arm may go through, to aim at."""
    if not lines:
        return ()
    if not shields.plates:
        return (Reach(when="end"),) * len(lines)
    scene = _Scene(shields=shields, torch=torch, doors=np.empty((0, 3)) if doors is None else doors)
    out = _judged_all(lines, scene, MOST_OFF)
    hard = [row for row, reach in enumerate(out) if reach.when == "none"]
    if hard:
        again = _judged_all([lines[row] for row in hard], scene, MORE_OFF)
        for row, reach in zip(hard, again, strict=True):
            out[row] = reach
    return tuple(out)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Scene:
    shields: Shields
    torch: Torch
    doors: Floats


def _judged_all(lines: Sequence[TorchLine], scene: _Scene, most: int) -> list[Reach]:
    """most: plates that may be missing."""
    places = _places(lines, scene)
    found = _tried(places, scene, most)
    frees = [[found[place] for place in np.flatnonzero(places.weld == weld)] for weld in range(len(lines))]
    alone = _welds_freed_alone(frees)
    out = [_judged(sets, line, alone) for line, sets in zip(lines, frees, strict=True)]
    return [
        replace(reach, narrow=_narrow(places, weld, scene)) if reach.when == "none" else reach
        for weld, reach in enumerate(out)]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Places:
    """All places of all welds. at: (n, 3). weld: (n,). ways: (n, d, 3). own: (n, plates), those that the weld joins.
    blocked: (n, d, plates) by the middle of the torch."""

    at: Floats
    weld: Index
    ways: Floats
    own: Flags
    blocked: Flags


def _places(lines: Sequence[TorchLine], scene: _Scene) -> _Places:
    shields, torch = scene.shields, scene.torch
    taper = float(np.degrees(np.arctan2(torch.nozzle / 2, torch.stand_off)))
    along = [sampled(line) for line in lines]
    weld = np.repeat(np.arange(len(lines)), [len(part) for part in along])
    at = np.concatenate(along)
    ways = np.stack([torch_ways(line, torch.lean, taper) for line in lines])[weld]
    own = np.zeros((len(lines), len(shields.plates)), dtype=np.bool_)
    for row, line in enumerate(lines):
        own[row, list(line.plates)] = True
    return _Places(at=at, weld=weld, ways=ways, own=own[weld], blocked=met(shields, at, ways, torch.length))


def _tried(places: _Places, scene: _Scene, most: int) -> list[set[Off]]:
    """For each place the sets of plates that, missing, leave a way; the empty one where it is free."""
    found: list[set[Off]] = [set() for _ in places.at]
    torch = scene.torch
    order, usable = _best_first(places.blocked, places.own, most)
    weld_places = [np.flatnonzero(places.weld == weld) for weld in range(int(places.weld[-1]) + 1)]
    open_welds = np.ones(len(weld_places), dtype=np.bool_)
    hopeful = np.zeros(len(places.at), dtype=np.bool_)          # a thin arm would get out
    for turn in range(order.shape[1]):
        for weld in np.flatnonzero(open_welds):
            own = weld_places[weld]
            hoped = turn < HOPED and bool(hopeful[own].any())
            open_welds[weld] = hoped or _worth_more([found[place] for place in own], turn, most)
        rows = np.flatnonzero([frozenset() not in sets for sets in found] & open_welds[places.weld])
        rows = rows[usable[rows, order[rows, turn]]]
        if not len(rows):
            continue
        ways = places.ways[rows, order[rows, turn]]
        blocked = _by_torch(places.at[rows], ways, scene)
        kept = _possible(blocked, places.own[rows], most)
        rows, ways, blocked = rows[kept], ways[kept], blocked[kept]
        hands = places.at[rows] + torch.length * ways
        for row, off in _ways_out(hands, ways, blocked, places.own[rows], scene, most):
            if off is None:
                hopeful[rows[row]] = True
            else:
                found[rows[row]].add(off)
        hopeful &= [frozenset() not in sets for sets in found]
    return found


def _by_torch(at: Floats, ways: Floats, scene: _Scene) -> Flags:
    torch = scene.torch
    return stick(scene.shields, at, ways, tip=torch.stand_off, radius=torch.nozzle / 2, length=torch.length)


def _ways_out(
    hands: Floats, ways: Floats, before: Flags, own: Flags, scene: _Scene, most: int
) -> Iterator[tuple[int, Off | None]]:
    """From the hand on: (row, the plates that must be missing), with None where a thin arm would get out with none
    missing. before: (n, plates) in the torch's way."""
    if not len(hands):
        return
    shields, hand, doors = scene.shields, scene.torch.hand, scene.doors
    on = onward(ways)
    if len(doors):
        to_doors = doors[None] - hands[:, None]
        far = np.linalg.norm(to_doors, axis=2, keepdims=True)
        on = np.concatenate([on, to_doors / np.maximum(far, tolerance.TOUCH)], axis=1)
    blocked = met(shields, hands, on, NEAR_BY) | before[:, None]
    rows, turn = np.nonzero(_possible(blocked, own[:, None], most))
    blocked[rows, turn] |= met(shields, hands[rows], on[rows, turn][:, None], np.inf)[:, 0]
    yield from ((int(row), None) for row in np.flatnonzero((~blocked.any(axis=2)).any(axis=1)))
    order, usable = _best_first(blocked, own, most)
    order = order[:, :TRIED_ON]
    rows, turn = np.nonzero(np.take_along_axis(usable, order, axis=1))
    if not len(rows):
        return
    going = on[rows, order[rows, turn]]
    thick = stick(shields, hands[rows], going, tip=hand, radius=hand / 2, length=np.inf) | before[rows]
    kept = np.flatnonzero(_possible(thick, own[rows], most))
    _, once = np.unique(np.column_stack([rows[kept], *_past(thick[kept])]), axis=0, return_index=True)
    for one in kept[once]:
        yield int(rows[one]), frozenset(np.flatnonzero(thick[one]).tolist())


def _worth_more(sets: Sequence[set[Off]], turn: int, most: int) -> bool:
    """Whether more directions are worth trying at a weld after so many."""
    early = turn < 2 * ENOUGH
    if turn < ENOUGH or (early and most > MOST_OFF):
        return True
    number = 1 if early else MOST_OFF
    return all(_share(sets, off) < 1.0 for off in _sets_of(sets, number))


def _possible(blocked: Flags, own: Flags, most: int) -> Flags:
    """Whether no plate of the weld itself is in the way, and few enough others. blocked, own: (…, plates)."""
    return np.asarray(~(blocked & own).any(axis=-1) & (blocked.sum(axis=-1) <= most))


def _best_first(blocked: Flags, own: Flags, most: int) -> tuple[Index, Flags]:
    """(n, d) directions in the order in which they are worth trying, and whether they are possible: free ones first,
    then the first one past each set of plates before a second past the same. blocked: (n, d, plates)."""
    usable = _possible(blocked, own[:, None], most)
    number, first, last = _past(blocked)
    plates = blocked.shape[2]
    which = (number * plates + first) * plates + last
    again = (np.tril(which[:, :, None] == which[:, None, :], -1) & usable[:, None, :]).sum(axis=2)
    rank = np.where(usable, np.where(number == 0, 0, (most + 1) * again + number), np.iinfo(np.int64).max)
    return np.argsort(rank, axis=1, kind="stable"), usable


def _past(blocked: Flags) -> tuple[Index, Index, Index]:
    """How many plates are in each way, and the first and the last of them: of at most two, which they are. blocked:
    (…, plates)."""
    number = blocked.sum(axis=-1)
    first = np.where(number > 0, blocked.argmax(axis=-1), 0)
    last = np.where(number > 0, blocked.shape[-1] - 1 - blocked[..., ::-1].argmax(axis=-1), 0)
    return number, first, last


def _narrow(places: _Places, weld: int, scene: _Scene) -> bool:
    """Whether a torch held midway between the plates of the weld meets them all along it."""
    rows = np.flatnonzero(places.weld == weld)
    blocked = _by_torch(places.at[rows], places.ways[rows, 0], scene)
    return bool((blocked & places.own[rows]).any(axis=1).all())


def _welds_freed_alone(frees: Sequence[Sequence[set[Off]]]) -> dict[int, int]:
    """How many welds each plate frees that is missing alone: the one put on last is best one for many."""
    count: dict[int, int] = {}
    for sets in frees:
        for plate in _plates_of(sets):
            if _share(sets, frozenset({plate})) >= REACHED_SHARE:
                count[plate] = count.get(plate, 0) + 1
    return count


def _judged(sets: Sequence[set[Off]], line: TorchLine, alone: dict[int, int]) -> Reach:
    length = float(np.linalg.norm(line.line[1] - line.line[0]))

    def rank(off: Off) -> tuple[int, float, int, list[int]]:
        return -len(off), _share(sets, off), sum(alone.get(one, 0) for one in off), [-one for one in sorted(off)]

    enough = (off for off in _sets_of(sets, MOST_OFF) if _share(sets, off) >= REACHED_SHARE)
    best = max(enough, key=rank, default=None)
    if best is None:
        return Reach(when="none", unreached=length)
    return Reach(
        when="before" if best else "end", before=tuple(sorted(best)), unreached=(1.0 - _share(sets, best)) * length)


def _sets_of(sets: Sequence[set[Off]], number: int) -> list[Off]:
    """Sets of plates to try: all of at most so many, and those found that are larger."""
    plates = _plates_of(sets)
    small = [frozenset(some) for size in range(number + 1) for some in itertools.combinations(plates, size)]
    return [*small, *sorted({off for some in sets for off in some if len(off) > MOST_OFF}, key=sorted)]


def _plates_of(sets: Sequence[set[Off]]) -> list[int]:
    return sorted({plate for some in sets for off in some for plate in off})


def _share(sets: Sequence[set[Off]], off: Off) -> float:
    """The share of a weld's places that are free while these plates are missing."""
    return sum(any(need <= off for need in some) for some in sets) / len(sets)
