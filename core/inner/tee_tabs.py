"""Locating tabs of inner plates, through slots in what they stand on.

Tabs are spread along each joint. Where the slot of one would come too near to an edge of the wall, to another slot
or to an opening, or the tab itself to a cut of its own plate, it moves along the joint to the nearest place where
there is room, and is left out where there is none.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from ..plates.tab_sizes import NARROWEST, NARROWEST_MM, SPACING, WIDTH, spread_tabs, web_of
from ..plates.tabs import KEEP_OUT, MOST_GROUPS, SHORTEST_REACH, lean_of
from ..shapes.outline import Contour
from ..shapes.rings import grown
from ..terms import tolerance
from ..terms.choices import TabRule
from ..terms.errors import InputError
from ..terms.memo import Remember, afresh
from ..terms.messages import Length
from ..terms.places import named
from ..terms.progress import Counting, uncounted
from .inner_meetings import upward
from .tee_section import slot_span, tab_reach

__all__ = ["TabPlan", "Tee", "TeeTab", "WallRoom", "plan_tee_tabs", "refuse_short", "slot_contour"]

Floats = NDArray[np.float64]

APART = 0.5
"""mm: what a tab stays away from the rest of its own plate: about a kerf."""
STEP = 0.25
"""A tab is moved by this share of its width at a time, and..."""
STEP_MM = 1.0
"""...by at least so many mm."""
INSIDE = 1e-3
"""mm inside a plate's edge, where its metal is looked for: on the edge itself rounding would decide."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Tee:
    """One plate standing on another along a straight run.

    plate, wall: indices among all plates. start, end: (2,) the side of the plate's outline, its metal on the left.
    away: (2,) unit, into the wall. line: (2, 3) the touching arris on the wall's face, from start to end. angle:
    acute, degrees. root_gap: mm. fit_gap, thickness_gap: of a tab in its slot, along its width and across its
    thickness, both sides together, mm. flat: (2, 2) the line in the wall's plane; lean: (2,) unit there, the
    way a tab leans as it goes out. thickness, wall_thickness: mm. short: how far its tabs end below the
    wall's outer face, mm. rule: how tabs are laid out; shift: by
    how much the first one is moved along, mm.
    mesh_edges: that it was drawn as. on_edge: it touches an edge of the wall, and stands on no face. idle:
    what was chosen for it that a tee has no use for.
    """

    plate: int
    wall: int
    start: Floats
    end: Floats
    away: Floats
    line: Floats
    angle: float
    root_gap: float
    fit_gap: float
    thickness_gap: float
    flat: Floats
    lean: Floats
    thickness: float
    wall_thickness: float
    short: float
    rule: TabRule
    shift: float
    mesh_edges: tuple[tuple[int, int], ...]
    on_edge: bool = False
    idle: tuple[str, ...] = ()

    @property
    def length(self) -> float:
        return float(np.linalg.norm(self.end - self.start))

    @property
    def setback(self) -> float:
        """How far the plate's edge stands back from the touching line, along the plate, for the root gap."""
        return self.root_gap / float(np.sin(np.radians(self.angle)))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TeeTab:
    """One tab: the index of its tee, where its centre lies along it, its width, its reach past the touching line,
    and the slot, (4, 2) corners in the wall's plane."""

    tee: int
    at: float
    width: float
    reach: float
    slot: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TabPlan:
    """tabs: all that found a place, by tee. bare: tees that should have tabs and have none, with the reason. fewer:
    tees with some for which others found no place, with how many there should be."""

    tabs: tuple[TeeTab, ...]
    bare: tuple[tuple[int, str], ...]
    fewer: tuple[tuple[int, int], ...]


class WallRoom:
    """Where in one plate slots may still be cut: its shape less a web along every edge, less the slots so far."""

    def __init__(self, shape: shapely.Geometry, thickness: float, remember: Remember = afresh) -> None:
        self.web = web_of(thickness)
        self._free = remember(grown, shape, -self.web)
        shapely.prepare(self._free)
        self._slots: list[shapely.Polygon] = []

    def fits(self, slots: NDArray[np.object_]) -> NDArray[np.bool_]:
        """(k,) which of the slots leave a web to everything else."""
        out = np.asarray(shapely.contains(self._free, slots))
        rows = np.flatnonzero(out)
        if self._slots and len(rows):
            tree = shapely.STRtree(self._slots)
            hit = tree.query(slots[rows], predicate="dwithin", distance=self.web * (1 - tolerance.ROUNDING))
            out[rows[np.unique(hit[0])]] = False
        return out

    def take(self, slot: shapely.Polygon) -> None:
        self._slots.append(slot)


def refuse_short(tees: Sequence[Tee], names: Sequence[str]) -> None:
    """Refuse tabs that are to end below their wall's outer face by as much as the wall is thick, or more (InputError).

    names: of all plates.
    """
    short = max((tee.short for tee in tees), default=0.0)
    walls = {
        tee.wall: tee.wall_thickness for tee in tees if tee.rule.on is not False and tee.wall_thickness <= tee.short}
    if walls:
        through = named("plate", [names[wall] for wall in sorted(walls)])
        thick = Length(*sorted(set(walls.values())), between=" and ")
        least = min(walls.values())
        raise InputError(
            f"The tab short is {Length(short):g}, and nothing would be left of the tabs through {through}, {thick:g} "
            "thick",
            do=f"Give less than {Length(least):g}, or turn the tabs of those joints off.")


def plan_tee_tabs(
    tees: Sequence[Tee], shapes: Sequence[shapely.Geometry], thickness: Sequence[float],
    banned: Sequence[TeeTab] = (), bare: frozenset[int] = frozenset(), remember: Remember = afresh,
    progress: Counting = uncounted,
) -> TabPlan:
    """Tabs on every tee that wants some, each with its slot.

    shapes, thickness: of all plates. banned: tabs that turned out to be in the way of something: none goes there again.
    bare: tees that get none. progress: called with how many tees are done, and of how many.
    """
    rooms: dict[int, WallRoom] = {}
    shapely.prepare([shapes[tee.plate] for tee in tees])
    tabs: list[TeeTab] = []
    without: list[tuple[int, str]] = []
    fewer: list[tuple[int, int]] = []
    for index, tee in enumerate(tees):
        progress(index, len(tees))
        if tee.rule.on is False or index in bare:
            continue
        if tee.wall not in rooms:
            rooms[tee.wall] = WallRoom(shapes[tee.wall], thickness[tee.wall], remember)
        taboo = np.array([tab.at for tab in banned if tab.tee == index])
        placed, count, why = _place(index, tee, rooms[tee.wall], shapes[tee.plate], taboo)
        tabs += placed
        if not placed:
            without.append((index, why))
        elif len(placed) < count:
            fewer.append((index, count))
    return TabPlan(tabs=tuple(tabs), bare=tuple(without), fewer=tuple(fewer))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Layout:
    """How the tabs of a tee are to stand. at: (k,) mm along it, where each wants to be; tries: where one may be
    instead, the nearest end of space first. pitch: from one to the next at least; far: how far each may move."""

    width: float
    reach: float
    at: Floats
    tries: Floats
    pitch: float
    far: float


def _layout(tee: Tee, web: float, room: WallRoom) -> _Layout | str:
    """The layout, or why there is none. web: mm of metal to leave in the plate itself."""
    rule, length = tee.rule, tee.length
    keep_out = rule.keep_out if rule.keep_out is not None else KEEP_OUT * max(tee.thickness, tee.wall_thickness)
    keep_out = max(keep_out, web)                             # at its ends a side may be cut: sniped, slotted
    least = max(NARROWEST * tee.thickness, NARROWEST_MM)
    free = length - 2 * keep_out
    width = rule.width if rule.width is not None else min(max(WIDTH * tee.thickness, NARROWEST_MM), free)
    if width > free + tolerance.ROUNDING or (rule.width is None and width < least - tolerance.ROUNDING):
        needed = max(least, rule.width or 0.0) + 2 * keep_out
        return f"it is {Length(length):.1f} long, and {Length(needed):.1f} are needed"
    reach = float(tab_reach(tee.wall_thickness, tee.angle, tee.short))
    if reach < SHORTEST_REACH:
        return f"the tabs would be only {Length(reach):.2f} long"
    spacing = max(rule.spacing if rule.spacing is not None else SPACING, 1.0)
    play = free - width
    wanted = rule.count if rule.count is not None else int(spread_tabs(play, spacing))
    pitch = width + max(width, web, room.web + tee.fit_gap)
    count = max(1, min(wanted, MOST_GROUPS, 1 + int(play // pitch)))
    # towards one side of space: copies of the plate lean alike
    way = upward(tee.line[1] - tee.line[0])
    lean = float(lean_of(play)) * way
    if count > 1:
        targets = keep_out + width / 2 + max(lean, 0.0) + np.linspace(0.0, play - abs(lean), count)
    else:
        targets = np.array([(length + lean) / 2])
    spare = play / (count - 1) - pitch if count > 1 else play / 2 - abs(lean) / 2
    targets[0] += min(tee.shift, max(spare, 0.0))
    steps = np.arange(0.0, play + tolerance.ROUNDING, max(STEP * width, STEP_MM))
    tries = keep_out + width / 2 + steps if play > 0 else np.array([length / 2])
    # from the same end of space, whichever way the plate is wound
    if way < 0:
        targets, tries = targets[::-1], length - tries
    tries = np.unique(np.round(np.concatenate([tries, targets]), 9))[::int(way)]
    far = (play / (2 * (count - 1)) if count > 1 else play) + tolerance.ROUNDING   # half-way to the next, no farther
    return _Layout(width=width, reach=reach, at=targets, tries=tries, pitch=pitch, far=far)


def _place(
    index: int, tee: Tee, room: WallRoom, own: shapely.Geometry, taboo: Floats
) -> tuple[list[TeeTab], int, str]:
    """The tabs of a tee, how many there should be, and why there is none."""
    web = web_of(tee.thickness)
    plan = _layout(tee, web, room)
    if isinstance(plan, str):
        return [], 0, plan
    tries = plan.tries[(np.abs(plan.tries[:, None] - taboo) >= plan.width / 2).all(axis=1)]
    if not len(tries):
        return [], 0, "every tab would stand in the way of another plate"
    corners = _slots(tee, tries, plan.width, plan.reach)
    slots = shapely.polygons(corners)

    def good(rows: NDArray[np.int64]) -> NDArray[np.bool_]:
        return np.asarray(
            room.fits(slots[rows]) & _backed(tee, tries[rows], plan.width, web, plan.reach, own))

    taken: list[int] = []
    for target in plan.at.tolist():
        able = (np.abs(tries[:, None] - tries[taken]) >= plan.pitch - tolerance.ROUNDING).all(axis=1)
        rows = np.flatnonzero(able & (np.abs(tries - target) <= plan.far))
        row = _first(rows[np.argsort(np.abs(tries[rows] - target), kind="stable")], good)
        if row is not None:
            taken.append(row)
    taken.sort(key=lambda row: float(tries[row]))
    for row in taken:
        room.take(slots[row])
    out = [
        TeeTab(tee=index, at=float(tries[row]), width=plan.width, reach=plan.reach, slot=corners[row])
        for row in taken]
    why = (f"a slot would leave less than {Length(room.web):.1f} of metal to an edge, another slot or an opening, or "
           f"a tab less than {Length(web):.1f} to another cut, wherever along the joint it is")
    return out, len(plan.at), "" if out else why


def _first(rows: NDArray[np.int64], good: Callable[[NDArray[np.int64]], NDArray[np.bool_]]) -> int | None:
    """The first of the rows that is good. Asked for few at a time, then for more: most often the first one is."""
    begin, count = 0, 4
    while begin < len(rows):
        some = rows[begin : begin + count]
        found = np.flatnonzero(good(some))
        if len(found):
            return int(some[found[0]])
        begin, count = begin + count, 4 * count
    return None


def _slots(tee: Tee, at: Floats, width: float, reach: float) -> Floats:
    """(k, 4, 2) the slots of tabs with their centres `at` (k,) along the tee, in the wall's plane."""
    low, high = (float(x) for x in slot_span(
        tee.thickness, tee.wall_thickness, tee.angle, reach, tee.thickness_gap / 2))
    along = (tee.flat[1] - tee.flat[0]) / tee.length
    half = (width + tee.fit_gap) / 2
    middle = tee.flat[0] + along * np.asarray(at)[:, None]
    return np.stack([
        middle - along * half + tee.lean * low, middle + along * half + tee.lean * low,
        middle + along * half + tee.lean * high, middle - along * half + tee.lean * high,
    ], axis=1)


def _backed(
    tee: Tee, tries: Floats, width: float, web: float, reach: float, own: shapely.Geometry
) -> NDArray[np.bool_]:
    """Which tabs have whole metal behind them and beside them, a web of it, and do not come back to their own plate
    where it stands on both faces of the wall."""

    def across(begin: float, end: float, half: float) -> NDArray[np.object_]:
        along = (tee.end - tee.start) / tee.length
        middle = tee.start + along * tries[:, None]
        places = ((-half, begin), (half, begin), (half, end), (-half, end))
        corners = [middle + along * x + tee.away * y for x, y in places]
        return np.asarray(shapely.polygons(np.stack(corners, axis=1)))

    behind = across(-web, -INSIDE, width / 2 + web - tolerance.TOUCH)
    before = across(APART, reach + tee.setback + APART, width / 2 + APART)
    return np.asarray(shapely.contains(own, behind) & ~shapely.intersects(own, before))


def slot_contour(corners: Floats, relief: float) -> Contour:
    """The cut of a slot, clockwise: square corners, or each relieved by a round of radius `relief` that lets a
    square-cornered tab in. The rounds lie along the slot's long sides, so the slot grows no longer."""
    ring = corners if _twice_area(corners) < 0 else corners[::-1]
    if relief <= 0:
        return Contour(points=ring)
    points: list[Floats] = []
    bulges: list[float] = []
    sides = np.roll(ring, -1, axis=0) - ring
    lengths = np.linalg.norm(sides, axis=1)
    units = sides / lengths[:, None]
    long = lengths >= np.roll(lengths, 1)                     # the side from a corner is longer than the one to it
    radius = min(relief, float(lengths.min()) / 4)
    for i, here in enumerate(ring):
        # half a circle that begins at the corner and ends one diameter along the longer side, out of the slot
        if long[i]:
            points += [here, here + units[i] * 2 * radius]
        else:
            points += [here - units[i - 1] * 2 * radius, here]
        bulges += [-1.0, 0.0]                                 # clockwise: out of the slot, into the metal
    return Contour(points=np.array(points), bulges=np.array(bulges))


def _twice_area(ring: Floats) -> float:
    x, y = ring.T
    x2, y2 = _ahead(x), _ahead(y)
    return float((x * y2 - x2 * y).sum())


def _ahead(values: Floats) -> Floats:
    """Every value's next one, round the ring."""
    return np.concatenate([values[1:], values[:1]])
