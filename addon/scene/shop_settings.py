"""The shop's habits on an envelope: what its cutter can do, how it joins each family of metals, and how much
room its torch takes."""

# No `from __future__ import annotations`: Blender reads the annotations as properties.

from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import Any

import bpy
from bpy.props import EnumProperty, FloatProperty, StringProperty

from ...core.terms.choices import MOST_LEAN, Corner, Cutter, Settings, Torch
from ...core.terms.metal import Family
from ..host.overrides import overridable
from ..host.shown_lengths import as_kept, kept_mm, shown_length

__all__ = ["CORNER_ITEMS", "FAMILIES", "TackwrightShop", "read_habits", "write_habits"]

STANDARD = Cutter()
TORCH = Torch()
CORNER_ITEMS = [
    ("OPEN", "Open", "The plates meet at their inner edges; the groove between them takes the weld", 1),
    ("HALF_OPEN", "Half-Open", "One plate covers part of the other's end", 2),
    ("CLOSED", "Closed", "One plate covers the other's end", 3),
]
"""Blender keeps the numbers in files."""
HABITS: dict[str, Corner | None] = {
    "AS_USUAL": None, "OPEN": "open", "HALF_OPEN": "half-open", "CLOSED": "closed",
}  # fmt: skip
FAMILIES: dict[Family, str] = {
    "aluminium": "corner_aluminium", "steel": "corner_steel", "stainless": "corner_stainless", "other": "corner_other",
}  # fmt: skip


def _habit(family: str, usual: str) -> Any:
    return EnumProperty(
        name=family,
        description=f"How this shop joins corners in {family.lower()}, where the envelope says By Material",
        items=[
            ("AS_USUAL", "As Usual", f"{usual} (common practice, no source)", 0),
            *CORNER_ITEMS,
        ],
        default="AS_USUAL",
    )


@overridable
@overridable
class TackwrightShop(bpy.types.PropertyGroup):
    """Habits and limits of the shop that cuts and welds an envelope's plates."""

    name: StringProperty(name="Shop", description="The shop whose habits this envelope was last given")
    applied: StringProperty(description="Its file as it was then", options={"HIDDEN"})

    hole_ratio: FloatProperty(
        name="Hole",
        description="Narrowest hole or slot that the cutter makes well, in thicknesses of the plate",
        min=0.1, max=20.0, soft_max=4.0, default=STANDARD.hole_ratio, precision=2, step=10,
    )  # fmt: skip
    hole_mm: kept_mm(STANDARD.hole)
    hole: shown_length("Hole at Least", "Narrowest hole or slot that the cutter makes in any plate", "hole_mm")
    web_ratio: FloatProperty(
        name="Web",
        description="Least metal between two cuts, in thicknesses of the plate. Less burns away",
        min=0.1, max=20.0, soft_max=4.0, default=STANDARD.web_ratio, precision=2, step=10,
    )  # fmt: skip
    thinnest_mm: kept_mm(STANDARD.thinnest)
    thinnest: shown_length("Thinnest Sheet", "Thinnest sheet that the shop cuts and welds", "thinnest_mm")
    bed_x_mm: kept_mm(0.0)
    bed_x: shown_length("Bed Length", "Length of the largest plate that the cutter takes. 0: any", "bed_x_mm")
    bed_y_mm: kept_mm(0.0)
    bed_y: shown_length("Bed Width", "Width of the largest plate that the cutter takes. 0: any", "bed_y_mm")

    nozzle_mm: kept_mm(TORCH.nozzle)
    nozzle: shown_length("Nozzle", "Diameter of the torch's nozzle", "nozzle_mm")
    stand_off_mm: kept_mm(TORCH.stand_off)
    stand_off: shown_length("Stand-Off", "How far the nozzle stays from the root of a weld", "stand_off_mm")
    torch_length_mm: kept_mm(TORCH.length)
    torch_length: shown_length("Torch Length", "From the root of a weld straight to the hand", "torch_length_mm")
    hand_mm: kept_mm(TORCH.hand)
    hand: shown_length("Hand", "How wide a way the hand and the arm behind it take", "hand_mm")
    lean: FloatProperty(
        name="Lean",
        description="Degrees that the torch may lean from midway between the plates, and along the weld",
        min=0.0, max=MOST_LEAN, default=TORCH.lean, precision=0, step=500,
    )  # fmt: skip

    corner_aluminium: _habit("Aluminium", "Open: corners are filled")
    corner_steel: _habit("Steel", "Closed: plates are butted tight")
    corner_stainless: _habit("Stainless", "Closed: plates are butted tight")
    corner_other: _habit("Other", "Open, unless the material says otherwise")


def read_habits(shop: TackwrightShop, settings: Settings) -> Settings:
    """The settings with the shop's limits, torch and corners."""
    x, y = as_kept(shop.bed_x_mm), as_kept(shop.bed_y_mm)
    cutter = Cutter(
        hole_ratio=as_kept(shop.hole_ratio),
        hole=as_kept(shop.hole_mm),
        web_ratio=as_kept(shop.web_ratio),
        thinnest=as_kept(shop.thinnest_mm),
        bed=(x, y) if x and y else None,
    )
    torch = Torch(
        nozzle=as_kept(shop.nozzle_mm),
        stand_off=as_kept(shop.stand_off_mm),
        length=as_kept(shop.torch_length_mm),
        lean=as_kept(shop.lean),
        hand=as_kept(shop.hand_mm),
    )
    return replace(settings, cutter=cutter, torch=torch, corners=_corners(shop))


def _corners(shop: TackwrightShop) -> Mapping[Family, Corner]:
    chosen = {family: HABITS[getattr(shop, name)] for family, name in FAMILIES.items()}
    return MappingProxyType({family: corner for family, corner in chosen.items() if corner is not None})


def write_habits(shop: TackwrightShop, settings: Settings) -> None:
    """Put the limits, torch and corners of settings on an envelope's shop."""
    cutter = settings.cutter
    shop.hole_ratio, shop.hole_mm = cutter.hole_ratio, cutter.hole
    shop.web_ratio, shop.thinnest_mm = cutter.web_ratio, cutter.thinnest
    shop.bed_x_mm, shop.bed_y_mm = cutter.bed or (0.0, 0.0)
    torch = settings.torch
    shop.nozzle_mm, shop.stand_off_mm, shop.torch_length_mm = torch.nozzle, torch.stand_off, torch.length
    shop.lean, shop.hand_mm = torch.lean, torch.hand
    keys = {corner: key for key, corner in HABITS.items()}
    for family, name in FAMILIES.items():
        setattr(shop, name, keys[settings.corners.get(family)])


CLASSES = (TackwrightShop,)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
