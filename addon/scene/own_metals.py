"""The user's own metals, kept in the preferences and so in no file: what they are, and how the core is told of them."""

# No `from __future__ import annotations`: Blender reads the annotations as properties.

from typing import Literal

import bpy
from bpy.props import BoolProperty, EnumProperty, FloatProperty, StringProperty

from ...core.stock.own_materials import HEAVIEST, LIGHTEST, MOST_OVER, own_material
from ...core.terms.errors import InputError
from ...core.terms.metal import Material
from ..host.shown_lengths import as_kept
from ..host.user_files import PACKAGE

__all__ = ["TackwrightOwnMaterial", "preferences", "read_own_material", "users_metals", "write_own_material"]

CORNERS: dict[str, Literal["open", "closed"] | None] = {"AS_USUAL": None, "OPEN": "open", "CLOSED": "closed"}


class TackwrightOwnMaterial(bpy.types.PropertyGroup):
    """One metal of the user's own."""

    name: StringProperty(name="Name", description="What it is called here and in the lists of a kit")
    family: EnumProperty(
        name="Family",
        description="What it is welded like: decides corners and gauge numbers where nothing else does",
        items=[
            ("ALUMINIUM", "Aluminium", "", 0), ("STEEL", "Steel", "", 1), ("STAINLESS", "Stainless", "", 2),
            ("OTHER", "Other", "Copper, titanium and the like", 3),
        ],
        default="STEEL",
    )  # fmt: skip
    density: FloatProperty(
        name="Density (kg/m³)", description="Weight of a cubic metre, from the maker's data sheet",
        min=LIGHTEST, max=HEAVIEST, default=7850.0, precision=0,
    )  # fmt: skip
    corner: EnumProperty(
        name="Corners",
        description="How corners of it are usually joined",
        items=[
            ("AS_USUAL", "As Usual", "As is usual in its family", 0),
            ("OPEN", "Open", "For a weld with filler", 1),
            ("CLOSED", "Closed", "Plates butted tight", 2),
        ],
        default="AS_USUAL",
    )
    gauges: EnumProperty(
        name="Gauge Numbers",
        description="Which gauge numbers sheet of it is sold by",
        items=[
            ("AS_USUAL", "As Usual", "Those of its family, none for others", 0),
            ("STEEL", "Steel", "Manufacturers' Standard", 1),
            ("ALUMINIUM", "Aluminium", "Brown & Sharpe", 2),
            ("GALVANIZED", "Galvanized", "Manufacturers' Standard with its coating", 3),
            ("STAINLESS", "Stainless", "US standard gauge", 4),
        ],
        default="AS_USUAL",
    )
    thicker: FloatProperty(
        name="Over Nominal (mm)",
        description="How much thicker than its nominal thickness sheet of it may be. 0: as the standards of its family "
        "allow",
        min=0.0, max=MOST_OVER, precision=2,
    )  # fmt: skip
    filler: StringProperty(name="Filler", description="The usual filler metal")
    needs_filler: BoolProperty(name="Needs Filler", description="It cracks where it is welded without filler")
    source: StringProperty(name="Source", description="Where the density is from")
    remarks: StringProperty(name="Remarks", description="Anything to know when it is chosen")


def preferences() -> bpy.types.AddonPreferences | None:
    """The extension's preferences. None where it was not enabled through Blender's preferences."""
    enabled = bpy.context.preferences.addons.get(PACKAGE)
    return enabled.preferences if enabled is not None else None


def users_metals() -> tuple[Material, ...]:
    """The user's own metals, but for those without a name; of two with one name the first."""
    kept = preferences()
    found: dict[str, Material] = {}
    for row in kept.materials if kept is not None else ():
        try:
            material = read_own_material(row)
        except InputError:
            continue  # the preferences show what is wrong with it
        found.setdefault(material.name, material)
    return tuple(found.values())


def read_own_material(row: TackwrightOwnMaterial) -> Material:
    """The core's material. Raises InputError where there is no name, or the density is none of a metal."""
    name = " ".join(row.name.split())
    if not name:
        raise InputError("The material has no name", do="Give it one")
    return own_material(
        name=name, family=row.family.lower(), density=float(f"{row.density:.6g}"), corner=CORNERS[row.corner],
        gauges=None if row.gauges == "AS_USUAL" else row.gauges.lower(), filler=row.filler,
        needs_filler=row.needs_filler, source=row.source, remarks=row.remarks,
        thicker=as_kept(row.thicker) or None,
    )  # fmt: skip


def write_own_material(row: TackwrightOwnMaterial, material: Material) -> None:
    """Put a material of the core's on a row."""
    usual = own_material(name=material.name, family=material.family, density=material.density)
    row.name, row.family, row.density = material.name, material.family.upper(), material.density
    row.corner = "AS_USUAL" if material.corner_source == usual.corner_source else material.default_corner.upper()
    gauges = material.gauge_table
    row.gauges = "AS_USUAL" if gauges is None or gauges == usual.gauge_table else gauges.upper()
    row.filler, row.needs_filler = material.filler, material.needs_filler
    row.source = "" if material.density_source == usual.density_source else material.density_source
    row.remarks, row.thicker = material.remarks, material.thicker or 0.0


CLASSES = (TackwrightOwnMaterial,)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
