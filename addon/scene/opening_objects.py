"""Openings of an envelope: each is an empty, so that it can be moved, turned, copied and snapped like any object.

It looks along its own z axis; the length of a slot and the width of a rectangle lie along its x axis.
"""

# No `from __future__ import annotations`: Blender reads the annotations as properties.

import contextlib
import math
from functools import lru_cache

import bpy
from bpy.props import BoolProperty, EnumProperty, FloatProperty, IntProperty, PointerProperty, StringProperty
from mathutils import Vector

from ...core.stock.fittings import FITTINGS, find_fitting
from ...core.terms.choices import Bolts, MarkedOpening, OpeningShape, Purpose
from ...core.terms.errors import InputError, TackwrightError
from ...core.terms.messages import Length
from ..host.overrides import OVERRIDABLE, overridable
from ..host.shown_lengths import as_kept, kept_mm, mm_per_unit, shown_length
from .active_envelope import made_plate
from .properties import read_own_fittings

__all__ = [
    "PURPOSES", "SHAPES", "TackwrightOpening", "hole_of", "in_words", "purpose_items", "read_opening", "shape_items",
]  # fmt: skip

SHAPES: dict[str, OpeningShape] = {"ROUND": "round", "SLOT": "slot", "RECTANGLE": "rectangle"}
PURPOSES: dict[str, Purpose] = {"PORT": "port", "VENT": "vent", "DRAIN": "drain", "HAND_HOLE": "hand_hole"}

Point = tuple[float, float, float]

shape_items = [
    ("ROUND", "Round", "A round hole", 0),
    ("SLOT", "Slot", "A slot with round ends", 1),
    ("RECTANGLE", "Rectangle", "A rectangle, with rounded corners if wanted", 2),
]
purpose_items = [
    ("PORT", "Port", "For a fitting or a pipe", 0),
    ("VENT", "Vent", "Lets air in and out", 1),
    ("DRAIN", "Drain", "Lets liquid out at a low point", 2),
    ("HAND_HOLE", "Hand Hole", "To reach inside", 3),
]


def _known_fittings(self: "TackwrightOpening", context: bpy.types.Context, edit_text: str) -> list[str]:
    """What the text field offers while a fitting is typed."""
    names = [fitting.name for fitting in FITTINGS]
    if self.envelope is not None:
        with contextlib.suppress(TackwrightError):  # Make Plates tells what is wrong with the file
            names += read_own_fittings(self.envelope.tackwright)
    return [name for name in names if edit_text.lower() in name.lower()]


def _may_be_envelope(self: bpy.types.PropertyGroup, item: bpy.types.Object) -> bool:
    return item.type == "MESH" and not made_plate(item)


def _hole(self: "TackwrightOpening") -> float:
    return (hole_of(self.fitting) or 0.0) / mm_per_unit(bpy.context.scene)


@overridable
class TackwrightOpening(bpy.types.PropertyGroup):
    """What opening an empty marks, and in which envelope."""

    enabled: BoolProperty(name="Opening", description="This empty marks an opening of an envelope")
    envelope: PointerProperty(
        name="Envelope",
        description="The object whose plate is cut",
        type=bpy.types.Object,
        poll=_may_be_envelope,
    )
    purpose: EnumProperty(name="Purpose", description="What the opening is for", items=purpose_items, default="PORT")
    fitting: StringProperty(
        name="Fitting",
        description="The fitting that goes in, which gives the hole its diameter. Empty: the size below",
        search=_known_fittings,
    )
    hole: FloatProperty(
        name="Hole", description="Diameter that the fitting needs", subtype="DISTANCE", precision=4, get=_hole
    )
    shape: EnumProperty(name="Shape", description="Shape of the hole", items=shape_items, default="ROUND")
    size_x_mm: kept_mm(50.0)
    size_x: shown_length("Size X", "Diameter, or overall length along the empty's x axis", "size_x_mm")
    size_y_mm: kept_mm(30.0)
    size_y: shown_length("Size Y", "Overall length along the empty's y axis", "size_y_mm")
    radius_mm: kept_mm(5.0)
    radius: shown_length("Corner Radius", "Radius of the corners of a rectangle", "radius_mm")
    along_axis: BoolProperty(
        name="Along Its Axis",
        description="Look along the empty's z axis for the plate to cut. Off: square to the nearest plate",
    )
    all_along: BoolProperty(
        name="All Plates", description="Cut every plate along the empty's z axis, not the nearest alone"
    )
    bolts: BoolProperty(name="Bolts", description="Cut a circle of holes for bolts around the opening")
    bolt_count: IntProperty(name="Count", description="Number of bolts", default=6, min=1, soft_max=48)
    bolt_circle_mm: kept_mm(80.0)
    bolt_circle: shown_length("Circle", "Diameter of the circle through the bolts' centres", "bolt_circle_mm")
    bolt_hole_mm: kept_mm(7.0)
    bolt_hole: shown_length("Holes", "Diameter of the bolts' holes", "bolt_hole_mm")
    bolt_turn: FloatProperty(
        name="Turn", description="Angle from the empty's x axis to the first bolt", subtype="ANGLE",
        soft_min=-math.pi, soft_max=math.pi,
    )  # fmt: skip


@lru_cache(maxsize=256)
def hole_of(fitting: str) -> float | None:
    """Diameter of the hole of a built-in fitting, mm; None for one that is not built in."""
    try:
        return find_fitting(fitting, {}).hole
    except InputError:
        return None


def in_words(marked: TackwrightOpening) -> str:
    """What an opening is for, and its fitting or its size, to be put into the reader's units."""
    purpose = next(name for key, name, *_ in purpose_items if key == marked.purpose)
    x, y = as_kept(marked.size_x_mm), as_kept(marked.size_y_mm)
    size = f"{Length(*((x,) if marked.shape == 'ROUND' else (x, y))):g}"
    return f"{purpose}, {marked.fitting.strip() or size}"


def read_opening(item: bpy.types.Object, mm: float) -> MarkedOpening:
    """What the core is told of an opening. mm: millimetres in one unit of the scene."""
    marked = item.tackwright_opening
    shape = SHAPES[marked.shape]
    x, y = as_kept(marked.size_x_mm), as_kept(marked.size_y_mm)
    fitting = marked.fitting.strip() or None
    directed = marked.bolts or (shape != "round" and fitting is None)
    return MarkedOpening(
        name=item.name,
        at=_point(item.matrix_world.translation * mm),
        shape="round" if fitting else shape,
        size=None if fitting else (x,) if shape == "round" else (x, y),
        radius=as_kept(marked.radius_mm) if shape == "rectangle" and not fitting else 0.0,
        purpose=PURPOSES[marked.purpose],
        fitting=fitting,
        axis=_axis(item, 2) if marked.along_axis or marked.all_along else None,
        across=_axis(item, 0) if directed else None,
        all_along=marked.all_along,
        bolts=_bolts(marked) if marked.bolts else None,
    )


def _bolts(marked: TackwrightOpening) -> Bolts:
    return Bolts(
        count=marked.bolt_count,
        circle=as_kept(marked.bolt_circle_mm),
        hole=as_kept(marked.bolt_hole_mm),
        turn=as_kept(math.degrees(marked.bolt_turn)),
    )


def _axis(item: bpy.types.Object, index: int) -> Point | None:
    """The way one of the object's axes points in the world, None where it was scaled to nothing."""
    axis = item.matrix_world.col[index].to_3d().normalized()
    return _point(axis) if axis.length else None


def _point(vector: Vector) -> Point:
    """Without the noise of single precision, which would tell a plate 90.000003 degrees from another."""
    x, y, z = (round(c, 6) + 0.0 for c in vector)
    return x, y, z


CLASSES = (TackwrightOpening,)
_register_classes, _unregister_classes = bpy.utils.register_classes_factory(CLASSES)


def register() -> None:
    _register_classes()
    bpy.types.Object.tackwright_opening = PointerProperty(
        type=TackwrightOpening, name="Tackwright Opening", override=OVERRIDABLE
    )


def unregister() -> None:
    del bpy.types.Object.tackwright_opening
    _unregister_classes()
