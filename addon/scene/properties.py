"""The settings of one envelope. They live on its object, so they are saved, copied and undone with it.

A name here is never given a new meaning later, since files keep their values by name.
"""

# No `from __future__ import annotations`: Blender reads the annotations as properties.

from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType

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

from ...core.stock.fittings import read_fittings_csv
from ...core.terms.choices import SHARE, SIDES, Corner, MetalSide, Settings, TabRule, WeldRule
from ..host.changes import LIVE, tell_of
from ..host.overrides import OVERRIDABLE, overridable
from ..host.shown_lengths import BESIDE_THE_FILE, as_kept, kept_mm, shown_length
from .field_settings import TackwrightField
from .finding_group import TackwrightFinding
from .metals import choose_metal, chosen_number, metal_items, metal_number
from .shop_settings import CORNER_ITEMS, TackwrightShop, read_habits

__all__ = ["TackwrightSettings", "read_own_fittings", "read_settings"]

DEFAULTS = Settings()

METAL_SIDES: dict[str, MetalSide] = {"OUTSIDE": "outside", "INSIDE": "inside", "CENTRED": "centred"}
CORNERS: dict[str, Corner | None] = {
    "BY_MATERIAL": None, "OPEN": "open", "HALF_OPEN": "half-open", "CLOSED": "closed",
}  # fmt: skip
PROCESSES: dict[str, str | None] = {"BY_METAL": None, "TIG": "TIG", "MIG": "MIG", "STICK": "stick"}


def _live_changed(settings: "TackwrightSettings", context: bpy.types.Context) -> None:
    tell_of(LIVE, settings.id_data)


@overridable
class TackwrightSettings(bpy.types.PropertyGroup):
    """What Make Plates and Export Kit go by."""

    material: EnumProperty(
        name="Material",
        description="What the plates are cut from",
        items=metal_items,
        default=metal_number(DEFAULTS.material),
        get=chosen_number,
        set=choose_metal,
    )
    material_name: StringProperty(
        description="The material's name, also where it is not known. Empty: the usual one", options={"HIDDEN"})
    material_row: StringProperty(description="A material of the user's own, as a file has it", options={"HIDDEN"})
    thickness_mm: kept_mm(DEFAULTS.thickness)
    thickness: shown_length("Thickness", "Thickness of the plates", "thickness_mm")
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
            *CORNER_ITEMS,
        ],
        default="BY_MATERIAL",
    )
    overlap: FloatProperty(
        name="Overlap",
        description="How much of the other plate's end the through plate covers",
        min=0.0, max=1.0, default=0.5, subtype="FACTOR",
    )  # fmt: skip
    root_gap_mm: kept_mm(DEFAULTS.root_gap)
    root_gap: shown_length("Root Gap", "Distance left between the plates at the root of the weld", "root_gap_mm")

    tabs: BoolProperty(
        name="Locating Tabs", description="Cut tabs that hold the plates in place for tacking", default=True
    )
    keyed: BoolProperty(
        name="Keyed",
        description="Move tabs until every plate fits its own place alone, and neither turned over nor turned round",
    )
    fit_gap_mm: kept_mm(SIDES * DEFAULTS.fit_gap)        # files keep both sides together
    fit_gap: shown_length("Fit Gap a Side", "Clearance on each side of a tab", "fit_gap_mm", SIDES)
    thickness_gap_mm: kept_mm(0.0)
    thickness_gap: shown_length(
        "Slot Clearance",
        "How much wider than a plate the slots are that take it, both faces together: sheet is not its nominal "
        "thickness. 0: as much as its standard lets it be thicker",
        "thickness_gap_mm",
    )
    tab_width_mm: kept_mm(0.0)
    tab_width: shown_length("Width", "Width of a tab. 0: from the thickness of the plate", "tab_width_mm")
    tab_spacing_mm: kept_mm(0.0)
    tab_spacing: shown_length("Spacing", "Distance from one group of tabs to the next. 0: automatic", "tab_spacing_mm")
    tab_share: FloatProperty(
        name="Share of Groove",
        description="How much of an open corner's length groups of tabs may take: there is no groove to fill",
        min=0.0, max=1.0, default=SHARE, subtype="FACTOR",
    )

    weld_process: EnumProperty(
        name="Process",
        description="What the kit is welded by: what one pass fills, how much filler to buy, how long the arc burns",
        items=[
            ("BY_METAL", "By Material", "TIG, but MIG for steel (common practice, no source)", 0),
            ("TIG", "TIG", "With a rod fed by hand", 1),
            ("MIG", "MIG", "With a wire that is fed, MAG too", 2),
            ("STICK", "Stick", "With covered electrodes", 3),
        ],
        default="BY_METAL",
    )
    weld_leg_mm: kept_mm(0.0)
    weld_leg: shown_length(
        "Fillet Leg", "Leg of fillets at tees and closed corners. 0: by the thickness of the plates", "weld_leg_mm")
    stitch_mm: kept_mm(DEFAULTS.weld.stitch)
    stitch: shown_length(
        "Stitch", "How long a stitch is where a weld need only hold. 0: welded all along", "stitch_mm")
    stitch_pitch_mm: kept_mm(DEFAULTS.weld.pitch)
    stitch_pitch: shown_length("Pitch", "From the beginning of one stitch to that of the next", "stitch_pitch_mm")

    reach_mm: kept_mm(DEFAULTS.reach)
    reach: shown_length(
        "Reach", "An inner plate's edge that ends this near a wall is brought to the wall, farther ones stay free",
        "reach_mm",
    )  # fmt: skip
    tabs_flush: BoolProperty(
        name="Tabs Flush with Walls",
        description="Tabs end flush with the outside of the wall that they go through, where Tabs Short By is 0. Off: "
        "half-way through a wall that holds liquid, for a plug weld",
    )
    tab_short_mm: kept_mm(0.0)
    tab_short: shown_length(
        "Tabs Short By",
        "How far a tab ends below the outside of the wall that it goes through, for a plug weld. 0: half of a wall "
        "that holds liquid, unless tabs are to be flush",
        "tab_short_mm",
    )
    jog_mm: kept_mm(DEFAULTS.jog)
    jog: shown_length(
        "Least Jog", "Steps beside tabs that are lower than this are merged, where the joint allows it. 0: none",
        "jog_mm",
    )  # fmt: skip
    slot_relief_mm: kept_mm(DEFAULTS.slot_relief)
    slot_relief: shown_length(
        "Slot Relief", "Radius of the small rounds in the corners of tab slots. 0: square corners", "slot_relief_mm"
    )
    limber_mm: kept_mm(DEFAULTS.limber)
    limber: shown_length(
        "Limber Holes",
        "Size of the holes at low points and the cut corners of inner plates, so that liquid drains and weld passes. "
        "0: none",
        "limber_mm",
    )

    nose_mm: kept_mm(0.0)
    nose: shown_length(
        "Blunt Noses", "Height of the blunt end where an inner plate runs out in a point. 0: by its thickness",
        "nose_mm",
    )  # fmt: skip

    hole_radius_mm: kept_mm(DEFAULTS.hole_radius)
    hole_radius: shown_length(
        "Hole Corners", "Radius that rounds the corners of holes drawn in the mesh. 0: as drawn", "hole_radius_mm"
    )
    fittings_file: StringProperty(
        name="Own Fittings",
        description="A CSV file of fittings of your own, beside those that are built in",
        subtype="FILE_PATH",
        options=BESIDE_THE_FILE,
    )
    sealed: BoolProperty(
        name="Sealed on Purpose",
        description="Cavities that the welds close are meant: a warning instead of an error. "
        "Air or moisture in them can burst them when they are heated",
    )

    fields: CollectionProperty(type=TackwrightField, name="Perforations", description="Patterns of holes in plates")
    active_field: IntProperty(name="Perforation", description="The perforation chosen in the list")
    last_field: IntProperty(description="The highest number that a perforation was ever given", options={"HIDDEN"})

    etch: BoolProperty(
        name="Etch Marks", description="Etch each plate's mark on it, and its neighbours' at its edges", default=True
    )
    note: BoolProperty(
        name="Note", description="Write below each plate, on a layer of its own, what it is and how many", default=True
    )
    file_names: StringProperty(
        name="File Names",
        description="What the plates' files are called. It may hold {mark}, {name}, {thickness}, {quantity} and "
        "{material}. Empty: mark and name",
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

    live: BoolProperty(
        name="Live",
        description="Let the plates follow the drawing while it is drawn: all faces, in Edit Mode too. "
        "What takes too long to follow is made when Make Plates is pressed",
        update=_live_changed,
    )

    shop: PointerProperty(type=TackwrightShop, name="Shop", description="Limits and habits of the shop")

    summary: StringProperty(description="What the last Make Plates or Export Kit made")
    figures: StringProperty(description="Figures of what was made, as JSON", options={"HIDDEN"})
    findings: CollectionProperty(type=TackwrightFinding)
    active_finding: IntProperty(name="Finding")


def read_settings(settings: TackwrightSettings) -> Settings:
    """The core's settings for the whole kit, lengths in mm."""
    habits = read_habits(settings.shop, DEFAULTS)
    by_material = "half-open" in habits.corners.values() and settings.corner == "BY_MATERIAL"
    half_open = settings.corner == "HALF_OPEN" or by_material
    return replace(
        habits,
        material=settings.material,
        thickness=as_kept(settings.thickness_mm),
        metal_side=METAL_SIDES[settings.metal_side],
        corner=CORNERS[settings.corner],
        overlap=as_kept(settings.overlap) if half_open else None,
        root_gap=as_kept(settings.root_gap_mm),
        fit_gap=as_kept(settings.fit_gap_mm) / SIDES,
        thickness_gap=as_kept(settings.thickness_gap_mm) or None,
        tabs=TabRule(
            on=settings.tabs,
            width=as_kept(settings.tab_width_mm) or None,
            spacing=as_kept(settings.tab_spacing_mm) or None,
            share=None if (share := as_kept(settings.tab_share)) == SHARE else share,
        ),
        weld=WeldRule(
            process=PROCESSES[settings.weld_process],
            leg=as_kept(settings.weld_leg_mm) or None,
            stitch=as_kept(settings.stitch_mm),
            pitch=as_kept(settings.stitch_pitch_mm) or DEFAULTS.weld.pitch,
        ),
        reach=as_kept(settings.reach_mm),
        tab_short=as_kept(settings.tab_short_mm) or (0.0 if settings.tabs_flush else None),
        jog=as_kept(settings.jog_mm),
        slot_relief=as_kept(settings.slot_relief_mm),
        limber=as_kept(settings.limber_mm),
        nose=as_kept(settings.nose_mm) or None,
        hole_radius=as_kept(settings.hole_radius_mm),
        sealed=settings.sealed,
        keyed=settings.keyed,
        etch=settings.etch,
        note=settings.note,
        file_names=settings.file_names or DEFAULTS.file_names,
        dxf_units="in" if settings.dxf_units == "IN" else "mm",
    )


def read_own_fittings(settings: TackwrightSettings) -> Mapping[str, float]:
    """The fittings of the user's own file: name to the diameter of the hole, mm. InputError where it cannot be read."""
    if not settings.fittings_file:
        return MappingProxyType({})
    return MappingProxyType(read_fittings_csv(bpy.path.abspath(settings.fittings_file)))


CLASSES = (TackwrightSettings,)
_register_classes, _unregister_classes = bpy.utils.register_classes_factory(CLASSES)


def register() -> None:
    _register_classes()
    bpy.types.Object.tackwright = PointerProperty(type=TackwrightSettings, name="Tackwright", override=OVERRIDABLE)


def unregister() -> None:
    del bpy.types.Object.tackwright
    _unregister_classes()
