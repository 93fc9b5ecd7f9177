"""The edges that are selected in Edit Mode, and the active one."""

from __future__ import annotations

from collections.abc import Iterator
from math import radians

import bmesh
import bpy

from ...core.terms.tolerance import FLAT_ANGLE
from ..host.editor_types import mesh_of
from .edited_meshes import edited_meshes

__all__ = ["active_edge", "edited_with_edges", "is_joint", "plate_faces", "selected_edges"]


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


def edited_with_edges(context: bpy.types.Context) -> Iterator[tuple[bpy.types.Object, bmesh.types.BMesh]]:
    """The objects in Edit Mode that have edges selected, and their meshes."""
    for item in edited_meshes(context):
        if mesh_of(item).total_edge_sel:
            yield item, bmesh.from_edit_mesh(mesh_of(item))
