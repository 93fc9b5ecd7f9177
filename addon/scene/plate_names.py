"""Names that the user gives to plates: faces carry a number, and the object a list of what each number is called."""

# No `from __future__ import annotations`: Blender reads the annotations as properties.

import bpy
from bpy.props import CollectionProperty, IntProperty

from ..host.overrides import OVERRIDABLE, overridable

__all__ = ["NAME_ATTRIBUTE", "TackwrightName", "TackwrightNames", "name_number", "names_by_number"]

NAME_ATTRIBUTE = "tackwright_name"
"""Face attribute: the number of the face's name, 0 for none."""


@overridable
class TackwrightName(bpy.types.PropertyGroup):
    """One name: `name` is the text. Numbers are never dealt out twice."""

    number: IntProperty(min=1)


@overridable
class TackwrightNames(bpy.types.PropertyGroup):
    """The names of one object's faces."""

    entries: CollectionProperty(type=TackwrightName)
    last: IntProperty()


def names_by_number(item: bpy.types.Object) -> dict[int, str]:
    """What the numbers on an object's faces are called."""
    return {entry.number: entry.name for entry in item.tackwright_names.entries if entry.name.strip()}


def name_number(item: bpy.types.Object, name: str) -> int:
    """The number of a name, dealt out where it has none yet; 0 for an empty one."""
    name = name.strip()
    names = item.tackwright_names
    found = next((entry.number for entry in names.entries if entry.name == name), 0)
    if found or not name:
        return found
    entry = names.entries.add()
    names.last = max([names.last, *(one.number for one in names.entries)]) + 1
    entry.number, entry.name = names.last, name
    return names.last


CLASSES = (TackwrightName, TackwrightNames)
_register_classes, _unregister_classes = bpy.utils.register_classes_factory(CLASSES)


def register() -> None:
    _register_classes()
    bpy.types.Object.tackwright_names = bpy.props.PointerProperty(
        type=TackwrightNames, name="Tackwright Names", override=OVERRIDABLE
    )


def unregister() -> None:
    del bpy.types.Object.tackwright_names
    _unregister_classes()
