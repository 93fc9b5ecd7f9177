"""Writes a demo scene as a .blend: its job as the extension opens it, so that Make Plates gives what the job gives.

The scene is in millimetres (unit scale 0.001), so that one Blender unit is 1 mm.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import bpy

import tackwright
from tackwright.addon.edit.first_scene import look_at
from tackwright.addon.gather.job_scene import add_job
from tackwright.addon.scene.active_envelope import select_only
from tackwright.core.files.job import read_job

if TYPE_CHECKING:
    from make_scenes import Scene


def write_blend(scene: Scene, folder: Path) -> Path:
    """The scene's .blend in `folder`, beside its job file; an older one is replaced."""
    job = read_job(folder / f"{scene.name}.toml")
    bpy.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)
    tackwright.register()
    try:
        context = bpy.context
        units = context.scene.unit_settings
        units.system, units.length_unit, units.scale_length = "METRIC", "MILLIMETERS", 0.001
        opened = add_job(context, job, context.scene.collection, title=scene.title)
        assert not opened.left_behind, f"{scene.name} has no place for {opened.left_behind}"
        select_only(context, [opened.envelope])
        look_at(bpy.data.screens, opened.envelope)
        for space in (area.spaces.active for screen in bpy.data.screens for area in screen.areas):
            if space.type == "VIEW_3D":
                space.shading.show_xray = any(choice.inner for choice in job.choices.panels.values())
                space.show_region_ui = True
        path = folder / f"{scene.name}.blend"
        context.preferences.filepaths.save_version = 0
        bpy.ops.wm.save_as_mainfile(filepath=str(path), compress=True)
    finally:
        tackwright.unregister()
    return path
