"""Perforations: put on the selected faces, taken off them, and their list of patterns."""

# No `from __future__ import annotations`: Blender reads the annotations as properties.

import bpy
from bpy.props import BoolProperty, StringProperty

from ...core.terms.errors import InputError
from ..host.editor_types import Ended, OfOperator, mesh_of
from ..host.reports import report_error
from ..host.whole_step import whole_step
from ..scene.active_envelope import envelope_of, inner_meshes_of, owner_of
from ..scene.edited_meshes import edited_meshes, poll_selected
from ..scene.face_marks import mark_selected, unmark
from ..scene.field_settings import FIELD_ATTRIBUTE, FIRST_CODE, TackwrightField, new_field, next_number

__all__ = [
    "TACKWRIGHT_OT_add_band", "TACKWRIGHT_OT_clear_perforation", "TACKWRIGHT_OT_perforate_faces",
    "TACKWRIGHT_OT_remove_band", "TACKWRIGHT_OT_remove_perforation", "active_field",
]  # fmt: skip


def active_field(envelope: bpy.types.Object | None) -> TackwrightField | None:
    """The perforation that is chosen in the envelope's list."""
    if envelope is None or envelope.tackwright.active_field >= len(envelope.tackwright.fields):
        return None
    return envelope.tackwright.fields[envelope.tackwright.active_field]


class TACKWRIGHT_OT_perforate_faces(bpy.types.Operator):
    """Fill the selected faces with holes, by a new perforation or by the one chosen in the list"""

    bl_idname = "tackwright.perforate_faces"
    bl_label = "Perforate Faces"
    bl_options = {"REGISTER", "UNDO"}

    code: StringProperty(
        name="Pattern",
        description="Pattern of the holes as ISO 7806 writes it: R5T8 is round holes of 5 mm, staggered, 8 mm apart",
        default=FIRST_CODE,
    )
    chosen: BoolProperty(
        name="Chosen One",
        description="Put the faces into the perforation chosen in the list instead of a new one",
        options={"SKIP_SAVE"},
    )

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return poll_selected(cls, context, "face") and envelope_of(context) is not None

    def draw(self, context: bpy.types.Context) -> None:
        if not self.chosen:
            self.layout.prop(self, "code")

    def execute(self, context: bpy.types.Context) -> Ended:
        envelope = envelope_of(context)
        field = active_field(envelope)
        if not self.chosen:
            done = _marked(self, context, next_number(envelope.tackwright))
            if done == {"FINISHED"}:
                new_field(envelope.tackwright, self.code)
                whole_step(context)
            return done
        if field is None:
            self.report({"ERROR"}, f"{envelope.name} has no perforation to choose yet. Make a new one")
            return {"CANCELLED"}
        return _marked(self, context, field.number)


class TACKWRIGHT_OT_clear_perforation(bpy.types.Operator):
    """Take the perforation off the selected faces"""

    bl_idname = "tackwright.clear_perforation"
    bl_label = "Clear Perforation"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return poll_selected(cls, context, "face")

    def execute(self, context: bpy.types.Context) -> Ended:
        return _marked(self, context, 0)


class _OfTheList(OfOperator):
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if active_field(envelope_of(context)) is None:
            cls.poll_message_set("There is no perforation in the list")
            return False
        return True


class TACKWRIGHT_OT_remove_perforation(_OfTheList, bpy.types.Operator):
    """Remove the perforation from the list and from all its faces"""

    bl_idname = "tackwright.remove_perforation"
    bl_label = "Remove Perforation"

    def execute(self, context: bpy.types.Context) -> Ended:
        envelope = envelope_of(context)
        settings = envelope.tackwright
        number = settings.fields[settings.active_field].number
        for item in (envelope, *inner_meshes_of(context, envelope)):
            unmark(mesh_of(item), FIELD_ATTRIBUTE, number)
        settings.fields.remove(settings.active_field)
        settings.active_field = max(0, settings.active_field - 1)
        whole_step(context)
        return {"FINISHED"}


class TACKWRIGHT_OT_add_band(_OfTheList, bpy.types.Operator):
    """Add a pattern below the others of the perforation"""

    bl_idname = "tackwright.add_band"
    bl_label = "Add Pattern"

    def execute(self, context: bpy.types.Context) -> Ended:
        bands = active_field(envelope_of(context)).bands
        code = bands[-1].code if len(bands) else FIRST_CODE
        bands.add().code = code
        whole_step(context)
        return {"FINISHED"}


class TACKWRIGHT_OT_remove_band(_OfTheList, bpy.types.Operator):
    """Remove the lowest pattern of the perforation"""

    bl_idname = "tackwright.remove_band"
    bl_label = "Remove Pattern"

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if not super().poll(context):
            return False
        if len(active_field(envelope_of(context)).bands) < 2:
            cls.poll_message_set("A perforation has one pattern at least")
            return False
        return True

    def execute(self, context: bpy.types.Context) -> Ended:
        bands = active_field(envelope_of(context)).bands
        bands.remove(len(bands) - 1)
        whole_step(context)
        return {"FINISHED"}


def _marked(operator: bpy.types.Operator, context: bpy.types.Context, number: int) -> Ended:
    """Give the selected faces of the envelope and of its inner plates the number of a perforation."""
    items = [item for item in edited_meshes(context) if owner_of(context, item) == envelope_of(context)]
    try:
        count = sum(mark_selected(item, FIELD_ATTRIBUTE, number) for item in items)
    except InputError as error:
        report_error(operator, error)
        return {"CANCELLED"}
    operator.report({"INFO"}, f"{count} face{'s' if count > 1 else ''} {'perforated' if number else 'cleared'}")
    return {"FINISHED"}


CLASSES = (
    TACKWRIGHT_OT_perforate_faces,
    TACKWRIGHT_OT_clear_perforation,
    TACKWRIGHT_OT_remove_perforation,
    TACKWRIGHT_OT_add_band,
    TACKWRIGHT_OT_remove_band,
)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
