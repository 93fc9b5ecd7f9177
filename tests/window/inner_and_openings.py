"""In a real window: a tank with a baffle drawn in it, an opening on its top, a perforation on the baffle, all made.

For the bench and the size of window that `draw_and_export.py` speaks of. Not a pytest file: it needs a window.
"""

import math

import bmesh
import bpy

HEADER, ROW = 40, 33  # pixels from the first button of a panel up to its header, and from one closed panel to the next


def scenario(w):
    scene = bpy.context.scene
    scene.unit_settings.length_unit = "MILLIMETERS"
    for item in list(bpy.data.objects):
        bpy.data.objects.remove(item)
    w.show_sidebar("Tackwright")

    # ---- draw: a box of 400 x 300 x 200 mm, and across it a baffle that ends short of the walls
    bpy.ops.mesh.primitive_cube_add(size=1, location=(0, 0, 0.1))
    tank = bpy.context.object
    tank.name, tank.scale = "tank", (0.4, 0.3, 0.2)
    bpy.ops.object.transform_apply(location=True)
    bpy.ops.object.mode_set(mode="EDIT")
    edited = bmesh.from_edit_mesh(tank.data)
    corners = [(0.03, -0.144, 0.006), (0.03, 0.144, 0.006), (0.0, 0.144, 0.194), (0.0, -0.144, 0.194)]
    edited.faces.new([edited.verts.new(corner) for corner in corners]).normal_update()
    bmesh.update_edit_mesh(tank.data)
    bpy.context.tool_settings.mesh_select_mode = (False, False, True)
    bpy.ops.mesh.select_all(action="DESELECT")
    view = w.area().spaces.active
    view.shading.show_xray = True
    w.view(direction=(2, -3, 2))
    yield 0.5
    only(tank, [6])
    yield 0.5
    w.shot("1_drawn")
    found = yield from w.buttons()
    inner, perforations, openings = (header(found, label) for label in ("Inner Plates", "Perforations", "Openings"))

    # ---- mark it as an inner plate
    yield from press_header(w, inner)
    found = yield from w.buttons(xs=(0.19, 0.46, 0.73))
    yield from press(w, button(found, "mark_faces"))
    yield 0.7
    w.check(marks(tank, "tackwright_inner") == [0] * 6 + [1], f"the baffle is marked {marks(tank, 'tackwright_inner')}")
    away(w)
    yield 1.0
    w.shot("2_marked")
    w.crop("2_marked_sidebar", *w.rect("UI"), zoom=2)
    yield from press_header(w, inner)

    # ---- perforate it
    yield from press_header(w, perforations)
    found = yield from w.buttons(xs=(0.3, 0.83))
    yield from press(w, button(found, "perforate_faces"))
    yield 0.7
    w.check(marks(tank, "tackwright_field") == [0] * 6 + [1], "the baffle is perforated")
    away(w)
    yield 0.5
    w.crop("3_perforation_sidebar", *w.rect("UI"), zoom=2)
    field = tank.tackwright.fields[0]
    field.bands[0].code = "R12T20"
    yield 0.3
    found = yield from w.buttons(xs=(0.3, 0.83))
    yield from press(w, button(found, "add_band"))
    yield 0.7
    w.check(len(field.bands) == 2, "two patterns")
    field.bands[1].code, field.gap_mm = "R20T34", 15.0
    away(w)
    yield 0.5
    w.crop("4_two_patterns_sidebar", *w.rect("UI"), zoom=2)
    yield from press_header(w, perforations)

    # ---- an opening on the top, still in Edit Mode
    only(tank, [f.index for f in bmesh.from_edit_mesh(tank.data).faces if f.normal.z > 0.99])
    yield from press_header(w, openings)
    found = yield from w.buttons()
    yield from press(w, button(found, "add_opening"))
    yield 0.7
    w.check("Port" in bpy.data.objects, "an opening was added")
    away(w)
    yield 0.5
    w.shot("5_opening_in_edit_mode")
    yield from press_header(w, openings)

    # ---- its size in the panel
    bpy.ops.object.mode_set(mode="OBJECT")
    tank.select_set(False)
    port = bpy.data.objects["Port"]
    port.select_set(True)
    bpy.context.view_layer.objects.active = port
    yield 0.5
    found = yield from w.buttons()
    size = button(found, "size_x")
    w.click(size.x, size.y, double=True)
    yield 0.3
    w.key("ctrl+a")
    w.type("80mm")
    w.key("Return")
    yield 0.5
    w.check(math.isclose(port.tackwright_opening.size_x_mm, 80.0, rel_tol=1e-6), "80mm typed in")
    away(w)
    yield 0.5
    w.move(*w.project((-0.1, 0, 0.2)))
    w.key("g", "x")
    yield 0.2
    w.type("100")
    w.key("minus", "Return")
    yield from w.until(lambda: math.isclose(port.matrix_world.translation.x, -0.1, abs_tol=1e-4), 5, "the move")
    port.tackwright_opening.bolts, port.tackwright_opening.bolt_circle_mm = True, 110.0
    yield 0.5
    w.shot("6_opening")
    w.crop("6_opening_sidebar", *w.rect("UI"), zoom=2)

    # ---- a drain at the 3D cursor, of a fitting
    scene.cursor.location = (0.15, -0.15, 0.03)
    bpy.context.view_layer.objects.active = tank
    bpy.ops.tackwright.add_opening(purpose="DRAIN")
    drain = bpy.context.object
    yield 0.5
    found = yield from w.buttons()
    fitting = button(found, "tackwright_opening.fitting")
    w.click(fitting.x, fitting.y)
    yield 0.5
    w.type("G 1/2")
    yield 1.0
    w.shot("7_fittings")
    w.key("Return")
    yield 0.5
    w.check(drain.tackwright_opening.fitting.startswith("G 1/2"), f"a fitting ({drain.tackwright_opening.fitting!r})")
    drain.tackwright_opening.fitting = "G 1/2"
    away(w)
    yield 0.5
    w.shot("7_drain")

    # ---- Make Plates, with the opening active
    found = yield from w.buttons()
    yield from press(w, button(found, "make_plates"))
    yield from w.until(lambda: "P01-1" in bpy.data.objects, 60, "the plates")
    away(w)
    yield 5.0
    view.shading.show_xray = True
    w.shot("8_plates")
    w.crop("8_plates_sidebar", *w.rect("UI"), zoom=2)
    plates = [item for item in bpy.data.objects if item.tackwright_plate.made_as]
    w.check(len(plates) == 7, f"seven plates ({len(plates)})")
    for finding in tank.tackwright.findings:
        w.log(finding.level, finding.rule, finding.message)
    w.log(tank.tackwright.summary)

    # ---- pulled apart
    view.shading.show_xray = False
    for item in (tank, port, drain):
        item.hide_set(True)
    middle = tank.matrix_world.translation.copy()
    for plate in plates:
        points = [plate.matrix_world @ vertex.co for vertex in plate.data.vertices]
        place = sum(points, start=points[0] * 0) / len(points)
        plate.location += (place - middle) * 0.9
    w.view(direction=(2, -3, 2))
    yield 1.0
    w.shot("9_apart")
    w.view(direction=(4, -1, 1))
    yield 0.5
    w.shot("9_apart_from_the_end")

    # ---- undo goes back to where nothing was made
    w.key("ctrl+z")
    yield from w.until(lambda: "P01-1" not in bpy.data.objects, 5, "undo")


def only(item, faces):
    """These faces selected in Edit Mode, and no other."""
    edited = bmesh.from_edit_mesh(item.data)
    for face in edited.faces:
        face.select_set(face.index in faces)
    edited.faces.active = next(face for face in edited.faces if face.select)
    bmesh.update_edit_mesh(item.data)


def marks(item, name):
    edited = bmesh.from_edit_mesh(item.data)
    layer = edited.faces.layers.int.get(name)
    return [face[layer] for face in edited.faces] if layer else []


def header(found, label):
    """Where a closed panel's header is: a row each above the panel of the kit, whose first button is found."""
    kit_name = button(found, "tackwright.kit_name")
    row = ("Kit", "Perforations", "Openings", "Inner Plates").index(label)
    return kit_name.x - 60, kit_name.y - HEADER - ROW * row


def press_header(w, place):
    """Open a panel, or close it."""
    w.move(*place)
    yield 0.3
    w.click(*place)
    yield 0.7


def away(w):
    w.move(w.size[0] // 3, w.size[1] // 2)


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
