"""The README's walk in a real window: from an empty scene and an imported scan of a million triangles to a kit.

Run on the bench that `draw_and_export.py` speaks of, the folder `tests` mounted, in a window of 1600 x 1000. The scan
is made here: a niche behind a bench, noisy, with holes, out of square. Buttons are pressed where they are; picking
points on the scan and moving points of the envelope, which a person does by eye, is done by their coordinates.
"""

import sys
from pathlib import Path

import bpy
import numpy as np
from mathutils import Euler, Matrix, Vector

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "support"))

TRIANGLES = 1_000_000
HEADER, NEXT = 41, 33
"""Pixels from a panel's last button to the next closed panel's header, and from one of these to the next."""


def scenario(w):
    from made_scans import niche

    scene = bpy.context.scene
    scene.unit_settings.length_unit = "MILLIMETERS"
    for item in list(bpy.data.objects):
        bpy.data.objects.remove(item)
    w.show_sidebar("Tackwright")
    yield 0.5

    # ---- the scan comes in by the editor's own importer, out of square
    points, faces = niche(TRIANGLES)
    path = Path(w.out, "niche.ply")
    write_ply(path, points / 1000, faces)
    bpy.ops.wm.ply_import(filepath=str(path), forward_axis="Y", up_axis="Z")
    scan = bpy.context.object
    scan.matrix_world = Matrix.Translation((0.3, -0.2, 0.1)) @ Euler(np.radians((4, -6, 25))).to_matrix().to_4x4()
    w.check(len(scan.data.polygons) > 0.95 * TRIANGLES, f"the scan has {len(scan.data.polygons)} faces")

    # ---- an envelope to begin with, from the Start panel
    found = yield from w.buttons()
    yield from press(w, button(found, "new_envelope"))
    yield from w.until(lambda: bpy.context.object is not None and bpy.context.object != scan, 5, "the envelope")
    tank = bpy.context.object
    tank.name = "bench_tank"
    scan.select_set(True)
    yield 0.5
    found = yield from w.buttons()
    live = button(found, "tackwright.live")
    yield from press(w, Spot(live, HEADER))                       # opens Space
    yield 0.7
    found = yield from w.buttons()
    yield from press(w, button(found, "use_scan"))
    yield from w.until(lambda: tank.tackwright_space.scan == scan, 5, "the scan is the tank's")

    # ---- floor and wall, picked in Edit Mode of the scan
    at = coordinates(scan.data) * 1000
    floor = (np.abs(at[:, 2]) < 3) & (np.abs(at[:, 0] - 450) < 250) & (np.abs(at[:, 1] - 280) < 180)
    back = (np.abs(at[:, 1] - 600) < 3) & (np.abs(at[:, 2] - 350) < 200) & (at[:, 0] > 350)
    for patch, chosen in (("FLOOR", floor), ("WALL", back)):
        pick(scan, chosen)
        yield 2.0
        found = yield from w.buttons(xs=(0.3, 0.7))
        kept = patch.lower()
        here = button(found, f"set_patch(patch='{patch}')")
        yield from press(w, here, lambda kept=kept: getattr(scan.tackwright_scan, kept))
    bpy.ops.object.mode_set(mode="OBJECT")
    yield 1.0
    found = yield from w.buttons()
    yield from press(w, button(found, "square_up"))
    yield 1.0
    up = scan.matrix_world.to_3x3() @ Matrix.Identity(3).col[2]
    w.check(up.z > 0.99999, f"the floor is level ({up.z:.6f})")

    # ---- the envelope drawn by hand into the niche: roughly, one corner not flat
    scan.select_set(False)
    tank.select_set(True)
    bpy.context.view_layer.objects.active = tank
    fit_into(tank, scan)
    w.view(direction=(1.2, -2.2, 1.3))
    yield 0.5
    found = yield from w.buttons()
    yield from press(w, button(found, "check_clearance(kind='ENVELOPE')", "check_clearance()"))
    yield from w.until(lambda: tank.tackwright_space.checked, 90, "the room")
    w.log("least room", tank.tackwright_space.least, "collisions", tank.tackwright_space.collisions)
    w.check(tank.tackwright_space.least < 0, "the pipe in the corner is in the way")
    scan.hide_set(True)
    w.view(direction=(-1.5, 2.0, 1.3), selected=True)
    yield 2.0
    w.move(w.size[0] // 3, w.size[1] // 2)
    yield 1.0
    w.crop("walk_1_space", *picture(w))

    # ---- out of the pipe's way; then flat, in the Drawing panel below Space
    middle = sum(vertex.co.x for vertex in tank.data.vertices) / len(tank.data.vertices)
    away = 1.0 if middle > (scan.matrix_world @ Vector((0.045, 0.555, 0.35))).x else -1.0
    for vertex in tank.data.vertices:
        vertex.co.x += 0.09 * away if (vertex.co.x - middle) * away < 0 else 0.0
    tank.data.update()
    yield 0.5
    found = yield from w.buttons()
    yield from press(w, button(found, "check_clearance(kind='ENVELOPE')", "check_clearance()"))
    yield from w.until(lambda: tank.tackwright_space.collisions == 0, 90, "nothing is in the way now")
    live = button(found, "tackwright.live")
    yield from press(w, Spot(live, HEADER))                       # closes Space
    yield 0.7
    yield from press(w, Spot(live, HEADER + NEXT))                # opens Drawing
    yield 0.7
    found = yield from w.buttons()
    yield from press(w, button(found, "true_faces"))
    yield 1.5
    w.move(w.size[0] // 3, w.size[1] // 2)
    w.view(direction=(-1.5, 2.0, 1.3), selected=True)
    yield 2.0
    w.crop("walk_5_drawing", *picture(w))
    yield from press(w, Spot(live, HEADER + NEXT))
    yield 0.7

    # ---- Make Plates: a closed space without an opening is an error, and the button cures it
    found = yield from w.buttons()
    yield from press(w, button(found, "make_plates"))
    yield from w.until(lambda: tank.tackwright.findings and len(tank.tackwright.summary), 30, "plates")
    rules = [finding.rule for finding in tank.tackwright.findings]
    w.check("sealed_cell" in rules and "refused" not in rules, f"flat, and closed without an opening {rules}")
    yield 1.0
    found = yield from w.buttons()
    yield from press(w, button(found, f"show_finding(index={rules.index('sealed_cell')})", "show_finding"))
    yield 1.5
    found = yield from w.buttons()
    w.move(w.size[0] // 3, w.size[1] // 2)
    w.view(direction=(1.2, -2.2, 1.3), selected=True)
    yield 3.0
    w.crop("walk_2_finding", *picture(w))
    yield from press(w, button(found, "apply_remedy"))
    yield from w.until(
        lambda: "sealed_cell" not in [finding.rule for finding in tank.tackwright.findings], 30, "the vent cures it")

    # ---- a joint of its own: the front edge at the bottom is closed, its line shows it
    bpy.context.view_layer.objects.active = tank
    yield 0.5
    edge = pick_edge(tank)
    yield 1.0
    found = yield from w.buttons(xs=(0.25, 0.75))
    yield from press(w, button(found, "set_joint(corner='CLOSED')"))
    yield 1.0
    corner = tank.data.attributes.get("tackwright_corner")
    bpy.ops.object.mode_set(mode="OBJECT")
    corner = tank.data.attributes.get("tackwright_corner")
    w.check(corner is not None and sum(value.value != 0 for value in corner.data) == 1, f"one joint chosen ({edge})")
    bpy.ops.object.mode_set(mode="EDIT")
    yield 1.0
    w.move(w.size[0] // 3, w.size[1] // 2)
    yield 1.5
    w.crop("walk_3_joint", *picture(w))
    bpy.ops.object.mode_set(mode="OBJECT")
    yield 0.5

    # ---- made again, spread apart
    found = yield from w.buttons()
    yield from press(w, button(found, "make_plates"))
    yield 2.0
    tank = bpy.data.objects["bench_tank"]
    bpy.context.view_layer.objects.active = tank
    tank.tackwright_view.view, tank.tackwright_view.spread = "SPREAD", 0.6
    yield 1.0
    w.view(direction=(1.4, -2.2, 1.0))
    w.move(w.size[0] // 3, w.size[1] // 2)
    yield 3.0
    w.crop("walk_4_spread", *picture(w))

    # ---- exported
    tank.tackwright.folder = str(w.out)
    w.scroll(w.rect("UI")[0] + 60, w.rect("UI")[1] + 500, 60)
    yield 1.0
    found = yield from w.buttons()
    yield from press(w, button(found, "export_kit"))
    kit = Path(w.out, "bench_tank_kit", "kit.json")
    yield from w.until(kit.exists, 60, "the kit")
    w.check(len(list(kit.parent.rglob("*.dxf"))) >= 3, "its cut files")
    yield 1.0
    w.scroll(w.rect("UI")[0] + 60, w.rect("UI")[1] + 500, 60)
    yield 1.0
    w.move(w.size[0] // 3, w.size[1] // 2)
    yield 2.0
    w.crop("walk_6_parcel", *picture(w))
    path.unlink()


def write_ply(path, points, faces):
    """A binary PLY file, as scanners' programs write it."""
    head = (f"ply\nformat binary_little_endian 1.0\nelement vertex {len(points)}\nproperty float x\nproperty float y\n"
            f"property float z\nelement face {len(faces)}\nproperty list uchar int vertex_indices\nend_header\n")
    rows = np.empty(len(faces), dtype=[("count", "u1"), ("corners", "<i4", 3)])
    rows["count"], rows["corners"] = 3, faces
    path.write_bytes(head.encode() + points.astype("<f4").tobytes() + rows.tobytes())


def pick(item, chosen):
    """Edit Mode of an object with these points selected and no other."""
    if bpy.context.mode != "OBJECT":
        bpy.ops.object.mode_set(mode="OBJECT")
    bpy.ops.object.select_all(action="DESELECT")
    item.select_set(True)
    bpy.context.view_layer.objects.active = item
    bpy.context.tool_settings.mesh_select_mode = (True, False, False)
    bpy.ops.object.mode_set(mode="EDIT")
    bpy.ops.mesh.select_all(action="DESELECT")
    bpy.ops.object.mode_set(mode="OBJECT")
    item.data.vertices.foreach_set("select", chosen)
    bpy.ops.object.mode_set(mode="EDIT")


def pick_edge(tank):
    """Edit Mode of the tank with its lower front edge selected."""
    import bmesh

    bpy.ops.object.mode_set(mode="EDIT")
    bpy.context.tool_settings.mesh_select_mode = (False, True, False)
    bpy.ops.mesh.select_all(action="DESELECT")
    edited = bmesh.from_edit_mesh(tank.data)
    edge = min(edited.edges, key=lambda e: sum(v.co.y + v.co.z for v in e.verts))
    edge.select_set(True)
    bmesh.update_edit_mesh(tank.data)
    return edge.index


def fit_into(tank, scan):
    """The box into the niche, 40 mm from its sides; two corners off by some millimetres, as drawn by hand."""
    corners = np.array([scan.matrix_world @ Vector(point) for point in coordinates(scan.data)[::997].tolist()])
    low, high = np.percentile(corners, 1, axis=0) + 0.04, np.percentile(corners, 99, axis=0) - 0.04
    tank.matrix_world = Matrix.Identity(4)
    middle = sum((v.co for v in tank.data.vertices), start=tank.data.vertices[0].co * 0) / len(tank.data.vertices)
    for number, vertex in enumerate(tank.data.vertices):
        side = [high[i] if vertex.co[i] > middle[i] else low[i] for i in range(3)]
        vertex.co = [value + (0.006 if (number, i) in {(2, 2), (5, 1)} else 0.0) for i, value in enumerate(side)]
    tank.data.update()


def coordinates(mesh):
    points = np.empty(3 * len(mesh.vertices), dtype=np.float32)
    mesh.vertices.foreach_get("co", points)
    return points.reshape(-1, 3)


class Spot:
    """A place beside a button."""

    def __init__(self, near, down):
        self.x, self.y = near.x, near.y + down


def press(w, place, done=None):
    """Come near, let Blender see it, and click; with `done` again until that is so: slow redraws swallow clicks."""
    for _ in range(3):
        w.move(place.x - 5, place.y)
        yield 0.7
        w.move(place.x, place.y)
        yield 0.5
        w.click(place.x, place.y)
        if done is None:
            return
        for _ in range(20):
            yield 0.5
            if done():
                return
    raise TimeoutError(f"pressing {place} did nothing")


def button(found, *names):
    """The first button of the first of the names that any has."""
    for name in names:
        hits = [b for b in found if name in b]
        if hits:
            return hits[0]
    raise LookupError(f"no button {names} among {list(found)}")


def picture(w):
    """The 3D view with its sidebar, without the timeline below."""
    area = w.area()
    return area.x, w.size[1] - area.y - area.height, area.width, area.height
