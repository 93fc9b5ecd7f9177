"""Blender's lengths and the core's: the one place where they meet.

Lengths are kept in mm (`thickness_mm`) and shown in the scene's units (`thickness`): the plate stays 3 mm
thick when the scene's unit scale changes or the object moves to another file.
"""

from __future__ import annotations

from typing import Any

import bpy
from bpy.props import FloatProperty

from ...core.stock.said_units import said
from ...core.stock.units import Units
from ...core.terms.errors import TackwrightError

__all__ = ["BESIDE_THE_FILE", "as_kept", "error_text", "kept_mm", "mm_per_unit", "shown_length", "units_of"]

BESIDE_THE_FILE = {"PATH_SUPPORTS_BLEND_RELATIVE"} if bpy.app.version >= (4, 5, 0) else set[str]()
"""Option of a path that may begin with `//`: newer Blenders want to be told, older ones do not know it."""


def mm_per_unit(scene: bpy.types.Scene | None) -> float:
    """Millimetres in one unit of the scene: a metre times the scene's unit scale.

    With the unit system off Blender shows bare numbers and leaves the scale out: then so do we.
    """
    if scene is None or scene.unit_settings.system == "NONE":
        return 1000.0
    return 1000.0 * float(scene.unit_settings.scale_length)


def units_of(scene: bpy.types.Scene | None) -> Units:
    """What figures and messages are said in for who works in the scene."""
    return "in" if scene is not None and scene.unit_settings.system == "IMPERIAL" else "mm"


def error_text(context: bpy.types.Context, error: TackwrightError) -> str:
    """What an error says to who works in the scene."""
    return said(error.message, units_of(context.scene))


def as_kept(length: float) -> float:
    """A length without the noise of single precision, which keeps seven digits: 0.1 stays 0.1."""
    return float(f"{length:.6g}")


def kept_mm(default: float) -> Any:
    """A length property that is kept and never shown."""
    return FloatProperty(default=default, min=0.0, options={"HIDDEN"})


def shown_length(name: str, description: str, stored: str, times: float = 1.0, **more: Any) -> Any:
    """A length property in the scene's units, kept in mm in the property `stored`, as `times` what is shown."""

    def get(self: bpy.types.PropertyGroup) -> float:
        return getattr(self, stored) / times / mm_per_unit(bpy.context.scene)

    def put(self: bpy.types.PropertyGroup, value: float) -> None:
        setattr(self, stored, as_kept(value * times * mm_per_unit(bpy.context.scene)))

    return FloatProperty(
        name=name, description=description, subtype="DISTANCE", min=0.0, precision=4, step=0.1, get=get, set=put, **more
    )
