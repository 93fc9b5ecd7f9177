"""Blender's lengths and the core's: the one place where they meet."""

from __future__ import annotations

import bpy

__all__ = ["BESIDE_THE_FILE", "mm_per_unit", "rounded"]

BESIDE_THE_FILE = {"PATH_SUPPORTS_BLEND_RELATIVE"} if bpy.app.version >= (4, 5, 0) else set[str]()
"""Option of a path that may begin with `//`: newer Blenders want to be told, older ones do not know it."""


def mm_per_unit(scene: bpy.types.Scene | None) -> float:
    """Millimetres in one unit of the scene: a metre times the scene's unit scale.

    With the unit system off Blender shows bare numbers and leaves the scale out: then so do we.
    """
    if scene is None or scene.unit_settings.system == "NONE":
        return 1000.0
    return 1000.0 * float(scene.unit_settings.scale_length)


def rounded(length: float) -> float:
    """A length without the noise of single precision, which keeps seven digits: 0.1 stays 0.1."""
    return float(f"{length:.6g}")
