"""From the active envelope to a kit: gather, ask the core, and keep what it said."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import bpy

from ...core.kit.kit import Kit
from ...core.terms.errors import InputError, TackwrightError
from ..findings.shown_findings import keep_findings, keep_refusal, places_in, select_places
from ..findings.told_moves import forget_moves
from ..gather.gather import DrawnObject, GatheredDrawing, read_drawing
from ..host.editor_types import mesh_of
from ..host.reports import report_error
from .told_age import forget_told, remember

if TYPE_CHECKING:
    from ...core.kit.ways_out import WayOut

__all__ = [
    "alone", "count_of", "forget_kits", "keep_kit", "kit_name", "kit_of", "last_kit", "solved_kit", "tell_refusal",
    "ways_of",
]  # fmt: skip


KEPT: Final = 16
"""Kits of an envelope that are kept: so many steps of undo find theirs at once."""
MOST_PLATES: Final = 2000
"""Plates of all kits that are kept of one envelope; the last kit is kept however many it has."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Kept:
    """ways: how its plates come out, None where nobody has asked yet."""

    drawing: GatheredDrawing
    kit: Kit
    ways: Mapping[str, WayOut] | None


_kits: dict[int, list[_Kept]] = {}
"""The last kits of every envelope, by session_uid, the newest last. Never in the file, and dropped with it."""


def solved_kit(
    operator: bpy.types.Operator, context: bpy.types.Context, envelope: bpy.types.Object, *, in_part: bool,
    most: float = math.inf,
) -> Kit | None:
    """The envelope's kit. None when it was refused: then the reason was reported and its place left selected. in_part:
    of the selected faces alone. most: faces of a drawing, for more it is taken for a scan."""
    from ...core.make_kit import make_kit  # here, so that Blender starts without loading the solid library

    parts: tuple[DrawnObject, ...] = (alone(envelope),)
    try:
        drawing = read_drawing(context, envelope, all_faces=not in_part)
        parts = drawing.parts
        name = kit_name(envelope)
        _refuse_scan(drawing, most)
        kit = kit_of(envelope, drawing, name) or make_kit(drawing.mesh, drawing.choices, name=name)
    except TackwrightError as error:
        tell_refusal(context, envelope, error, parts)
        select_places(context, places_in(parts, error.faces, error.edges))
        report_error(operator, error)
        return None
    keep_kit(envelope, drawing, kit)
    keep_findings(envelope, kit, parts, only_selected=in_part)
    return kit


def _refuse_scan(drawing: GatheredDrawing, most: float) -> None:
    """Nobody draws so many flat faces, and the window would stand still for as long as it took to find out."""
    count = drawing.mesh.face_count
    if count > most:
        raise InputError(
            f"{drawing.parts[0].name} has {count} faces, and Make Plates takes {most:g}",
            do="A scan is the space that the thing goes into. Draw the outside of the thing in it (New Envelope is a "
            "box to begin with), select the scan, then the envelope, and press Use Scan in the Space panel.")


def tell_refusal(
    context: bpy.types.Context, envelope: bpy.types.Object, error: TackwrightError, parts: Sequence[DrawnObject]
) -> None:
    """Keep why nothing could be made of the drawing as it is now."""
    keep_refusal(envelope, error, parts)
    remember(context, envelope)


def alone(envelope: bpy.types.Object) -> DrawnObject:
    """The envelope as the only part, for what is refused before the drawing is put together."""
    mesh = mesh_of(envelope)
    return DrawnObject(
        name=envelope.name,
        faces=range(len(mesh.polygons)),
        points=range(len(mesh.vertices)),
        as_drawn=not envelope.modifiers,
    )


def kit_name(envelope: bpy.types.Object) -> str:
    return envelope.tackwright.kit_name or envelope.name


def last_kit(envelope: bpy.types.Object) -> Kit | None:
    """The envelope's kit as it was last solved, of whatever was drawn then; None after a file was opened."""
    kept = _kits.get(envelope.session_uid)
    return kept[-1].kit if kept else None


def kit_of(envelope: bpy.types.Object, drawing: GatheredDrawing, name: str) -> Kit | None:
    """The kit that is kept of this very drawing, if any."""
    for kept in reversed(_kits.get(envelope.session_uid, ())):
        if kept.kit.name == name and drawing.same_as(kept.drawing):
            return kept.kit
    return None


def ways_of(envelope: bpy.types.Object, kit: Kit) -> Mapping[str, WayOut]:
    """How the plates of a kit that is kept come out, by the ids of their placements."""
    from ...core.kit.ways_out import ways_out

    ways = next((kept.ways for kept in _kits.get(envelope.session_uid, ()) if kept.kit is kit), None)
    return ways_out(kit) if ways is None else ways


def keep_kit(
    envelope: bpy.types.Object, drawing: GatheredDrawing, kit: Kit, ways: Mapping[str, WayOut] | None = None
) -> None:
    """Keep it as the last one, and some of those before it."""
    before = [kept for kept in _kits.get(envelope.session_uid, ()) if kept.kit is not kit]
    kept = [*before[1 - KEPT :], _Kept(drawing=drawing, kit=kit, ways=ways)]
    while len(kept) > 1 and sum(len(one.kit.plates) for one in kept) > MOST_PLATES:
        kept.pop(0)
    _kits[envelope.session_uid] = kept


def forget_kits() -> None:
    _kits.clear()
    forget_told()
    forget_moves()


def count_of(kit: Kit, level: str) -> str:
    """How many findings of a level there are, in words; empty for none."""
    count = sum(finding.level == level for finding in kit.checks)
    return f"{count} {level}{'s' if count > 1 else ''}" if count else ""
