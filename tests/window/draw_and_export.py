"""In a real window: draw a tank by hand, set its metal, press Make Plates and Export Kit, and look.

For a bench that shows Blender a `scenario(w)` generator: every `yield` gives the window that many seconds;
`w` clicks, types, finds buttons and takes pictures. Not a pytest file: it needs a window, of 2200 x 1700 pixels
so that the sidebar does not lie over the model.
"""

import math
from pathlib import Path

import bmesh
import bpy


def scenario(w):
    scene = bpy.context.scene
    scene.unit_settings.length_unit = "MILLIMETERS"
    for item in list(bpy.data.objects):
        bpy.data.objects.remove(item)
    w.show_sidebar("Tackwright")
    yield 0.3
    w.shot("1_nothing_yet")

    # ---- draw: a box of 400 x 300 x 200 mm, its front pinched by hand
    bpy.ops.mesh.primitive_cube_add(size=1, location=(0, 0, 0.1))
    tank = bpy.context.object
    tank.name, tank.scale = "tank", (0.4, 0.3, 0.2)
    bpy.ops.object.transform_apply(location=False)
    bpy.ops.object.mode_set(mode="EDIT")
    bpy.context.tool_settings.mesh_select_mode = (False, False, True)
    bpy.ops.mesh.select_all(action="DESELECT")
    w.view(direction=(2, -3, 2))
    yield 0.3
    w.click(*w.project((0.2, 0, 0.1)))
    yield 0.4
    picked = [f for f in bmesh.from_edit_mesh(tank.data).faces if f.select]
    w.check(len(picked) == 1 and picked[0].normal.x > 0.99, "a click picked the end face")
    w.move(*w.project((0.25, 0, 0.3)))
    w.key("s")
    yield 0.3
    w.type("0.6")
    w.key("Return")
    yield 0.3
    w.shot("2_drawn")

    # ---- in edit mode with one face selected, then with all
    bpy.ops.object.mode_set(mode="OBJECT")
    yield 0.3
    settings = tank.tackwright

    # ---- metal: type a thickness into its field
    found = yield from w.buttons()
    thickness = button(found, "tackwright.thickness")
    w.click(thickness.x, thickness.y, double=True)
    yield 0.3
    w.key("ctrl+a")
    w.type("4mm")
    w.key("Return")
    yield 0.3
    w.check(math.isclose(settings.thickness_mm, 4.0, rel_tol=1e-6), f"4mm typed in ({settings.thickness_mm})")

    # ---- the material's menu
    material = button(found, "tackwright.material")
    yield from press(w, material)
    yield 1.5
    w.shot("3_materials")
    w.key("Escape")
    yield 1.0

    # ---- Make Plates
    make = button(found, "make_plates")
    yield from press(w, make)
    yield from w.until(lambda: "P01-1" in bpy.data.objects, 20, "the plates")
    yield 0.5
    w.move(w.size[0] // 3, w.size[1] // 2)
    w.view(direction=(2, -3, 2))
    yield 0.5
    w.shot("4_plates")
    w.crop("4_plates_sidebar", *w.rect("UI"), zoom=2)
    plates = [item for item in bpy.data.objects if item.tackwright_plate.made_as]
    w.check(len(plates) == 6, f"six plates ({len(plates)})")

    # ---- undo and redo by keys
    w.move(w.size[0] // 3, w.size[1] // 2)
    w.key("ctrl+z")
    yield from w.until(lambda: "P01-1" not in bpy.data.objects, 5, "undo")
    w.key("ctrl+shift+z")
    yield from w.until(lambda: "P01-1" in bpy.data.objects, 5, "redo")

    # ---- Export Kit: asks for a folder; a tank without an opening is refused until it is said to be meant; the
    # second time asks before it replaces
    scroll(w, 60)
    yield 1.0
    export = button((yield from w.buttons()), "export_kit()")
    yield from press(w, export)
    yield 2.0
    w.shot("5_folder")
    w.move(w.size[0] // 2, w.size[1] // 2)   # keys go to the window that the mouse is over
    yield 0.5
    w.key("Escape")
    yield 1.0
    bpy.data.objects["tank"].tackwright.folder = str(w.out)
    w.move(w.size[0] // 3, w.size[1] // 2)
    yield 0.5
    yield from press(w, export)
    kit = Path(w.out, "tank_kit", "kit.json")
    settings = bpy.data.objects["tank"].tackwright
    yield from w.until(lambda: "sealed_cell" in [finding.rule for finding in settings.findings], 20, "the finding")
    yield 1.0
    w.shot("6_sealed")
    w.check(not kit.parent.exists(), "a sealed tank is not exported")
    w.move(w.size[0] // 3, w.size[1] // 3)
    yield 0.7
    bpy.data.objects["tank"].tackwright.sealed = True
    yield from w.buttons()                                        # redrawn, it grows by what is told to be old
    scroll(w, 60)
    yield 1.0
    export = button((yield from w.buttons()), "export_kit()")
    yield from press(w, export)
    yield from w.until(kit.exists, 20, "the kit")
    yield 0.5
    w.shot("6_exported")
    yield from press(w, button((yield from w.buttons()), "export_kit()"))
    yield 1.5
    w.shot("7_replace")
    w.key("Escape")
    yield 0.3

    # ---- a drawing that cannot be made: one corner lifted
    tank = bpy.data.objects["tank"]
    tank.data.vertices[7].co.z += 0.03
    tank.data.update()
    scroll(w, -60)
    yield 1.0
    yield from press(w, button((yield from w.buttons()), "make_plates"))
    yield 1.5
    w.shot("8_refused")
    w.move(w.size[0] // 3, w.size[1] // 2)
    yield 0.5
    found = yield from w.buttons(xs=(0.5, 0.84))
    show = button(found, "select_finding")
    yield from press(w, show)
    yield from w.until(lambda: bpy.context.mode == "EDIT_MESH", 5, "edit mode")
    yield 0.5
    w.move(w.size[0] // 3, w.size[1] // 2)
    yield 0.5
    w.shot("9_selected")
    w.crop("9_selected_sidebar", *w.rect("UI"), zoom=2)


def scroll(w, steps):
    """Down the sidebar, or up: it is longer than the window."""
    x, y, _, _ = w.rect("UI")
    w.scroll(x + 60, y + 500, steps)


def press(w, place):
    """Come near, let Blender see it, and click."""
    w.move(place.x, place.y)
    yield 0.7
    w.click(place.x, place.y)


def button(found, name):
    hits = [b for b in found if name in b]
    if not hits:
        raise LookupError(f"no button {name} among {list(found)}")
    return hits[0]
