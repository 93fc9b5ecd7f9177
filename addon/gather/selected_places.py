"""Faces and edges of meshes selected, in Edit Mode or to show once it is entered."""

from __future__ import annotations

import bmesh
import bpy
import numpy as np
from numpy.typing import NDArray

from ..host.editor_types import AttributeDomain, mesh_of

__all__ = ["Pairs", "Places", "select_places", "write_mark", "write_selection"]

Pairs = list[tuple[int, int]]
Places = list[tuple[bpy.types.Object, list[int], Pairs]]
"""Objects, each with faces and edges of its mesh."""


def select_places(context: bpy.types.Context, found: Places) -> list[bpy.types.Object]:
    """Leave these faces and edges selected and nothing else of their meshes; the objects that have any of them.

    Faces at one of the edges stay unselected: they would hide it. In object mode the mesh's own marks are
    set, which show once edit mode is entered.
    """
    counts = {
        item: (_mark_edited if item.mode == "EDIT" else _mark_mesh)(mesh_of(item), set(faces), edges)
        for item, faces, edges in found
    }
    marked = [item for item, count in counts.items() if any(count)]
    if marked:
        faces, edges = (sum(count[kind] for count in counts.values()) for kind in (0, 1))
        context.tool_settings.mesh_select_mode = (False, edges > 0, faces > 0)
    return marked


def _mark_edited(mesh: bpy.types.Mesh, faces: set[int], edges: Pairs) -> tuple[int, int]:
    """Select in edit mode; how many of the faces and of the edges there are."""
    edited = bmesh.from_edit_mesh(mesh)
    for items in (edited.verts, edited.edges, edited.faces):
        items.ensure_lookup_table()
    ends = [(edited.verts[a], edited.verts[b]) for a, b in edges if max(a, b) < len(edited.verts)]
    found_edges = [edge for edge in map(edited.edges.get, ends) if edge is not None]
    at_edges = {face for edge in found_edges for face in edge.link_faces}
    found_faces = [f for f in (edited.faces[i] for i in sorted(faces) if i < len(edited.faces)) if f not in at_edges]
    if found_faces or found_edges:
        edited.select_mode = {"EDGE", "FACE"} if found_edges and found_faces else {"EDGE"} if found_edges else {"FACE"}
        for items in (edited.verts, edited.edges, edited.faces):
            for item in items:
                item.select = False
        for found in (found_edges, found_faces):
            for item in found:
                item.hide_set(False)
                item.select_set(True)
        bmesh.update_edit_mesh(mesh, loop_triangles=False, destructive=False)
    return len(found_faces), len(found_edges)


def _mark_mesh(mesh: bpy.types.Mesh, faces: set[int], edges: Pairs) -> tuple[int, int]:
    """Select in object mode; how many of the faces and of the edges there are."""
    ends = np.empty(2 * len(mesh.edges), dtype=np.int32)
    mesh.edges.foreach_get("vertices", ends)
    ends = np.sort(ends.reshape(-1, 2), axis=1)
    wanted = {(min(pair), max(pair)) for pair in edges}
    on_edges = np.array([tuple(pair) in wanted for pair in ends.tolist()], dtype=np.bool_)
    on_faces = np.array([f.index in faces and wanted.isdisjoint(f.edge_keys) for f in mesh.polygons], dtype=np.bool_)
    if on_faces.any() or on_edges.any():
        borders = {key for i in np.flatnonzero(on_faces).tolist() for key in mesh.polygons[i].edge_keys}
        marked = on_edges | np.array([tuple(pair) in borders for pair in ends.tolist()], dtype=np.bool_)
        on_points = np.isin(np.arange(len(mesh.vertices)), ends[marked])
        write_selection(mesh, on_faces, marked, on_points)
    return int(on_faces.sum()), int(on_edges.sum())


def write_selection(
    mesh: bpy.types.Mesh, on_faces: NDArray[np.bool_], on_edges: NDArray[np.bool_], on_points: NDArray[np.bool_]
) -> None:
    """Select these in object mode and nothing else; show those that are hidden. Millions at a time."""
    marks: tuple[tuple[str, AttributeDomain, NDArray[np.bool_]], ...] = (
        ("poly", "FACE", on_faces), ("edge", "EDGE", on_edges), ("vert", "POINT", on_points))
    for kind, domain, on in marks:
        write_mark(mesh, f".select_{kind}", domain, on)
        if f".hide_{kind}" in mesh.attributes:
            hidden = np.empty(len(on), dtype=np.bool_)
            mesh.attributes[f".hide_{kind}"].data.foreach_get("value", hidden)
            write_mark(mesh, f".hide_{kind}", domain, hidden & ~on)
    mesh.update()


def write_mark(mesh: bpy.types.Mesh, name: str, domain: AttributeDomain, on: NDArray[np.bool_]) -> None:
    """Write a selection or visibility attribute.

    In Blender 5.0 the edges of a mesh made by a script have a selection of the wrong type: through `edge.select`
    it crashes, so here it is made anew.
    """
    layer = mesh.attributes.get(name)
    if layer is not None and layer.data_type != "BOOLEAN":
        mesh.attributes.remove(layer)
        layer = None
    layer = layer or mesh.attributes.new(name, "BOOLEAN", domain)
    layer.data.foreach_set("value", np.ascontiguousarray(on))
