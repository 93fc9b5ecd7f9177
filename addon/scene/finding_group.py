"""A finding as it is kept on the envelope, in the file."""

# No `from __future__ import annotations`: Blender reads the annotations as properties.

import bpy
from bpy.props import CollectionProperty, EnumProperty, PointerProperty, StringProperty

from ..host.overrides import overridable

__all__ = ["LEVELS", "TackwrightFinding", "TackwrightPlace"]

LEVELS = ("error", "warning", "note")


@overridable
class TackwrightPlace(bpy.types.PropertyGroup):
    """Faces and edges of an object that a finding is about, or that its remedy changes."""

    item: PointerProperty(type=bpy.types.Object)
    faces: StringProperty(description="Indices of faces of the object's mesh")
    edges: StringProperty(description="Pairs of point indices of the object's mesh")
    size: StringProperty(description="How many points and faces the object's mesh had then")


@overridable
class TackwrightFinding(bpy.types.PropertyGroup):
    """One thing that a check or a refusal had to say, kept where a panel can list it."""

    level: EnumProperty(items=[(level, level.title(), "", number) for number, level in enumerate(LEVELS)])
    rule: StringProperty()
    message: StringProperty()
    told: StringProperty(
        description="The same with its quantities as data, for whoever reads in other units. Empty in older files",
        options={"HIDDEN"})
    about: StringProperty(description="Marks of the plates it is about")
    at: StringProperty(description="Where it is, mm, in the world. Empty: nowhere in particular")
    faces: StringProperty(description="Indices of faces of the object's mesh")
    edges: StringProperty(description="Pairs of point indices of the object's mesh")
    elsewhere: CollectionProperty(type=TackwrightPlace)
    openings: StringProperty(description="Names of openings, a line each")
    remedy: StringProperty(description="What cures it, as JSON. Empty: nothing, or a choice of several")
    remedy_places: CollectionProperty(type=TackwrightPlace)


CLASSES = (TackwrightPlace, TackwrightFinding)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
