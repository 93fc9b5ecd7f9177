"""Undo of what operators change on objects while a mesh is edited."""

from __future__ import annotations

import bpy

__all__ = ["whole_step"]


def whole_step(context: bpy.types.Context) -> None:
    """Make the undo step of the operator that calls this cover the whole file, settings of objects too.

    In Edit Mode a step covers the edited mesh alone, unless data was added to the file meanwhile: so some is, for a
    moment. Elsewhere a step covers the file anyway.
    """
    if context.mode != "OBJECT":
        bpy.data.texts.remove(bpy.data.texts.new("~"))
