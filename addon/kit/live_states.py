"""How the plates of one envelope follow its drawing: a state machine, one class a state.

    Idle -> Drafting -> Shown -> Completing -> Idle

The drawing is looked at in any state when it was marked and the hand lets go for a moment; if it is another one, its
plates are drafted off the main thread and shown. When the hand rests, the kit is completed: figures and findings.
"""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final, TypeAlias

import bpy

from ...core.kit.kit import Kit, KitPlate
from ...core.terms.errors import TackwrightError
from ...core.terms.memo import Memo
from ..findings.shown_findings import keep_findings
from ..gather.chosen import chosen_of
from ..gather.gather import DrawnObject, GatheredDrawing, read_drawing
from ..host.background import StoppedError, Work
from ..host.editor_types import mesh_of
from ..host.redraw import redraw_views
from ..space.clearance_work import refresh
from .asked_kit import alone, keep_kit, kit_name, kit_of, last_kit, tell_refusal, ways_of
from .followed_plates import follow_plates, looks_of_plates
from .kit_work import Completed, Drafted, completed, drafted
from .live_records import (
    FOLLOWING,
    LONGEST_WAIT,
    QUIET,
    REFUSED,
    TOO_LARGE,
    WORKING,
    Looked,
    Marks,
    Pace,
    Seen,
    Told,
)
from .shown_plates import keep_ways
from .told_age import remember

if TYPE_CHECKING:
    from ...core.kit.draft import Draft
    from ...core.kit.ways_out import WayOut

__all__ = [
    "GLANCE",
    "LOOK_AGAIN",
    "Completing",
    "Drafting",
    "Followed",
    "Following",
    "Idle",
    "Shown",
    "give_up",
    "look_and_wait",
    "room_is_followed",
]  # fmt: skip

REST: Final = 0.25
"""s without a change after which the kit is completed: until then the hand is probably still moving."""
LOOK_AGAIN: Final = 0.005
"""s between looks at work under way."""
GLANCE: Final = 0.1
"""s between looks at the settings while nothing else happens."""
AT_ONCE: Final = 0.12
"""s of work for which the window waits: what takes no longer is shown in the same breath. In turns with the window the
same work takes twice as long."""
TOO_SLOW: Final = 1.0
"""s of work that plates may take; what takes longer does not follow and is made on demand."""
TOO_LONG: Final = 0.15
"""s for which showing plates may hold the window; what takes longer does not follow either."""
FEWER: Final = 0.7
"""Share of the faces that were too many at which it is tried again."""


class Idle:
    """Nothing is under way: the settings are glanced at, for Blender tells nobody that they changed."""

    def take_over(self, place: Following) -> None:
        """Nothing was begun."""

    def go_on(self, place: Following) -> float | None:
        one, envelope = place.one, place.envelope
        if not envelope.tackwright.live:
            return None
        if chosen_of(envelope, one.drawing) != one.chosen:
            one.mark(place.now)
            return QUIET
        return GLANCE

    def wait(self, envelope: bpy.types.Object) -> float | None:
        return GLANCE if envelope.tackwright.live else None

    def cancel(self, one: Followed) -> None:
        """Nothing was begun."""


@dataclass(frozen=True, slots=True)
class Drafting:
    """The plates of the drawing are being made."""

    work: Work[Drafted]

    def take_over(self, place: Following) -> None:
        one = place.one
        if not self.work.done:
            return
        one.state = Idle()
        if one.looked is None:                          # marked anew meanwhile: these are of no drawing any more
            return
        try:
            draft, plates, one.pace.took["draft"], one.pace.took["work"] = self.work.result()
        except StoppedError:
            return
        except TackwrightError as error:
            refuse(place, error, one.looked.drawing.parts)
            return
        one.state = Shown(draft)
        show(place, plates)

    def go_on(self, place: Following) -> float | None:
        return LOOK_AGAIN

    def wait(self, envelope: bpy.types.Object) -> float | None:
        return LOOK_AGAIN

    def cancel(self, one: Followed) -> None:
        self.work.cancel()
        if not self.work.done:
            one.pace.memo = None                        # its thread may still write there


@dataclass(frozen=True, slots=True)
class Shown:
    """The plates are shown, of a kit that is completed when the hand rests."""

    draft: Draft

    def take_over(self, place: Following) -> None:
        """There is no work."""

    def go_on(self, place: Following) -> float | None:
        rest = place.one.seen.at + REST
        if place.now < rest:
            return rest - place.now
        place.one.state = Completing(self.draft, Work(completed, self.draft))
        return LOOK_AGAIN

    def wait(self, envelope: bpy.types.Object) -> float | None:
        return REST

    def cancel(self, one: Followed) -> None:
        """There is no work."""


@dataclass(frozen=True, slots=True)
class Completing:
    """The kit of the plates that are shown is being completed."""

    draft: Draft
    work: Work[Completed]

    def take_over(self, place: Following) -> None:
        one = place.one
        if not self.work.done:
            return
        one.state = Idle()
        if one.looked is None:
            return
        try:
            kit, ways, one.pace.took["complete"], _ = self.work.result()
        except StoppedError:
            one.state = Shown(self.draft)
        except TackwrightError as error:
            refuse(place, error, one.looked.drawing.parts)
        else:
            keep(place, one.looked.drawing, kit, ways)

    def go_on(self, place: Following) -> float | None:
        return LOOK_AGAIN

    def wait(self, envelope: bpy.types.Object) -> float | None:
        return LOOK_AGAIN

    def cancel(self, one: Followed) -> None:
        self.work.cancel()


State: TypeAlias = Idle | Drafting | Shown | Completing
"""Each takes over what its work gave, if it is done, and so becomes another; goes on where nothing was marked, or waits
after the drawing was looked at, and gives the seconds until the next step, None for none; is cancelled for another
drawing."""


@dataclass(slots=True)
class Followed:
    """Where things stand with one envelope. marks: None where nothing was marked since it was looked at. looked: None
    while the drawing is refused, or was marked anew. chosen: its settings when it was looked at."""

    state: State = field(default_factory=Idle)
    marks: Marks | None = None
    looked: Looked | None = None
    chosen: tuple[object, ...] = ()
    seen: Seen = field(default_factory=Seen)
    told: Told = field(default_factory=Told)
    pace: Pace = field(default_factory=Pace)

    @property
    def busy(self) -> bool:
        """Whether there is anything left to do: changes to look at, or a kit under way."""
        return self.marks is not None or not isinstance(self.state, Idle)

    @property
    def drawing(self) -> GatheredDrawing | None:
        """The drawing that was looked at last."""
        return self.looked.drawing if self.looked is not None else None

    def mark(self, now: float, *, anew: bool = False) -> None:
        """The drawing may have changed. anew: its plates may have too, so they are shown even if it has not."""
        self.marks = Marks(self.marks.first if self.marks is not None else now, now)
        if anew:
            self.looked, self.told.stale = None, True
            if isinstance(self.state, Shown):
                self.state = Idle()

    def stop(self) -> None:
        """Give up what is under way, and what the drafts keep for each other."""
        self.state.cancel(self)
        self.state, self.pace.memo = Idle(), None

    def tell(self, state: str, why: str = "") -> None:
        if (self.told.state, self.told.why) != (state, why):
            self.told.state, self.told.why = state, why
            redraw_views()


@dataclass(frozen=True, slots=True)
class Following:
    """Where and when a step is taken: for an envelope of the context's view layer."""

    context: bpy.types.Context
    envelope: bpy.types.Object
    one: Followed
    now: float


def room_is_followed(envelope: bpy.types.Object) -> bool:
    """Whether the list of its distances to a scan is to follow it."""
    return bool(getattr(getattr(envelope, "tackwright_space", None), "follow", False))


def look_and_wait(place: Following) -> None:
    """Look at the drawing, and wait for its plates if they usually take no time to speak of."""
    begin, one = time.perf_counter(), place.one
    look(place)
    quick = one.pace.took.get("work", AT_ONCE) <= AT_ONCE
    if quick and isinstance(one.state, Drafting) and one.state.work.wait(2 * AT_ONCE):
        one.state.take_over(Following(place.context, place.envelope, one, place.now + time.perf_counter() - begin))


def look(place: Following) -> None:
    """Look at the drawing; if it is another one than before, begin its plates."""
    one, envelope = place.one, place.envelope
    one.seen.began, one.marks = one.marks.first if one.marks is not None else place.now, None
    if room_is_followed(envelope):
        refresh(place.context, envelope)
    if not envelope.tackwright.live:
        return
    one.chosen = chosen_of(envelope, one.drawing)
    most, faces = one.pace.most, len(mesh_of(envelope).polygons)
    if faces > (FEWER * most if one.told.state == TOO_LARGE else most):
        give_up(one, TOO_LARGE)
        return
    begin = time.perf_counter()
    try:
        drawing = read_drawing(place.context, envelope, all_faces=True)
    except TackwrightError as error:
        one.looked = None                               # or the same would not be looked at when it is back
        one.chosen = chosen_of(envelope, None)
        refuse(place, error, (alone(envelope),))
        return
    one.pace.took["gather"] = time.perf_counter() - begin
    name = kit_name(envelope)
    if drawing.mesh.face_count > most:
        give_up(one, TOO_LARGE)
    elif one.looked is None or name != one.looked.name or not drawing.same_as(one.looked.drawing):
        _answer(place, drawing, name)


def _answer(place: Following, drawing: GatheredDrawing, name: str) -> None:
    """Have another drawing's plates made; those that are known already are shown."""
    one, envelope = place.one, place.envelope
    give_up(one, one.told.state, one.told.why)
    one.looked, one.chosen = Looked(drawing, name), chosen_of(envelope, drawing)
    kit = kit_of(envelope, drawing, name)
    if kit is not None:                                 # an undo, or a hand that came back
        ways = ways_of(envelope, kit)
        show(place, kit.plates)
        keep(place, drawing, kit, ways)
        return
    one.pace.memo = one.pace.memo or Memo()
    one.state = Drafting(Work(drafted, drawing, name, one.pace.memo))
    if one.told.state != REFUSED and one.pace.took.get("draft", 0.0) > LONGEST_WAIT:
        one.tell(WORKING)


def show(place: Following, plates: Sequence[KitPlate]) -> None:
    """Show the plates, and find out whether that is quick enough to follow."""
    one, took = place.one, place.one.pace.took
    begin, again = time.perf_counter(), one.seen.at > 0
    follow_plates(place.context, place.envelope, plates)
    took["show"] = time.perf_counter() - begin
    took["whole"] = place.now - one.seen.began + took["show"]
    one.seen.at, one.seen.rounds, one.seen.looks = place.now, one.seen.rounds + 1, looks_of_plates(place.envelope)
    slow = took.get("work", 0.0) > TOO_SLOW or (again and took["show"] > TOO_LONG)   # at first they are made
    if slow and one.looked is not None:
        one.pace.most = min(one.pace.most, one.looked.drawing.mesh.face_count)
    one.tell(TOO_LARGE if slow else FOLLOWING)


def keep(place: Following, drawing: GatheredDrawing, kit: Kit, ways: Mapping[str, WayOut]) -> None:
    """Keep the kit, how its plates come out, and what it says where that is something else than before."""
    one, envelope = place.one, place.envelope
    before = last_kit(envelope)
    keep_kit(envelope, drawing, kit, ways)
    refused = any(finding.rule == "refused" for finding in envelope.tackwright.findings)
    if one.told.stale or before is None or refused or not envelope.tackwright.summary or _said(before) != _said(kit):
        keep_findings(envelope, kit, drawing.parts)
        one.told.stale = False
    keep_ways(place.context, envelope, ways)
    remember(place.context, envelope)
    if one.told.behind:
        one.told.behind = False
        redraw_views()


def _said(kit: Kit) -> tuple[object, ...]:
    from ...core.kit.report import kit_data

    return kit.checks, kit_data(kit)


def refuse(place: Following, error: TackwrightError, parts: Sequence[DrawnObject]) -> None:
    """Keep the plates that there are, and say why they stay behind."""
    one, envelope = place.one, place.envelope
    if envelope.mode != "EDIT" or (one.told.state, one.told.why) != (REFUSED, error.message):
        tell_refusal(place.context, envelope, error, parts)
    give_up(one, REFUSED, error.message)


def give_up(one: Followed, state: str, why: str = "") -> None:
    """Drop what is under way, and tell the state."""
    one.state.cancel(one)
    one.state = Idle()
    one.tell(state, why)
