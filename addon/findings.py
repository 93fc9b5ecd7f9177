"""What the checks said, kept on the envelope and shown in the editor by selecting the places."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import bmesh
import bpy
import numpy as np

from ..core.errors import TackwrightError
from ..core.findings import Finding
from ..core.kit import Kit
from .envelope import envelope_of
from .properties import LEVELS, TackwrightFinding

__all__ = ["keep_findings", "keep_refusal", "places", "select_places"]


def keep_findings(envelope: bpy.types.Object, kit: Kit, *, as_drawn: bool) -> None:
    """Keep what the kit's checks said, worst first, and a summary of the kit, in place of what was kept before."""
    settings = envelope.tackwright
    _clear(envelope)
    for finding in sorted(kit.checks, key=lambda f: LEVELS.index(f.level)):
        _keep(envelope, finding, as_drawn=as_drawn)
    count = sum(plate.quantity for plate in kit.plates)
    mass = sum(plate.quantity * plate.mass for plate in kit.plates)
    lines = [f"{count} plates, {len(kit.plates)} different", f"{mass:.3g} kg"]
    lines += [f"{e.name} holds {e.capacity / 1e6:.4g} l" for e in kit.envelopes if e.capacity is not None]
    settings.summary = "\n".join(lines)


def keep_refusal(envelope: bpy.types.Object, error: TackwrightError, *, as_drawn: bool) -> None:
    """Keep why nothing could be made."""
    _clear(envelope)
    for line in str(error).splitlines():
        _keep(
            envelope,
            Finding(rule="refused", level="error", message=line, faces=error.faces, edges=error.edges),
            as_drawn=as_drawn,
        )


def _clear(envelope: bpy.types.Object) -> None:
    envelope.tackwright.findings.clear()
    envelope.tackwright.active_finding = 0
    envelope.tackwright.summary = ""


def _keep(envelope: bpy.types.Object, finding: Finding, *, as_drawn: bool) -> None:
    kept = envelope.tackwright.findings.add()
    kept.level, kept.rule, kept.message = finding.level, finding.rule, finding.message
    kept.about = " ".join(finding.about)
    if as_drawn:
        kept.faces = " ".join(map(str, finding.faces))
        kept.edges = " ".join(f"{a} {b}" for a, b in finding.edges)


def places(kept: TackwrightFinding) -> tuple[list[int], list[tuple[int, int]]]:
    """The faces and edges of a kept finding."""
    ends = [int(i) for i in kept.edges.split()]
    return [int(i) for i in kept.faces.split()], list(zip(ends[::2], ends[1::2], strict=True))


def select_places(
    context: bpy.types.Context,
    envelope: bpy.types.Object,
    faces: Iterable[int],
    edges: Iterable[tuple[int, int]],
) -> bool:
    """Leave these faces and edges of the envelope selected, and nothing else; whether there were any.

    In object mode the mesh's own marks are set, which show once edit mode is entered.
    """
    mesh = envelope.data
    drawn = bmesh.from_edit_mesh(mesh) if envelope.mode == "EDIT" else bmesh.new()
    try:
        if envelope.mode != "EDIT":
            drawn.from_mesh(mesh)
        for items in (drawn.verts, drawn.edges, drawn.faces):
            items.ensure_lookup_table()
        bad_faces = [drawn.faces[i] for i in faces if i < len(drawn.faces)]
        ends = [(drawn.verts[a], drawn.verts[b]) for a, b in edges if max(a, b) < len(drawn.verts)]
        bad_edges = [edge for edge in map(drawn.edges.get, ends) if edge is not None]
        if not bad_faces and not bad_edges:
            return False
        context.tool_settings.mesh_select_mode = (False, bool(bad_edges), bool(bad_faces))
        drawn.select_mode = ({"EDGE"} if bad_edges else set()) | ({"FACE"} if bad_faces else set())
        for items in (drawn.verts, drawn.edges, drawn.faces):
            for item in items:
                item.select = False
        for item in (*bad_edges, *bad_faces):
            item.hide_set(False)
            item.select_set(True)
        if envelope.mode == "EDIT":
            bmesh.update_edit_mesh(mesh, loop_triangles=False, destructive=False)
        else:
            _set_marks(mesh, drawn)
    finally:
        if envelope.mode != "EDIT":
            drawn.free()
    return True


def _set_marks(mesh: bpy.types.Mesh, drawn: bmesh.types.BMesh) -> None:
    """Copy the selection alone, so that nothing else of the mesh is written anew."""
    pairs: Sequence[tuple[bpy.types.bpy_prop_collection, bmesh.types.BMElemSeq]] = (
        (mesh.vertices, drawn.verts), (mesh.edges, drawn.edges), (mesh.polygons, drawn.faces),
    )  # fmt: skip
    for items, marked in pairs:
        items.foreach_set("select", np.array([m.select for m in marked], dtype=np.bool_))
        items.foreach_set("hide", np.array([m.hide for m in marked], dtype=np.bool_))
    mesh.update()


class TACKWRIGHT_OT_select_finding(bpy.types.Operator):
    """Select the faces and edges that the finding is about, in Edit Mode"""

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
        if not kept.faces and not kept.edges:
            cls.poll_message_set("This finding has no place on the drawing as it is without its modifiers")
            return False
        return True

    def execute(self, context: bpy.types.Context) -> set[str]:
        envelope = envelope_of(context)
        settings = envelope.tackwright
        faces, edges = places(settings.findings[settings.active_finding])
        if context.object is not envelope and context.mode != "OBJECT":
            bpy.ops.object.mode_set(mode="OBJECT")
        if not select_places(context, envelope, faces, edges):
            self.report({"WARNING"}, "The drawing has changed since: its place is gone")
            return {"CANCELLED"}
        if envelope.mode != "EDIT":
            context.view_layer.objects.active = envelope
            bpy.ops.object.mode_set(mode="EDIT")
        return {"FINISHED"}


CLASSES = (TACKWRIGHT_OT_select_finding,)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
