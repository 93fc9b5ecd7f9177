"""The pictures for people: the bow tank as drawn, and its plates, in a real window.

Run on the bench that `draw_and_export.py` speaks of, with the demo scenes' folder mounted and the path of
bow_tank.obj as the argument.
"""

import bpy


def scenario(w):
    scene = bpy.context.scene
    scene.unit_settings.length_unit = "MILLIMETERS"
    for item in list(bpy.data.objects):
        bpy.data.objects.remove(item)
    bpy.ops.wm.obj_import(filepath=w.args[0], global_scale=0.001, forward_axis="Y", up_axis="Z")
    tank = bpy.context.object
    view = w.area().spaces.active
    view.overlay.show_cursor = view.overlay.show_object_origins = False
    view.shading.color_type, view.shading.show_cavity, view.shading.cavity_type = "OBJECT", True, "WORLD"
    w.show_sidebar("Tackwright")
    tank.tackwright.tab_spacing_mm = 160.0
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
    yield from w.until(lambda: "P01-1" in bpy.data.objects, 30, "the plates")
    yield 0.5
    w.move(w.size[0] // 3, w.size[1] // 2)
    for plate in bpy.data.collections[f"{tank.name} Plates"].objects:
        plate.color = (0.62, 0.66, 0.7, 1)
    tank.hide_set(True)
    yield 4.0  # the tooltip and the report go away
    w.crop("plates", *picture(w))
    w.log(tank.tackwright.summary)
    for finding in tank.tackwright.findings:
        w.log(finding.level, finding.rule, finding.about)
    tank.select_set(False)
    w.check(len([o for o in bpy.data.objects if o.tackwright_plate.made_as]) == 9, "nine plates")

    # ---- the same, pulled apart, to see the tabs
    plates = bpy.data.collections[f"{tank.name} Plates"].objects
    places = [plate.matrix_world @ centre(plate) for plate in plates]
    middle = sum(places, start=places[0] * 0) / len(places)
    for plate, place in zip(plates, places, strict=True):
        plate.location += (place - middle) * 0.5
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
