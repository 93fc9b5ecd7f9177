"""Locating tabs: where they go along every joint, and what they do to the edges of the two plates.

A tab is the same corner joint made locally with other choices: over its width one plate runs fully through
and the other stands back; over its flanking tabs it is the other way round. So every tab comes down to
stretches of a side with another setback, half the fit gap kept clear at each end. Whether the plates are
otherwise open, half-open or closed makes no difference to the mechanism: at a closed corner the through
plate is already out where the flanks would be, and is only notched.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ..envelope.envelope import Envelope
from ..terms import tolerance
from .joints import Joints
from .moved_edges import Moved, Sides, side_corners
from .tab_sizes import Run, sized_groups, web_of

__all__ = [
    "KEEP_OUT", "MOST_GROUPS", "SHORTEST_REACH", "Stretches", "TabGroups", "fingers_of", "groove_taken", "lean_of",
    "plan_tabs", "stretches_of", "touched_by", "without_groups",
]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

KEEP_OUT = 3.0
"""Bare edge at each end over the thicker plate: the corner itself is left free for the weld of three plates."""
MOST_GROUPS = 60
"""On one joint: more tacks than anybody sets on one edge, and a drawing in wrong units stays quick."""
SHORTEST_REACH = 0.5
"""mm: a finger shorter than this locates nothing (it drowns in the cut's own deviation, ISO 9013 class 1)."""
LEAN = 0.25
"""Share of the free length by which groups stand off centre, so that the plate fits one way only..."""
LEAN_MOST = 15.0
"""...and at most so many mm: enough to see."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TabGroups:
    """One row a group: one tab on one plate, flanked by two on the other.

    edge: (g,). column: (g,) of the edge's panels, the one with the single tab. at: (g,) centre along the
    edge's axis, mm. width, flank, fit_gap, reach: (g,) mm. bare: edges that get none though asked, with
    the room there was and the least that is needed, (b, 2) mm, and the reach. dropped: edges on which a
    group was left out again, for what it would have done to a plate.
    """

    edge: Ints
    column: Ints
    at: Floats
    width: Floats
    flank: Floats
    fit_gap: Floats
    reach: Floats
    bare: Ints
    bare_room: Floats
    bare_reach: Floats
    dropped: Ints


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stretches:
    """Parts of sides with a setback of their own. side: (k,) row of Sides; start, end: (k,) mm along the
    edge's axis; setback: (k,). Sorted by side, then start; those of one side do not overlap."""

    side: Ints
    start: Floats
    end: Floats
    setback: Floats


def lean_of(play: Floats | float) -> Floats:
    """How far the groups are pushed off centre, mm, so that a plate fits one way only."""
    return np.asarray(np.minimum(LEAN * np.asarray(play, dtype=np.float64), LEAN_MOST))


def plan_tabs(envelope: Envelope, joints: Joints, sides: Sides, moved: Moved) -> TabGroups:
    """Groups of tabs on every joint that has room for them."""
    count = len(envelope.edges)
    low, high = _room(joints, sides, moved, count)
    rows = np.arange(count)
    thickness = np.array([p.thickness for p in envelope.panels])[joints.panels]
    column = joints.tab_on.copy()
    # a finger that cannot reach goes on the other plate
    short = joints.reach[rows, column] < SHORTEST_REACH
    column[short] = 1 - column[short]
    reach = np.minimum(joints.reach[rows, column], np.inf)

    def rule(name: str, default: Floats | float) -> Floats:
        given = [getattr(r, name) for r in joints.rules]
        return np.where([g is None for g in given], default, [0.0 if g is None else g for g in given])

    notched = (joints.overlap == 1.0) & (column != joints.through)
    gap = joints.fit_gap
    keep_out = rule("keep_out", KEEP_OUT * thickness.max(axis=1))
    room = high - low - 2 * keep_out
    webs = np.array([web_of(float(t)) for t in thickness.max(axis=1)])       # edge left between groups
    sizes = sized_groups(Run(
        length=high - low, room=room, gap=gap, apart=webs, notched=notched,
        stock=np.where(notched, thickness[rows, column], thickness.max(axis=1)),
        width=rule("width", np.nan), flank=rule("flank", np.nan), spacing=np.maximum(rule("spacing", np.nan), 1.0),
        count=rule("count", np.nan), share=rule("share", np.nan)))
    width, flank, group = sizes.width, sizes.flank, sizes.group
    wanted = (joints.panels[:, 1] >= 0) & np.array([r.on is not False for r in joints.rules])
    fits = (room >= np.maximum(group, sizes.least) - tolerance.ROUNDING) & wanted
    fits &= joints.reach[rows, column] >= SHORTEST_REACH
    fits &= np.array([kind != "butt" for kind in joints.kinds])

    play = np.maximum(room - group, 0.0)
    lean = lean_of(play)
    most = 1 + np.floor((play - lean) / np.maximum(group + np.maximum(width, webs), tolerance.ROUNDING))
    number = np.minimum(sizes.wanted, np.clip(most, 1, MOST_GROUPS)).astype(np.int64)
    number[~fits] = 0
    # which way along the axis the groups lean depends on the two plates only, not on the drawing order
    toward = np.where(column == 0, 1.0, -1.0)

    edge = np.repeat(rows, number)
    index = np.arange(len(edge)) - np.repeat(np.cumsum(number) - number, number)
    share = np.where(number[edge] > 1, index / np.maximum(number[edge] - 1, 1), 0.5)
    first = low[edge] + keep_out[edge] + group[edge] / 2
    free = play[edge] - np.where(number[edge] > 1, lean[edge], 0.0)
    push = np.where(number[edge] > 1, np.where(toward[edge] > 0, lean[edge], 0.0), toward[edge] * lean[edge] / 2)
    # the first group alone may be moved along, as far as that leaves an edge to the next one
    spare = np.where(number[edge] > 1, free / np.maximum(number[edge] - 1, 1) - group[edge] - webs[edge],
                     play[edge] / 2 - push)
    push = push + np.where(index == 0, np.minimum(joints.shift[edge], np.maximum(spare, 0.0)), 0.0)
    bare = np.flatnonzero(wanted & (number == 0))
    return TabGroups(
        edge=edge, column=column[edge], at=first + push + share * free, width=width[edge], flank=flank[edge],
        fit_gap=gap[edge], reach=reach[edge], bare=bare,
        bare_room=np.column_stack([room, np.maximum(group, sizes.least)])[bare], bare_reach=reach[bare],
        dropped=np.empty(0, dtype=np.int64),
    )


def groove_taken(groups: TabGroups, count: int) -> Floats:
    """(count,) mm of every edge's length that groups with flanks take: there is no groove to fill."""
    flanked = groups.flank > 0
    each = groups.width + 2 * (groups.flank + groups.fit_gap)
    return np.bincount(groups.edge[flanked], weights=each[flanked], minlength=count).astype(np.float64)


def without_groups(groups: TabGroups, drop: NDArray[np.bool_]) -> TabGroups:
    """The groups less those that are marked (g,)."""
    keep = ~drop
    return replace(
        groups, edge=groups.edge[keep], column=groups.column[keep], at=groups.at[keep], width=groups.width[keep],
        flank=groups.flank[keep], fit_gap=groups.fit_gap[keep], reach=groups.reach[keep],
        dropped=np.unique(np.concatenate([groups.dropped, groups.edge[drop]])),
    )


def _room(joints: Joints, sides: Sides, moved: Moved, count: int) -> tuple[Floats, Floats]:
    """Along every edge's axis, from where to where both plates have an edge, whether it stands at its base or
    runs fully through."""
    own = joints.base[sides.edge, sides.column]
    full = joints.full[sides.edge, sides.column]
    spans = [(moved.start, moved.end)]
    _, start = side_corners(sides, own[sides.before], full)
    ends, _ = side_corners(sides, full[sides.before], own)
    spans.append((start, ends[sides.after]))
    low, high = np.full(count, -np.inf), np.full(count, np.inf)
    for start, end in spans:
        one, two = sides.measure(start), sides.measure(end)
        np.maximum.at(low, sides.edge, np.minimum(one, two))
        np.minimum.at(high, sides.edge, np.maximum(one, two))
    lost = np.unique(sides.edge[moved.gone])
    low[lost], high[lost] = 0.0, 0.0
    return low, high


def fingers_of(groups: TabGroups, joints: Joints, sides: Sides) -> tuple[Ints, Ints, Floats]:
    """Every finger as a rectangle in its plate's plane: the group (k,), the panel (k,), corners (k, 4, 2)."""
    row_of = sides.of_edges()
    rows = np.arange(len(groups.edge))
    flanked = np.flatnonzero(groups.flank > 0)
    off = (groups.width / 2 + groups.fit_gap / 2 + groups.flank / 2)[flanked]
    group = np.concatenate([rows, flanked, flanked])
    column = np.concatenate([groups.column, 1 - groups.column[flanked], 1 - groups.column[flanked]])
    middle = np.concatenate([groups.at, groups.at[flanked] - off, groups.at[flanked] + off])
    half = np.concatenate([groups.width, groups.flank[flanked], groups.flank[flanked]]) / 2
    edge = groups.edge[group]
    side = row_of[edge, column]
    ahead = np.where(column == 0, 1.0, -1.0)
    corners = [
        sides.at[side] + sides.along[side] * (ahead * (middle + sign * half))[:, None]
        + sides.into[side] * depth[:, None]
        for sign, depth in ((-1, joints.full[edge, column]), (1, joints.full[edge, column]),
                            (1, joints.base[edge, column]), (-1, joints.base[edge, column]))
    ]
    return group, sides.panel[side], np.stack(corners, axis=1)


def touched_by(groups: TabGroups, edges: int) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """(m, 2) on which plates of every edge the groups cut notches, and on which they leave fingers."""
    notched, fingered = np.zeros((2, edges, 2), dtype=bool)
    flanked = groups.flank > 0
    fingered[groups.edge, groups.column] = True
    notched[groups.edge, 1 - groups.column] = True
    notched[groups.edge[flanked], groups.column[flanked]] = True
    fingered[groups.edge[flanked], 1 - groups.column[flanked]] = True
    return notched, fingered


def stretches_of(groups: TabGroups, joints: Joints, sides: Sides) -> Stretches:
    """What the groups do to the sides of the plates."""
    row_of = sides.of_edges()
    edge, tabbed, other = groups.edge, groups.column, 1 - groups.column
    clear = groups.fit_gap / 2
    half = groups.width / 2
    far = half + clear + groups.flank
    flanked = groups.flank > 0
    always = np.ones(len(edge), dtype=bool)

    parts: list[tuple[Ints, Floats, Floats, Floats]] = []

    def add(column: Ints, start: Floats, end: Floats, setback: Floats, pick: NDArray[np.bool_] = always) -> None:
        parts.append((row_of[edge, column][pick], (groups.at + start)[pick], (groups.at + end)[pick],
                      setback[edge, column][pick]))

    add(tabbed, -half, half, joints.full)
    add(other, -half - clear, half + clear, joints.under)
    for sign in (-1.0, 1.0):
        notch = np.sort([sign * half, sign * (far + clear)], axis=0)
        finger = np.sort([sign * (half + clear), sign * far], axis=0)
        add(tabbed, notch[0], notch[1], joints.under, flanked)
        add(other, finger[0], finger[1], joints.full, flanked)
    side, start, end, setback = (np.concatenate(column) for column in zip(*parts, strict=True))
    order = np.lexsort((start, side))
    return Stretches(side=side[order], start=start[order], end=end[order], setback=setback[order])
