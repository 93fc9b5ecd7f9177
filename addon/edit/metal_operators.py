"""Lists of the user's own metals in the editor, and sheet by gauge number."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import bpy
from bpy.props import BoolProperty, IntProperty, StringProperty

from ...core.stock.gauges import gauge_table, gauge_thickness
from ...core.stock.own_materials import materials_csv, read_materials_csv
from ...core.stock.said_units import length_said
from ...core.terms.errors import InputError, TackwrightError
from ...core.terms.metal import Material
from ..host.editor_types import Ended, OfOperator
from ..host.file_operators import ReadsFile, WritesFile
from ..host.reports import report_error
from ..host.shown_lengths import units_of
from ..host.whole_step import whole_step
from ..scene.active_envelope import envelope_of, poll_settings
from ..scene.metals import carried_metal, known_metals, missing_metal
from ..scene.own_metals import preferences, users_metals, write_own_material

__all__ = [
    "TACKWRIGHT_MT_gauges", "TACKWRIGHT_OT_add_material", "TACKWRIGHT_OT_export_materials",
    "TACKWRIGHT_OT_import_materials", "TACKWRIGHT_OT_keep_material", "TACKWRIGHT_OT_remove_material",
    "TACKWRIGHT_OT_set_gauge", "draw_missing_metal",
]  # fmt: skip

NOT_ENABLED = "Enable the extension in Blender's preferences first: that is where the list is kept"


class _Listing(OfOperator):
    """Operators on the list in the preferences."""

    bl_options = {"INTERNAL"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if preferences() is None:
            cls.poll_message_set(NOT_ENABLED)
            return False
        return True


class TACKWRIGHT_OT_add_material(_Listing, bpy.types.Operator):
    """Add a metal of your own to the list. It can be chosen in the Metal panel once it has a name"""

    bl_idname = "tackwright.add_material"
    bl_label = "Add Material"

    def execute(self, context: bpy.types.Context) -> Ended:
        kept = preferences()
        kept.materials.add().name = _free("New metal", {row.name for row in kept.materials})
        kept.active_material = len(kept.materials) - 1
        _changed(context)
        return {"FINISHED"}


class TACKWRIGHT_OT_remove_material(_Listing, bpy.types.Operator):
    """Take the chosen metal from the list. Files that use it keep its name, and say that it is missing"""

    bl_idname = "tackwright.remove_material"
    bl_label = "Remove Material"

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        kept = preferences()
        if kept is None or not kept.materials:
            cls.poll_message_set("There is no metal of your own to remove")
            return False
        return True

    def execute(self, context: bpy.types.Context) -> Ended:
        kept = preferences()
        kept.materials.remove(min(kept.active_material, len(kept.materials) - 1))
        kept.active_material = max(0, min(kept.active_material, len(kept.materials) - 1))
        _changed(context)
        return {"FINISHED"}


class TACKWRIGHT_OT_import_materials(_Listing, ReadsFile, bpy.types.Operator):
    """Add the metals of a file (*.csv) with the columns name, family, density to your own"""

    bl_idname = "tackwright.import_materials"
    bl_label = "Import Materials"

    filter_glob: StringProperty(default="*.csv", options={"HIDDEN"})
    replace: BoolProperty(
        name="Replace", description="Put them in the place of those of the same name", options={"SKIP_SAVE"}
    )
    missing = "Choose the list's file"

    def read(self, context: bpy.types.Context, path: str) -> str:
        added = read_materials_csv(path)
        _refuse_taken(added, replace=self.replace)
        _keep(added)
        _changed(context)
        return f"{len(added)} {'metal' if len(added) == 1 else 'metals'} added to your own"


class TACKWRIGHT_OT_export_materials(_Listing, WritesFile, bpy.types.Operator):
    """Write your own metals to a file (*.csv), to share them or to name it in a job"""

    bl_idname = "tackwright.export_materials"
    bl_label = "Export Materials"

    filter_glob: StringProperty(default="*.csv", options={"HIDDEN"})
    suffix = ".csv"

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if not users_metals():
            cls.poll_message_set("There is no metal of your own to write")
            return False
        return True

    def first_name(self, context: bpy.types.Context) -> str:
        return "materials"

    def text(self, context: bpy.types.Context, path: Path) -> str:
        return materials_csv(users_metals())


class TACKWRIGHT_OT_keep_material(_Listing, bpy.types.Operator):
    """Add the metal that this file came with to your own, so that plates can be made of it"""

    bl_idname = "tackwright.keep_material"
    bl_label = "Keep Material"

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        envelope = envelope_of(context)
        if preferences() is None:
            cls.poll_message_set(NOT_ENABLED)
        elif envelope is None or not missing_metal(envelope.tackwright):
            cls.poll_message_set("The envelope's metal is known here already")
        elif carried_metal(envelope.tackwright) is None:
            cls.poll_message_set("The file has only its name: ask who drew it for the list it is in")
        else:
            return True
        return False

    def execute(self, context: bpy.types.Context) -> Ended:
        material = carried_metal(envelope_of(context).tackwright)
        _keep([material])
        _changed(context)
        self.report({"INFO"}, f"'{material.name}' is among your own metals now")
        return {"FINISHED"}


class TACKWRIGHT_OT_set_gauge(bpy.types.Operator):
    """Take this gauge number's thickness. The same number is another thickness in each metal: measure the sheet"""

    bl_idname = "tackwright.set_gauge"
    bl_label = "Set Gauge"
    bl_options = {"REGISTER", "UNDO"}

    gauge: IntProperty(name="Gauge", description="The number, in the table of the envelope's metal", default=16)

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return poll_settings(cls, context)

    def execute(self, context: bpy.types.Context) -> Ended:
        settings = envelope_of(context).tackwright
        metal = known_metals().get(settings.material)
        try:
            if metal is None or metal.gauge_table is None:
                raise InputError("Sheet of this metal has no gauge numbers", do="Give its thickness.")
            settings.thickness_mm = gauge_thickness(self.gauge, metal.gauge_table)
            whole_step(context)
        except TackwrightError as error:
            report_error(self, error)
            return {"CANCELLED"}
        said = length_said(settings.thickness_mm, units_of(context.scene))
        self.report({"INFO"}, f"{self.gauge} gauge {metal.gauge_table} is {said}")
        return {"FINISHED"}


class TACKWRIGHT_MT_gauges(bpy.types.Menu):
    """Thickness by gauge number, from the table of the envelope's metal"""

    bl_label = "Gauge"

    def draw(self, context: bpy.types.Context) -> None:
        envelope = envelope_of(context)
        metal = known_metals().get(envelope.tackwright.material) if envelope is not None else None
        if metal is None or metal.gauge_table is None:
            self.layout.label(text="Sheet of this metal has no gauge numbers")
            return
        for gauge, thickness in gauge_table(metal.gauge_table).items():
            text = f"{gauge} ga: {length_said(thickness, units_of(context.scene))}"
            self.layout.operator(TACKWRIGHT_OT_set_gauge.bl_idname, text=text, translate=False).gauge = gauge


def draw_missing_metal(layout: bpy.types.UILayout, settings: bpy.types.PropertyGroup) -> None:
    """Say that the envelope's metal is not known here, and offer it, where that is so."""
    name = missing_metal(settings)
    if name:
        layout.label(text=f"'{name}' is missing here", icon="ERROR", translate=False)
        layout.operator(TACKWRIGHT_OT_keep_material.bl_idname, icon="ADD")


def _keep(materials: Iterable[Material]) -> None:
    kept = preferences().materials
    rows = {row.name: number for number, row in enumerate(kept)}   # by number: one more row moves the others
    for material in materials:
        if material.name not in rows:
            rows[material.name] = len(kept)
            kept.add()
        write_own_material(kept[rows[material.name]], material)


def _refuse_taken(added: tuple[Material, ...], *, replace: bool) -> None:
    there = {m.name: m for m in users_metals()}
    taken = [m.name for m in added if m.name in there and there[m.name] != m]
    if taken and not replace:
        names = ", ".join(f"'{name}'" for name in taken)
        raise InputError(f"Among your own there is another {names}", do="Replace it, or rename one of the two")


def _free(name: str, taken: set[str]) -> str:
    number = 1
    while (free := name if number == 1 else f"{name} {number}") in taken:
        number += 1
    return free


def _changed(context: bpy.types.Context) -> None:
    """Blender saves preferences by itself only where it knows that they changed."""
    context.preferences.is_dirty = True


CLASSES = (
    TACKWRIGHT_OT_add_material, TACKWRIGHT_OT_remove_material, TACKWRIGHT_OT_import_materials,
    TACKWRIGHT_OT_export_materials, TACKWRIGHT_OT_keep_material, TACKWRIGHT_OT_set_gauge, TACKWRIGHT_MT_gauges,
)  # fmt: skip
register, unregister = bpy.utils.register_classes_factory(CLASSES)
