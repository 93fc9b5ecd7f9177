"""A scan made the space of an envelope, squared up and scaled. Only its object moves: millions of points stay put."""

# No `from __future__ import annotations`: Blender reads the annotations as properties.

import bpy
import numpy as np
from bpy.props import EnumProperty, FloatProperty
from mathutils import Matrix, Vector
from numpy.typing import NDArray

from ...core.stock.said_units import length_said
from ...core.terms.errors import InputError
from ..gather.scan_mesh import in_world_mm, selected_points
from ..host.editor_types import Ended, mesh_of
from ..host.framing import frame_place
from ..host.reports import report_error
from ..host.shown_lengths import mm_per_unit, units_of
from ..host.whole_step import whole_step
from ..scene.active_envelope import envelope_of, made_plate, why_not_changed
from ..scene.space import scan_of
from .clearance_work import forget_unused

__all__ = [
    "TACKWRIGHT_OT_clear_scan", "TACKWRIGHT_OT_known_distance", "TACKWRIGHT_OT_set_patch", "TACKWRIGHT_OT_square_up",
    "TACKWRIGHT_OT_use_scan",
]  # fmt: skip

MOST_KEPT = 500
"""Points of a patch that are kept: they fix a plane to a twentieth of the scan's noise."""

SOME = 1000
"""Faces: a mesh that has more, and more than the other one, is the scan of the two."""

PATCHES = [
    ("FLOOR", "Floor", "Level after squaring up, with the room above it", 0),
    ("WALL", "Wall", "Along an axis after squaring up", 1),
]
ORIGINS = [
    ("CORNER", "Corner", "Where floor and wall meet, next to the wall's patch", 0),
    ("CURSOR", "3D Cursor", "The floor under the 3D cursor comes to the world's origin", 1),
    ("KEEP", "Keep", "The floor's patch stays about where it is, and becomes level", 2),
]


def _others(context: bpy.types.Context) -> list[bpy.types.Object]:
    envelope = envelope_of(context)
    return [o for o in context.selected_objects if o.type == "MESH" and o != envelope and not made_plate(o)]


def _may_change(operator: type[bpy.types.Operator], item: bpy.types.Object) -> bool:
    reason = why_not_changed(item)
    if reason:
        operator.poll_message_set(reason)
    return not reason


class TACKWRIGHT_OT_use_scan(bpy.types.Operator):
    """Make the other selected mesh the space that the active envelope goes into"""

    bl_idname = "tackwright.use_scan"
    bl_label = "Use Scan"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if context.mode != "OBJECT":
            cls.poll_message_set("Go to Object Mode first")
        elif envelope_of(context) is None or len(_others(context)) != 1:
            cls.poll_message_set("Select the scan, then the envelope as the last")
        elif len(mesh_of(envelope_of(context)).polygons) > max(SOME, len(mesh_of(_others(context)[0]).polygons)):
            cls.poll_message_set("The scan is active: select it first, then the envelope as the last")
        else:
            return _may_change(cls, envelope_of(context))
        return False

    def execute(self, context: bpy.types.Context) -> Ended:
        envelope, (scan,) = envelope_of(context), _others(context)
        envelope.tackwright_space.scan = scan
        self.report({"INFO"}, f"{scan.name} is the space of {envelope.name}")
        return {"FINISHED"}


class TACKWRIGHT_OT_clear_scan(bpy.types.Operator):
    """Forget the scan of this envelope; the scan itself stays"""

    bl_idname = "tackwright.clear_scan"
    bl_label = "Clear Scan"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        envelope = envelope_of(context)
        if envelope is None or envelope.tackwright_space.scan is None:
            cls.poll_message_set("There is no scan")
            return False
        return _may_change(cls, envelope)

    def execute(self, context: bpy.types.Context) -> Ended:
        space = envelope_of(context).tackwright_space
        whole_step(context)
        space.scan = None
        space.places.clear()
        space.checked, space.collisions = False, 0
        forget_unused()
        return {"FINISHED"}


def _poll_picked(operator: type[bpy.types.Operator], context: bpy.types.Context, count: int) -> bool:
    item = context.object
    if context.mode != "EDIT_MESH" or item is None:
        operator.poll_message_set("Go to Edit Mode of the scan first")
    elif mesh_of(item).total_vert_sel < count and count > 2:
        operator.poll_message_set("Select at least three points or a face first")
    elif mesh_of(item).total_vert_sel < count:
        operator.poll_message_set("Select two points first")
    else:
        return _may_change(operator, item)
    return False


class TACKWRIGHT_OT_set_patch(bpy.types.Operator):
    """Keep the selected points of the scan as its floor or wall: three or more, or a patch of faces"""

    bl_idname = "tackwright.set_patch"
    bl_label = "Set Patch"
    bl_options = {"REGISTER", "UNDO"}

    patch: EnumProperty(name="Patch", description="What the selected points are", items=PATCHES, default="FLOOR")

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return _poll_picked(cls, context, 3)

    @classmethod
    def description(cls, context: bpy.types.Context, properties: bpy.types.OperatorProperties) -> str:
        what = "floor" if properties.patch == "FLOOR" else "wall"
        return f"Keep the selected points of the scan as its {what}: three or more, or a patch of faces"

    def execute(self, context: bpy.types.Context) -> Ended:
        from ...core.scan.square_up import fit_plane

        item, mm = context.object, mm_per_unit(context.scene)
        points = selected_points(item)
        points = points[np.linspace(0, len(points) - 1, min(len(points), MOST_KEPT)).astype(np.int64)]
        what = "The floor" if self.patch == "FLOOR" else "The wall"
        try:
            fit = fit_plane(in_world_mm(points, item, mm), what)
        except InputError as error:
            report_error(self, error)
            return {"CANCELLED"}
        whole_step(context)
        text = " ".join(f"{value:.9g}" for value in points.ravel().tolist())
        setattr(item.tackwright_scan, self.patch.lower(), text)
        units = units_of(context.scene)
        self.report({"INFO"}, f"{what}: {100 * fit.share:.0f} % of {len(points)} points within some "
                              f"{length_said(fit.rms, units)} of a plane")
        return {"FINISHED"}


def _patch(item: bpy.types.Object, which: str, mm: float) -> NDArray[np.float64]:
    """(n, 3) the kept points of a patch in the world, mm."""
    numbers = np.array([float(word) for word in getattr(item.tackwright_scan, which).split()])
    return in_world_mm(numbers.reshape(-1, 3), item, mm)


def _scan_meant(context: bpy.types.Context) -> bpy.types.Object | None:
    """The active scan, or that of the active envelope."""
    item = context.object
    if item is not None and item.type == "MESH" and (item.tackwright_scan.floor or item.tackwright_scan.wall):
        return item
    return scan_of(context, envelope_of(context))


class TACKWRIGHT_OT_square_up(bpy.types.Operator):
    """Turn and move the scan so that its floor is level and its wall along an axis"""

    bl_idname = "tackwright.square_up"
    bl_label = "Square Up"
    bl_options = {"REGISTER", "UNDO"}

    origin: EnumProperty(
        name="Origin", description="What comes to the world's origin", items=ORIGINS, default="CORNER")

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        scan = _scan_meant(context)
        if scan is None:
            cls.poll_message_set("Select the scan, or an envelope that has one")
        elif not (scan.tackwright_scan.floor and scan.tackwright_scan.wall):
            cls.poll_message_set("Set the floor and the wall first, in Edit Mode of the scan")
        else:
            return _may_change(cls, scan)
        return False

    def execute(self, context: bpy.types.Context) -> Ended:
        from ...core.scan.square_up import square_up

        scan, mm = _scan_meant(context), mm_per_unit(context.scene)
        floor, wall = _patch(scan, "floor", mm), _patch(scan, "wall", mm)
        corners = in_world_mm(np.array(scan.bound_box), scan, mm)
        origin = {"CORNER": None, "CURSOR": np.array(context.scene.cursor.location) * mm, "KEEP": floor.mean(axis=0)}
        try:
            found = square_up(floor, wall, inside=corners.mean(axis=0), origin=origin[self.origin])
        except InputError as error:
            report_error(self, error)
            return {"CANCELLED"}
        whole_step(context)
        motion = Matrix(found.motion.tolist())
        motion.translation /= mm
        if self.origin == "KEEP":
            kept = found.floor.point / mm
            motion.translation += Vector((kept[0], kept[1], 0.0))
        if not _placed(context, scan, motion @ scan.matrix_world):
            self.report({"ERROR"}, _HELD.format(scan.name))
            return {"CANCELLED"}
        box = [scan.matrix_world @ Vector(corner) for corner in scan.bound_box]
        middle = sum(box, Vector()) / len(box)
        frame_place(context, middle, (box[0] - middle).length)
        units = units_of(context.scene)
        self.report({"INFO"}, f"{scan.name} is square: floor and wall stood at {found.angle:.1f}°; off their planes by "
                              f"{length_said(found.floor.rms, units)} and {length_said(found.wall.rms, units)}")
        return {"FINISHED"}


class TACKWRIGHT_OT_known_distance(bpy.types.Operator):
    """Scale the scan so that the distance of the two selected points is the one that you measured"""

    bl_idname = "tackwright.known_distance"
    bl_label = "Known Distance"
    bl_options = {"REGISTER", "UNDO"}

    distance: FloatProperty(
        name="True Distance", description="What you measured between the two points. 0: as it is in the scan",
        subtype="DISTANCE", min=0.0, precision=4, step=0.1)
    measured: FloatProperty(options={"HIDDEN", "SKIP_SAVE"})

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if _poll_picked(cls, context, 2):
            if mesh_of(context.object).total_vert_sel == 2:
                return True
            cls.poll_message_set("Select two points and no more")
        return False

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> Ended:
        self.measured = self.distance = _apart(_ends(context.object))
        return context.window_manager.invoke_props_dialog(self)

    def draw(self, context: bpy.types.Context) -> None:
        self.layout.use_property_split = True
        if self.measured:
            said = length_said(self.measured * mm_per_unit(context.scene), units_of(context.scene))
            self.layout.label(text=f"In the scan they are {said} apart", translate=False)
        self.layout.prop(self, "distance")

    def execute(self, context: bpy.types.Context) -> Ended:
        from ...core.scan.square_up import scale_for

        item, mm = context.object, mm_per_unit(context.scene)
        ends = _ends(item)
        self.measured = measured = _apart(ends)
        try:
            scale = scale_for(measured * mm, (self.distance or measured) * mm)
        except InputError as error:
            report_error(self, error)
            return {"CANCELLED"}
        whole_step(context)
        first = ends[0]
        about = Matrix.Translation(first) @ Matrix.Scale(scale, 4) @ Matrix.Translation(-first)
        if not _placed(context, item, about @ item.matrix_world):
            self.report({"ERROR"}, _HELD.format(item.name))
            return {"CANCELLED"}
        self.report({"INFO"}, f"{item.name} scaled to {100 * scale:.5g} %")
        return {"FINISHED"}


_HELD = "{} does not go where it should: a parent or constraint holds it. Clear that first (Alt P, Keep Transform)"

STILL = 1e-4
"""Of a scan's size: how far from its place its corners may come to lie; single precision keeps a thousandth of that."""


def _placed(context: bpy.types.Context, item: bpy.types.Object, place: Matrix) -> bool:
    """Bring an object to a place in the world, or leave it where it is: whether it went there."""
    before, corners = item.matrix_world.copy(), [Vector(corner) for corner in item.bound_box]
    item.matrix_world = place
    context.view_layer.update()
    size = max((place @ one - place @ corners[0]).length for one in corners)
    if max((item.matrix_world @ one - place @ one).length for one in corners) <= STILL * size:
        return True
    item.matrix_world = before
    return False


def _ends(item: bpy.types.Object) -> list[Vector]:
    """The selected points in the world, in the scene's units."""
    return [item.matrix_world @ Vector(point) for point in selected_points(item).tolist()]


def _apart(ends: list[Vector]) -> float:
    """How far two points are from each other; 0 for more or fewer."""
    return float((ends[0] - ends[1]).length) if len(ends) == 2 else 0.0


CLASSES = (
    TACKWRIGHT_OT_use_scan,
    TACKWRIGHT_OT_clear_scan,
    TACKWRIGHT_OT_set_patch,
    TACKWRIGHT_OT_square_up,
    TACKWRIGHT_OT_known_distance,
)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
