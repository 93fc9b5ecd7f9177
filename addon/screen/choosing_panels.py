"""The sidebar's panels of what is selected in Edit Mode: what is chosen for its edges and faces, and buttons for it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import bmesh
import bpy

from ...core.stock.said_units import length_said
from ...core.stock.units import Units
from ...core.terms.choices import JointChoice, PanelChoice
from ..edit.face_operators import (
    TACKWRIGHT_OT_clear_face,
    TACKWRIGHT_OT_select_like_face,
    TACKWRIGHT_OT_set_face_metal,
    active_face,
)
from ..edit.joint_operators import (
    TACKWRIGHT_OT_clear_joint,
    TACKWRIGHT_OT_select_like_joint,
    TACKWRIGHT_OT_set_joint,
    TACKWRIGHT_OT_swap_through,
)
from ..host.editor_types import mesh_of
from ..host.shown_lengths import units_of
from ..scene.active_envelope import is_scan
from ..scene.edge_choices import edge_choice_of
from ..scene.edited_meshes import edited_meshes
from ..scene.face_choices import face_choice_of
from ..scene.face_metal import SIDES, side_items
from ..scene.properties import CORNERS
from ..scene.selected_edges import active_edge
from ..scene.sidebar import Sidebar
from .choice_overlay import draw_switch

__all__ = ["CORNER_BUTTONS", "edge_rows", "face_rows"]

CORNER_BUTTONS = (("OPEN", "Open"), ("HALF_OPEN", "Half-Open"), ("CLOSED", "Closed"), ("AS_ENVELOPE", "As Envelope"))


def edge_rows(choice: JointChoice, units: Units) -> Iterator[tuple[str, str]]:
    """What is chosen for an edge beside its corner and the plate that runs through: label and value."""
    if choice.overlap is not None:
        yield "Overlap", f"{choice.overlap:g}"
    if choice.root_gap is not None:
        yield "Root Gap", length_said(choice.root_gap, units)
    if choice.fit_gap is not None:
        yield "Fit Gap a Side", length_said(choice.fit_gap, units)
    rule = choice.tabs
    if rule.on is not None:
        yield "Tabs", "On" if rule.on else "Off"
    if rule.count is not None:
        yield "Groups of Tabs", str(rule.count)
    for label, length in (("Tab Width", rule.width), ("Tab Spacing", rule.spacing), ("Flanking Tabs", rule.flank),
                          ("Bare Ends", rule.keep_out)):
        if length is not None:
            yield label, length_said(length, units)
    if rule.share is not None:
        yield "Share of Groove", f"{100 * rule.share:.0f} %"


def face_rows(choice: PanelChoice, units: Units) -> Iterator[tuple[str, str]]:
    """What is chosen for a face: label and value."""
    if choice.name is not None:
        yield "Name", choice.name
    if choice.thickness is not None:
        yield "Thickness", length_said(choice.thickness, units)
    if choice.metal_side is not None:
        yield "Metal Side", next(item[1] for item in side_items if SIDES[item[0]] == choice.metal_side)
    if choice.inner is not None:
        yield "Kind", "Inner Plate" if choice.inner else "Wall"
    if choice.left_out:
        yield "Plate", "Left Out"
    if choice.mark is not None:
        yield "Etched Mark", "On" if choice.mark else "Off"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Active:
    item: bpy.types.Object
    mesh: bmesh.types.BMesh


def _active(context: bpy.types.Context, kind: str) -> _Active | None:
    """The object in Edit Mode with such elements selected, the active one before others."""
    if context.mode != "EDIT_MESH" or is_scan(context.object):
        return None
    found = next((item for item in edited_meshes(bpy.context) if getattr(item.data, f"total_{kind}_sel")), None)
    return None if found is None else _Active(item=found, mesh=bmesh.from_edit_mesh(mesh_of(found)))


def _count(kind: str) -> int:
    return sum(getattr(item.data, f"total_{kind}_sel") for item in edited_meshes(bpy.context))


class TACKWRIGHT_PT_edges(Sidebar, bpy.types.Panel):
    bl_label = "Selected Edges"
    bl_order = 14

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        active = _active(context, "edge")
        return active is not None and ("EDGE" in active.mesh.select_mode or not mesh_of(active.item).total_face_sel)

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        active = _active(context, "edge")
        edge = active_edge(active.mesh)
        choice = edge_choice_of(active.mesh, edge) if edge is not None else JointChoice()
        head = layout.row()
        head.label(text=_counted(_count("edge"), "1 edge", "{:d} edges"), translate=False)
        draw_switch(head, context)
        row = layout.grid_flow(columns=2, row_major=True, even_columns=True, align=True)
        for kind, text in CORNER_BUTTONS:
            pressed = CORNERS.get(kind) == choice.corner
            row.operator(TACKWRIGHT_OT_set_joint.bl_idname, text=text, depress=pressed).corner = kind
        row = layout.row(align=True)
        row.label(text="Through: Chosen" if choice.through is not None else "Through: Automatic")
        row.operator(TACKWRIGHT_OT_swap_through.bl_idname, text="Swap", icon="UV_SYNC_SELECT")
        _draw_rows(layout, edge_rows(choice, units_of(context.scene)))
        row = layout.row(align=True)
        row.operator(TACKWRIGHT_OT_set_joint.bl_idname, text="Set...")
        row.operator(TACKWRIGHT_OT_select_like_joint.bl_idname, text="Select Like")
        row.operator(TACKWRIGHT_OT_clear_joint.bl_idname, text="Clear")


class TACKWRIGHT_PT_faces(Sidebar, bpy.types.Panel):
    bl_label = "Selected Faces"
    bl_order = 16

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return _active(context, "face") is not None

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        active = _active(context, "face")
        face = active_face(active.mesh)
        choice = face_choice_of(active.item, active.mesh, face) if face is not None else PanelChoice()
        head = layout.row()
        head.label(text=_counted(_count("face"), "1 face", "{:d} faces"), translate=False)
        draw_switch(head, context)
        row = layout.row(align=True)
        for kind, text, pressed in (("LEFT_OUT", "Left Out", choice.left_out),
                                    ("AS_ENVELOPE", "Made", not choice.left_out)):
            row.operator(TACKWRIGHT_OT_set_face_metal.bl_idname, text=text, depress=pressed).left_out = kind
        row = layout.row(align=True)
        for kind, text, pressed in (("INNER", "Inner Plate", choice.inner is True),
                                    ("WALL", "Wall", choice.inner is False),
                                    ("AS_ENVELOPE", "As Drawn", choice.inner is None)):
            row.operator(TACKWRIGHT_OT_set_face_metal.bl_idname, text=text, depress=pressed).inner = kind
        shown = PanelChoice(name=choice.name, thickness=choice.thickness, metal_side=choice.metal_side)
        _draw_rows(layout, face_rows(shown, units_of(context.scene)))
        row = layout.row(align=True)
        row.operator(TACKWRIGHT_OT_set_face_metal.bl_idname, text="Set...")
        row.operator(TACKWRIGHT_OT_select_like_face.bl_idname, text="Select Like")
        row.operator(TACKWRIGHT_OT_clear_face.bl_idname, text="Clear")


def _counted(count: int, one: str, many: str) -> str:
    return bpy.app.translations.pgettext_iface(one if count == 1 else many).format(count)


def _draw_rows(layout: bpy.types.UILayout, rows: Iterator[tuple[str, str]]) -> None:
    lines = layout.column(align=True)
    for label, value in rows:
        line = lines.split(factor=0.45)
        line.label(text=label)
        line.label(text=value, translate=False)


CLASSES = (TACKWRIGHT_PT_edges, TACKWRIGHT_PT_faces)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
