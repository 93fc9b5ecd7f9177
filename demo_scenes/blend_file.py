"""Writes a demo scene as a .blend: its mesh, and on it everything that the scene's job file chooses, so that Make
Plates gives what the job gives.

The scene is in millimetres (unit scale 0.001), so that one Blender unit is 1 mm.
"""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING

import bpy

import tackwright
from tackwright.addon.face_metal import THICKNESS_ATTRIBUTE
from tackwright.addon.field_settings import FIELD_ATTRIBUTE, new_field
from tackwright.addon.inner_plates import INNER_ATTRIBUTE, KINDS
from tackwright.addon.openings import PURPOSES, SHAPES
from tackwright.addon.properties import CORNERS, METAL_SIDES
from tackwright.core.choices import Choices, Field, MarkedOpening, PanelChoice, Settings
from tackwright.core.job import read_job

if TYPE_CHECKING:
    from make_scenes import Scene

INNER = next(number for kind, _, _, number in KINDS if kind == "INNER")


def write_blend(scene: Scene, folder: Path) -> Path:
    """The scene's .blend in `folder`, beside its job file; an older one is replaced."""
    choices = read_job(folder / f"{scene.name}.toml").choices
    bpy.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)
    tackwright.register()
    try:
        units = bpy.context.scene.unit_settings
        units.system, units.length_unit, units.scale_length = "METRIC", "MILLIMETERS", 0.001
        item = _draw(scene)
        _choose(item, choices.settings)
        _mark_faces(item, scene, choices)
        for opening in choices.openings:
            _add_opening(opening)
        _select(item)
        _frame(scene, see_through=any(choice.inner for choice in choices.panels.values()))
        path = folder / f"{scene.name}.blend"
        bpy.context.preferences.filepaths.save_version = 0
        bpy.ops.wm.save_as_mainfile(filepath=str(path), compress=True)
    finally:
        tackwright.unregister()
    return path


def _draw(scene: Scene) -> bpy.types.Object:
    """The envelope, a material for every face: by that its panels are named."""
    mesh = bpy.data.meshes.new(scene.title)
    mesh.from_pydata(list(scene.points), [], list(scene.faces.values()))
    for index, name in enumerate(scene.faces):
        mesh.materials.append(bpy.data.materials.new(name))
        mesh.polygons[index].material_index = index
    item = bpy.data.objects.new(scene.title, mesh)
    bpy.context.scene.collection.objects.link(item)
    _select(item)
    return item


def _select(item: bpy.types.Object) -> None:
    for other in bpy.context.selected_objects:
        other.select_set(False)
    item.select_set(True)
    bpy.context.view_layer.objects.active = item


def _choose(item: bpy.types.Object, settings: Settings) -> None:
    """The settings of the whole kit."""
    chosen = item.tackwright
    chosen.material = settings.material
    chosen.thickness_mm = settings.thickness
    chosen.metal_side = _key(METAL_SIDES, settings.metal_side)
    chosen.corner = _key(CORNERS, settings.corner)
    chosen.tab_spacing_mm = settings.tabs.spacing or 0.0
    chosen.limber_mm = settings.limber


def _mark_faces(item: bpy.types.Object, scene: Scene, choices: Choices) -> None:
    """What single faces are: inner plates, of another thickness, perforated."""
    chosen = [choices.panels.get(name, PanelChoice()) for name in scene.faces]
    fields = {field.panel: _add_field(item, field) for field in choices.fields}
    _mark(item, "INT", INNER_ATTRIBUTE, [INNER if choice.inner else 0 for choice in chosen])
    _mark(item, "FLOAT", THICKNESS_ATTRIBUTE, [choice.thickness or 0.0 for choice in chosen])
    _mark(item, "INT", FIELD_ATTRIBUTE, [fields.get(name, 0) for name in scene.faces])


def _mark(item: bpy.types.Object, kind: str, name: str, numbers: list[float]) -> None:
    if any(numbers):
        item.data.attributes.new(name, kind, "FACE").data.foreach_set("value", numbers)


def _add_field(item: bpy.types.Object, field: Field) -> int:
    """One more perforation; its number."""
    added = new_field(item.tackwright, field.bands[0].code)
    for band in field.bands[1:]:
        added.bands.add().code = band.code
    for put, band in zip(added.bands, field.bands, strict=True):
        put.depth_mm = band.depth or 0.0
    added.margin_mm, added.gap_mm, added.turn = field.margin or 0.0, field.gap, math.radians(field.turn)
    return int(added.number)


def _add_opening(opening: MarkedOpening) -> None:
    """The empty of an opening, added as by hand: at the 3D cursor, looking as the nearest face does."""
    cursor = bpy.context.scene.cursor
    cursor.location = opening.at
    sizes = dict(zip(("size_x", "size_y"), opening.size or (), strict=False))
    bpy.ops.tackwright.add_opening(
        purpose=_key(PURPOSES, opening.purpose), shape=_key(SHAPES, opening.shape), **sizes)
    cursor.location = (0.0, 0.0, 0.0)
    item = bpy.context.object
    item.name = opening.name
    marked = item.tackwright_opening
    marked.fitting = opening.fitting or ""
    if opening.bolts is not None:
        marked.bolts, marked.bolt_count = True, opening.bolts.count
        marked.bolt_circle_mm, marked.bolt_hole_mm = opening.bolts.circle, opening.bolts.hole
        marked.bolt_turn = math.radians(opening.bolts.turn)


def _key(words: dict[str, object], wanted: object) -> str:
    """The editor's word for a choice of the core."""
    return next(key for key, value in words.items() if value == wanted)


def _frame(scene: Scene, *, see_through: bool) -> None:
    """Look at the object, near enough and with a far enough clip, in every 3D view of the file; through its walls
    where that is asked."""
    low = [min(p[i] for p in scene.points) for i in range(3)]
    high = [max(p[i] for p in scene.points) for i in range(3)]
    for screen in bpy.data.screens:
        for area in screen.areas:
            if area.type == "VIEW_3D":
                space = area.spaces.active
                space.clip_start, space.clip_end = 1.0, 100_000.0
                space.shading.show_xray = see_through
                space.region_3d.view_location = [(a + b) / 2 for a, b in zip(low, high, strict=True)]
                space.region_3d.view_distance = 2.2 * max(b - a for a, b in zip(low, high, strict=True))
                space.show_region_ui = True
