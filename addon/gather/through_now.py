"""Which plate runs through at the joints of a drawing as it is now, also where nobody chose it."""

from __future__ import annotations

import bpy

from ...core.terms.errors import InputError
from ..scene.active_envelope import owner_of
from .gather import read_drawing

__all__ = ["through_now"]


def through_now(context: bpy.types.Context, item: bpy.types.Object) -> dict[tuple[int, int], tuple[int, ...]]:
    """By edge of an object's own mesh, the faces of the plate that runs through there; empty where a modifier or a
    fault of the drawing keeps the joints from being told. In any mode."""
    from ...core.envelope.read_envelope import read_envelope
    from ...core.plates.joints import solve_joints

    envelope = owner_of(context, item)
    if envelope is None:
        return {}
    try:
        drawing = read_drawing(context, envelope, all_faces=True)
        part = next((part for part in drawing.parts if part.name == item.name and part.as_drawn), None)
        if part is None:
            return {}
        read = read_envelope(drawing.mesh, drawing.choices)
        joints = solve_joints(read, drawing.choices)
    except InputError:
        return {}
    found = {}
    for row, edge in enumerate(read.edges):
        faces = read.panels[joints.panels[row, joints.through[row]]].faces
        own = tuple(int(face) - part.faces.start for face in faces if int(face) in part.faces)
        for a, b in edge.mesh_edges if not edge.free else ():
            if a in part.points and b in part.points:
                found[int(a) - part.points.start, int(b) - part.points.start] = own
    return found
