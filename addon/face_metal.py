"""Metal of single faces, where it is not the envelope's."""

# No `from __future__ import annotations`: Blender reads the annotations as properties.

import bpy
from bpy.props import EnumProperty, FloatProperty

from ..core.choices import MetalSide
from ..core.errors import InputError
from .face_marks import edited_meshes, mark_of_active, mark_selected, poll_selected_faces
from .units import mm_per_unit, rounded

__all__ = [
    "SIDES", "SIDE_ATTRIBUTE", "SIDE_NUMBERS", "THICKNESS_ATTRIBUTE", "TACKWRIGHT_OT_set_face_metal", "side_items",
]  # fmt: skip

THICKNESS_ATTRIBUTE = "tackwright_thickness"
"""Face attribute: the thickness of the face's plate in mm, 0 for the envelope's."""

SIDE_ATTRIBUTE = "tackwright_metal_side"
"""Face attribute: by the numbers below. 0, which faces made new get, chooses nothing."""

side_items = [
    ("AS_ENVELOPE", "As Envelope", "As the settings of the envelope say", 0),
    ("INSIDE", "Inside", "On the side that the face looks away from", 2),
    ("CENTRED", "Centred", "The drawing is the middle of the plate", 3),
    ("OUTSIDE", "Outside", "On the side that the face looks to", 1),
]
SIDES: dict[str, MetalSide | None] = {
    "AS_ENVELOPE": None, "OUTSIDE": "outside", "INSIDE": "inside", "CENTRED": "centred",
}  # fmt: skip
SIDE_NUMBERS = {number: SIDES[name] for name, _, _, number in side_items}


class TACKWRIGHT_OT_set_face_metal(bpy.types.Operator):
    """Give the plates of the selected faces a thickness and a metal side of their own"""

    bl_idname = "tackwright.set_face_metal"
    bl_label = "Set Face Metal"
    bl_options = {"REGISTER", "UNDO"}

    thickness: FloatProperty(
        name="Thickness", description="Thickness of the plates. 0: the envelope's", subtype="DISTANCE", min=0.0,
        precision=4, step=0.1,
    )  # fmt: skip
    metal_side: EnumProperty(
        name="Metal Side", description="Where the metal lies from the faces", items=side_items, default="AS_ENVELOPE"
    )

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return poll_selected_faces(cls, context)

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        """Ask, beginning with what the active face has."""
        thickness = mark_of_active(context.object, THICKNESS_ATTRIBUTE, kind="float")
        number = mark_of_active(context.object, SIDE_ATTRIBUTE)
        self.thickness = (thickness or 0.0) / mm_per_unit(context.scene)
        self.metal_side = next((item[0] for item in side_items if item[3] == number), "AS_ENVELOPE")
        return context.window_manager.invoke_props_dialog(self)

    def execute(self, context: bpy.types.Context) -> set[str]:
        number = next(item[3] for item in side_items if item[0] == self.metal_side)
        thickness = rounded(self.thickness * mm_per_unit(context.scene))
        try:
            for item in edited_meshes(context):
                mark_selected(item, THICKNESS_ATTRIBUTE, thickness, kind="float")
                mark_selected(item, SIDE_ATTRIBUTE, number)
        except InputError as error:
            self.report({"ERROR"}, str(error))
            return {"CANCELLED"}
        return {"FINISHED"}


CLASSES = (TACKWRIGHT_OT_set_face_metal,)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
