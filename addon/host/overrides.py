"""Settings that a library override may change: Blender lets it change only what says so."""

from __future__ import annotations

from typing import Literal

import bpy

__all__ = ["OVERRIDABLE", "overridable"]

OVERRIDABLE: set[Literal["LIBRARY_OVERRIDABLE"]] = {"LIBRARY_OVERRIDABLE"}
"""For the pointer by which an object or collection has a group of settings."""


def overridable(group: type[bpy.types.PropertyGroup]) -> type[bpy.types.PropertyGroup]:
    """Let overrides of linked objects change every property of a group, and add to its collections."""
    for kept in group.__annotations__.values():
        more = {"USE_INSERTION"} if kept.function is bpy.props.CollectionProperty else set()
        kept.keywords["override"] = OVERRIDABLE | more
    return group
