"""The objects of plates that were made of an envelope: which they are, and what each of them knows about itself."""

# No `from __future__ import annotations`: Blender reads the annotations as properties.

from collections.abc import Iterator

import bpy
import numpy as np
from bpy.props import BoolProperty, FloatProperty, FloatVectorProperty, PointerProperty, StringProperty
from mathutils import Matrix
from numpy.typing import NDArray

from .active_envelope import made_plate

__all__ = [
    "TackwrightPlate", "TackwrightPlates", "collections_of", "home_of_plate", "in_scene_units", "plate_is_edited",
    "plate_objects",
]  # fmt: skip


class TackwrightPlate(bpy.types.PropertyGroup):
    """What a plate object is. made_as: the name it was given. As long as it has that name, the next Make
    Plates may change it or take it away; renamed or copied it is the user's own.

    placed: whether the places below are known; files of earlier versions have none. home: where it stands in the
    assembly, by rows, in mm. way, begin, end: how far it comes out at 1 on the slider, mm, and between which values.
    flat: where its drawing's origin lies when it is laid flat, mm.
    """

    placement: StringProperty(options={"HIDDEN"})
    panel: StringProperty(options={"HIDDEN"})
    made_as: StringProperty(options={"HIDDEN"})
    envelope: PointerProperty(type=bpy.types.Object, options={"HIDDEN"})
    placed: BoolProperty(options={"HIDDEN"})
    home: FloatVectorProperty(size=16, options={"HIDDEN"})
    way: FloatVectorProperty(size=3, options={"HIDDEN"})
    begin: FloatProperty(options={"HIDDEN"})
    end: FloatProperty(default=1.0, options={"HIDDEN"})
    flat: FloatVectorProperty(size=3, options={"HIDDEN"})


class TackwrightPlates(bpy.types.PropertyGroup):
    """Whose plates a collection holds. Kept here and not on the envelope, so that a copy of the envelope
    gets plates of its own. hidden: whether a view hid the collection, and must show it again."""

    envelope: PointerProperty(type=bpy.types.Object, options={"HIDDEN"})
    hidden: BoolProperty(options={"HIDDEN"})


def collections_of(envelope: bpy.types.Object) -> list[bpy.types.Collection]:
    """The collections of this file that hold the envelope's plates: one, unless the user copied it."""
    return [c for c in bpy.data.collections if c.tackwright_plates.envelope == envelope and c.library is None]


def plate_objects(envelope: bpy.types.Object) -> list[bpy.types.Object]:
    """The plates that were made of the envelope and are still its own, wherever the user put them, by name."""
    return sorted(_plate_objects(envelope), key=lambda item: item.name)


def _plate_objects(envelope: bpy.types.Object) -> Iterator[bpy.types.Object]:
    ours = {item for collection in collections_of(envelope) for item in collection.objects}
    for item in bpy.data.objects:
        if item.type != "MESH" or item.library is not None or not made_plate(item):
            continue
        owner = item.tackwright_plate.envelope
        if owner == envelope or (owner is None and item in ours):  # earlier versions went by the collection alone
            yield item


def plate_is_edited(context: bpy.types.Context, envelope: bpy.types.Object) -> bool:
    """Whether one of the envelope's plates is in Edit Mode: it cannot be made anew then."""
    return context.mode == "EDIT_MESH" and any(
        item.tackwright_plate.envelope == envelope and made_plate(item) for item in context.objects_in_mode)


def home_of_plate(plate: TackwrightPlate, mm: float) -> Matrix:
    """Where the plate stands in the assembly, in the scene's units."""
    return in_scene_units(np.array(plate.home).reshape(4, 4), mm)


def in_scene_units(matrix: NDArray[np.float64], mm: float) -> Matrix:
    """A motion in mm as one in the scene's units: only its translation has a length."""
    out = matrix.copy()
    out[:3, 3] /= mm
    return Matrix(out.tolist())  # by rows; given bare, Blender would read the lists as columns


CLASSES = (TackwrightPlate, TackwrightPlates)
_register_classes, _unregister_classes = bpy.utils.register_classes_factory(CLASSES)


def register() -> None:
    _register_classes()
    bpy.types.Object.tackwright_plate = PointerProperty(type=TackwrightPlate, name="Tackwright Plate")
    bpy.types.Collection.tackwright_plates = PointerProperty(type=TackwrightPlates, name="Tackwright Plates")


def unregister() -> None:
    del bpy.types.Collection.tackwright_plates
    del bpy.types.Object.tackwright_plate
    _unregister_classes()
