"""Live: plates that follow the drawing.

What may have changed is marked. A step, taken from a timer, looks whether the drawing is another one, has its plates
made off the main thread, shows them, and when the hand rests has the kit completed: figures and findings. Marks, work
and drawings are kept here by session_uid and never in the file. Whoever calls `step` gives it the time, so that tests
need no timer.
"""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final

import bpy

from ...core.kit.kit import Kit, KitPlate
from ...core.terms.errors import TackwrightError
from ...core.terms.memo import Memo
from ..findings.findings import keep_findings
from ..gather.chosen import chosen_of
from ..gather.gather import Drawing, Part, read_drawing
from ..host.background import StoppedError, Work
from ..host.editor_types import Icon, mesh_of
from ..host.redraw import redraw_views
from ..scene.plate_objects import plate_is_edited
from ..space.clearance_work import refresh
from .followed_plates import follow_plates, hide_plates, looks_of_plates
from .kit_work import completed, drafted
from .plates import keep_ways
from .solve import alone, keep_kit, kit_name, kit_of, last_kit, tell_refusal, ways_of
from .told_age import remember

if TYPE_CHECKING:
    from ...core.kit.ways_out import WayOut

__all__ = [
    "SAID", "busy", "catch_up", "catching_up", "draw_state", "figures", "followed", "follows", "forget", "mark",
    "state_of", "step", "stop", "stop_work", "wanted",
]  # fmt: skip

QUIET: Final = 0.01
"""s without a change after which the drawing is looked at."""
LONGEST_WAIT: Final = 0.06
"""s after which it is looked at although it goes on changing."""
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
MOST_FACES: Final = 5000
"""Faces beyond which that is known without trying."""
FEWER: Final = 0.7
"""Share of the faces that were too many at which it is tried again."""

FOLLOWING, WORKING, TOO_LARGE, REFUSED = "following", "working", "too large", "refused"
CATCHING_UP = "catching up"
SAID: Final[dict[str, tuple[str, Icon]]] = {
    FOLLOWING: ("Following", "CHECKMARK"),
    WORKING: ("Working", "TIME"),
    CATCHING_UP: ("Catching up", "TIME"),
    TOO_LARGE: ("Too large: press Make Plates", "INFO"),
    REFUSED: ("Paused", "ERROR"),
}
"""What the panel says of every state, and its icon."""


@dataclass(slots=True, kw_only=True)
class _Followed:
    """Where things stand with one envelope. item: its name when it was marked. chosen: its settings when it was looked
    at. changed, since: when the drawing was last and first marked since it was looked at, None for not at all. drawing:
    the last that was looked at, name: its kit's. work: under way on it, drafting: for its plates, else to complete
    them. draft: plates that are shown, of a kit yet to be completed. began: when what is shown was drawn. memo: what
    the drafts keep for each other. most: faces that are too many. retell: what the envelope keeps of findings and
    figures may be those of another drawing. why: the reason of a refusal. took: s. behind: after an undo, until all
    that is told is of the drawing again. looks: of the plates as they were shown last; rounds:
    how many times they were.
    """

    item: str
    name: str = ""
    chosen: tuple[Any, ...] = ()
    changed: float | None = None
    since: float | None = None
    drawing: Drawing | None = None
    work: Work[Any] | None = None
    drafting: bool = False
    draft: Any = None
    began: float = 0.0
    shown: float = 0.0
    memo: Memo | None = None
    most: int = MOST_FACES
    retell: bool = True
    state: str = FOLLOWING
    why: str = ""
    took: dict[str, float] = field(default_factory=dict)
    behind: bool = False
    looks: tuple[Any, ...] = ()
    rounds: int = 0


_followed: dict[int, _Followed] = {}


def mark(envelope: bpy.types.Object, now: float, *, anew: bool = False) -> None:
    """The drawing may have changed. anew: its plates may have too, so they are shown even if it has not."""
    one = _followed.setdefault(envelope.session_uid, _Followed(item=envelope.name))
    one.item = envelope.name
    one.changed = now
    one.since = now if one.since is None else one.since
    if anew:
        one.drawing, one.draft, one.retell = None, None, True


def wanted(envelope: bpy.types.Object) -> bool:
    """Whether anything is to follow the object: its plates, or the list of its distances to a scan."""
    return bool(envelope.tackwright.live) or _measured(envelope)


def _measured(envelope: bpy.types.Object) -> bool:
    return bool(getattr(getattr(envelope, "tackwright_space", None), "follow", False))


def followed() -> dict[int, bpy.types.Object | None]:
    """All envelopes that were marked and are not stopped, by session_uid; None for those that are gone."""
    return {uid: _found(uid, one.item) for uid, one in _followed.items()}


def _found(uid: int, name: str) -> bpy.types.Object | None:
    item = bpy.data.objects.get(name)
    if item is None or item.session_uid != uid:         # it was renamed
        item = next((o for o in bpy.data.objects if o.session_uid == uid), None)
    return item


def busy() -> bool:
    """Whether there is anything left to do: changes to look at, or work under way."""
    return any(one.changed is not None or one.work is not None or one.draft is not None for one in _followed.values())


def stop(uid: int) -> None:
    """Live was turned off, or the envelope is gone: what is under way is given up."""
    one = _followed.pop(uid, None)
    if one is not None and one.work is not None:
        one.work.cancel()


def stop_work() -> None:
    """Give up what is under way, on all envelopes; what they show must be marked anew."""
    for one in _followed.values():
        if one.work is not None:
            one.work.cancel()
        one.work, one.draft, one.memo = None, None, None


def forget() -> None:
    """Another file is opened, or the extension goes."""
    stop_work()
    _followed.clear()


def state_of(envelope: bpy.types.Object) -> tuple[str, str]:
    """The state of an envelope whose Live is on, and the first line of why its drawing is refused, if it is."""
    one = _followed.get(envelope.session_uid)
    if one is None:
        return FOLLOWING, ""
    return (CATCHING_UP if one.behind and one.state in {FOLLOWING, WORKING} else one.state), one.why


def draw_state(layout: bpy.types.UILayout, envelope: bpy.types.Object) -> None:
    """The state in a word."""
    word, icon = SAID[state_of(envelope)[0]]
    layout.label(text=word, icon=icon)


def catching_up(envelope: bpy.types.Object) -> bool:
    """Whether an undo has brought back figures and findings that may be of another drawing than there is now."""
    return bool(envelope.tackwright.live) and state_of(envelope)[0] == CATCHING_UP


def follows(envelope: bpy.types.Object) -> bool:
    """Whether its plates are, or soon will be, those of the drawing without anybody asking for them."""
    return bool(envelope.tackwright.live) and state_of(envelope)[0] != TOO_LARGE


def figures(envelope: bpy.types.Object) -> dict[str, float]:
    """Seconds that the last round took: to gather, draft (work: of that at work), show and complete; and whole, from
    the first change that it answers to plates shown."""
    one = _followed.get(envelope.session_uid)
    return dict(one.took) if one is not None else {}


def step(context: bpy.types.Context, envelope: bpy.types.Object, now: float) -> float | None:
    """Do what is due for an envelope of the context's view layer. Seconds until the next step, None for none.

    What is wrong with a drawing becomes the state and a finding, and is not raised.
    """
    one = _followed.get(envelope.session_uid)
    if one is None:
        return None
    if envelope.tackwright.live and plate_is_edited(context, envelope):
        _give_up(one, REFUSED, "A plate is in Edit Mode: leave that, and the plates follow again")
        mark(envelope, now, anew=True)
        return GLANCE
    if one.work is not None and one.work.done:
        _finish(context, envelope, one, now)
    if one.work is not None and one.drafting:
        return LOOK_AGAIN                               # its plates are shown before the next ones are begun
    if one.changed is not None and one.since is not None:
        due = min(one.changed + QUIET, one.since + LONGEST_WAIT)
        if now < due:
            return due - now
        _look_and_wait(context, envelope, one, now)
    elif one.work is None and one.draft is not None:
        if now < one.shown + REST:
            return one.shown + REST - now
        one.drafting, one.work = False, Work(completed, one.draft)
    elif one.work is None and envelope.tackwright.live and chosen_of(envelope, one.drawing) != one.chosen:
        mark(envelope, now)                             # Blender tells nobody that settings changed
        return QUIET
    if one.work is not None:
        return LOOK_AGAIN
    return REST if one.draft is not None else GLANCE if envelope.tackwright.live else None


def catch_up(context: bpy.types.Context, envelope: bpy.types.Object, now: float) -> None:
    """An undo has mixed plates of several drawings, for what was shown between its steps is in none of them. Those of
    the drawing are shown before the window is drawn again, where they are known or quickly made; else none are, until
    they are made. The envelope was marked anew."""
    one = _followed.get(envelope.session_uid)
    if one is None or not envelope.tackwright.live or one.state == TOO_LARGE or plate_is_edited(context, envelope):
        return
    one.behind, shown = True, one.rounds
    _look_and_wait(context, envelope, one, now)
    kept = one.state == REFUSED and looks_of_plates(envelope) == one.looks
    if one.rounds == shown and not kept:
        hide_plates(envelope)


def _look_and_wait(context: bpy.types.Context, envelope: bpy.types.Object, one: _Followed, now: float) -> None:
    """Look at the drawing, and wait for its plates if they usually take no time to speak of."""
    begin = time.perf_counter()
    _look(context, envelope, one, now)
    quick = one.drafting and one.took.get("work", AT_ONCE) <= AT_ONCE
    if quick and one.work is not None and one.work.wait(2 * AT_ONCE):
        _finish(context, envelope, one, now + time.perf_counter() - begin)


def _look(context: bpy.types.Context, envelope: bpy.types.Object, one: _Followed, now: float) -> None:
    """Look at the drawing; if it is another one than before, begin its plates."""
    one.began, one.changed, one.since = one.since if one.since is not None else now, None, None
    if _measured(envelope):
        refresh(context, envelope)
    if not envelope.tackwright.live:
        return
    one.chosen = chosen_of(envelope, one.drawing)
    faces = len(mesh_of(envelope).polygons)
    if faces > (FEWER * one.most if one.state == TOO_LARGE else one.most):
        _give_up(one, TOO_LARGE)
        return
    begin = time.perf_counter()
    try:
        drawing = read_drawing(context, envelope, all_faces=True)
    except TackwrightError as error:
        one.drawing = None                              # or the same would not be looked at when it is back
        one.chosen = chosen_of(envelope, None)
        _refuse(context, envelope, one, error, (alone(envelope),))
        return
    one.took["gather"] = time.perf_counter() - begin
    name = kit_name(envelope)
    if drawing.mesh.face_count > one.most:
        _give_up(one, TOO_LARGE)
    elif one.drawing is None or name != one.name or not drawing.same_as(one.drawing):
        _give_up(one, one.state, one.why)
        one.drawing, one.name = drawing, name
        one.chosen = chosen_of(envelope, drawing)
        kit = kit_of(envelope, drawing, name)
        if kit is not None:                             # an undo, or a hand that came back
            ways = ways_of(envelope, kit)
            _show(context, envelope, one, kit.plates, now)
            _keep(context, envelope, one, kit, ways)
        else:
            one.memo = one.memo or Memo()
            one.drafting, one.work = True, Work(drafted, drawing, name, one.memo)
            if one.state != REFUSED and one.took.get("draft", 0.0) > LONGEST_WAIT:
                _say(one, WORKING)


def _finish(context: bpy.types.Context, envelope: bpy.types.Object, one: _Followed, now: float) -> None:
    """Show what the work gave."""
    work, one.work = one.work, None
    if work is None or one.drawing is None:
        return
    try:
        made, more, seconds, at_work = work.result()
    except StoppedError:
        return
    except TackwrightError as error:
        _refuse(context, envelope, one, error, one.drawing.parts)
        return
    if one.drafting:
        one.took["draft"], one.took["work"], one.draft = seconds, at_work, made
        _show(context, envelope, one, more, now)
    else:
        one.took["complete"], one.draft = seconds, None
        _keep(context, envelope, one, made, more)


def _show(
    context: bpy.types.Context, envelope: bpy.types.Object, one: _Followed, plates: Sequence[KitPlate], now: float
) -> None:
    begin, again = time.perf_counter(), one.shown > 0
    follow_plates(context, envelope, plates)
    one.took["show"] = time.perf_counter() - begin
    one.took["whole"] = now - one.began + one.took["show"]
    one.shown, one.rounds, one.looks = now, one.rounds + 1, looks_of_plates(envelope)
    slow = one.took.get("work", 0.0) > TOO_SLOW or (again and one.took["show"] > TOO_LONG)   # at first they are made
    if slow and one.drawing is not None:
        one.most = min(one.most, one.drawing.mesh.face_count)
    _say(one, TOO_LARGE if slow else FOLLOWING)


def _keep(
    context: bpy.types.Context, envelope: bpy.types.Object, one: _Followed, kit: Kit, ways: Mapping[str, WayOut]
) -> None:
    """Keep the kit, how its plates come out, and what it says where that is something else than before."""
    before = last_kit(envelope)
    if one.drawing is None:
        return
    keep_kit(envelope, one.drawing, kit, ways)
    refused = any(finding.rule == "refused" for finding in envelope.tackwright.findings)
    if one.retell or before is None or refused or not envelope.tackwright.summary or _said(before) != _said(kit):
        keep_findings(envelope, kit, one.drawing.parts)
        one.retell = False
    keep_ways(context, envelope, ways)
    remember(context, envelope)
    if one.behind:
        one.behind = False
        redraw_views()


def _said(kit: Kit) -> tuple[Any, ...]:
    from ...core.kit.report import kit_data

    return kit.checks, kit_data(kit)


def _refuse(
    context: bpy.types.Context, envelope: bpy.types.Object, one: _Followed, error: TackwrightError,
    parts: Sequence[Part],
) -> None:
    """Keep the plates that there are, and say why they stay behind."""
    if envelope.mode != "EDIT" or (one.state, one.why) != (REFUSED, error.message):
        tell_refusal(context, envelope, error, parts)
    _give_up(one, REFUSED, error.message)


def _give_up(one: _Followed, state: str, why: str = "") -> None:
    """Drop what is under way."""
    if one.work is not None:
        one.work.cancel()
        one.memo = one.memo if one.work.done or not one.drafting else None   # its thread may still write there
    one.work, one.draft = None, None
    _say(one, state, why)


def _say(one: _Followed, state: str, why: str = "") -> None:
    if (one.state, one.why) != (state, why):
        one.state, one.why = state, why
        redraw_views()
