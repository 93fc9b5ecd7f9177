"""Joints of the selected edges: set, turned about, found again and given back to the envelope."""

# No `from __future__ import annotations`: Blender reads the annotations as properties.

from dataclasses import replace

import bmesh
import bpy
from bpy.props import FloatProperty, IntProperty

from ...core.terms.choices import SHARE, JointChoice, TabRule
from ...core.terms.errors import InputError
from ..gather.through_now import through_now
from ..host.asked import AS_ENVELOPE, LEAVE, Asked, by_choice, choosing, draw_value
from ..host.editor_types import Ended, OfOperator, mesh_of
from ..host.reports import report_error
from ..host.shown_lengths import as_kept, mm_per_unit
from ..scene.edge_choices import (
    EDGE_PARTS,
    clear_edges,
    edge_choice_of,
    make_layers,
    new_marks,
    put_edge_choice,
    through_face,
)
from ..scene.edited_meshes import edited_meshes, poll_selected
from ..scene.properties import CORNERS
from ..scene.selected_edges import active_edge, edited_with_edges, is_joint, plate_faces, selected_edges
from ..scene.shop_settings import CORNER_ITEMS

__all__ = [
    "TACKWRIGHT_OT_clear_joint", "TACKWRIGHT_OT_select_like_joint", "TACKWRIGHT_OT_set_joint",
    "TACKWRIGHT_OT_swap_through", "like_joint",
]  # fmt: skip

NOT_SAVED = {"SKIP_SAVE"}
TAB_NUMBERS = ("count", "width", "spacing", "share")


class _OnEdges(OfOperator):
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return poll_selected(cls, context, "edge")


class TACKWRIGHT_OT_set_joint(_OnEdges, Asked, bpy.types.Operator):
    """Choose how plates meet at the selected edges. What is left alone keeps its choice or follows the envelope"""

    bl_idname = "tackwright.set_joint"
    bl_label = "Set Joint"

    corner: choosing("Corner", "How the plates meet", [item[:3] for item in CORNER_ITEMS])
    overlap_by: by_choice("Overlap", "How much of the other plate's end the through plate covers")
    overlap: FloatProperty(
        name="Overlap", description="How much of the other plate's end the through plate covers", min=0.0, max=1.0,
        default=0.5, subtype="FACTOR", options=NOT_SAVED,
    )  # fmt: skip
    through: choosing("Runs Through", "The plate that covers the other's end", [
        ("ACTIVE", "Active Face's Plate", "The plate of the face that was selected last"),
        ("OTHER", "Other Plate", "The plate that meets the active face's"),
    ], back=(AS_ENVELOPE, "Automatic", "The larger plate, as the envelope has it everywhere else", 1))  # fmt: skip
    root_gap_by: by_choice("Root Gap", "Distance left between the plates at the root of the weld")
    root_gap: FloatProperty(
        name="Root Gap", description="Distance left between the plates at the root of the weld", subtype="DISTANCE",
        min=0.0, precision=4, step=0.1, options=NOT_SAVED,
    )  # fmt: skip
    fit_gap_by: by_choice("Fit Gap a Side", "Clearance on each side of a tab")
    fit_gap: FloatProperty(
        name="Fit Gap a Side", description="Clearance on each side of a tab",
        subtype="DISTANCE", min=0.0, precision=4, step=0.1, options=NOT_SAVED,
    )  # fmt: skip
    tabs: choosing("Tabs", "Whether tabs hold the plates in place for tacking", [
        ("ON", "On", "Tabs, whatever the envelope says"), ("OFF", "Off", "No tabs at this joint"),
    ])  # fmt: skip
    count_by: by_choice("Groups of Tabs", "How many groups of tabs are on the joint")
    count: IntProperty(
        name="Groups of Tabs", description="How many groups of tabs are on the joint", min=1, soft_max=20, default=2,
        options=NOT_SAVED,
    )  # fmt: skip
    width_by: by_choice("Tab Width", "Width of a tab")
    width: FloatProperty(
        name="Tab Width", description="Width of a tab", subtype="DISTANCE", min=0.0, precision=4, options=NOT_SAVED,
    )  # fmt: skip
    spacing_by: by_choice("Tab Spacing", "Largest distance between groups of tabs")
    spacing: FloatProperty(
        name="Tab Spacing", description="Largest distance between groups of tabs", subtype="DISTANCE", min=0.0,
        precision=4, options=NOT_SAVED,
    )  # fmt: skip

    share_by: by_choice("Share of Groove", "How much of the corner's length groups of tabs may take")
    share: FloatProperty(
        name="Share of Groove", description="How much of the corner's length groups of tabs may take", min=0.0, max=1.0,
        default=SHARE, subtype="FACTOR", options=NOT_SAVED,
    )  # fmt: skip

    numbers = ("overlap", "root_gap", "fit_gap", "count", "width", "spacing", "share")

    @classmethod
    def description(cls, context: bpy.types.Context, properties: bpy.types.OperatorProperties) -> str:
        """Of a button for one corner, that corner."""
        if properties.corner == AS_ENVELOPE:
            return "Corners at the selected edges as the settings of the envelope say"
        told = {name: text for name, _, text, _ in CORNER_ITEMS}.get(properties.corner)
        return f"{told}. At the selected edges" if told else (cls.__doc__ or "")

    def begin(self, context: bpy.types.Context) -> None:
        # here, so that Blender starts without loading the libraries
        from ...core.plates.tab_sizes import SPACING_IN_GROOVE, WIDTH_IN_GROOVE

        mesh = bmesh.from_edit_mesh(mesh_of(context.object))
        edge = active_edge(mesh)
        has = edge_choice_of(mesh, edge) if edge is not None else JointChoice()
        mm = mm_per_unit(context.scene)
        self.offer("overlap", 0.5 if has.overlap is None else has.overlap)
        self.offer("root_gap", (has.root_gap or 0.0) / mm)
        self.offer("fit_gap", (has.fit_gap or 0.0) / mm)
        self.offer("count", has.tabs.count or 2)
        thickness = as_kept(context.object.tackwright.thickness_mm)
        self.offer("width", (has.tabs.width or WIDTH_IN_GROOVE * thickness) / mm)
        self.offer("spacing", (has.tabs.spacing or SPACING_IN_GROOVE) / mm)
        self.offer("share", SHARE if has.tabs.share is None else has.tabs.share)

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        layout.use_property_split = True
        layout.use_property_decorate = False
        layout.prop(self, "corner")
        if self.corner in {LEAVE, "HALF_OPEN"}:
            draw_value(layout, self, "overlap_by", "overlap")
        layout.prop(self, "through")
        draw_value(layout, self, "root_gap_by", "root_gap")
        draw_value(layout, self, "fit_gap_by", "fit_gap")
        layout.prop(self, "tabs")
        if self.tabs != "OFF":
            for name in TAB_NUMBERS:
                draw_value(layout, self, f"{name}_by", name)

    def execute(self, context: bpy.types.Context) -> Ended:
        self.settle()
        none = next((name for name in ("width", "spacing") if self.number(name) == 0.0), None)
        if none is not None:
            self.report({"ERROR"}, f"A tab {none} of 0: give more, or give it back to the envelope")
            return {"CANCELLED"}
        choice, back = self._choice(context), self._given_back()
        if choice == JointChoice() and not back and self.through == LEAVE:
            self.report({"INFO"}, "Nothing was asked for: all is left as it was")
            return {"FINISHED"}
        done = missed = 0
        try:
            for item, mesh in edited_with_edges(context):
                make_layers(item, mesh, choice, through=self.through in {"ACTIVE", "OTHER"})
                edges, marks = selected_edges(mesh), new_marks(mesh)
                plate = plate_faces(mesh.faces.active) if mesh.faces.active is not None else set()
                clear_edges(mesh, edges, back)
                for edge in edges:
                    face = self._through(edge, plate)
                    missed += face is None and self.through in {"ACTIVE", "OTHER"}
                    put_edge_choice(mesh, edge, choice, face, marks)
                done += len(edges)
                bmesh.update_edit_mesh(mesh_of(item), loop_triangles=False, destructive=False)
        except InputError as error:
            report_error(self, error)
            return {"CANCELLED"}
        if missed:
            self.report({"WARNING"}, f"{_edges(missed)} not at the active face's plate: nothing was chosen there")
        else:
            self.report({"INFO"}, f"{_edges(done)} set")
        return {"FINISHED"}

    def _choice(self, context: bpy.types.Context) -> JointChoice:
        mm = mm_per_unit(context.scene)

        def length(name: str) -> float | None:
            value = self.number(name)
            return None if value is None else as_kept(value * mm)

        tabbed = self.tabs != "OFF"
        count = self.number("count") if tabbed else None
        share = self.number("share") if tabbed else None
        overlap = self.number("overlap") if self.corner in {LEAVE, "HALF_OPEN"} else None
        return JointChoice(
            corner=CORNERS.get(self.corner), overlap=None if overlap is None else as_kept(overlap),
            root_gap=length("root_gap"), fit_gap=length("fit_gap"),
            tabs=TabRule(on={"ON": True, "OFF": False}.get(self.tabs),
                         count=None if count is None else int(count),
                         width=length("width") if tabbed else None, spacing=length("spacing") if tabbed else None,
                         share=None if share is None else as_kept(share)),
        )

    def _given_back(self) -> list[str]:
        asked = {"corner": self.corner, "through": self.through, "tabs.on": self.tabs, "overlap": self.overlap_by,
                 "root_gap": self.root_gap_by, "fit_gap": self.fit_gap_by}
        asked |= {f"tabs.{name}": getattr(self, f"{name}_by") for name in TAB_NUMBERS}
        return [part for part, value in asked.items() if value == AS_ENVELOPE]

    def _through(
        self, edge: bmesh.types.BMEdge, plate: set[bmesh.types.BMFace]
    ) -> bmesh.types.BMFace | None:
        """The face that runs through at an edge where the active face's plate is."""
        if self.through not in {"ACTIVE", "OTHER"} or not plate.intersection(edge.link_faces):
            return None
        wanted = self.through == "ACTIVE"
        return next((face for face in edge.link_faces if (face in plate) == wanted), None)


class TACKWRIGHT_OT_swap_through(_OnEdges, bpy.types.Operator):
    """At the selected edges, let the plate run through that was covered until now, and end the other one behind it"""

    bl_idname = "tackwright.swap_through"
    bl_label = "Swap Through"

    def execute(self, context: bpy.types.Context) -> Ended:
        done = 0
        try:
            for item, mesh in edited_with_edges(context):
                done += _swap(context, item, mesh)
        except InputError as error:
            report_error(self, error)
            return {"CANCELLED"}
        if not done:
            self.report({"WARNING"}, "No two plates meet at the selected edges")
            return {"CANCELLED"}
        self.report({"INFO"}, f"{_edges(done)}: the other plate runs through")
        return {"FINISHED"}


def _swap(context: bpy.types.Context, item: bpy.types.Object, mesh: bmesh.types.BMesh) -> int:
    now = through_now(context, item)
    make_layers(item, mesh, JointChoice(), through=True)
    for elements in (mesh.verts, mesh.faces):
        elements.index_update()
    marks, done = new_marks(mesh), 0
    for edge in selected_edges(mesh):
        if len(edge.link_faces) != 2 or not is_joint(edge):
            continue
        chosen = through_face(mesh, edge)
        a, b = sorted(vertex.index for vertex in edge.verts)
        faces = now.get((a, b), ())
        first = chosen or next((face for face in edge.link_faces if face.index in faces), edge.link_faces[0])
        other = next(face for face in edge.link_faces if face != first)
        put_edge_choice(mesh, edge, JointChoice(), other, marks)
        done += 1
    bmesh.update_edit_mesh(mesh_of(item), loop_triangles=False, destructive=False)
    return done


def like_joint(choice: JointChoice) -> JointChoice:
    """What is compared of two joints: of the plate that runs through only whether it was chosen."""
    return replace(choice, through=None if choice.through is None else 0)


class TACKWRIGHT_OT_select_like_joint(_OnEdges, bpy.types.Operator):
    """Select all joints for which the same is chosen as for the active edge"""

    bl_idname = "tackwright.select_like_joint"
    bl_label = "Select Joints Like This"

    def execute(self, context: bpy.types.Context) -> Ended:
        active = next(item for item in edited_meshes(context) if mesh_of(item).total_edge_sel)
        mesh = bmesh.from_edit_mesh(mesh_of(active))
        wanted = like_joint(edge_choice_of(mesh, active_edge(mesh)))
        if not context.tool_settings.mesh_select_mode[1]:
            context.tool_settings.mesh_select_mode = (False, True, False)
        found = 0
        for item in edited_meshes(context):
            mesh = bmesh.from_edit_mesh(mesh_of(item))
            mesh.select_mode = {"EDGE"}
            for edge in mesh.edges:
                if not edge.hide and is_joint(edge) and like_joint(edge_choice_of(mesh, edge)) == wanted:
                    edge.select_set(True)
                    found += 1
            mesh.select_flush_mode()
            bmesh.update_edit_mesh(mesh_of(item), loop_triangles=False, destructive=False)
        kind = "with nothing chosen" if wanted == JointChoice() else "like this"
        self.report({"INFO"}, f"{_edges(found)} {kind}")
        return {"FINISHED"}


class TACKWRIGHT_OT_clear_joint(_OnEdges, bpy.types.Operator):
    """Give the joints at the selected edges back to the settings of the envelope"""

    bl_idname = "tackwright.clear_joint"
    bl_label = "Clear Joints"

    def execute(self, context: bpy.types.Context) -> Ended:
        done = 0
        for item, mesh in edited_with_edges(context):
            edges = selected_edges(mesh)
            clear_edges(mesh, edges, EDGE_PARTS)
            done += len(edges)
            bmesh.update_edit_mesh(mesh_of(item), loop_triangles=False, destructive=False)
        self.report({"INFO"}, f"{_edges(done)} as the envelope")
        return {"FINISHED"}


def _edges(count: int) -> str:
    return f"{count} edge{'' if count == 1 else 's'}"


CLASSES = (
    TACKWRIGHT_OT_set_joint,
    TACKWRIGHT_OT_swap_through,
    TACKWRIGHT_OT_select_like_joint,
    TACKWRIGHT_OT_clear_joint,
)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
