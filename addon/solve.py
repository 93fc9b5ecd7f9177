"""From the active envelope to a kit: gather, ask the core, and keep what it said."""

from __future__ import annotations

import bpy

from ..core.errors import TackwrightError
from ..core.kit import Kit
from .findings import keep_findings, keep_refusal, places_in, select_places
from .gather import Part, read_drawing

__all__ = ["count_of", "solve"]


def solve(operator: bpy.types.Operator, context: bpy.types.Context, envelope: bpy.types.Object) -> Kit | None:
    """The envelope's kit. None when it was refused: then the reason was reported and its place left selected."""
    from ..core.make_kit import make_kit  # here, so that Blender starts without loading the solid library

    parts = (_alone(envelope),)
    try:
        drawing = read_drawing(context, envelope)
        parts = drawing.parts
        kit = make_kit(drawing.mesh, drawing.choices, name=envelope.tackwright.kit_name or envelope.name)
    except TackwrightError as error:
        keep_refusal(envelope, error, parts)
        select_places(context, places_in(parts, error.faces, error.edges))
        operator.report({"ERROR"}, str(error))
        return None
    keep_findings(envelope, kit, parts)
    return kit


def _alone(envelope: bpy.types.Object) -> Part:
    """The envelope as the only part, for what is refused before the drawing is put together."""
    mesh = envelope.data
    return Part(
        name=envelope.name,
        faces=range(len(mesh.polygons)),
        points=range(len(mesh.vertices)),
        as_drawn=not envelope.modifiers,
    )


def count_of(kit: Kit, level: str) -> str:
    """How many findings of a level there are, in words; empty for none."""
    count = sum(finding.level == level for finding in kit.checks)
    return f"{count} {level}{'s' if count > 1 else ''}" if count else ""
