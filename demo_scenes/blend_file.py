"""Writes a demo scene as a .blend with Tackwright's settings on the object.

The scene is in millimetres (unit scale 0.001), so that one Blender unit is 1 mm.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import bpy

import tackwright

if TYPE_CHECKING:
    from make_scenes import Scene


def write_blend(scene: Scene, folder: Path) -> Path:
    """The scene's .blend in `folder`; an older one is replaced."""
    bpy.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)
    tackwright.register()
    try:
        units = bpy.context.scene.unit_settings
        units.system, units.length_unit, units.scale_length = "METRIC", "MILLIMETERS", 0.001
        mesh = bpy.data.meshes.new(scene.title)
        mesh.from_pydata(list(scene.points), [], list(scene.faces.values()))
        if scene.thickness:
            own = mesh.attributes.new("tackwright_thickness", "FLOAT", "FACE")
            own.data.foreach_set("value", [scene.thickness.get(name, 0.0) for name in scene.faces])
        item = bpy.data.objects.new(scene.title, mesh)
        bpy.context.scene.collection.objects.link(item)
        bpy.context.view_layer.objects.active = item
        item.select_set(True)
        chosen = item.tackwright
        chosen.material = str(scene.settings["material"])
        chosen.thickness_mm = float(str(scene.settings["thickness"]))
        chosen.metal_side = str(scene.settings["metal_side"]).upper()
        chosen.corner = str(scene.settings["corner"]).upper().replace("-", "_")
        _frame(scene)
        path = folder / f"{scene.name}.blend"
        bpy.context.preferences.filepaths.save_version = 0
        bpy.ops.wm.save_as_mainfile(filepath=str(path), compress=True)
    finally:
        tackwright.unregister()
    return path


def _frame(scene: Scene) -> None:
    """Look at the object, near enough and with a far enough clip, in every 3D view of the file."""
    low = [min(p[i] for p in scene.points) for i in range(3)]
    high = [max(p[i] for p in scene.points) for i in range(3)]
    for screen in bpy.data.screens:
        for area in screen.areas:
            if area.type == "VIEW_3D":
                space = area.spaces.active
                space.clip_start, space.clip_end = 1.0, 100_000.0
                space.region_3d.view_location = [(a + b) / 2 for a, b in zip(low, high, strict=True)]
                space.region_3d.view_distance = 2.2 * max(b - a for a, b in zip(low, high, strict=True))
                space.show_region_ui = True
