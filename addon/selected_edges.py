"""The edges that are selected in Edit Mode, and the active one."""

from __future__ import annotations

from collections.abc import Iterator
from math import radians

import bmesh
import bpy

from ..core.tolerance import FLAT_ANGLE
from .face_marks import edited_meshes

__all__ = ["active_edge", "edited_with_edges", "is_joint", "plate_faces", "poll_selected_edges", "selected_edges"]


def selected_edges(mesh: bmesh.types.BMesh) -> list[bmesh.types.BMEdge]:
    """The selected edges of a mesh in Edit Mode, without those that are hidden."""
    return [edge for edge in mesh.edges if edge.select and not edge.hide]


def active_edge(mesh: bmesh.types.BMesh) -> bmesh.types.BMEdge | None:
    """The edge that was selected last; where the editor does not tell, the first that is selected."""
    active = mesh.select_history.active
    if isinstance(active, bmesh.types.BMEdge) and active.select:
        return active
    return next((edge for edge in mesh.edges if edge.select), None)


def is_joint(edge: bmesh.types.BMEdge) -> bool:
    """Whether plates meet at an edge: faces on more than one plane."""
    if len(edge.link_faces) != 2:
        return len(edge.link_faces) > 2
    return edge.calc_face_angle(0.0) > radians(FLAT_ANGLE)


def plate_faces(face: bmesh.types.BMFace) -> set[bmesh.types.BMFace]:
    """The faces that lie flat beside a face, and beside these, itself among them."""
    found, ahead = {face}, [face]
    while ahead:
        for edge in ahead.pop().edges:
            beside = set(edge.link_faces) - found if len(edge.link_faces) == 2 and not is_joint(edge) else ()
            found.update(beside)
            ahead += beside
    return found


def poll_selected_edges(operator: type[bpy.types.Operator], context: bpy.types.Context) -> bool:
    """Whether edges are selected in Edit Mode that can be written on; if not, the greyed button says what to do."""
    if context.mode != "EDIT_MESH":
        operator.poll_message_set("Go to Edit Mode and select edges first")
    elif not any(item.data.total_edge_sel for item in edited_meshes(context)):
        operator.poll_message_set("Select the edges where plates meet first")
    elif any(item.data.library is not None for item in edited_meshes(context)):
        operator.poll_message_set("The mesh is linked from another file: make it local first")
    else:
        return True
    return False


def edited_with_edges(context: bpy.types.Context) -> Iterator[tuple[bpy.types.Object, bmesh.types.BMesh]]:
    """The objects in Edit Mode that have edges selected, and their meshes."""
    for item in edited_meshes(context):
        if item.data.total_edge_sel:
            yield item, bmesh.from_edit_mesh(item.data)
