"""The pictures for people: the bow tank's plates with one side taken off, and all of them pulled apart, in a real
window.

Run on the bench that `draw_and_export.py` speaks of, with bow_tank.blend open.
"""

import bpy

WALL, BAFFLE = (0.62, 0.66, 0.7, 1), (0.85, 0.55, 0.25, 1)


def scenario(w):
    tank = bpy.context.object
    view = w.area().spaces.active
    view.overlay.show_cursor = view.overlay.show_object_origins = view.overlay.show_relationship_lines = False
    view.shading.color_type, view.shading.show_cavity, view.shading.cavity_type = "OBJECT", True, "WORLD"
    w.show_sidebar("Tackwright")
    yield 0.5
    w.view(direction=(1.6, -2.2, 1.2), selected=True)
    near(view)
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
    for panel, plate in plates.items():
        plate.color = BAFFLE if "baffle" in panel else WALL
    plates["starboard"].hide_set(True)
    tank.hide_set(True)
    view.shading.show_xray = False
    yield 4.0  # the tooltip and the report go away
    w.crop("plates", *picture(w))
    w.log(tank.tackwright.summary)
    for finding in tank.tackwright.findings:
        w.log(finding.level, finding.rule, finding.about)
    tank.select_set(False)
    w.check(len(plates) == 11, "eleven plates")

    # ---- all of them, pulled apart, to see the tabs and their slots
    plates["starboard"].hide_set(False)
    for item in bpy.data.objects:
        if item.type == "EMPTY":
            item.hide_set(True)
    places = {panel: plate.matrix_world @ centre(plate) for panel, plate in plates.items()}
    middle = sum(places.values(), start=places["bottom"] * 0) / len(places)
    for panel, plate in plates.items():
        plate.location += (places[panel] - middle) * 0.8
    w.view(direction=(1.6, -2.2, 1.2))
    near(view)
    view.show_gizmo = view.overlay.show_floor = view.overlay.show_axis_x = view.overlay.show_axis_y = False
    view.overlay.show_text = view.shading.show_cavity = False
    yield 1.0
    x, y, width, height = w.rect("WINDOW")
    w.crop("apart", x + 100, y + 100, width - 450, height - 200)


def centre(plate):
    points = [vertex.co for vertex in plate.data.vertices]
    return sum(points, start=points[0] * 0) / len(points)


def near(view):
    """Nearer, and left of the sidebar."""
    view.region_3d.view_distance *= 0.72
    view.region_3d.view_location += view.region_3d.view_rotation @ type(view.region_3d.view_location)((0.12, 0, 0))


def picture(w):
    """The 3D view with its sidebar, without the timeline below."""
    area = w.area()
    return area.x, w.size[1] - area.y - area.height, area.width, area.height
