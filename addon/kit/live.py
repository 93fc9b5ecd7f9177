"""Live: plates that follow the drawing.

What may have changed is marked. A step, taken from a timer, looks whether the drawing is another one, has its plates
made off the main thread, shows them, and when the hand rests has the kit completed: figures and findings. Whoever calls
`step` gives it the time, so that tests need no timer. live_states.py has what a step does.
"""

from __future__ import annotations

import time
from typing import Final

import bpy

from ..host.editor_types import Icon
from ..host.stepped import Stepped
from ..scene.plate_objects import plate_is_edited
from .followed_plates import hide_plates, looks_of_plates
from .live_records import FOLLOWING, REFUSED, TOO_LARGE, WORKING
from .live_states import GLANCE, LOOK_AGAIN, Drafting, Followed, Following, give_up, look_and_wait, room_is_followed

__all__ = [
    "CATCHING_UP", "FOLLOWING", "REFUSED", "SAID", "TOO_LARGE", "WORKING", "busy", "catch_up", "catching_up",
    "draw_state", "follows", "forget", "mark", "running", "state_of", "step", "stop_work", "timings", "wanted",
]  # fmt: skip

CATCHING_UP = "catching up"
SAID: Final[dict[str, tuple[str, Icon]]] = {
    FOLLOWING: ("Following", "CHECKMARK"),
    WORKING: ("Working", "TIME"),
    CATCHING_UP: ("Catching up", "TIME"),
    TOO_LARGE: ("Too large: press Make Plates", "INFO"),
    REFUSED: ("Paused", "ERROR"),
}
"""What the panel says of every state, and its icon."""


def wanted(envelope: bpy.types.Object) -> bool:
    """Whether anything is to follow the object: its plates, or the list of its distances to a scan."""
    return bool(envelope.tackwright.live) or room_is_followed(envelope)


running: Final[Stepped[Followed]] = Stepped(
    lambda context, envelope: step(context, envelope, time.monotonic()), wanted=wanted, give_up=Followed.stop)
"""All envelopes that were marked and are not stopped."""


def mark(envelope: bpy.types.Object, now: float, *, anew: bool = False) -> None:
    """The drawing may have changed. anew: its plates may have too, so they are shown even if it has not."""
    one = running.of(envelope) or Followed()
    running.keep(envelope, one)
    one.mark(now, anew=anew)


def busy() -> bool:
    """Whether there is anything left to do: changes to look at, or work under way."""
    return any(one.busy for one in running.records())


def stop_work() -> None:
    """Give up what is under way, on all envelopes; what they show must be marked anew."""
    for one in running.records():
        one.stop()


def forget() -> None:
    """Another file is opened, or the extension goes."""
    running.clear()


def state_of(envelope: bpy.types.Object) -> tuple[str, str]:
    """The state of an envelope whose Live is on, and the first line of why its drawing is refused, if it is."""
    one = running.of(envelope)
    if one is None:
        return FOLLOWING, ""
    told = one.told
    return (CATCHING_UP if told.behind and told.state in {FOLLOWING, WORKING} else told.state), told.why


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


def timings(envelope: bpy.types.Object) -> dict[str, float]:
    """Seconds that the last round took: to gather, draft (work: of that at work), show and complete; and whole, from
    the first change that it answers to plates shown."""
    one = running.of(envelope)
    return dict(one.pace.took) if one is not None else {}


def step(context: bpy.types.Context, envelope: bpy.types.Object, now: float) -> float | None:
    """Do what is due for an envelope of the context's view layer. Seconds until the next step, None for none.

    What is wrong with a drawing becomes the state and a finding, and is not raised.
    """
    one = running.of(envelope)
    if one is None:
        return None
    place = Following(context, envelope, one, now)
    if envelope.tackwright.live and plate_is_edited(context, envelope):
        give_up(one, REFUSED, "A plate is in Edit Mode: leave that, and the plates follow again")
        mark(envelope, now, anew=True)
        return GLANCE
    one.state.take_over(place)
    if isinstance(one.state, Drafting):
        return LOOK_AGAIN                               # its plates are shown before the next ones are begun
    if one.marks is None:
        return one.state.go_on(place)
    if now < one.marks.due:
        return one.marks.due - now
    look_and_wait(place)
    return one.state.wait(envelope)


def catch_up(context: bpy.types.Context, envelope: bpy.types.Object, now: float) -> None:
    """An undo has mixed plates of several drawings, for what was shown between its steps is in none of them. Those of
    the drawing are shown before the window is drawn again, where they are known or quickly made; else none are, until
    they are made. The envelope was marked anew."""
    one = running.of(envelope)
    if one is None or not envelope.tackwright.live or one.told.state == TOO_LARGE:
        return
    if plate_is_edited(context, envelope):
        return
    one.told.behind, shown = True, one.seen.rounds
    look_and_wait(Following(context, envelope, one, now))
    kept = one.told.state == REFUSED and looks_of_plates(envelope) == one.seen.looks
    if one.seen.rounds == shown and not kept:
        hide_plates(envelope)
