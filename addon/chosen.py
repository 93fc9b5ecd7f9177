"""What is chosen for an envelope, as values to compare: Blender tells nobody when settings of an extension change."""

from __future__ import annotations

from typing import Any, Final

import bpy

from .gather import Drawing

__all__ = ["chosen_of", "values_of"]

FOUND: Final = {"summary", "figures", "active_finding", "active_field", "folder", "live"}
"""Settings that do not change the kit."""


def chosen_of(envelope: bpy.types.Object, drawing: Drawing | None) -> tuple[Any, ...]:
    """What is chosen for an envelope, its perforations and the openings it had, without what is found out of it."""
    settings = envelope.tackwright
    marked = drawing.choices.openings if drawing is not None else ()
    openings = [item for one in marked if (item := bpy.data.objects.get(one.name)) is not None]
    pointers = [p.identifier for p in settings.bl_rna.properties if p.type == "POINTER" and p.identifier != "rna_type"]
    within = [group for name in pointers if isinstance(group := getattr(settings, name), bpy.types.PropertyGroup)]
    groups = [settings, *within, *settings.fields, *(item.tackwright_opening for item in openings)]
    return (envelope.name, *(values_of(group) for group in groups))


def values_of(group: bpy.types.PropertyGroup) -> tuple[Any, ...]:
    """The values of a group that a user gives, in the order of their names."""
    kinds = {"BOOLEAN", "INT", "FLOAT", "ENUM", "STRING"}
    names = [p.identifier for p in group.bl_rna.properties if p.type in kinds and p.identifier not in FOUND]
    values = [getattr(group, name) for name in names]
    return tuple(value if isinstance(value, str | int | float) else tuple(value) for value in values)
