"""Room between the envelope, or its plates, and the scan of the space: looked for off the main thread, kept, selected.

The sorted scan and what was found stay in memory, by session_uid; the envelope keeps the list of tight places.
"""

# No `from __future__ import annotations`: Blender reads the annotations as properties.

from contextlib import suppress
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

import bpy
import numpy as np
from bpy.app.handlers import persistent
from bpy.props import EnumProperty, IntProperty
from mathutils import Vector
from numpy.typing import NDArray

from ..core.choices import Choices
from ..core.errors import InputError
from .background import StoppedError, Work
from .envelope import envelope_of
from .framing import frame_place, frame_selected
from .mesh_object import read_mesh_object
from .plate_objects import plate_objects
from .scan_mesh import ScanMesh, Stamp, read_scan, stamp_of
from .space import scan_of
from .units import mm_per_unit, rounded
from .views import home_matrix
from .whole_step import whole_step

__all__ = [
    "TACKWRIGHT_OT_check_clearance", "TACKWRIGHT_OT_select_collisions", "TACKWRIGHT_OT_show_tight_place", "found_of",
    "refresh", "state_of",
]  # fmt: skip

LOOK = 0.1
"""s between looks at work under way."""
LEAST_VIEW = 30.0
"""mm: the radius of what is framed round a tight place."""

KINDS = [
    ("ENVELOPE", "Envelope", "The drawn outside", 0),
    ("PLATES", "Plates", "The plates that were made, tabs and all", 1),
]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Sorted:
    """A scan that was read and sorted. faces: the face of the mesh of each of its triangles."""

    stamp: Stamp
    index: Any
    faces: NDArray[np.int32]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Found:
    """What was found last for an envelope. names: of the plates, empty for the envelope itself."""

    clearance: Any
    names: tuple[str, ...]
    scan: int
    stamp: Stamp


@dataclass(slots=True, kw_only=True, eq=False)
class _Asked:
    """What is being worked out for an envelope. again: it was asked for anew meanwhile."""

    kind: str
    body: Any
    names: tuple[str, ...]
    work: Work[Any] | None = None
    again: bool = False


_sorted: dict[int, _Sorted] = {}
_sorting: dict[int, tuple[Stamp, NDArray[np.int32], Work[Any]]] = {}
_asked: dict[int, _Asked] = {}
_found: dict[int, _Found] = {}
_said: dict[int, str] = {}


def found_of(envelope: bpy.types.Object) -> _Found | None:
    """What was found for an envelope since the file was opened."""
    return _found.get(envelope.session_uid)


def state_of(context: bpy.types.Context, envelope: bpy.types.Object) -> str:
    """What is going on, in words; empty for nothing."""
    scan = scan_of(context, envelope)
    under_way = _sorting.get(scan.session_uid) if scan is not None else None
    if under_way is not None:
        return f"Reading the scan: {100 * under_way[2].share:.0f} %"
    if envelope.session_uid in _asked:
        return "Looking for the room"
    return _said.get(envelope.session_uid, "")


def refresh(context: bpy.types.Context, envelope: bpy.types.Object) -> None:
    """Look for the room of the envelope again as it is drawn now, where that is wanted and the scan was read before."""
    space, scan = envelope.tackwright_space, scan_of(context, envelope)
    kept = _sorted.get(scan.session_uid) if scan is not None else None
    if not space.follow or kept is None or kept.stamp != stamp_of(context, scan):
        return
    asked = _asked.get(envelope.session_uid)
    if asked is not None:
        asked.again = True
        return
    with suppress(InputError):                           # drawn halfway: what was found last stays
        _ask(context, envelope, "ENVELOPE", drawing=True)


def _ask(context: bpy.types.Context, envelope: bpy.types.Object, kind: str, *, drawing: bool = False) -> None:
    """Have the room worked out, now in the background, else as the steps come."""
    body, names = _body(context, envelope, kind)
    _said.pop(envelope.session_uid, None)
    _asked[envelope.session_uid] = _Asked(kind=kind, body=(body, drawing), names=names)
    if bpy.app.background:
        while _step(context, envelope):
            pass
    elif not bpy.app.timers.is_registered(_tick):
        bpy.app.timers.register(_tick, first_interval=0.0)


def _body(context: bpy.types.Context, envelope: bpy.types.Object, kind: str) -> tuple[Any, tuple[str, ...]]:
    from ..core.clearance_body import body_of_mesh, body_of_solids

    if kind == "ENVELOPE":
        part = read_mesh_object(context, envelope, selected_only=False)
        return body_of_mesh(part.mesh, Choices(faces=MappingProxyType(part.faces))), ()
    mm, solids, names = mm_per_unit(context.scene), [], []
    for item in plate_objects(envelope):
        mesh = item.data
        if not len(mesh.vertices):
            continue
        mesh.calc_loop_triangles()
        points = np.empty(3 * len(mesh.vertices), dtype=np.float32)
        mesh.vertices.foreach_get("co", points)
        triangles = np.empty(3 * len(mesh.loop_triangles), dtype=np.int32)
        mesh.loop_triangles.foreach_get("vertices", triangles)
        home = np.array(home_matrix(item, context.scene), dtype=np.float64)
        places = (points.reshape(-1, 3).astype(np.float64) @ home[:3, :3].T + home[:3, 3]) * mm
        solids.append((places, triangles.reshape(-1, 3).astype(np.int64)))
        names.append(item.name)
    if not solids:
        raise InputError("There are no plates yet", do="Press Make Plates first, or check the envelope.")
    return body_of_solids(solids), tuple(names)


def _step(context: bpy.types.Context, envelope: bpy.types.Object) -> bool:
    """Take one step of what was asked for an envelope; whether there is more to do."""
    asked, scan = _asked[envelope.session_uid], scan_of(context, envelope)
    if scan is None:
        return _end(envelope, "The scan is gone")
    stamp = stamp_of(context, scan)
    kept = _sorted.get(scan.session_uid)
    if kept is None or kept.stamp != stamp:
        return _step_sorting(context, envelope, scan, stamp)
    if asked.work is None:
        asked.work = _start(asked, kept.index, rounded(envelope.tackwright_space.weld_room_mm))
    if bpy.app.background:
        asked.work.wait()
    if not asked.work.done:
        return True
    try:
        result = asked.work.result()
    except StoppedError:
        return _end(envelope, "")
    except Exception as error:                           # shown instead of a console that nobody sees
        return _end(envelope, f"Could not be worked out: {error}")
    found = _Found(clearance=result, names=asked.names, scan=scan.session_uid, stamp=stamp)
    _found[envelope.session_uid] = found
    _keep(envelope, found)
    _end(envelope, "")
    if asked.again:
        refresh(context, envelope)
    return envelope.session_uid in _asked


def _start(asked: _Asked, index: Any, weld_room: float) -> Work[Any]:
    from ..core.clearance import PATCHES, WHILE_DRAWING, clearance

    body, drawing = asked.body
    return Work(lambda progress: clearance(
        body, index, weld_room=weld_room, patches=WHILE_DRAWING if drawing else PATCHES,
        everywhere=asked.kind == "ENVELOPE"))


def _step_sorting(
    context: bpy.types.Context, envelope: bpy.types.Object, scan: bpy.types.Object, stamp: Stamp
) -> bool:
    from ..core.scan_index import index_scan

    uid = scan.session_uid
    under_way = _sorting.get(uid)
    if under_way is not None and under_way[0] != stamp:
        under_way[2].cancel()
        under_way = None
    if under_way is None:
        read: ScanMesh = read_scan(context, scan)
        under_way = _sorting[uid] = (stamp, read.faces, Work(index_scan, read.points, read.triangles))
    if bpy.app.background:
        under_way[2].wait()
    if not under_way[2].done:
        return True
    del _sorting[uid]
    try:
        _sorted[uid] = _Sorted(stamp=stamp, index=under_way[2].result(), faces=under_way[1])
    except StoppedError:
        return _end(envelope, "")
    except InputError as error:
        return _end(envelope, str(error))
    return True


def _end(envelope: bpy.types.Object, said: str) -> bool:
    _asked.pop(envelope.session_uid, None)
    if said:
        _said[envelope.session_uid] = said
    return False


def _keep(envelope: bpy.types.Object, found: _Found) -> None:
    """Write the list of tight places where it is another one than before."""
    space, result = envelope.tackwright_space, found.clearance
    rows = [
        (found.names[place.face] if found.names else "", -1 if found.names else place.face, place.room, place.at,
         place.scan)
        for place in result.places
    ]
    space.places.clear()
    for of, face, room, at, scan_at in rows:
        kept = space.places.add()
        kept.of, kept.face, kept.room, kept.at, kept.scan_at = of, face, room, at, scan_at
    space.active_place = 0
    space.least = result.least if np.isfinite(result.least) else -1.0
    space.collisions = len(result.collisions)
    space.checked = True


def _tick() -> float | None:
    context = bpy.context
    uids = {item.session_uid: item for item in bpy.data.objects if item.session_uid in _asked}
    for uid in list(_asked):
        envelope = uids.get(uid)
        if envelope is None or context.view_layer.objects.get(envelope.name) != envelope:
            _drop(uid)
        else:
            _step(context, envelope)
    for window in context.window_manager.windows:
        for area in window.screen.areas:
            if area.type == "VIEW_3D":
                area.tag_redraw()
    return LOOK if _asked else None


def _drop(uid: int) -> None:
    asked = _asked.pop(uid, None)
    if asked is not None and asked.work is not None:
        asked.work.cancel()


class TACKWRIGHT_OT_check_clearance(bpy.types.Operator):
    """Look how much room there is to the scan, everywhere on the envelope or on its plates"""

    bl_idname = "tackwright.check_clearance"
    bl_label = "Check Clearance"
    bl_options = {"REGISTER", "UNDO"}

    kind: EnumProperty(name="Of", description="What is held against the scan", items=KINDS, default="ENVELOPE")

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        envelope = envelope_of(context)
        if envelope is None:
            cls.poll_message_set("Select an envelope, or a scan that belongs to one")
        elif scan_of(context, envelope) is None:
            cls.poll_message_set("The envelope has no scan: choose one in the Space panel")
        elif context.mode not in {"OBJECT", "EDIT_MESH"}:
            cls.poll_message_set("Go to Object Mode or Edit Mode first")
        elif envelope.library is not None and envelope.override_library is None:
            cls.poll_message_set("The envelope is linked from another file: make it local or override it")
        else:
            return True
        return False

    def execute(self, context: bpy.types.Context) -> set[str]:
        envelope = envelope_of(context)
        _drop(envelope.session_uid)
        whole_step(context)
        try:
            _ask(context, envelope, self.kind)
        except InputError as error:
            self.report({"ERROR"}, str(error))
            return {"CANCELLED"}
        if said := _said.get(envelope.session_uid, ""):
            self.report({"ERROR"}, said)
            return {"CANCELLED"}
        return {"FINISHED"}


class TACKWRIGHT_OT_show_tight_place(bpy.types.Operator):
    """Bring this place into view, with the 3D cursor on it"""

    bl_idname = "tackwright.show_tight_place"
    bl_label = "Show Place"
    bl_options = {"REGISTER", "UNDO"}

    index: IntProperty(name="Place", description="Which place of the list", min=0)

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        envelope = envelope_of(context)
        if envelope is None or not envelope.tackwright_space.places:
            cls.poll_message_set("Check the clearance first")
            return False
        return True

    def execute(self, context: bpy.types.Context) -> set[str]:
        space = envelope_of(context).tackwright_space
        if self.index >= len(space.places):
            self.report({"WARNING"}, "There is no such place any more")
            return {"CANCELLED"}
        whole_step(context)
        space.active_place = self.index
        place, mm = space.places[self.index], mm_per_unit(context.scene)
        at, scan_at = Vector(place.at) / mm, Vector(place.scan_at) / mm
        context.scene.cursor.location = at
        frame_place(context, (at + scan_at) / 2, max((at - scan_at).length, LEAST_VIEW / mm))
        return {"FINISHED"}


class TACKWRIGHT_OT_select_collisions(bpy.types.Operator):
    """Select the faces of the scan that are in the way, in Edit Mode of the scan"""

    bl_idname = "tackwright.select_collisions"
    bl_label = "Select Collisions"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        envelope = envelope_of(context)
        found = found_of(envelope) if envelope is not None else None
        scan = scan_of(context, envelope)
        if found is None or scan is None:
            cls.poll_message_set("Check the clearance first")
        elif not len(found.clearance.collisions):
            cls.poll_message_set("Nothing of the scan is in the way")
        elif found.stamp != stamp_of(context, scan):
            cls.poll_message_set("The scan has changed since: check the clearance again")
        elif scan.library is not None or scan.data.library is not None:
            cls.poll_message_set("The scan is linked from another file: make it local first")
        elif context.mode not in {"OBJECT", "EDIT_MESH"}:
            cls.poll_message_set("Go to Object Mode or Edit Mode first")
        else:
            return True
        return False

    def execute(self, context: bpy.types.Context) -> set[str]:
        envelope = envelope_of(context)
        scan, found = scan_of(context, envelope), found_of(envelope)
        kept = _sorted.get(found.scan)
        if kept is None or kept.stamp != found.stamp:
            self.report({"WARNING"}, "The scan has changed since: check the clearance again")
            return {"CANCELLED"}
        if context.mode != "OBJECT":
            bpy.ops.object.mode_set(mode="OBJECT")
        faces = np.unique(kept.faces[found.clearance.collisions])
        _select_faces(scan.data, faces)
        for item in context.selected_objects:
            item.select_set(False)
        scan.hide_set(False)
        scan.select_set(True)
        context.view_layer.objects.active = scan
        context.tool_settings.mesh_select_mode = (False, False, True)
        bpy.ops.object.mode_set(mode="EDIT")
        frame_selected(context)
        whole_step(context)  # the selection of a mesh that was not edited yet is undone with it
        self.report({"INFO"}, f"{len(faces)} {'face' if len(faces) == 1 else 'faces'} of {scan.name} in the way")
        return {"FINISHED"}


def _select_faces(mesh: bpy.types.Mesh, faces: NDArray[np.int32]) -> None:
    """Select these faces, and what belongs to them, and nothing else: millions at a time."""
    from .selected_places import write_mark

    starts = np.empty(len(mesh.polygons) + 1, dtype=np.int32)
    mesh.polygons.foreach_get("loop_start", starts[:-1])
    starts[-1] = len(mesh.loops)
    on_faces = np.zeros(len(mesh.polygons), dtype=np.bool_)
    on_faces[faces] = True
    on_corners = np.repeat(on_faces, np.diff(starts))
    for name, domain, kind, count in (
        (".select_edge", "EDGE", "edge_index", len(mesh.edges)),
        (".select_vert", "POINT", "vertex_index", len(mesh.vertices)),
    ):
        which = np.empty(len(mesh.loops), dtype=np.int32)
        mesh.loops.foreach_get(kind, which)
        on = np.zeros(count, dtype=np.bool_)
        on[which[on_corners]] = True
        write_mark(mesh, name, domain, on)
    write_mark(mesh, ".select_poly", "FACE", on_faces)
    mesh.update()


CLASSES = (TACKWRIGHT_OT_check_clearance, TACKWRIGHT_OT_show_tight_place, TACKWRIGHT_OT_select_collisions)
_register_classes, _unregister_classes = bpy.utils.register_classes_factory(CLASSES)


@persistent
def _forget(*_: Any) -> None:
    """Another file is opened: nothing of the old one stays."""
    for uid in list(_asked):
        _drop(uid)
    for _, _, work in _sorting.values():
        work.cancel()
    for kept in (_sorting, _sorted, _found, _said):
        kept.clear()


def register() -> None:
    _register_classes()
    bpy.app.handlers.load_pre.append(_forget)


def unregister() -> None:
    if _forget in bpy.app.handlers.load_pre:
        bpy.app.handlers.load_pre.remove(_forget)
    if bpy.app.timers.is_registered(_tick):
        bpy.app.timers.unregister(_tick)
    _forget()
    _unregister_classes()
