"""In a real window: the demo tank with its plates made and Live on; every opening is picked by clicks on its ring, its
centre, its arrow and anywhere inside, and by its row in the panel, while clicks beside them still pick plates.

For the bench and the size of window that `draw_and_export.py` speaks of. Not a pytest file: it needs a window.
"""

import importlib
import itertools

import bpy
from bpy_extras import view3d_utils
from mathutils import Vector

HEADER, ROW = 40, 33  # pixels from the first button of a panel up to its header, and from one closed panel to the next
INSIDE = ((0.0, 0.55), (0.5, 0.0), (-0.35, -0.3))
"""Of a ring's radius, along its two axes: places inside that are neither the ring nor the centre."""


def scenario(w):
    openings_of = importlib.import_module(f"{w.extension}.addon.scene.active_envelope").openings_of
    bpy.context.scene.unit_settings.length_unit = "MILLIMETERS"
    for item in list(bpy.data.objects):
        bpy.data.objects.remove(item)
    w.show_sidebar("Tackwright")
    bpy.ops.tackwright.first_scene()
    tank = bpy.context.object
    bpy.ops.tackwright.make_plates()
    tank.tackwright.live = True
    bpy.ops.ed.undo_push(message="made")
    yield 3.0
    count = 0
    for name in [item.name for item in openings_of(bpy.context, tank)]:
        opening = bpy.data.objects[name]
        look_at(w, opening)
        yield 1.0
        for where, place in places_of(opening):
            bpy.ops.object.select_all(action="DESELECT")
            bpy.context.view_layer.objects.active = tank
            yield 0.2
            w.click(*w.project(place))
            yield 0.7
            picked = [item.name for item in bpy.context.selected_objects]
            right = picked == [name] and bpy.context.view_layer.objects.active.name == name
            w.check(right, f"{name}: a click on {where} selects it {picked}")
            count += right
        w.shot(f"picked_{name}")
    w.log("clicks that picked:", count)

    # ---- a click beside every opening picks a plate, as ever; one more on the same opening reaches what is behind
    w.view(direction=(1.4, -2.2, 1.0))
    yield 1.0
    plate, place = a_place_of_a_plate(w, tank, openings_of)
    w.click(*w.project(place))
    yield 0.7
    w.check([item.name for item in bpy.context.selected_objects] == [plate.name], f"a click on {plate.name} selects it")
    opening = max(openings_of(bpy.context, tank), key=lambda item: item.tackwright_opening.size_x_mm)
    bpy.ops.object.select_all(action="DESELECT")
    look_at(w, opening)
    yield 1.0
    inside = places_of(opening)[-1][1]
    w.click(*w.project(inside))
    yield 0.7
    w.check(bpy.context.selected_objects[:] == [opening], "the first click selects the opening")
    yield 1.0                                            # or the two would be a double click
    w.click(*w.project(inside))
    yield 0.7
    behind = [item.name for item in bpy.context.selected_objects]
    w.check(behind and opening.name not in behind, f"the second what is behind it {behind}")

    # ---- Shift adds, and one Ctrl Z takes one pick back
    bpy.ops.object.select_all(action="DESELECT")
    bpy.ops.ed.undo_push(message="nothing selected")
    w.click(*w.project(inside), hold=("shift",))
    yield 0.7
    w.check(bpy.context.selected_objects[:] == [opening], "Shift and a click adds it")
    w.key("ctrl+z")
    yield 1.5
    w.check(not bpy.context.selected_objects, "one Ctrl Z takes the pick back")

    # ---- a click into the empty deselects, as ever
    opening = openings_of(bpy.context, bpy.data.objects[tank_name(w)])[0]
    opening.select_set(True)
    x, y, wide, high = w.rect("WINDOW")
    w.click(x + 30, y + high - 60)
    yield 0.7
    w.check(not bpy.context.selected_objects, "a click beside everything deselects")

    # ---- the list in the panel, by its rows
    tank = bpy.data.objects[tank_name(w)]
    tank.select_set(True)
    bpy.context.view_layer.objects.active = tank
    x, y, wide, high = w.rect("UI")
    w.scroll(x + 60, y + 400, 60)
    yield 1.0
    found = yield from w.buttons()
    kit_name = next(b for b in found if "tackwright.kit_name" in b)
    header = kit_name.x - 60, kit_name.y - HEADER - 2 * ROW
    w.move(*header)
    yield 0.3
    w.click(*header)
    yield 1.0
    w.scroll(x + 60, y + 400, 60)
    yield 1.0
    w.crop("list", *w.rect("UI"))
    for number, item in enumerate(openings_of(bpy.context, tank)):
        bpy.context.view_layer.objects.active = tank     # an opening's own panel would come above
        yield 0.5
        found = yield from w.buttons(xs=(0.2,))
        rows = [b for b in found if "select_opening" in b]
        if w.check(number < len(rows), f"{item.name} stands in the list, {[str(row) for row in rows]}"):
            w.move(rows[number].x, rows[number].y)
            yield 0.5
            w.click(rows[number].x, rows[number].y)
            yield 1.0
            w.check(bpy.context.selected_objects[:] == [item] and bpy.context.object == item,
                    f"a click on its row selects {item.name}")
    w.crop("list_chosen", *w.rect("UI"))


def tank_name(w):
    return next(item.name for item in bpy.data.objects if item.tackwright.live)


def look_at(w, opening):
    turn = opening.matrix_world
    w.view(direction=tuple(turn.col[2].to_3d() + 0.4 * turn.col[0].to_3d() + 0.3 * turn.col[1].to_3d()))


def places_of(opening):
    """Eight places of an opening in the world, with what they are."""
    module = type(opening.tackwright_opening).__module__.replace(".scene.opening_objects", ".screen.opening_overlay")
    ring, arrow = importlib.import_module(module).lines_of_opening(bpy.context, opening)
    middle = Vector(opening.matrix_world.translation)
    across = [opening.matrix_world.col[i].to_3d().normalized() for i in (0, 1)]
    points = [Vector(ends[0]) for ends in ring[:48]]
    reach = [max(abs((point - middle).dot(way)) for point in points) for way in across]
    inside = [middle + a * reach[0] * across[0] + b * reach[1] * across[1] for a, b in INSIDE]
    return [
        *((f"its ring, {n} of 48", points[n]) for n in (3, 20, 37)), ("its centre", middle),
        ("its arrow", Vector(arrow[0][0]).lerp(Vector(arrow[0][1]), 0.5)),
        *(("a place inside", place) for place in inside),
    ]  # fmt: skip


def a_place_of_a_plate(w, tank, openings_of):
    """A plate and a place on it that is seen, far from every opening."""
    area = w.area()
    region = next(r for r in area.regions if r.type == "WINDOW")
    space = area.spaces.active.region_3d
    rings = [view3d_utils.location_3d_to_region_2d(region, space, item.matrix_world.translation)
             for item in openings_of(bpy.context, tank)]
    best = (0.0, None, None)
    for i, j in itertools.product(range(4, 28), repeat=2):
        at = Vector((region.width * i / 32, region.height * j / 32))
        start = view3d_utils.region_2d_to_origin_3d(region, space, at)
        way = view3d_utils.region_2d_to_vector_3d(region, space, at)
        hit, place, _, _, item, _ = bpy.context.scene.ray_cast(bpy.context.evaluated_depsgraph_get(), start, way)
        room = min((at - ring).length for ring in rings if ring is not None)
        if hit and item.original.tackwright_plate.made_as and room > best[0]:
            best = room, item.original, place
    return best[1:]
