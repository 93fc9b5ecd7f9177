"""Whether plates, findings and figures are those of the drawing as it is now: a few numbers of the drawing are kept
beside what was said of it, in memory, so that an undo of both is no change."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

import bpy
import numpy as np

from ..gather.chosen import chosen_of, values_of
from ..gather.scan_mesh import placed
from ..host.editor_types import mesh_of
from ..host.sentences import draw_sentence
from ..scene.active_envelope import inner_meshes_of, openings_of
from ..scene.plate_objects import plate_objects
from ..space.clearance_bodies import stamp_of_body

__all__ = ["draw_age", "forget_drawings", "forget_told", "is_old", "plates_stay", "remember"]

OURS: Final = "tackwright_"
MOST: Final = 20_000
"""Elements of a mesh beyond which its choices are not looked at: every redraw asks."""

Drawn = tuple[int, int | None, bool]
"""Of a drawing; of what is chosen on its faces and edges, None while these are edited: to ask takes long then; and
whether plates were made of the selected faces alone."""

_told: dict[int, dict[int, set[Drawn]]] = {}
"""By session_uid of the envelope, by what was said: the drawings of which it was said."""


def remember(context: bpy.types.Context, envelope: bpy.types.Object, *, in_part: bool = False) -> None:
    """What is said of the envelope, and its plates, are of the drawing as it is now. in_part: of its selected faces."""
    _drawings(envelope).add((*_drawn(context, envelope), in_part))


def forget_drawings(envelope: bpy.types.Object) -> None:
    """What is said of the envelope now is of another drawing than its plates are."""
    _drawings(envelope).clear()


@contextmanager
def plates_stay(context: bpy.types.Context, envelope: bpy.types.Object) -> Iterator[None]:
    """What is said of the envelope may change meanwhile, its plates do not."""
    known, old = envelope.session_uid in _told or not plate_objects(envelope), is_old(context, envelope)
    yield
    if old:
        forget_drawings(envelope)
    elif known:
        remember(context, envelope)


def is_old(context: bpy.types.Context, envelope: bpy.types.Object) -> bool:
    """Whether the drawing, or what was chosen for it, is another one. What was said before the file was opened is not
    known to be old."""
    drawings = _told.get(envelope.session_uid, {}).get(_said(envelope))
    if drawings is None:
        return False
    drawn, chosen = _drawn(context, envelope)
    return not any(
        drawn == d and (c == chosen or None in {c, chosen}) and (envelope.mode == "EDIT" or not in_part)
        for d, c, in_part in drawings)


def _drawings(envelope: bpy.types.Object) -> set[Drawn]:
    return _told.setdefault(envelope.session_uid, {}).setdefault(_said(envelope), set())


def forget_told() -> None:
    """Another file is open."""
    _told.clear()


def draw_age(layout: bpy.types.UILayout, context: bpy.types.Context, envelope: bpy.types.Object) -> None:
    """Say so, where it is old."""
    if is_old(context, envelope):
        box = layout.box()
        box.alert = True
        draw_sentence(box, context, "Changed since: make plates again")


def _said(envelope: bpy.types.Object) -> int:
    settings = envelope.tackwright
    return hash((settings.figures, settings.summary, *(finding.message for finding in settings.findings)))


def _drawn(context: bpy.types.Context, envelope: bpy.types.Object) -> tuple[int, int | None]:
    meshes, openings = [envelope, *inner_meshes_of(context, envelope)], openings_of(context, envelope)
    drawn = hash((
        chosen_of(envelope, None, without=("kit_name",))[1:],
        *((stamp_of_body(context, item, "ENVELOPE"), values_of(item.tackwright_inner)) for item in meshes),
        *((item.name, placed(item.matrix_world), values_of(item.tackwright_opening)) for item in openings),
    ))  # fmt: skip
    edited = any(mesh_of(item).is_editmode for item in meshes)
    return drawn, None if edited else hash(tuple(map(_choices_on, meshes)))


def _choices_on(item: bpy.types.Object) -> tuple[tuple[str, bytes], ...]:
    """What is chosen on the faces and edges of a mesh. An attribute that chooses nothing is as good as none."""
    found = []
    for attribute in mesh_of(item).attributes:
        kind = {"INT": np.int32, "FLOAT": np.float32}.get(attribute.data_type)
        if attribute.name.startswith(OURS) and kind is not None and len(attribute.data) <= MOST:
            values = np.empty(len(attribute.data), dtype=kind)
            attribute.data.foreach_get("value", values)
            if values.any():
                found.append((attribute.name, values.tobytes()))
    return tuple(sorted(found))
