"""How many groups of tabs a joint gets, and how wide its fingers are.

At an open or half-open corner a group stands where a groove would be filled: it takes no more than locating needs. At
a closed corner and at a tee nothing is lost by a tab, and it may be wide.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..terms import tolerance
from ..terms.choices import SHARE

__all__ = [
    "FEWEST", "FINGER", "FINGER_MM", "LONG", "NARROWEST", "NARROWEST_MM", "SPACING", "SPACING_IN_GROOVE",
    "WEB", "WEB_MM", "WIDTH", "WIDTH_IN_GROOVE", "GroupSizes", "Run", "sized_groups", "spread_tabs", "web_of",
]

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

WIDTH = 4.0
"""Width of a tab over thickness where it takes no groove. Common practice, no source: 1.5 to 4."""
NARROWEST = 1.5
"""The narrowest such tab over thickness. Common practice, no source."""
NARROWEST_MM = 3.0
"""And in mm: thinner fingers of thin sheet burn away when tacked. Common practice, no source."""
SPACING = 150.0
"""mm from one such tab to the next, at most. Common practice, no source: 75 to 150."""

WIDTH_IN_GROOVE = 2.0
"""Width of a tab over thickness where it takes groove: what locating needs. Common practice, no source."""
FLANK_IN_GROOVE = 1.25
"""Width of a flanking tab over thickness there. Common practice, no source: 1 to 1.5."""
FINGER = 1.0
"""The narrowest finger there over thickness: what most lasers cut well, tooth or notch. Common practice, no source."""
FINGER_MM = 4.0
"""And in mm: a finger in a groove has the arc on both sides and must not burn away. Common practice, no source."""
SPACING_IN_GROOVE = 250.0
"""mm from one group to the next there, about. Common practice, no source: 200 to 300."""
LONG = 150.0
"""mm: a joint this long gets two groups though they take more than their share: one alone is a pivot. Our choice."""
FEWEST = 2
"""Groups on a joint long enough for them: one is a pivot."""

WEB = 2.0
"""Metal between a slot or a tab and the next cut or edge of its plate, over that plate's thickness. Common practice, no
source: 1.5 to 2."""
WEB_MM = 3.0
"""And in mm. Common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GroupSizes:
    """One row a joint (m,). width, flank: of its tabs, mm. group: what a group takes of the length, gaps and all.
    least: the narrowest group there can be. wanted: how many groups, before there is looked whether they fit."""

    width: Floats
    flank: Floats
    group: Floats
    least: Floats
    wanted: Floats


def web_of(thickness: float) -> float:
    """mm of metal to leave between two cuts of a plate."""
    return max(WEB * thickness, WEB_MM)


def spread_tabs(play: Floats | float, spacing: Floats | float) -> Floats:
    """How many tabs a joint gets where nobody said: one about every `spacing` mm. play: mm that one could move."""
    play, spacing = np.asarray(play, dtype=np.float64), np.asarray(spacing, dtype=np.float64)
    return np.asarray(np.where(play < spacing / 2, 1.0, 1.0 + np.ceil(play / spacing - tolerance.ROUNDING)))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Run:
    """The joints that want groups, one row each (m,). length: of the joint; room: of it between the bare ends; gap: the
    fit gap, both sides together; stock: thickness of the plate that has the single tab, with
    flanks of the thicker one; apart: metal left between two
    groups: mm. notched: whether the neighbour is notched rather than flanking. width, flank, spacing, count,
    share: what is asked for, NaN where nobody said."""

    length: Floats
    room: Floats
    gap: Floats
    stock: Floats
    apart: Floats
    notched: Bools
    width: Floats
    flank: Floats
    spacing: Floats
    count: Floats
    share: Floats


def sized_groups(run: Run) -> GroupSizes:
    """The groups that the joints get where there is room for them."""
    flanks = np.where(run.notched, 0.0, 2.0)
    gaps = np.where(run.notched, 1.0, 2.0) * run.gap

    def whole(width: Floats, flank: Floats) -> Floats:
        return np.asarray(width + flanks * flank + gaps)

    narrow = np.where(run.notched, np.maximum(NARROWEST * run.stock, NARROWEST_MM),
                      np.maximum(FINGER * run.stock, FINGER_MM))
    least = whole(_asked(run.width, narrow), _asked(run.flank, narrow))
    usual = np.where(run.notched, np.maximum(WIDTH * run.stock, NARROWEST_MM),
                     np.maximum(WIDTH_IN_GROOVE * run.stock, FINGER_MM))
    beside = np.maximum(FLANK_IN_GROOVE * run.stock, FINGER_MM)
    wanted = _how_many(run, least)
    # what each may take: of the groove its share, and never more than there is
    fair = np.where(run.notched, np.inf, _asked(run.share, SHARE) * run.length / np.maximum(wanted, 1.0))
    most = np.minimum(np.maximum(fair, least), run.room)
    scale = np.clip((most - gaps) / np.maximum(whole(usual, beside) - gaps, tolerance.ROUNDING), 0.0, 1.0)
    flank = np.where(run.notched, 0.0, _asked(run.flank, np.maximum(narrow, scale * beside)))
    left = np.minimum(whole(usual, beside), most) - gaps - flanks * flank
    width = _asked(run.width, np.minimum(usual, left))
    return GroupSizes(width=width, flank=flank, group=whole(width, flank), least=least, wanted=wanted)


def _how_many(run: Run, least: Floats) -> Floats:
    """How many groups the joints are to get: two where they fit and are no more than their share, or the joint is long,
    then one about every so often, while they are no more than that. least: the narrowest group."""
    play = np.maximum(run.room - least, 0.0)
    loose = spread_tabs(play, _asked(run.spacing, SPACING))
    share = _asked(run.share, SHARE)
    two = FEWEST * least
    roomy = run.room >= two + run.apart
    fair = (two <= share * run.length) | (run.length >= LONG - tolerance.TOUCH)
    spread = 1.0 + np.floor(play / _asked(run.spacing, SPACING_IN_GROOVE) + 0.5)
    spread = np.minimum(spread, np.floor(share * run.length / least + tolerance.ROUNDING))
    close = np.where(roomy & fair, np.maximum(spread, float(FEWEST)), 1.0)
    return _asked(run.count, np.where(run.notched, loose, close))


def _asked(value: Floats, usual: Floats | float) -> Floats:
    return np.asarray(np.where(np.isnan(value), usual, value))
