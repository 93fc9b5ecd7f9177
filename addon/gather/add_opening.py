"""Add Opening: an empty that marks an opening, at the 3D cursor or on a selected face."""

# No `from __future__ import annotations`: Blender reads the annotations as properties.

from typing import Any

import bmesh
import bpy
from bpy.props import EnumProperty, FloatProperty
from mathutils import Matrix, Vector

from ...core.stock.said_units import length_said
from ..host.editor_types import Ended, mesh_of
from ..host.shown_lengths import mm_per_unit, units_of
from ..scene.active_envelope import envelope_of, home_of, poll_settings, select_only
from ..scene.opening_objects import TackwrightOpening, purpose_items, shape_items

__all__ = ["TACKWRIGHT_OT_add_opening", "draw_size", "looking_as_nearest", "new_opening"]

NEAR = 1.0
"""mm: an opening this near to a face is on it, however thin the plate."""
STEEP = 0.9999
"""A direction whose z is more than this counts as up or down: within a degree, so that noise does not turn it."""


def _size(name: str, description: str) -> Any:
    """A length in the scene's units. 0 until the button is first pressed: a default in mm needs the scene."""
    return FloatProperty(name=name, description=description, subtype="DISTANCE", min=0.0, precision=4, step=0.1)


class TACKWRIGHT_OT_add_opening(bpy.types.Operator):
    """Mark an opening with an empty: in Object Mode at the 3D cursor, in Edit Mode on the selected face"""

    bl_idname = "tackwright.add_opening"
    bl_label = "Add Opening"
    bl_options = {"REGISTER", "UNDO"}

    purpose: EnumProperty(name="Purpose", description="What the opening is for", items=purpose_items, default="PORT")
    shape: EnumProperty(name="Shape", description="Shape of the hole", items=shape_items, default="ROUND")
    size_x: _size("Size X", "Diameter, or overall length along the empty's x axis")
    size_y: _size("Size Y", "Overall length along the empty's y axis")

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if not poll_settings(cls, context):
            return False
        if context.mode not in {"OBJECT", "EDIT_MESH"}:
            cls.poll_message_set("Go to Object Mode or Edit Mode first")
        elif context.mode == "EDIT_MESH" and mesh_of(context.object).total_face_sel == 0:
            cls.poll_message_set("Select the face to put the opening on")
        else:
            return True
        return False

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        layout.use_property_split = True
        layout.prop(self, "purpose")
        layout.prop(self, "shape")
        draw_size(layout, self)

    def execute(self, context: bpy.types.Context) -> Ended:
        envelope = envelope_of(context)
        place = _on_face(context.object) if context.mode == "EDIT_MESH" else _at_cursor(context, envelope)
        mm = mm_per_unit(context.scene)
        usual = TackwrightOpening.bl_rna.properties
        self.size_x = self.size_x or usual["size_x_mm"].default / mm
        self.size_y = self.size_y or usual["size_y_mm"].default / mm
        name = next(item[1] for item in purpose_items if item[0] == self.purpose)
        item = new_opening(context, envelope, name, place)
        item.empty_display_size = self.size_x
        marked = item.tackwright_opening
        marked.purpose, marked.shape = self.purpose, self.shape
        marked.size_x, marked.size_y = self.size_x, self.size_y
        if context.mode == "OBJECT":
            select_only(context, [item])
        far = _off_faces(context, envelope, place.translation) * mm
        if context.mode == "EDIT_MESH":
            self.report({"INFO"}, f"{item.name} on {envelope.name}. Leave Edit Mode and select it to change it")
        elif far > max(envelope.tackwright.thickness_mm, NEAR):
            self.report({"WARNING"}, f"{item.name} is not on a plate yet: the nearest face is "
                        f"{length_said(round(far, 1), units_of(context.scene))} away. Move it there")
        else:
            self.report({"INFO"}, f"{item.name} on {envelope.name}")
        return {"FINISHED"}


def new_opening(
    context: bpy.types.Context, envelope: bpy.types.Object, name: str, place: Matrix
) -> bpy.types.Object:
    """An empty that marks an opening of the envelope and moves with it. place: in the world."""
    item = bpy.data.objects.new(name, None)
    item.empty_display_type = "SINGLE_ARROW"
    marked = item.tackwright_opening
    marked.enabled, marked.envelope = True, envelope
    home_of(context, envelope).objects.link(item)
    item.parent, item.matrix_parent_inverse = envelope, envelope.matrix_world.inverted_safe()
    item.matrix_basis = place
    return item


def draw_size(layout: bpy.types.UILayout, sized: TackwrightOpening | TACKWRIGHT_OT_add_opening) -> None:
    """The sizes of an opening, under the names that its shape gives them."""
    names = {"ROUND": ("Diameter",), "SLOT": ("Length", "Width"), "RECTANGLE": ("Width", "Height")}[sized.shape]
    for name, stored in zip(names, ("size_x", "size_y"), strict=False):
        layout.prop(sized, stored, text=name)


def _on_face(item: bpy.types.Object) -> Matrix:
    """In the middle of the active face, or of the first selected one, looking as it does."""
    edited = bmesh.from_edit_mesh(mesh_of(item))
    active = edited.faces.active
    face = active if active is not None and active.select else next(f for f in edited.faces if f.select)
    world = item.matrix_world
    return _looking(world @ face.calc_center_median_weighted(), _turned(world, face.normal))


def _at_cursor(context: bpy.types.Context, envelope: bpy.types.Object) -> Matrix:
    """At the 3D cursor, looking as the nearest face of the envelope does, or as the cursor where there is none."""
    cursor = context.scene.cursor
    place = looking_as_nearest(context, envelope, cursor.location)
    return place or Matrix.Translation(cursor.location) @ cursor.matrix.to_3x3().to_4x4()


def looking_as_nearest(context: bpy.types.Context, envelope: bpy.types.Object, at: Vector) -> Matrix | None:
    """A place at a point of the world, looking as the nearest face of the envelope does; None where there is none."""
    nearest = _nearest(context, envelope, at)
    return None if nearest is None else _looking(at, _turned(envelope.matrix_world, nearest[1]))


def _off_faces(context: bpy.types.Context, envelope: bpy.types.Object, at: Vector) -> float:
    """How far a place is from the nearest face, in the scene's units; 0 where there is none."""
    nearest = _nearest(context, envelope, at)
    return 0.0 if nearest is None else float((envelope.matrix_world @ nearest[0] - at).length)


def _nearest(context: bpy.types.Context, envelope: bpy.types.Object, at: Vector) -> tuple[Vector, Vector] | None:
    """The point of the envelope nearest to a place of the world, and the normal there, in its own coordinates. None
    where it has no face, or nobody evaluates it because it is disabled in viewports."""
    seen = envelope.evaluated_get(context.evaluated_depsgraph_get())
    try:
        found, foot, normal, _ = seen.closest_point_on_mesh(envelope.matrix_world.inverted_safe() @ at)
    except RuntimeError:
        return None
    return (foot, normal) if found else None


def _turned(world: Matrix, normal: Vector) -> Vector:
    """A normal in the world's frame, where an unevenly scaled object turns it otherwise than its points."""
    return (world.to_3x3().inverted_safe().transposed() @ normal).normalized()


def _looking(at: Vector, along: Vector) -> Matrix:
    """A place whose z axis looks along a direction and whose x axis is level, to the right for who looks at it."""
    upright = abs(along.z) > STEEP
    x = Vector((0, 1, 0) if upright else (0, 0, 1)).cross(along).normalized()
    turn = Matrix((x, along.cross(x), along)).transposed()
    return Matrix.Translation(at) @ turn.to_4x4()


CLASSES = (TACKWRIGHT_OT_add_opening,)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
