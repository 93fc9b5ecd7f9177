"""The settings of one envelope. They live on its object, so they are saved, copied and undone with it.

Lengths are kept in mm (`thickness_mm`) and shown in the scene's units (`thickness`): the plate stays 3 mm
thick when the scene's unit scale changes or the object moves to another file. A name here is never given a
new meaning later, since files keep their values by name.
"""

# No `from __future__ import annotations`: Blender reads the annotations as properties.

import zlib
from typing import Any

import bpy
from bpy.props import (
    BoolProperty,
    CollectionProperty,
    EnumProperty,
    FloatProperty,
    IntProperty,
    PointerProperty,
    StringProperty,
)

from ..core.choices import Corner, MetalSide, Settings, TabRule
from ..core.materials import MATERIALS
from .units import BESIDE_THE_FILE, mm_per_unit, rounded

__all__ = ["TackwrightFinding", "TackwrightSettings", "material_number", "read_settings"]

DEFAULTS = Settings()

METAL_SIDES: dict[str, MetalSide] = {"OUTSIDE": "outside", "INSIDE": "inside", "CENTRED": "centred"}
CORNERS: dict[str, Corner | None] = {
    "BY_MATERIAL": None, "OPEN": "open", "HALF_OPEN": "half-open", "CLOSED": "closed",
}  # fmt: skip
LEVELS = ("error", "warning", "note")


def material_number(name: str) -> int:
    """The number a file keeps for a material. Taken from its name, so that a longer list shifts none."""
    return zlib.crc32(name.encode()) & 0x7FFFFFFF


def _shown(name: str, description: str, stored: str, **more: Any) -> Any:
    """A length in the scene's units, kept in mm in the property `stored`."""

    def get(self: bpy.types.PropertyGroup) -> float:
        return getattr(self, stored) / mm_per_unit(bpy.context.scene)

    def put(self: bpy.types.PropertyGroup, value: float) -> None:
        setattr(self, stored, rounded(value * mm_per_unit(bpy.context.scene)))

    return FloatProperty(
        name=name, description=description, subtype="DISTANCE", min=0.0, precision=4, step=0.1, get=get, set=put, **more
    )


def _mm(default: float) -> Any:
    return FloatProperty(default=default, min=0.0, options={"HIDDEN"})


class TackwrightFinding(bpy.types.PropertyGroup):
    """One thing that a check or a refusal had to say, kept where a panel can list it."""

    level: EnumProperty(items=[(level, level.title(), "", number) for number, level in enumerate(LEVELS)])
    rule: StringProperty()
    message: StringProperty()
    about: StringProperty(description="Marks of the plates it is about")
    faces: StringProperty(description="Indices of faces of the object's mesh")
    edges: StringProperty(description="Pairs of point indices of the object's mesh")


class TackwrightSettings(bpy.types.PropertyGroup):
    """What Make Plates and Export Kit go by."""

    material: EnumProperty(
        name="Material",
        description="What the plates are cut from",
        items=[(m.name, m.name[:1].upper() + m.name[1:], m.remarks, material_number(m.name)) for m in MATERIALS],
        default=DEFAULTS.material,
    )
    thickness_mm: _mm(DEFAULTS.thickness)
    thickness: _shown("Thickness", "Thickness of the plates", "thickness_mm")
    metal_side: EnumProperty(
        name="Metal Side",
        description="Where the metal lies from the drawn faces",
        items=[
            ("INSIDE", "Inside", "The drawing is the space that the thing takes up", 1),
            ("CENTRED", "Centred", "The drawing is the middle of the plates", 2),
            ("OUTSIDE", "Outside", "The drawing is the space inside the plates", 0),
        ],
        default="INSIDE",
    )

    corner: EnumProperty(
        name="Corner",
        description="How plates meet where two faces of the envelope do",
        items=[
            ("BY_MATERIAL", "By Material", "Open where filler is always used, closed where plates are butted", 0),
            ("OPEN", "Open", "The plates meet at their inner edges; the groove between them takes the weld", 1),
            ("HALF_OPEN", "Half-Open", "One plate covers part of the other's end", 2),
            ("CLOSED", "Closed", "One plate covers the other's end", 3),
        ],
        default="BY_MATERIAL",
    )
    overlap: FloatProperty(
        name="Overlap",
        description="How much of the other plate's end the through plate covers",
        min=0.0, max=1.0, default=0.5, subtype="FACTOR",
    )  # fmt: skip
    root_gap_mm: _mm(DEFAULTS.root_gap)
    root_gap: _shown("Root Gap", "Distance left between the plates at the root of the weld", "root_gap_mm")

    tabs: BoolProperty(
        name="Locating Tabs", description="Cut tabs that hold the plates in place for tacking", default=True
    )
    fit_gap_mm: _mm(DEFAULTS.fit_gap)
    fit_gap: _shown("Fit Gap", "Clearance of a tab between its neighbours, both sides together", "fit_gap_mm")
    tab_width_mm: _mm(0.0)
    tab_width: _shown("Width", "Width of a tab. 0: from the thickness of the plate", "tab_width_mm")
    tab_spacing_mm: _mm(0.0)
    tab_spacing: _shown("Spacing", "Largest distance between groups of tabs. 0: chosen for you", "tab_spacing_mm")

    etch: BoolProperty(
        name="Etch Marks", description="Etch each plate's mark on it, and its neighbours' at its edges", default=True
    )
    dxf_units: EnumProperty(
        name="DXF Units",
        description="Unit of the lengths in the DXF files",
        items=[("MM", "Millimetres", "", 0), ("IN", "Inches", "", 1)],
        default="MM",
    )
    folder: StringProperty(
        name="Folder", description="Where Export Kit puts the kit's folder. Empty: ask", subtype="DIR_PATH",
        options=BESIDE_THE_FILE,
    )  # fmt: skip
    kit_name: StringProperty(name="Name", description="Name of the kit. Empty: the object's name")

    summary: StringProperty(description="What the last Make Plates or Export Kit made")
    findings: CollectionProperty(type=TackwrightFinding)
    active_finding: IntProperty(name="Finding")


def read_settings(settings: TackwrightSettings) -> Settings:
    """The core's settings for the whole kit, lengths in mm."""
    half_open = settings.corner == "HALF_OPEN"
    return Settings(
        material=settings.material,
        thickness=rounded(settings.thickness_mm),
        metal_side=METAL_SIDES[settings.metal_side],
        corner=CORNERS[settings.corner],
        overlap=rounded(settings.overlap) if half_open else None,
        root_gap=rounded(settings.root_gap_mm),
        fit_gap=rounded(settings.fit_gap_mm),
        tabs=TabRule(
            on=settings.tabs,
            width=rounded(settings.tab_width_mm) or None,
            spacing=rounded(settings.tab_spacing_mm) or None,
        ),
        etch=settings.etch,
        dxf_units="in" if settings.dxf_units == "IN" else "mm",
    )


CLASSES = (TackwrightFinding, TackwrightSettings)
_register_classes, _unregister_classes = bpy.utils.register_classes_factory(CLASSES)


def register() -> None:
    _register_classes()
    bpy.types.Object.tackwright = PointerProperty(type=TackwrightSettings, name="Tackwright")


def unregister() -> None:
    del bpy.types.Object.tackwright
    _unregister_classes()
