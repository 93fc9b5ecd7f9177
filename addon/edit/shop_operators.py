"""Shops in the editor: applied, saved, deleted, and shared as files."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import bpy
from bpy.props import BoolProperty, StringProperty

from ...core.files.shops import Shop, read_shop, shop_text
from ...core.terms.errors import TackwrightError
from ..gather.shop_habits import give_shop, habits_of
from ..host.editor_types import Ended
from ..host.file_operators import ReadsFile, WritesFile
from ..host.reports import report_error
from ..host.whole_step import whole_step
from ..scene.active_envelope import envelope_of, poll_settings
from ..scene.shop_files import delete_shop, find_shop, is_built_in, keep_shop, own_shops

__all__ = [
    "TACKWRIGHT_OT_apply_shop", "TACKWRIGHT_OT_delete_shop", "TACKWRIGHT_OT_export_shop", "TACKWRIGHT_OT_import_shop",
    "TACKWRIGHT_OT_save_shop",
]  # fmt: skip


class TACKWRIGHT_OT_apply_shop(bpy.types.Operator):
    """Give the envelope this shop's habits: limits of the cutter, tabs, gaps, corners, reliefs and the unit of the DXF
    files. Metal, thickness and what was chosen for single faces and edges stay"""

    bl_idname = "tackwright.apply_shop"
    bl_label = "Apply Shop"
    bl_options = {"REGISTER", "UNDO"}

    name: StringProperty(name="Shop", description="The shop whose habits the envelope takes")

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return poll_settings(cls, context)

    @classmethod
    def description(cls, context: bpy.types.Context, properties: bpy.types.OperatorProperties) -> str:
        try:
            about = find_shop(properties.name).about
        except TackwrightError:
            about = ""
        told = " ".join((cls.__doc__ or "").split())
        return f"{about}.\n{told}" if about else told

    def execute(self, context: bpy.types.Context) -> Ended:
        envelope = envelope_of(context)
        try:
            shop = find_shop(self.name)
        except TackwrightError as error:
            report_error(self, error)
            return {"CANCELLED"}
        left = give_shop(envelope.tackwright, shop)
        whole_step(context)
        if left:
            self.report({"WARNING"}, f"'{shop.name}' applied, but there is no place here for: {', '.join(left)}")
        else:
            self.report({"INFO"}, f"{envelope.name} has the settings of the shop '{shop.name}'")
        return {"FINISHED"}


class TACKWRIGHT_OT_save_shop(bpy.types.Operator):
    """Keep the envelope's limits, tabs, gaps and corners as a shop, to apply it to others"""

    bl_idname = "tackwright.save_shop"
    bl_label = "Save Shop As"
    bl_options = {"REGISTER", "UNDO"}

    name: StringProperty(name="Name", description="What to call the shop", options={"SKIP_SAVE"})
    replace: BoolProperty(
        name="Replace", description="Put it in the place of a shop of that name", options={"SKIP_SAVE"}
    )

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return poll_settings(cls, context)

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> Ended:
        current = envelope_of(context).tackwright.shop.name
        self.name = self.name or ("" if is_built_in(current) else current)
        return context.window_manager.invoke_props_dialog(self)

    def execute(self, context: bpy.types.Context) -> Ended:
        settings = envelope_of(context).tackwright
        name = self.name.strip()
        try:
            path = keep_shop(replace(habits_of(settings), name=name), replace=self.replace)
        except TackwrightError as error:
            report_error(self, error)
            return {"CANCELLED"}
        settings.shop.name = name
        settings.shop.applied = shop_text(habits_of(settings))
        whole_step(context)
        self.report({"INFO"}, f"Saved '{name}' as {path}")
        return {"FINISHED"}


class TACKWRIGHT_OT_delete_shop(bpy.types.Operator):
    """Delete a shop of your own. Envelopes that were made as it does keep their settings"""

    bl_idname = "tackwright.delete_shop"
    bl_label = "Delete Shop"

    name: StringProperty(
        name="Name", description="The shop to delete. Empty: the one that the envelope has", options={"SKIP_SAVE"}
    )

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if not any(isinstance(shop, Shop) for shop in own_shops().values()):
            cls.poll_message_set("There is no shop of your own to delete: those built in stay")
            return False
        return True

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> Ended:
        name = self._meant(context)
        if not name or is_built_in(name):
            return self.execute(context)  # which says why not
        return context.window_manager.invoke_confirm(
            self, event, title="Delete Shop", message=f"'{name}' cannot be brought back",
            confirm_text="Delete",
        )  # fmt: skip

    def execute(self, context: bpy.types.Context) -> Ended:
        name = self._meant(context)
        try:
            delete_shop(name)
        except TackwrightError as error:
            report_error(self, error)
            return {"CANCELLED"}
        self.report({"INFO"}, f"Deleted the shop '{name}'")
        return {"FINISHED"}

    def _meant(self, context: bpy.types.Context) -> str:
        envelope = envelope_of(context)
        return self.name or (envelope.tackwright.shop.name if envelope is not None else "")


class TACKWRIGHT_OT_import_shop(ReadsFile, bpy.types.Operator):
    """Add a shop from a file (*.toml) that somebody shared, or that you wrote"""

    bl_idname = "tackwright.import_shop"
    bl_label = "Import Shop"

    filter_glob: StringProperty(default="*.toml", options={"HIDDEN"})
    replace: BoolProperty(
        name="Replace", description="Put it in the place of a shop of the same name", options={"SKIP_SAVE"}
    )
    missing = "Choose the shop's file"

    def read(self, context: bpy.types.Context, path: str) -> str:
        shop = read_shop(path)
        keep_shop(shop, replace=self.replace)
        return f"Added the shop '{shop.name}': apply it in the Shop panel"


class TACKWRIGHT_OT_export_shop(WritesFile, bpy.types.Operator):
    """Write the envelope's habits to a file (*.toml), to share it or to name it in a job"""

    bl_idname = "tackwright.export_shop"
    bl_label = "Export Shop"

    filter_glob: StringProperty(default="*.toml", options={"HIDDEN"})
    suffix = ".toml"

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if envelope_of(context) is None:
            cls.poll_message_set("Select the envelope whose habits to write")
            return False
        return True

    def first_name(self, context: bpy.types.Context) -> str:
        from ...core.files.safe_names import safe_name

        return safe_name(envelope_of(context).tackwright.shop.name or "shop")

    def text(self, context: bpy.types.Context, path: Path) -> str:
        settings = envelope_of(context).tackwright
        return shop_text(habits_of(settings, settings.shop.name or path.stem))


CLASSES = (
    TACKWRIGHT_OT_apply_shop, TACKWRIGHT_OT_save_shop, TACKWRIGHT_OT_delete_shop, TACKWRIGHT_OT_import_shop,
    TACKWRIGHT_OT_export_shop,
)  # fmt: skip
register, unregister = bpy.utils.register_classes_factory(CLASSES)
