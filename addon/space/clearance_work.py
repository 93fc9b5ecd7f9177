"""Room between the envelope, or its plates, and the scan of the space: looked for off the main thread, and kept.

What was found stays in memory, by session_uid, as long as something needs it; the envelope keeps the list of tight
places.
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import bpy
import numpy as np
from bpy.app.handlers import persistent
from numpy.typing import NDArray

from ...core.stock.said_units import said
from ...core.terms.errors import InputError
from ..gather.scan_mesh import Stamp, stamp_of
from ..host.background import StoppedError, Work
from ..host.changes import SPACE, hear_of, not_hear_of
from ..host.handlers import Handlers, hear, stop_hearing
from ..host.redraw import redraw_views
from ..host.shown_lengths import as_kept, units_of
from ..host.stepped import Stepped
from ..scene.space import scan_of
from .clearance_bodies import body_of, stamp_of_body
from .sorted_scans import any_scan, forget_scans, forget_unneeded_scans, kept_scans, sort_scan, sorted_scan, sorting

if TYPE_CHECKING:
    from ...core.scan.clearance import Clearance
    from ...core.scan.clearance_body import Body
    from ...core.scan.scan_index import ScanIndex

__all__ = [
    "Found", "again", "age_of", "ask", "colliding_faces", "forget_unused", "found_of", "refresh", "register", "running",
    "said_of", "state_of", "unregister",
]  # fmt: skip

LOOK: Final = 0.1
"""s between looks at work under way."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Found:
    """What was found last for an envelope. names: of the plates, empty for the envelope itself. scan: its session_uid.
    stamp: of the scan, body: of the drawing or the plates, weld_room: mm, as they were then."""

    clearance: Clearance
    kind: str
    names: tuple[str, ...]
    scan: int
    stamp: Stamp
    body: Stamp
    weld_room: float


@dataclass(slots=True, kw_only=True, eq=False)
class _Asked:
    """What is being worked out for an envelope, as it was when it was asked. drawing: asked while somebody draws.
    again: the kind that was asked for anew meanwhile, and whether while drawing."""

    kind: str
    body: Body
    names: tuple[str, ...]
    stamp: Stamp
    weld_room: float
    drawing: bool
    work: Work[Clearance] | None = None
    again: tuple[str, bool] | None = None

    def cancel(self) -> None:
        if self.work is not None:
            self.work.cancel()


running: Final[Stepped[_Asked]] = Stepped(
    lambda context, envelope: _look_again(context, envelope), wanted=lambda envelope: bool(envelope.users_scene),
    give_up=_Asked.cancel)
"""All envelopes for which the room is being worked out."""
_found: dict[int, Found] = {}
_said: dict[int, str] = {}


def found_of(envelope: bpy.types.Object) -> Found | None:
    """What was found for an envelope since the file was opened."""
    return _found.get(envelope.session_uid)


def said_of(context: bpy.types.Context, envelope: bpy.types.Object) -> str:
    """Why nothing was found when it was asked for last; empty where something was."""
    return said(_said.get(envelope.session_uid, ""), units_of(context.scene))


def state_of(context: bpy.types.Context, envelope: bpy.types.Object) -> str:
    """What is going on, in words; empty for nothing."""
    share = sorting(scan_of(context, envelope))
    if share is not None:
        return f"Reading the scan: {100 * share:.0f} %"
    if envelope.session_uid in running:
        return "Looking for the room"
    return said_of(context, envelope)


def age_of(context: bpy.types.Context, envelope: bpy.types.Object) -> str:
    """Why the room that is told need not be that of today; empty where it is."""
    found, scan = found_of(envelope), scan_of(context, envelope)
    if found is None:
        return "Found before the file was opened" if envelope.tackwright_space.checked else ""
    if scan is None or (scan.session_uid, stamp_of(context, scan)) != (found.scan, found.stamp):
        return "The scan has changed since"
    if found.weld_room != as_kept(envelope.tackwright_space.weld_room_mm):
        return "The weld room has changed since"
    if found.body != stamp_of_body(context, envelope, found.kind):
        return "The drawing has changed since" if found.kind == "ENVELOPE" else "The plates have changed since"
    if _listed(envelope) != _rows(found):                # an undo brought back what was listed before
        return "Found for another drawing"
    return ""


def colliding_faces(found: Found) -> NDArray[np.int32] | None:
    """The faces of the scan's own mesh that are in the way; None where the scan was read anew since, or modifiers made
    its faces."""
    kept = kept_scans().get(found.scan)
    if kept is None or kept.faces is None or kept.stamp != found.stamp:
        return None
    return np.unique(kept.faces[found.clearance.collisions])


def refresh(context: bpy.types.Context, envelope: bpy.types.Object) -> None:
    """Look for the room again, of the envelope or the plates, whichever it was last, as they are now; where that is
    wanted, they have changed, and the scan was read before."""
    found = found_of(envelope)
    if found is None or age_of(context, envelope):
        _ask_again(context, envelope, found.kind if found is not None else "ENVELOPE", drawing=True)


def again(context: bpy.types.Context, envelope: bpy.types.Object) -> None:
    """The same after a setting was changed: for the envelope or the plates, whichever it was last."""
    last = running.of(envelope) or found_of(envelope)
    _ask_again(context, envelope, last.kind if last is not None else "ENVELOPE", drawing=False)


def _ask_again(context: bpy.types.Context, envelope: bpy.types.Object, kind: str, *, drawing: bool) -> None:
    if not envelope.tackwright_space.follow or sorted_scan(context, scan_of(context, envelope)) is None:
        return
    asked = running.of(envelope)
    if asked is not None:
        asked.again = (kind, drawing)
        return
    with suppress(InputError):                           # drawn halfway: what was found last stays
        ask(context, envelope, kind, drawing=drawing)


def ask(context: bpy.types.Context, envelope: bpy.types.Object, kind: str, *, drawing: bool = False) -> None:
    """Have the room worked out: now when there is no window, else as the steps come. kind: ENVELOPE or PLATES.

    Raises InputError for an envelope without faces, or without plates.
    """
    forget_unused()
    body, names = body_of(context, envelope, kind)
    _said.pop(envelope.session_uid, None)
    running.keep(envelope, _Asked(
        kind=kind, body=body, names=names, stamp=stamp_of_body(context, envelope, kind), drawing=drawing,
        weld_room=as_kept(envelope.tackwright_space.weld_room_mm)))
    if bpy.app.background:
        while _step(context, envelope):
            pass
    else:
        running.begin(0.0)


def _look_again(context: bpy.types.Context, envelope: bpy.types.Object) -> float | None:
    """Take a step, and have what it did seen; seconds until the next."""
    more = _step(context, envelope)
    redraw_views()
    return LOOK if more else None


def _step(context: bpy.types.Context, envelope: bpy.types.Object) -> bool:
    """Take one step of what was asked for an envelope; whether there is more to do."""
    asked, scan = running.of(envelope), scan_of(context, envelope)
    if asked is None:
        return False
    if scan is None:
        return _end(envelope, "The scan is gone")
    try:
        kept = sorted_scan(context, scan)
        if kept is None:
            sort_scan(context, scan)
        result = _looked(asked, kept.index) if kept is not None else None
    except InputError as error:
        return _end(envelope, error.message)
    except StoppedError:
        return _end(envelope, "")
    except Exception as error:                           # shown instead of a console that nobody sees
        return _end(envelope, f"Could not be worked out: {str(error) or type(error).__name__}")
    if kept is None or result is None:
        return True
    found = Found(
        clearance=result, kind=asked.kind, names=asked.names, scan=scan.session_uid, stamp=kept.stamp, body=asked.stamp,
        weld_room=asked.weld_room)
    _found[envelope.session_uid] = found
    _keep(envelope, found)
    _end(envelope, "")
    if asked.again is not None:
        kind, drawing = asked.again
        _ask_again(context, envelope, kind, drawing=drawing)
    return envelope.session_uid in running


def _looked(asked: _Asked, index: ScanIndex) -> Clearance | None:
    """What was found in the sorted scan; None while it is looked for."""
    from ...core.scan.clearance import FARTHEST, PATCHES, WHILE_DRAWING, clearance

    asked.work = asked.work or Work(lambda progress: clearance(
        asked.body, index, weld_room=asked.weld_room, farthest=FARTHEST + asked.weld_room,
        patches=WHILE_DRAWING if asked.drawing else PATCHES, everywhere=asked.kind == "ENVELOPE"))
    if bpy.app.background:
        asked.work.wait()
    return asked.work.result() if asked.work.done else None


def _end(envelope: bpy.types.Object, said: str) -> bool:
    running.done(envelope)
    if said:
        _said[envelope.session_uid] = said
    return False


def _keep(envelope: bpy.types.Object, found: Found) -> None:
    """Write the list of tight places, where it is another one than before."""
    space, result = envelope.tackwright_space, found.clearance
    rows = _rows(found)
    if rows != _listed(envelope):
        space.places.clear()
        for of, face, room, *ends in rows:
            kept = space.places.add()
            kept.of, kept.face, kept.room, kept.at, kept.scan_at = of, face, room, ends[:3], ends[3:]
        space.active_place = 0
    space.least = result.least if np.isfinite(result.least) else -1.0
    space.collisions = len(result.collisions)
    space.checked = True


def _rows(found: Found) -> list[tuple[object, ...]]:
    """What was found as the list has it: in single precision."""
    return [
        (found.names[place.face] if found.names else "", -1 if found.names else place.face,
         *np.array([place.room, *place.at, *place.scan], dtype=np.float32).tolist())
        for place in found.clearance.places
    ]


def _listed(envelope: bpy.types.Object) -> list[tuple[object, ...]]:
    return [(kept.of, kept.face, kept.room, *kept.at, *kept.scan_at) for kept in envelope.tackwright_space.places]


def forget_unused() -> None:
    """Drop what belongs to envelopes and scans that were deleted, and scans that are no envelope's any more."""
    ours = [item for item in bpy.data.objects if item.type == "MESH" and item.tackwright_space.scan is not None]
    ours = [item for item in ours if item.users_scene]
    envelopes = {item.session_uid for item in ours}
    scans = {item.tackwright_space.scan.session_uid for item in ours if item.tackwright_space.scan.users_scene}
    for uid in running.objects().keys() - envelopes:
        running.drop(uid)
    forget_unneeded_scans(scans)
    for kept in (_found, _said):
        for uid in kept.keys() - envelopes:
            del kept[uid]


@persistent
def _updated(scene: bpy.types.Scene, depsgraph: bpy.types.Depsgraph) -> None:
    """Objects may have come or gone. A sorted scan of millions is too much to keep for nobody."""
    if (_found or any_scan()) and any(
        isinstance(update.id, bpy.types.Scene | bpy.types.Collection) for update in depsgraph.updates
    ):
        forget_unused()


@persistent
def _forget(*_: object) -> None:
    """Another file is opened: nothing of the old one stays."""
    running.clear()
    forget_scans()
    for kept in (_found, _said):
        kept.clear()


def _handlers() -> Handlers:
    on = bpy.app.handlers
    return [(on.load_pre, _forget), (on.depsgraph_update_post, _updated)]


def register() -> None:
    hear(_handlers())
    hear_of(SPACE, again)


def unregister() -> None:
    not_hear_of(SPACE, again)
    stop_hearing(_handlers())
    running.end()
    _forget()
