"""For each operator a scene in which it has something to do, as a function that sets it up and gives the operator's
values. Every operator must have one: a test compares."""

from __future__ import annotations

from pathlib import Path

from editing import select_faces

SCENES = Path(__file__).resolve().parent.parent / "demo_scenes"


def tank(bpy, draw_box, tmp_path):
    item = draw_box(0.3, 0.2, 0.1)
    item.tackwright.sealed = True
    return item


def edited(bpy, draw_box, tmp_path, faces=(1,)):
    item = tank(bpy, draw_box, tmp_path)
    select_faces(bpy, item, faces)
    return item


def perforated(bpy, draw_box, tmp_path):
    item = edited(bpy, draw_box, tmp_path)
    bpy.ops.tackwright.perforate_faces(code="R10T16")
    return item


def banded(bpy, draw_box, tmp_path):
    item = perforated(bpy, draw_box, tmp_path)
    bpy.ops.tackwright.add_band()
    return item


def made(bpy, draw_box, tmp_path):
    item = tank(bpy, draw_box, tmp_path)
    bpy.ops.tackwright.make_plates()
    return item


def sealed_off(bpy, draw_box, tmp_path):
    """A finding with a place: an edge that is too sharp."""
    item = made(bpy, draw_box, tmp_path)
    kept = item.tackwright.findings.add()
    kept.level, kept.rule, kept.message, kept.faces = "warning", "some", "Some faces", "0 1"
    item.tackwright.active_finding = len(item.tackwright.findings) - 1
    return item


def shelf(bpy, draw_box, tmp_path):
    item = tank(bpy, draw_box, tmp_path)
    draw_box(0.1, 0.1, 0.05, "shelf")
    bpy.context.view_layer.objects.active = item
    return item


def shelved(bpy, draw_box, tmp_path):
    item = shelf(bpy, draw_box, tmp_path)
    bpy.ops.tackwright.assign_inner()
    return item


def twisted(bpy, draw_box, tmp_path):
    item = tank(bpy, draw_box, tmp_path)
    item.data.vertices[6].co.z += 0.01
    return item


def pinned(bpy, draw_box, tmp_path):
    item = edited(bpy, draw_box, tmp_path)
    bpy.ops.tackwright.pin_vertices()
    return item


def nothing(bpy, draw_box, tmp_path):
    return None


RECIPES = {
    "add_band": (perforated, {}),
    "add_opening": (tank, {}),
    "assign_inner": (shelf, {}),
    "clear_perforation": (perforated, {}),
    "export_kit": (tank, lambda tmp_path: {"directory": str(tmp_path)}),
    "first_scene": (nothing, {}),
    "make_plates": (tank, {}),
    "mark_faces": (edited, {}),
    "new_envelope": (nothing, {}),
    "open_job": (nothing, {"filepath": str(SCENES / "hopper.toml")}),
    "perforate_faces": (edited, {}),
    "pin_vertices": (edited, {}),
    "remove_band": (banded, {}),
    "remove_perforation": (perforated, {}),
    "select_finding": (sealed_off, {}),
    "set_face_metal": (edited, {"thickness": 0.005}),
    "true_faces": (twisted, {}),
    "unassign_inner": (shelved, {}),
    "unpin_vertices": (pinned, {}),
}
"""Operator to what sets up its scene, and its values or a function that gives them for a folder."""

WITHOUT_UNDO = {}
"""Operators that change nothing in the file, with the reason why undo has nothing to do."""

WITHOUT_REDO_PANEL = {
    "export_kit": "changing a value afterwards would write the files again",
}
