"""For each operator a scene in which it has something to do, as a function that sets it up and gives the operator's
values. Every operator must have one: a test compares."""

from __future__ import annotations

from editing import select_faces
from repo_paths import DEMOS


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


def with_opening(bpy, draw_box, tmp_path):
    item = tank(bpy, draw_box, tmp_path)
    bpy.ops.tackwright.add_opening()
    bpy.data.objects["Port"].select_set(False)
    bpy.context.view_layer.objects.active = item
    return item


def unvented(bpy, draw_box, tmp_path):
    """A finding with a remedy: a closed space without an opening."""
    item = draw_box(0.3, 0.2, 0.1)
    bpy.ops.tackwright.make_plates()
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


def edge_selected(bpy, draw_box, tmp_path):
    """The edge where the top meets the front."""
    import bmesh

    item = edited(bpy, draw_box, tmp_path, ())
    mesh = bmesh.from_edit_mesh(item.data)
    mesh.select_mode = {"EDGE"}
    mesh.verts.ensure_lookup_table()
    mesh.edges.get((mesh.verts[4], mesh.verts[5])).select_set(True)
    mesh.select_flush_mode()
    bmesh.update_edit_mesh(item.data)
    return item


def joint_set(bpy, draw_box, tmp_path):
    item = edge_selected(bpy, draw_box, tmp_path)
    bpy.ops.tackwright.set_joint(corner="CLOSED", root_gap=0.001)
    return item


def face_set(bpy, draw_box, tmp_path):
    item = edited(bpy, draw_box, tmp_path)
    bpy.ops.tackwright.set_face_metal(thickness=0.005, plate_name="lid")
    return item


def in_niche(bpy, draw_box, tmp_path, *, at=(0.1, 0.1, 0.1)):
    """An envelope with the scan of its space, which has a floor and a wall."""
    from made_scans import niche

    points, faces = niche(3000)
    mesh = bpy.data.meshes.new("scan")
    mesh.from_pydata((points / 1000).tolist(), [], faces.tolist())
    scan = bpy.data.objects.new("scan", mesh)
    bpy.context.scene.collection.objects.link(scan)
    scan.tackwright_scan.floor = "0 0 0 1 0 0 0 1 0.01"
    scan.tackwright_scan.wall = "0 0 0 0 1 0 0 0.1 1"
    item = tank(bpy, draw_box, tmp_path)
    item.location = at
    item.tackwright_space.scan = scan
    bpy.context.view_layer.update()
    return item


def beside_scan(bpy, draw_box, tmp_path):
    item = in_niche(bpy, draw_box, tmp_path)
    item.tackwright_space.scan.select_set(True)
    item.tackwright_space.scan = None
    return item


def on_scan(bpy, draw_box, tmp_path, count=3):
    """Edit Mode of a scan with so many points selected."""
    import bmesh

    scan = in_niche(bpy, draw_box, tmp_path).tackwright_space.scan
    bpy.context.view_layer.objects.active = scan
    bpy.ops.object.mode_set(mode="EDIT")
    edited = bmesh.from_edit_mesh(scan.data)
    edited.select_mode = {"VERT"}
    bpy.context.tool_settings.mesh_select_mode = (True, False, False)
    bpy.ops.mesh.select_all(action="DESELECT")
    edited = bmesh.from_edit_mesh(scan.data)
    edited.verts.ensure_lookup_table()
    for number in (0, 40, 300)[:count]:
        edited.verts[number].select_set(True)
    bmesh.update_edit_mesh(scan.data)
    bpy.context.view_layer.update()
    return scan


def two_on_scan(bpy, draw_box, tmp_path):
    return on_scan(bpy, draw_box, tmp_path, count=2)


def in_the_way(bpy, draw_box, tmp_path):
    item = in_niche(bpy, draw_box, tmp_path, at=(-0.1, 0.1, 0.1))
    bpy.ops.tackwright.check_clearance()
    return item


def nothing(bpy, draw_box, tmp_path):
    return None


def own_shop(bpy, draw_box, tmp_path):
    item = tank(bpy, draw_box, tmp_path)
    bpy.ops.tackwright.save_shop(name="ours", replace=True)
    return item


def own_metal(bpy, draw_box, tmp_path):
    item = tank(bpy, draw_box, tmp_path)
    bpy.ops.tackwright.add_material()
    bpy.context.preferences.addons["tackwright"].preferences.materials[-1].density = 8.0
    return item


def foreign_metal(bpy, draw_box, tmp_path):
    """An envelope of a metal that came with its file and is not among the user's own."""
    item = own_metal(bpy, draw_box, tmp_path)
    item.tackwright.material = bpy.context.preferences.addons["tackwright"].preferences.materials[-1].name
    bpy.ops.tackwright.remove_material()
    return item


def shop_file(tmp_path):
    path = tmp_path / "theirs.toml"
    path.write_text('name = "theirs"\n')
    return path


def metals_file(tmp_path):
    path = tmp_path / "metals.csv"
    path.write_text("name,family,density\ncopper,other,8940\n")
    return path


RECIPES = {
    "add_band": (perforated, {}),
    "add_material": (tank, {}),
    "add_opening": (tank, {}),
    "apply_remedy": (unvented, {}),
    "apply_shop": (tank, {"name": "Plasma Table"}),
    "assign_inner": (shelf, {}),
    "clear_face": (face_set, {}),
    "clear_joint": (joint_set, {}),
    "check_clearance": (in_niche, {}),
    "clear_perforation": (perforated, {}),
    "clear_scan": (in_niche, {}),
    "delete_shop": (own_shop, {"name": "ours"}),
    "edit_envelope": (tank, {}),
    "export_kit": (tank, lambda tmp_path: {"directory": str(tmp_path)}),
    "export_materials": (own_metal, lambda tmp_path: {"filepath": str(tmp_path / "mine.csv")}),
    "export_shop": (tank, lambda tmp_path: {"filepath": str(tmp_path / "shop.toml")}),
    "first_scene": (nothing, {}),
    "import_materials": (tank, lambda tmp_path: {"filepath": str(metals_file(tmp_path))}),
    "import_shop": (tank, lambda tmp_path: {"filepath": str(shop_file(tmp_path)), "replace": True}),
    "keep_material": (foreign_metal, {}),
    "known_distance": (two_on_scan, {"distance": 0.2}),
    "make_plates": (tank, {}),
    "mark_faces": (edited, {}),
    "new_envelope": (nothing, {}),
    "open_job": (nothing, {"filepath": str(DEMOS / "hopper.toml")}),
    "perforate_faces": (edited, {}),
    "pin_vertices": (edited, {}),
    "remove_band": (banded, {}),
    "remove_material": (own_metal, {}),
    "remove_perforation": (perforated, {}),
    "save_shop": (tank, {"name": "ours", "replace": True}),
    "select_collisions": (in_the_way, {}),
    "select_finding": (sealed_off, {}),
    "show_finding": (sealed_off, {"index": 0}),
    "select_like_face": (edited, {}),
    "select_like_joint": (edge_selected, {}),
    "select_opening": (with_opening, {"name": "Port"}),
    "set_face_metal": (edited, {"thickness": 0.005, "plate_name": "lid"}),
    "set_gauge": (tank, {"gauge": 10}),
    "set_patch": (on_scan, {}),
    "show_tight_place": (in_the_way, {"index": 1}),
    "square_up": (in_niche, {}),
    "set_joint": (edge_selected, {"corner": "CLOSED"}),
    "swap_through": (edge_selected, {}),
    "true_faces": (twisted, {}),
    "use_scan": (beside_scan, {}),
    "unassign_inner": (shelved, {}),
    "unpin_vertices": (pinned, {}),
}
"""Operator to what sets up its scene, and its values or a function that gives them for a folder."""

WITH_PREFERENCES = {
    "add_material", "export_materials", "import_materials", "keep_material", "remove_material",
}  # fmt: skip
"""Operators that need the extension to be enabled in the preferences."""

WITHOUT_UNDO = {
    "add_material": "the list is in the preferences",
    "delete_shop": "the shop is a file",
    "export_materials": "it writes a file",
    "export_shop": "it writes a file",
    "import_materials": "the list is in the preferences",
    "import_shop": "the shop becomes a file",
    "keep_material": "the list is in the preferences",
    "remove_material": "the list is in the preferences",
}
"""Operators that change nothing in the file, with the reason why undo has nothing to do."""

WITHOUT_REDO_PANEL = {
    **WITHOUT_UNDO,
    "export_kit": "changing a value afterwards would write the files again",
}

TRIED_BY_THEMSELVES = {
    "cancel_export": "needs an export under way: test_export_kit.py",
    "open_kit": "opens the system's file manager: test_export_kit.py",
}
"""Operators that have no scene here, with the reason and the file that tries them."""
