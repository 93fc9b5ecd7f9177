"""Inner plates: faces of the envelope's own mesh marked as such, and other mesh objects that are its inside."""

# No `from __future__ import annotations`: Blender reads the annotations as properties.

import bpy
from bpy.props import EnumProperty, PointerProperty

from ...core.terms.errors import InputError
from ..host.editor_types import Ended
from ..host.overrides import OVERRIDABLE, overridable
from ..host.reports import report_error
from ..host.shown_lengths import kept_mm, shown_length
from .active_envelope import envelope_of, inner_meshes_of, made_plate
from .edited_meshes import edited_meshes, poll_selected
from .face_marks import mark_selected
from .face_metal import side_items

__all__ = [
    "INNER_ATTRIBUTE",
    "INNER_NUMBERS",
    "KINDS",
    "TACKWRIGHT_OT_assign_inner",
    "TACKWRIGHT_OT_mark_faces",
    "TACKWRIGHT_OT_unassign_inner",
]

INNER_ATTRIBUTE = "tackwright_inner"
"""Face attribute: what the face is, by the numbers below. 0, which faces made new get, is as the drawing shows."""

INNER_NUMBERS = {1: True, 2: False}

KINDS = [
    ("INNER", "Inner Plate", "A baffle, shelf, rib or diaphragm inside the envelope", 1),
    ("WALL", "Wall", "Part of the envelope's own surface", 2),
    ("AS_DRAWN", "As Drawn", "As the drawing shows: a face inside a closed surface is an inner plate", 0),
]


def _may_be_envelope(self: bpy.types.PropertyGroup, item: bpy.types.Object) -> bool:
    return item.type == "MESH" and item != self.id_data and not made_plate(item)


@overridable
class TackwrightInner(bpy.types.PropertyGroup):
    """Whose inner plates an object's faces are, and their metal where it is not the envelope's."""

    envelope: PointerProperty(
        name="Envelope",
        description="The object that these faces are inner plates of. Empty: an envelope of its own",
        type=bpy.types.Object,
        poll=_may_be_envelope,
    )
    thickness_mm: kept_mm(0.0)
    thickness: shown_length("Thickness", "Thickness of these inner plates. 0: the envelope's", "thickness_mm")
    metal_side: EnumProperty(
        name="Metal Side",
        description="Where the metal of these inner plates lies from their faces",
        items=side_items,
        default="AS_ENVELOPE",
    )


class TACKWRIGHT_OT_mark_faces(bpy.types.Operator):
    """Mark the selected faces as inner plates or as walls"""

    bl_idname = "tackwright.mark_faces"
    bl_label = "Mark Faces"
    bl_options = {"REGISTER", "UNDO"}

    kind: EnumProperty(name="Faces Are", description="What the selected faces are", items=KINDS, default="INNER")

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return poll_selected(cls, context, "face")

    def execute(self, context: bpy.types.Context) -> Ended:
        number = next(kind[3] for kind in KINDS if kind[0] == self.kind)
        try:
            for item in edited_meshes(context):
                mark_selected(item, INNER_ATTRIBUTE, number)
        except InputError as error:
            report_error(self, error)
            return {"CANCELLED"}
        return {"FINISHED"}


class TACKWRIGHT_OT_assign_inner(bpy.types.Operator):
    """Make the faces of the other selected objects inner plates of the active one"""

    bl_idname = "tackwright.assign_inner"
    bl_label = "Assign Inner Plates"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if context.mode != "OBJECT":
            cls.poll_message_set("Go to Object Mode first")
        elif envelope_of(context) is None or not _others(context):
            cls.poll_message_set("Select the meshes of the inner plates, then the envelope as the last")
        else:
            return True
        return False

    def execute(self, context: bpy.types.Context) -> Ended:
        envelope = envelope_of(context)
        others = _others(context)
        for item in others:
            before = item.tackwright_inner.envelope
            item.tackwright_inner.envelope = envelope
            if item.parent in (None, before):
                _move_with(item, envelope)
        self.report({"INFO"}, f"{', '.join(item.name for item in others)}: inner plates of {envelope.name}")
        return {"FINISHED"}


class TACKWRIGHT_OT_unassign_inner(bpy.types.Operator):
    """Make the selected objects envelopes of their own again"""

    bl_idname = "tackwright.unassign_inner"
    bl_label = "Unassign Inner Plates"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if context.mode != "OBJECT":
            cls.poll_message_set("Go to Object Mode first")
        elif not any(item.tackwright_inner.envelope for item in context.selected_objects):
            cls.poll_message_set("Select objects that are inner plates of an envelope")
        else:
            return True
        return False

    def execute(self, context: bpy.types.Context) -> Ended:
        for item in context.selected_objects:
            envelope = item.tackwright_inner.envelope
            item.tackwright_inner.envelope = None
            if envelope is not None and item.parent == envelope:
                place = item.matrix_world.copy()
                item.parent = None
                item.matrix_world = place
        return {"FINISHED"}


def _move_with(item: bpy.types.Object, envelope: bpy.types.Object) -> None:
    """Parent an object to its envelope where it stands, unless the envelope already hangs on it."""
    above = envelope
    while above is not None:
        if above == item:
            return
        above = above.parent
    place = item.matrix_world.copy()
    was_free = item.parent is None
    item.parent = envelope
    item.matrix_parent_inverse = envelope.matrix_world.inverted_safe()
    if not was_free:
        item.matrix_basis = place


def _others(context: bpy.types.Context) -> list[bpy.types.Object]:
    """The selected mesh objects that can become inner plates of the active envelope."""
    envelope = envelope_of(context)
    already = inner_meshes_of(context, envelope)
    return [
        item
        for item in context.selected_objects
        if item.type == "MESH" and item != envelope and item not in already and not made_plate(item)
    ]


CLASSES = (TackwrightInner, TACKWRIGHT_OT_mark_faces, TACKWRIGHT_OT_assign_inner, TACKWRIGHT_OT_unassign_inner)
_register_classes, _unregister_classes = bpy.utils.register_classes_factory(CLASSES)


def register() -> None:
    _register_classes()
    bpy.types.Object.tackwright_inner = PointerProperty(
        type=TackwrightInner, name="Tackwright Inner Plates", override=OVERRIDABLE
    )


def unregister() -> None:
    del bpy.types.Object.tackwright_inner
    _unregister_classes()
