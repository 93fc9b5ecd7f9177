"""The pictures for people: the bow tank's plates with one side taken off, and all of them pulled apart, in a real
window.

Run on the bench that `draw_and_export.py` speaks of, with bow_tank.blend open in a window of 1600 x 1160.
"""

import bpy
from mathutils import Vector

WALL, BAFFLE = (0.66, 0.70, 0.74, 1), (0.95, 0.62, 0.28, 1)
APART = {"bulkhead": (-180, 0, 0), "bottom": (0, 0, -190), "aft_deck": (-60, 0, 140), "step": (-60, 0, 240),
         "fore_deck": (60, 0, 190), "stem": (240, 0, 60), "forefoot": (170, 0, -150),
         "starboard": (0, -330, -90), "port": (60, 260, 60), "aft_baffle": (-60, 0, 0), "fore_baffle": (60, 0, 0)}
"""mm: how far each plate is moved."""


def scenario(w):
    tank = bpy.context.object
    view = w.area().spaces.active
    view.clip_start, view.clip_end = 1.0, 100_000.0  # as the file's own window has it
    view.overlay.show_cursor = view.overlay.show_object_origins = view.overlay.show_relationship_lines = False
    view.shading.color_type, view.shading.show_cavity, view.shading.cavity_type = "OBJECT", True, "WORLD"
    view.shading.use_world_space_lighting, view.shading.studiolight_rotate_z = True, -1.5  # light from forward
    w.show_sidebar("Tackwright")
    yield 0.5
    look(w, view, selected=True)
    yield 0.7
    w.crop("drawn", *picture(w))

    found = yield from w.buttons()
    make = next(b for b in found if "make_plates" in b)
    w.move(make.x, make.y)
    yield 0.7
    w.click(make.x, make.y)
    yield from w.until(lambda: "P01-1" in bpy.data.objects, 60, "the plates")
    yield 0.5
    w.move(w.size[0] // 3, w.size[1] // 2)
    plates = {item.tackwright_plate.panel: item for item in bpy.data.collections[f"{tank.name} Plates"].objects}
    w.check(plates.keys() == APART.keys(), "eleven plates")
    for panel, plate in plates.items():
        plate.color = BAFFLE if "baffle" in panel else WALL
    plates["starboard"].hide_set(True)
    for name in ("outlet", "drain"):  # behind a baffle: their rings would be drawn over it
        bpy.data.objects[name].hide_set(True)
    tank.hide_set(True)
    yield 4.0  # the tooltip and the report go away
    w.crop("plates", *picture(w))
    w.log(tank.tackwright.summary)
    for finding in tank.tackwright.findings:
        w.log(finding.level, finding.rule, finding.about)

    # ---- all of them, pulled apart, to see the tabs and their slots
    tank.select_set(False)
    plates["starboard"].hide_set(False)
    for item in bpy.data.objects:
        if item.type == "EMPTY":
            item.hide_set(True)
    for panel, plate in plates.items():
        plate.location += Vector(APART[panel])
    look(w, view, near=0.64)
    view.show_region_toolbar = False
    view.show_gizmo = view.overlay.show_floor = view.overlay.show_axis_x = view.overlay.show_axis_y = False
    view.overlay.show_text = view.shading.show_cavity = False
    yield 1.0
    x, y, width, height = w.rect("WINDOW")
    w.crop("apart", x + 30, y + 160, width - 380, height - 300)


def look(w, view, selected=False, near=0.72):
    """From forward and starboard, nearer than the bench does, and left of the sidebar."""
    w.view(direction=(1.6, -2.2, 1.2), selected=selected)
    place = view.region_3d
    place.view_distance *= near
    place.view_location += place.view_rotation @ Vector((0.1 * place.view_distance, 0, 0))


def picture(w):
    """The 3D view with its sidebar, without the timeline below."""
    area = w.area()
    return area.x, w.size[1] - area.y - area.height, area.width, area.height
