"""The sidebar's panel of the shop that cuts and welds the plates."""

from __future__ import annotations

import bpy

from ...core.files.shops import BUILT_IN, Shop
from ..edit.shop_operators import (
    TACKWRIGHT_OT_apply_shop,
    TACKWRIGHT_OT_delete_shop,
    TACKWRIGHT_OT_export_shop,
    TACKWRIGHT_OT_import_shop,
    TACKWRIGHT_OT_save_shop,
)
from ..gather.shop_habits import changed_since
from ..scene.properties import TackwrightSettings
from ..scene.shop_files import own_shops
from ..scene.shop_settings import FAMILIES
from ..scene.sidebar import SettingsPanel

__all__: list[str] = []


LIMITS = (
    ("Smallest, Times the Thickness", (("hole_ratio", "Hole"), ("web_ratio", "Web"))),
    ("Smallest in Any Sheet", (("hole", "Hole"), ("thinnest", "Thickness"))),
    ("Largest Plate, 0 for Any", (("bed_x", "Length"), ("bed_y", "Width"))),
    ("Torch Clearance", (
        ("nozzle", "Nozzle"), ("stand_off", "Stand-Off"), ("torch_length", "Length"), ("hand", "Hand"),
        ("lean", "Lean"),
    )),
)
"""What the cutter can do and what the torch takes, and the words for it under their heading."""


class TACKWRIGHT_MT_shops(bpy.types.Menu):
    """Shops to apply: your own, then those built in"""

    bl_label = "Apply a Shop"

    def draw(self, context: bpy.types.Context) -> None:
        own = own_shops()
        for path, shop in own.items():
            if isinstance(shop, Shop):
                self._offer(shop)
            else:
                row = self.layout.row()
                row.enabled = False
                row.label(text=path.name, icon="ERROR", translate=False)
        if own:
            self.layout.separator()
        for shop in BUILT_IN:
            self._offer(shop)

    def _offer(self, shop: Shop) -> None:
        self.layout.operator(TACKWRIGHT_OT_apply_shop.bl_idname, text=shop.name, translate=False).name = shop.name


class TACKWRIGHT_PT_shop(SettingsPanel, bpy.types.Panel):
    bl_label = "Shop"
    bl_order = 60
    bl_options = {"DEFAULT_CLOSED"}

    def draw_settings(self, layout: bpy.types.UILayout, settings: TackwrightSettings) -> None:
        shop = settings.shop
        row = layout.row(align=True)
        if shop.name:
            mark = " *" if changed_since(settings) else ""
            row.menu(TACKWRIGHT_MT_shops.__name__, text=shop.name + mark, translate=False)
        else:
            row.menu(TACKWRIGHT_MT_shops.__name__)
        row.operator(TACKWRIGHT_OT_save_shop.bl_idname, text="", icon="ADD")
        row.operator(TACKWRIGHT_OT_delete_shop.bl_idname, text="", icon="REMOVE")
        row = layout.row(align=True)
        row.operator(TACKWRIGHT_OT_import_shop.bl_idname, text="Import...", icon="IMPORT")
        row.operator(TACKWRIGHT_OT_export_shop.bl_idname, text="Export...", icon="EXPORT")
        for heading, names in LIMITS:
            column = layout.column(align=True)
            column.label(text=heading)
            for name, text in names:
                column.prop(shop, name, text=text)
        column = layout.column(align=True)
        column.label(text="Corners, by Material")
        for name in FAMILIES.values():
            column.prop(shop, name)


CLASSES = (TACKWRIGHT_MT_shops, TACKWRIGHT_PT_shop)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
