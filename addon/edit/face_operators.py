"""Plates of the selected faces: set, found again and given back to the envelope."""

# No `from __future__ import annotations`: Blender reads the annotations as properties.

import bmesh
import bpy
from bpy.props import FloatProperty, StringProperty

from ...core.terms.choices import PanelChoice
from ...core.terms.errors import InputError
from ..host.asked import AS_ENVELOPE, LEAVE, OWN, Asked, by_choice, choosing, draw_value
from ..host.editor_types import Ended, OfOperator, mesh_of
from ..host.reports import report_error
from ..host.shown_lengths import as_kept, mm_per_unit
from ..host.whole_step import whole_step
from ..scene.edited_meshes import edited_meshes, poll_selected
from ..scene.face_choices import FACE_ATTRIBUTES, clear_faces, face_choice_of, make_face_layers, put_face_choice
from ..scene.face_metal import SIDES, side_items

__all__ = [
    "TACKWRIGHT_OT_clear_face", "TACKWRIGHT_OT_select_like_face", "TACKWRIGHT_OT_set_face_metal", "active_face",
]  # fmt: skip

NOT_SAVED = {"SKIP_SAVE"}
INNER = {"INNER": True, "WALL": False}


def active_face(mesh: bmesh.types.BMesh) -> bmesh.types.BMFace | None:
    """The face that was selected last; where the editor does not tell, the first that is selected."""
    active = mesh.faces.active
    if active is not None and active.select:
        return active
    return next((face for face in mesh.faces if face.select), None)


class _OnFaces(OfOperator):
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if not poll_selected(cls, context, "face"):
            return False
        if any(item.data.library is not None for item in edited_meshes(context)):
            cls.poll_message_set("The mesh is linked from another file: make it local first")
            return False
        return True


class TACKWRIGHT_OT_set_face_metal(_OnFaces, Asked, bpy.types.Operator):
    """Choose metal, kind and name of the plates of the selected faces. What is left alone keeps its choice or follows the envelope"""  # noqa: E501

    bl_idname = "tackwright.set_face_metal"  # from when only metal could be set: scripts and keys go by it
    bl_label = "Set Face"

    thickness_by: by_choice("Thickness", "Thickness of the plates")
    thickness: FloatProperty(
        name="Thickness", description="Thickness of the plates. 0: the envelope's", subtype="DISTANCE", min=0.0,
        precision=4, step=0.1, options=NOT_SAVED,
    )  # fmt: skip
    metal_side: choosing(
        "Metal Side", "Where the metal lies from the faces", [item[:3] for item in side_items if SIDES[item[0]]]
    )
    left_out: choosing(
        "Plate", "Whether a plate is made of the faces",
        [("LEFT_OUT", "Left Out", "No plate: the envelope is open here")],
        back=(AS_ENVELOPE, "Made", "A plate is made, as everywhere else", 1),
    )  # fmt: skip
    inner: choosing(
        "Kind", "What the faces are",
        [("INNER", "Inner Plate", "A baffle, shelf, rib or diaphragm inside the envelope"),
         ("WALL", "Wall", "Part of the envelope's own surface")],
        back=(AS_ENVELOPE, "As Drawn", "As the drawing shows: a face inside a closed surface is an inner plate", 1),
    )  # fmt: skip
    mark: choosing(
        "Etched Mark", "Whether the piece mark is etched on the plates",
        [("ON", "On", "Etched, where it fits"), ("OFF", "Off", "Left out, as where both faces stay in sight")],
    )
    name_by: by_choice("Name", "What the plate is called in the kit and on its mark",
                       back=(AS_ENVELOPE, "By Place", "By its material's name or by where it looks", 1))
    plate_name: StringProperty(
        name="Name", description="What the plate is called in the kit and on its mark", options=NOT_SAVED
    )

    numbers = ("thickness",)

    def begin(self, context: bpy.types.Context) -> None:
        mesh = bmesh.from_edit_mesh(mesh_of(context.object))
        face = active_face(mesh)
        has = face_choice_of(context.object, mesh, face) if face is not None else PanelChoice()
        self.offer("thickness", (has.thickness or context.object.tackwright.thickness_mm) / mm_per_unit(context.scene))
        self.plate_name, self.name_by = has.name or "", LEAVE

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        layout.use_property_split = True
        layout.use_property_decorate = False
        draw_value(layout, self, "thickness_by", "thickness")
        layout.prop(self, "metal_side")
        layout.prop(self, "left_out")
        layout.prop(self, "inner")
        layout.prop(self, "mark")
        draw_value(layout, self, "name_by", "plate_name")

    def execute(self, context: bpy.types.Context) -> Ended:
        self.settle()
        if self.properties.is_property_set("plate_name") and not self.properties.is_property_set("name_by"):
            self.name_by = OWN
        choice, back = self._choice(context), self._given_back()
        if choice == PanelChoice() and not back:
            self.report({"INFO"}, "Nothing was asked for: all is left as it was")
            return {"FINISHED"}
        done = 0
        try:
            for item in edited_meshes(context):
                if not mesh_of(item).total_face_sel:
                    continue
                mesh = bmesh.from_edit_mesh(mesh_of(item))
                make_face_layers(item, mesh, choice)
                faces = [face for face in mesh.faces if face.select]
                clear_faces(mesh, faces, back)
                put_face_choice(item, mesh, faces, choice)
                done += len(faces)
                bmesh.update_edit_mesh(mesh_of(item), loop_triangles=False, destructive=False)
        except InputError as error:
            report_error(self, error)
            return {"CANCELLED"}
        if choice.name is not None:
            whole_step(context)                          # the name itself is kept on the object
        self.report({"INFO"}, f"{_faces(done)} set")
        return {"FINISHED"}

    def _choice(self, context: bpy.types.Context) -> PanelChoice:
        thickness = self.number("thickness")
        return PanelChoice(
            name=(self.plate_name.strip() or None) if self.name_by == OWN else None,
            thickness=as_kept(thickness * mm_per_unit(context.scene)) if thickness else None,
            metal_side=SIDES.get(self.metal_side),
            left_out=self.left_out == "LEFT_OUT",
            inner=INNER.get(self.inner),
            mark={"ON": True, "OFF": False}.get(self.mark),
        )

    def _given_back(self) -> list[str]:
        asked = {"thickness": self.thickness_by, "metal_side": self.metal_side, "left_out": self.left_out,
                 "inner": self.inner, "name": self.name_by, "mark": self.mark}
        back = [part for part, value in asked.items() if value == AS_ENVELOPE]
        back += ["thickness"] if self.number("thickness") == 0 else []
        return back + (["name"] if self.name_by == OWN and not self.plate_name.strip() else [])


class TACKWRIGHT_OT_select_like_face(_OnFaces, bpy.types.Operator):
    """Select all faces for which the same is chosen as for the active one"""

    bl_idname = "tackwright.select_like_face"
    bl_label = "Select Faces Like This"

    def execute(self, context: bpy.types.Context) -> Ended:
        items = edited_meshes(context)
        first = next(item for item in (context.object, *items) if mesh_of(item).total_face_sel)
        mesh = bmesh.from_edit_mesh(mesh_of(first))
        wanted, found = face_choice_of(first, mesh, active_face(mesh)), 0
        for item in items:
            mesh = bmesh.from_edit_mesh(mesh_of(item))
            for face in mesh.faces:
                if not face.hide and face_choice_of(item, mesh, face) == wanted:
                    face.select_set(True)
                    found += 1
            bmesh.update_edit_mesh(mesh_of(item), loop_triangles=False, destructive=False)
        self.report({"INFO"}, f"{_faces(found)} {'with nothing chosen' if wanted == PanelChoice() else 'like this'}")
        return {"FINISHED"}


class TACKWRIGHT_OT_clear_face(_OnFaces, bpy.types.Operator):
    """Give the selected faces back to the settings of the envelope: metal, kind and name. Perforations stay"""

    bl_idname = "tackwright.clear_face"
    bl_label = "Clear Faces"

    def execute(self, context: bpy.types.Context) -> Ended:
        done = 0
        for item in edited_meshes(context):
            mesh = bmesh.from_edit_mesh(mesh_of(item))
            faces = [face for face in mesh.faces if face.select]
            clear_faces(mesh, faces, tuple(FACE_ATTRIBUTES.values()))
            done += len(faces)
            bmesh.update_edit_mesh(mesh_of(item), loop_triangles=False, destructive=False)
        self.report({"INFO"}, f"{_faces(done)} as the envelope")
        return {"FINISHED"}


def _faces(count: int) -> str:
    return f"{count} face{'' if count == 1 else 's'}"


CLASSES = (TACKWRIGHT_OT_set_face_metal, TACKWRIGHT_OT_select_like_face, TACKWRIGHT_OT_clear_face)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
