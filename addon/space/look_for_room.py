"""Room between the envelope, or its plates, and the scan of the space: looked for, pointed at, selected."""

# No `from __future__ import annotations`: Blender reads the annotations as properties.

import bpy
import numpy as np
from bpy.props import EnumProperty, IntProperty
from mathutils import Vector
from numpy.typing import NDArray

from ...core.terms.errors import InputError
from ..gather.scan_mesh import corner_edges, corner_points, seen_modifiers, stamp_of
from ..gather.selected_places import write_selection
from ..host.editor_types import Ended, mesh_of
from ..host.framing import frame_place, frame_selected
from ..host.reports import report_error
from ..host.shown_lengths import mm_per_unit
from ..host.whole_step import whole_step
from ..scene.active_envelope import envelope_of
from ..scene.space import scan_of
from .clearance_work import ask, colliding_faces, found_of, running, said_of

__all__ = ["TACKWRIGHT_OT_check_clearance", "TACKWRIGHT_OT_select_collisions", "TACKWRIGHT_OT_show_tight_place"]

LEAST_VIEW = 30.0
"""mm: the radius of what is framed round a tight place."""

KINDS = [
    ("ENVELOPE", "Envelope", "The drawn outside", 0),
    ("PLATES", "Plates", "The plates that were made, tabs and all", 1),
]


class TACKWRIGHT_OT_check_clearance(bpy.types.Operator):
    """Look how much room there is to the scan, everywhere on the envelope or on its plates"""

    bl_idname = "tackwright.check_clearance"
    bl_label = "Check Clearance"
    bl_options = {"REGISTER", "UNDO"}

    kind: EnumProperty(name="Of", description="What is held against the scan", items=KINDS, default="ENVELOPE")

    @classmethod
    def description(cls, context: bpy.types.Context, properties: bpy.types.OperatorProperties) -> str:
        if properties.kind == "PLATES":
            return "Look how much room there is to the scan from the plates as they were made, tabs and all"
        return "Look how much room there is to the scan, everywhere on the drawn outside"

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

    def execute(self, context: bpy.types.Context) -> Ended:
        envelope = envelope_of(context)
        running.drop(envelope.session_uid)
        whole_step(context)
        try:
            ask(context, envelope, self.kind)
        except InputError as error:
            report_error(self, error)
            return {"CANCELLED"}
        if said := said_of(context, envelope):
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

    def execute(self, context: bpy.types.Context) -> Ended:
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
        elif seen_modifiers(scan):
            cls.poll_message_set("Modifiers make the scan's faces: apply them and check the clearance again")
        elif scan.library is not None or scan.data.library is not None:
            cls.poll_message_set("The scan is linked from another file: make it local first")
        elif scan.hide_viewport:
            cls.poll_message_set(
                "The scan is disabled in viewports: turn it on again in the Outliner, at the screen beside its name")
        elif context.mode not in {"OBJECT", "EDIT_MESH"}:
            cls.poll_message_set("Go to Object Mode or Edit Mode first")
        else:
            return True
        return False

    def execute(self, context: bpy.types.Context) -> Ended:
        envelope = envelope_of(context)
        scan, found = scan_of(context, envelope), found_of(envelope)
        faces = colliding_faces(found)
        if faces is None:
            self.report({"WARNING"}, "The scan has changed since: check the clearance again")
            return {"CANCELLED"}
        if context.mode != "OBJECT":
            bpy.ops.object.mode_set(mode="OBJECT")
        scan.hide_set(False)
        if not scan.visible_get():
            self.report({"WARNING"}, "The scan is in a collection that is hidden: show it in the Outliner first")
            return {"CANCELLED"}
        _select_faces(mesh_of(scan), faces)
        for item in context.selected_objects:
            item.select_set(False)
        scan.select_set(True)
        context.view_layer.objects.active = scan
        context.tool_settings.mesh_select_mode = (False, False, True)
        bpy.ops.object.mode_set(mode="EDIT")
        frame_selected(context)
        whole_step(context)  # the selection of a mesh that was not edited yet is undone with it
        self.report({"INFO"}, f"{len(faces)} {'face' if len(faces) == 1 else 'faces'} of {scan.name} in the way")
        return {"FINISHED"}


def _select_faces(mesh: bpy.types.Mesh, faces: NDArray[np.int32]) -> None:
    """Select these faces, with their edges and points, and nothing else."""
    starts = np.empty(len(mesh.polygons) + 1, dtype=np.int32)
    mesh.polygons.foreach_get("loop_start", starts[:-1])
    starts[-1] = len(mesh.loops)
    on_faces = np.zeros(len(mesh.polygons), dtype=np.bool_)
    on_faces[faces] = True
    on_corners = np.repeat(on_faces, np.diff(starts))
    on_edges, on_points = np.zeros(len(mesh.edges), dtype=np.bool_), np.zeros(len(mesh.vertices), dtype=np.bool_)
    on_edges[corner_edges(mesh)[on_corners]] = True
    on_points[corner_points(mesh)[on_corners]] = True
    write_selection(mesh, on_faces, on_edges, on_points)


CLASSES = (TACKWRIGHT_OT_check_clearance, TACKWRIGHT_OT_show_tight_place, TACKWRIGHT_OT_select_collisions)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
