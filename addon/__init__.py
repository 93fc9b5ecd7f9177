"""Tackwright inside Blender: one source of envelopes and one viewer of kits. No geometry is computed here."""

from __future__ import annotations

import contextlib

from . import export_kit, findings, make_plates, panels, plates, properties

PARTS = (properties, plates, findings, make_plates, export_kit, panels)


def register() -> None:
    """Register every part, or none: the host does not call `unregister` after a `register` that failed."""
    with contextlib.ExitStack() as undo:
        for part in PARTS:
            part.register()
            undo.callback(part.unregister)
        undo.pop_all()


def unregister() -> None:
    for part in reversed(PARTS):
        part.unregister()
