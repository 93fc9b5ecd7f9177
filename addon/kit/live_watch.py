"""What Live hears of the editor, and when it acts: handlers only mark what may have changed; a timer takes the steps,
and runs only while there is something to do."""

from __future__ import annotations

import time
from typing import Any, Final

import bpy
from bpy.app.handlers import persistent

from ..host.changes import LIVE, hear_of, not_hear_of
from ..host.handlers import Handlers, hear, stop_hearing
from ..host.its_window import disturbed
from ..scene.active_envelope import is_opening, made_plate
from . import live
from .asked_kit import forget_kits
from .followed_plates import adopt, brought_back, forget_made, let_go, sweep, unshare

__all__ = ["live_changed", "made_on_demand", "register", "tick", "unregister"]

FIRST: Final = 0.001
"""s from a mark to the first step, which then says itself how long it waits."""
DEEP: Final = 8
"""Meshes of inner plates that may belong to each other in turn."""

tick: Final = live.running.tick
"""Takes the steps that are due."""


def live_changed(envelope: bpy.types.Object) -> None:
    """Live was turned on or off; a part of what the user does, to be undone with it."""
    live.running.drop(envelope.session_uid)
    if envelope.tackwright.live:
        unshare(envelope)
        _mark(envelope, anew=True)
    else:
        sweep(envelope)
    adopt(envelope)


def made_on_demand(envelope: bpy.types.Object) -> None:
    """Make Plates has shown its plates, as a part of its undo step."""
    if envelope.tackwright.live:
        unshare(envelope)
    adopt(envelope)


def _catch_up(envelope: bpy.types.Object) -> None:
    """Show the plates of what an undo brought back, before the window is drawn again."""
    if disturbed():
        return
    with live.running.in_scene(envelope) as context:
        if context is not None:
            live.catch_up(context, envelope, time.monotonic())


def _wanted_ones() -> list[bpy.types.Object]:
    return [item for item in bpy.data.objects if item.type == "MESH" and live.wanted(item)]


def _mark(envelope: bpy.types.Object, *, anew: bool = False) -> None:
    live.mark(envelope, time.monotonic(), anew=anew)
    live.running.begin(FIRST)


def _mark_all(*, anew: bool) -> None:
    for envelope in _wanted_ones():
        _mark(envelope, anew=anew)


def _followed_by(item: bpy.types.Object) -> bpy.types.Object | None:
    """The envelope of which an object is a part, if something is to follow that."""
    owner: bpy.types.Object | None = item
    if item.type == "EMPTY":
        owner = item.tackwright_opening.envelope if is_opening(item) else None
    elif item.type != "MESH" or made_plate(item):
        return None
    for _ in range(DEEP):
        if owner is None or owner.type != "MESH" or owner.tackwright_inner.envelope is None:
            break
        owner = owner.tackwright_inner.envelope
    return owner if owner is not None and owner.type == "MESH" and live.wanted(owner) else None


@persistent
def _updated(scene: bpy.types.Scene, depsgraph: bpy.types.Depsgraph) -> None:
    """Something changed. What is at a plate is none of it; what is at the scene may be anything."""
    if live.running.stepping or depsgraph.mode != "VIEWPORT":
        return
    known = live.running.objects()
    for update in depsgraph.updates:
        changed: Any = update.id.original
        if isinstance(changed, bpy.types.Object):
            envelope = _followed_by(changed)
            if envelope is not None:
                _mark(envelope)
        elif known and isinstance(changed, bpy.types.Scene | bpy.types.Collection):
            for envelope in known.values():
                if envelope is not None and live.wanted(envelope):
                    _mark(envelope)
            known = {}


@persistent
def _before_undo(*_: object) -> None:
    live.stop_work()
    let_go()


@persistent
def _after_undo(*_: object) -> None:
    wanted = _wanted_ones()
    for envelope in wanted:
        brought_back(envelope)
    _mark_all(anew=True)
    for envelope in wanted:
        _catch_up(envelope)


@persistent
def _before_load(*_: object) -> None:
    live.forget()
    forget_made()
    forget_kits()


@persistent
def _after_load(*_: object) -> None:
    _mark_all(anew=False)


def _handlers() -> Handlers:
    on = bpy.app.handlers
    return [
        (on.depsgraph_update_post, _updated), (on.undo_pre, _before_undo), (on.redo_pre, _before_undo),
        (on.undo_post, _after_undo), (on.redo_post, _after_undo), (on.load_pre, _before_load),
        (on.load_post, _after_load),
    ]  # fmt: skip


def register() -> None:
    hear(_handlers())
    hear_of(LIVE, live_changed)


def unregister() -> None:
    not_hear_of(LIVE, live_changed)
    stop_hearing(_handlers())
    live.running.end()
    _before_load()
