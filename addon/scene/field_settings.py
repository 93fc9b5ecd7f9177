"""Perforation fields as settings of an envelope: their patterns, and the number by which faces name them."""

# No `from __future__ import annotations`: Blender reads the annotations as properties.

import math
from typing import Any

import bpy
from bpy.props import CollectionProperty, FloatProperty, IntProperty, StringProperty

from ...core.terms.choices import Band, Field
from ..host.overrides import overridable
from ..host.shown_lengths import as_kept, kept_mm, shown_length

__all__ = ["FIELD_ATTRIBUTE", "FIRST_CODE", "TackwrightField", "new_field", "next_number", "read_field"]

FIELD_ATTRIBUTE = "tackwright_field"
"""Face attribute: the number of the face's perforation, 0 for none."""

FIRST_CODE = "R5T8"
"""Round holes of 5 mm at a pitch of 8 mm, staggered by 60 degrees: plain, and strong enough for a baffle."""


@overridable
class TackwrightBand(bpy.types.PropertyGroup):
    """Rows of one pattern in a perforation."""

    code: StringProperty(
        name="Pattern",
        description="Pattern of the holes as ISO 7806 writes it: R5T8 is round holes of 5 mm, staggered, 8 mm apart",
        default=FIRST_CODE,
    )
    depth_mm: kept_mm(0.0)
    depth: shown_length(
        "Depth", "How much of the perforation, from the top down, the pattern takes. 0: an equal share of what is left",
        "depth_mm",
    )  # fmt: skip


@overridable
class TackwrightField(bpy.types.PropertyGroup):
    """A perforation. Its `name` is for the list alone; faces name it by its number, which is never dealt out twice."""

    number: IntProperty(min=1)
    bands: CollectionProperty(type=TackwrightBand, name="Patterns", description="From the top down")
    margin_mm: kept_mm(0.0)
    margin: shown_length(
        "Margin", "Bare metal left to edges, tabs, slots and joints. 0: from the thickness of the plate", "margin_mm"
    )
    gap_mm: kept_mm(0.0)
    gap: shown_length("Gap", "Bare metal left between two patterns", "gap_mm")
    turn: FloatProperty(
        name="Turn",
        description="Angle from level to the rows of holes, counter-clockwise as seen from outside",
        subtype="ANGLE",
        soft_min=-math.pi,
        soft_max=math.pi,
    )


def next_number(settings: Any) -> int:  # TackwrightSettings, whose module imports this one
    """The number of the perforation that will be added next."""
    return settings.last_field + 1


def new_field(settings: Any, code: str) -> TackwrightField:  # settings: as above
    """One more perforation of the envelope, made the active one."""
    settings.last_field = next_number(settings)
    field = settings.fields.add()
    field.number, field.name = settings.last_field, f"Perforation {settings.last_field}"
    field.bands.add().code = code
    settings.active_field = len(settings.fields) - 1
    return field


def read_field(field: TackwrightField, face: int, region: tuple[tuple[float, float, float], ...] | None) -> Field:
    """What the core is told of a perforation on the panel of one face, within the region where there is one."""
    return Field(
        panel=face,
        bands=tuple(Band(code=b.code.strip(), depth=as_kept(b.depth_mm) or None) for b in field.bands),
        margin=as_kept(field.margin_mm) or None,
        gap=as_kept(field.gap_mm),
        region=region,
        turn=as_kept(math.degrees(field.turn)),
    )


CLASSES = (TackwrightBand, TackwrightField)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
