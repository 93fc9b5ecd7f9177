"""What the checks said, kept on the envelope and shown in the editor by selecting the places."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import bmesh
import bpy
import numpy as np
from numpy.typing import NDArray

from ..core.errors import TackwrightError
from ..core.findings import Finding
from ..core.kit import Kit
from .drawn_mesh import notes_on
from .envelope import envelope_of, openings_of, select_only
from .figures import drop_figures, keep_figures
from .gather import Part
from .properties import LEVELS, TackwrightFinding, TackwrightPlace
from .whole_step import whole_step

__all__ = ["keep_findings", "keep_refusal", "openings_meant", "places", "places_in", "select_places"]

Pairs = list[tuple[int, int]]
Places = list[tuple[bpy.types.Object, list[int], Pairs]]
"""Objects, each with faces and edges of its mesh."""


def keep_findings(envelope: bpy.types.Object, kit: Kit, parts: Sequence[Part]) -> None:
    """Keep what the kit's checks said, worst first, and the kit's figures, in place of what was kept before."""
    _clear(envelope)
    notes = notes_on(part.name for part in parts)
    for finding in sorted((*kit.checks, *notes), key=lambda f: LEVELS.index(f.level)):
        if finding.rule == "free_edges" and envelope.mode == "EDIT":
            continue                                     # only the selected faces were made: the drawing may be closed
        _keep(envelope, finding, parts)
    keep_figures(envelope, kit)


def keep_refusal(envelope: bpy.types.Object, error: TackwrightError, parts: Sequence[Part]) -> None:
    """Keep why nothing could be made."""
    _clear(envelope)
    for line in str(error).splitlines():
        said = Finding(rule="refused", level="error", message=line, faces=error.faces, edges=error.edges)
        _keep(envelope, said, parts)


def places_in(parts: Sequence[Part], faces: Iterable[int], edges: Iterable[tuple[int, int]]) -> Places:
    """Where faces and edges of a drawing are found: the objects of its parts, with the numbers these have there."""
    faces, edges, found = list(faces), list(edges), []
    for part in parts:
        item = bpy.data.objects.get(part.name)
        if item is None or not part.as_drawn:
            continue
        own_faces = [face - part.faces.start for face in faces if face in part.faces]
        start = part.points.start
        own_edges = [(a - start, b - start) for a, b in edges if a in part.points and b in part.points]
        if own_faces or own_edges:
            found.append((item, own_faces, own_edges))
    return found


def _clear(envelope: bpy.types.Object) -> None:
    envelope.tackwright.findings.clear()
    envelope.tackwright.active_finding = 0
    drop_figures(envelope)


def _keep(envelope: bpy.types.Object, finding: Finding, parts: Sequence[Part]) -> None:
    kept = envelope.tackwright.findings.add()
    kept.level, kept.rule, kept.message = finding.level, finding.rule, finding.message
    kept.about = " ".join(finding.about)
    kept.openings = "\n".join(finding.openings)
    for item, faces, edges in places_in(parts, finding.faces, finding.edges):
        place = kept
        if item != envelope:
            place = kept.elsewhere.add()
            place.item = item
        place.faces = " ".join(map(str, faces))
        place.edges = " ".join(f"{a} {b}" for a, b in edges)


def places(envelope: bpy.types.Object, kept: TackwrightFinding) -> Places:
    """Where a kept finding is: in the envelope, and in objects of inner plates that still are there."""
    found = [(envelope, *_numbers(kept))] if kept.faces or kept.edges else []
    return found + [(place.item, *_numbers(place)) for place in kept.elsewhere if place.item is not None]


def openings_meant(
    context: bpy.types.Context, envelope: bpy.types.Object, kept: TackwrightFinding
) -> list[bpy.types.Object]:
    """The openings that a kept finding is about, as far as they are still there."""
    names = kept.openings.splitlines()
    return [item for item in openings_of(context, envelope) if item.name in names]


def _numbers(place: TackwrightFinding | TackwrightPlace) -> tuple[list[int], Pairs]:
    ends = [int(i) for i in place.edges.split()]
    return [int(i) for i in place.faces.split()], list(zip(ends[::2], ends[1::2], strict=True))


def select_places(context: bpy.types.Context, found: Places) -> list[bpy.types.Object]:
    """Leave these faces and edges selected and nothing else of their meshes; the objects that have any of them.

    Faces at one of the edges stay unselected: they would hide it. In object mode the mesh's own marks are
    set, which show once edit mode is entered.
    """
    counts = {
        item: (_mark_edited if item.mode == "EDIT" else _mark_mesh)(item.data, set(faces), edges)
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
        edited.select_mode = ({"EDGE"} if found_edges else set()) | ({"FACE"} if found_faces else set())
        for items in (edited.verts, edited.edges, edited.faces):
            for item in items:
                item.select = False
        for item in (*found_edges, *found_faces):
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
        for kind, domain, on in (("poly", "FACE", on_faces), ("edge", "EDGE", marked), ("vert", "POINT", on_points)):
            _write_mark(mesh, f".select_{kind}", domain, on)
            if f".hide_{kind}" in mesh.attributes:
                hidden = np.empty(len(on), dtype=np.bool_)
                mesh.attributes[f".hide_{kind}"].data.foreach_get("value", hidden)
                _write_mark(mesh, f".hide_{kind}", domain, hidden & ~on)
        mesh.update()
    return int(on_faces.sum()), int(on_edges.sum())


def _write_mark(mesh: bpy.types.Mesh, name: str, domain: str, on: NDArray[np.bool_]) -> None:
    """Write a selection or visibility attribute.

    In Blender 5.0 the edges of a mesh made by a script have a selection of the wrong type: through `edge.select`
    it crashes, so here it is made anew.
    """
    layer = mesh.attributes.get(name)
    if layer is not None and layer.data_type != "BOOLEAN":
        mesh.attributes.remove(layer)
        layer = None
    layer = layer or mesh.attributes.new(name, "BOOLEAN", domain)
    layer.data.foreach_set("value", on.tolist())


class TACKWRIGHT_OT_select_finding(bpy.types.Operator):
    """Select what the finding is about: faces and edges in Edit Mode, openings in Object Mode"""

    bl_idname = "tackwright.select_finding"
    bl_label = "Select in Edit Mode"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        envelope = envelope_of(context)
        if envelope is None or not envelope.tackwright.findings:
            cls.poll_message_set("No finding to show")
            return False
        kept = envelope.tackwright.findings[envelope.tackwright.active_finding]
        if not places(envelope, kept) and not openings_meant(context, envelope, kept):
            cls.poll_message_set("This finding has no place on the drawing as it is without its modifiers")
            return False
        return True

    def execute(self, context: bpy.types.Context) -> set[str]:
        envelope = envelope_of(context)
        settings = envelope.tackwright
        kept = settings.findings[settings.active_finding]
        found = places(envelope, kept)
        if not found:
            return _select_openings(context, openings_meant(context, envelope, kept))
        if context.mode != "OBJECT" and any(item.mode != "EDIT" for item, _, _ in found):
            bpy.ops.object.mode_set(mode="OBJECT")
        marked = [item for item in select_places(context, found) if context.view_layer.objects.get(item.name) == item]
        if not marked:
            self.report({"WARNING"}, "The drawing has changed since: its place is gone")
            return {"CANCELLED"}
        if context.mode == "OBJECT":
            select_only(context, marked)
            bpy.ops.object.mode_set(mode="EDIT")
        whole_step(context)  # the selection of a mesh that was not edited yet is undone with it
        return {"FINISHED"}


def _select_openings(context: bpy.types.Context, meant: list[bpy.types.Object]) -> set[str]:
    if context.mode != "OBJECT":
        bpy.ops.object.mode_set(mode="OBJECT")
    select_only(context, meant)
    return {"FINISHED"}


CLASSES = (TACKWRIGHT_OT_select_finding,)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
