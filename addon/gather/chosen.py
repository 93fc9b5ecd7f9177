"""What is chosen for an envelope, as values to compare: Blender tells nobody when settings of an extension change."""

from __future__ import annotations

from collections.abc import Collection
from typing import Final

import bpy

from ..scene.metals import known_metals
from .gather import GatheredDrawing

__all__ = ["chosen_of", "values_of"]

FOUND: Final = {"summary", "figures", "active_finding", "active_field", "folder", "live"}
"""Settings that do not change the kit."""


def chosen_of(
    envelope: bpy.types.Object, drawing: GatheredDrawing | None, *, without: Collection[str] = ()
) -> tuple[object, ...]:
    """What is chosen for an envelope and its metal, its perforations, and the inner meshes and openings it had, without
    what is found out of it. without: names of settings that do not matter either. The envelope's name comes first."""
    settings = envelope.tackwright
    marked = drawing.choices.openings if drawing is not None else ()
    openings = [item for one in marked if (item := bpy.data.objects.get(one.name)) is not None]
    parts = drawing.parts if drawing is not None else ()
    inner = [item for one in parts if (item := bpy.data.objects.get(one.name)) not in {None, envelope}]
    pointers = [p.identifier for p in settings.bl_rna.properties if p.type == "POINTER" and p.identifier != "rna_type"]
    within = [group for name in pointers if isinstance(group := getattr(settings, name), bpy.types.PropertyGroup)]
    groups = [*within, *settings.fields, *(item.tackwright_opening for item in openings)]
    groups += [item.tackwright_inner for item in inner]
    metal = repr(known_metals().get(settings.material))
    return (envelope.name, metal, values_of(settings, without), *(values_of(group) for group in groups))


def values_of(group: bpy.types.PropertyGroup, without: Collection[str] = ()) -> tuple[object, ...]:
    """The values of a group that a user gives, in the order of their names."""
    kinds = {"BOOLEAN", "INT", "FLOAT", "ENUM", "STRING"}
    names = [p.identifier for p in group.bl_rna.properties if p.type in kinds]
    values = [getattr(group, name) for name in names if name not in FOUND and name not in without]
    return tuple(value if isinstance(value, str | int | float) else tuple(value) for value in values)
