"""The extension's page in Blender's preferences: the shop of new envelopes, and metals of one's own."""

# No `from __future__ import annotations`: Blender reads the annotations as properties.

import bpy
from bpy.props import CollectionProperty, IntProperty, StringProperty

from ...core.files.shops import BUILT_IN, Shop
from ...core.terms.errors import InputError
from ..host.shown_lengths import error_text
from ..host.user_files import PACKAGE
from ..scene.own_metals import TackwrightOwnMaterial, read_own_material
from ..scene.shop_files import own_shops, shop_names, shops_folder
from .metal_operators import (
    TACKWRIGHT_OT_add_material,
    TACKWRIGHT_OT_export_materials,
    TACKWRIGHT_OT_import_materials,
    TACKWRIGHT_OT_remove_material,
)
from .shop_operators import TACKWRIGHT_OT_delete_shop, TACKWRIGHT_OT_import_shop

__all__ = ["TackwrightPreferences"]


def _shops(preferences: bpy.types.AddonPreferences, context: bpy.types.Context, text: str) -> list[str]:
    return shop_names()


class TACKWRIGHT_UL_materials(bpy.types.UIList):
    def draw_item(
        self, context: bpy.types.Context, layout: bpy.types.UILayout, data: object, item: TackwrightOwnMaterial,
        icon: int, active_data: object, active_property: str,
    ) -> None:  # fmt: skip
        row = layout.row()
        row.prop(item, "name", text="", emboss=False, icon="NONE" if item.name.strip() else "ERROR")
        row.label(text=f"{item.density:g} kg/m³", translate=False)


class TackwrightPreferences(bpy.types.AddonPreferences):
    bl_idname = PACKAGE

    new_shop: StringProperty(
        name="Shop of New Envelopes",
        description="Envelopes that were never made and have no settings of their own yet are given its habits when "
        "they are first made. Empty: none",
        search=_shops,
    )
    materials: CollectionProperty(
        type=TackwrightOwnMaterial, name="Materials", description="Metals of your own, beside those built in"
    )
    active_material: IntProperty(name="Material", description="The metal chosen in the list")

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        layout.use_property_split = True
        layout.use_property_decorate = False
        self._draw_shops(layout)
        layout.separator()
        self._draw_materials(context, layout)

    def _draw_shops(self, layout: bpy.types.UILayout) -> None:
        layout.label(text="Shops")
        layout.prop(self, "new_shop")
        if self.new_shop and self.new_shop not in shop_names():
            layout.label(text=f"There is no shop '{self.new_shop}'", icon="ERROR", translate=False)
        box = layout.box()
        for shop in own_shops().values():
            row = box.row()
            if isinstance(shop, Shop):
                row.label(text=shop.name, translate=False)
                row.operator(TACKWRIGHT_OT_delete_shop.bl_idname, text="", icon="X", emboss=False).name = shop.name
            else:
                row.label(text=shop.splitlines()[0], icon="ERROR", translate=False)
        for shop in BUILT_IN:
            row = box.row()
            row.label(text=shop.name, translate=False)
            row.label(text="Built in")
        row = layout.row()
        row.operator(TACKWRIGHT_OT_import_shop.bl_idname, text="Import Shop...", icon="IMPORT")
        folder = shops_folder()
        if folder.is_dir():
            row.operator("wm.path_open", text="Open Folder", icon="FILE_FOLDER").filepath = str(folder)

    def _draw_materials(self, context: bpy.types.Context, layout: bpy.types.UILayout) -> None:
        layout.label(text="My Materials")
        row = layout.row()
        row.template_list(TACKWRIGHT_UL_materials.__name__, "", self, "materials", self, "active_material", rows=3)
        buttons = row.column(align=True)
        buttons.operator(TACKWRIGHT_OT_add_material.bl_idname, text="", icon="ADD")
        buttons.operator(TACKWRIGHT_OT_remove_material.bl_idname, text="", icon="REMOVE")
        if 0 <= self.active_material < len(self.materials):
            chosen = self.materials[self.active_material]
            try:
                read_own_material(chosen)
            except InputError as error:
                layout.label(text=error_text(context, error), icon="ERROR", translate=False)
            for name in (
                "family", "density", "corner", "gauges", "thicker", "filler", "needs_filler", "source", "remarks"
            ):
                layout.prop(chosen, name)
        row = layout.row()
        row.operator(TACKWRIGHT_OT_import_materials.bl_idname, text="Import Materials...", icon="IMPORT")
        row.operator(TACKWRIGHT_OT_export_materials.bl_idname, text="Export Materials...", icon="EXPORT")


CLASSES = (TACKWRIGHT_UL_materials, TackwrightPreferences)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
