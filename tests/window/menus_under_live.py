"""In a real window: every entry of the menus of an opening and of its envelope, picked by mouse many times while the
plates follow and the room to a scan is followed, with what timers do falling in between at random.

For the bench that `first_use.py` speaks of, the folder `tests` mounted, in a window of 900 x 1500. Arguments: how many
rounds (2 if left out), the seed of the waiting times, `undo` to take picks back now and then, `long` to work on a
drawing that takes longer to make, `redo` to pick in the panel of the last operator instead, each pick of which undoes
Add Opening and does it anew. A crash of Blender is what it looks for: the bench reports that.
"""

import importlib
import random
import sys
import time
from collections import Counter
from pathlib import Path

import bpy

sys.path[:0] = [str(Path(__file__).resolve().parents[1] / "support"), str(Path(__file__).resolve().parent)]

MENUS = {
    "hole": ("tackwright_opening.purpose", "tackwright_opening.shape"),
    "tank": ("tackwright.material", "tackwright.metal_side", "tackwright.dxf_units"),
}
"""By the object that must be the active one."""
HEAD = 2.12
"""Units from the upper edge of the panel of the last operator to its first field."""
TITLED = "tackwright.material"
LONGEST = 0.4
"""s, of the waits that are drawn at random."""


def scenario(w):
    hands = importlib.import_module("hands")
    numbers = [int(text) for text in w.args if text.isdigit()]
    rounds, seed = (*numbers, *(2, 1)[len(numbers):])[:2]
    chance = random.Random(seed)
    for item in list(bpy.data.objects):
        bpy.data.objects.remove(item)
    bpy.context.scene.unit_settings.length_unit = "MILLIMETERS"
    if "redo" not in w.args:                             # there the menus need room below the view
        yield from hands.alone(w)
    raise_panels()
    tank, opening = drawn(long="long" in w.args)
    bpy.ops.ed.undo_push(message="drawn")
    w.show_sidebar("Tackwright")
    w.view(direction=(1.5, -2, 1.2))
    yield 1.0

    # ---- Live and Follow, by their buttons
    bpy.context.view_layer.objects.active = tank
    yield 0.5
    found = yield from w.buttons()
    yield from press(w, named(found, "tackwright.live"))
    yield from w.until(lambda: bpy.data.objects["tank"].tackwright.live, 5, "Live")
    tank = bpy.data.objects["tank"]
    bpy.ops.tackwright.check_clearance()
    yield from w.until(lambda: tank.tackwright_space.checked, 60, "the room")
    tank.tackwright_space.follow = True
    bpy.context.view_layer.objects.active = bpy.data.objects[opening]
    yield 2.0
    w.shot("1_followed")

    if "redo" in w.args:
        yield from redone(w, hands, rounds, chance)
        return
    picked, lost, began = Counter(), [], time.monotonic()
    for number in range(rounds):
        for active, menus in MENUS.items():
            bpy.context.view_layer.objects.active = bpy.data.objects[active]
            yield 0.5
            places = yield from seen(w, menus)
            if not w.check(places.keys() == set(menus), f"the menus of {active} are in sight"):
                continue
            for menu in menus:
                for entry, wanted in enumerate(hands.entries(*target(menu))):
                    for _ in range(2):
                        spot = yield from hands.near(w, *places[menu], path(menu), span=9.0)
                        places[menu] = spot or places[menu]
                        came = spot is not None and (yield from hands.pick(
                            w, *spot, entry, path(menu), title=menu == TITLED, rest=0.05 + chance.random() * LONGEST))
                        if came:
                            break
                        hands.away(w)
                        w.key("Escape")
                        yield 0.5
                    for _ in range(20):
                        if current(menu) == wanted:
                            break
                        yield 0.05
                    if came and current(menu) == wanted:
                        picked[menu, wanted] += 1
                    else:
                        lost.append((number, menu, wanted, current(menu), came))
                        w.log("lost", *lost[-1])
                        if len(lost) < 4:
                            w.shot(f"lost_{len(lost)}")
                    if "undo" in w.args and chance.random() < 0.15:
                        hands.away(w)
                        yield from taken_back(w, chance)
                        bpy.context.view_layer.objects.active = bpy.data.objects[active]
                        yield 0.3
        w.log(f"round {number + 1}: {sum(picked.values())} picked, {len(lost)} lost, "
              f"{time.monotonic() - began:.0f} s; {state()}")
    for one, count in sorted(picked.items()):
        w.log(count, *one)
    for one in lost:
        w.log("lost", *one)
    w.check(len(lost) <= 0.02 * sum(picked.values()), f"{sum(picked.values())} picks came, {len(lost)} did not")
    w.shot("2_end")


def redone(w, hands, rounds, chance):
    """Add Opening, and then its purpose and its shape in the panel of the last operator, over and over."""
    bpy.context.view_layer.objects.active = bpy.data.objects["tank"]
    yield 0.5
    hands.away(w)
    with w.view3d():
        bpy.ops.tackwright.add_opening("INVOKE_DEFAULT", True)
    yield 1.5
    x, y, wide, high = w.rect("HUD")
    w.click(x + wide // 3, y + high - hands.unit() // 2)         # opens it
    yield 1.5
    w.shot("2_last_operator")
    came, lost = Counter(), 0
    for number in range(rounds):
        for name in ("purpose", "shape"):
            kept = bpy.context.window_manager.operators[-1].properties
            names = [item.identifier for item in kept.bl_rna.properties[name].enum_items]
            for entry in range(len(names)):
                place = yield from field_of(w, hands, ("purpose", "shape").index(name))
                before = hands.screen(w)
                if place is not None:
                    w.click(*place)
                    yield 0.4
                box = hands.popup(w, before)
                if box is None:
                    lost += 1
                    hands.away(w)
                    w.key("Escape")
                    yield 0.5
                    continue
                at = place[1] + round((hands.FIRST + hands.PITCH * entry) * hands.unit())
                w.move(place[0] + 3, at)
                yield 0.1
                w.click(place[0] + 3, at)
                yield 0.2 + chance.random() * LONGEST
                had = getattr(bpy.context.window_manager.operators[-1].properties, name)
                marked = bpy.context.object.tackwright_opening
                came[name, had] += 1
                w.check(had == getattr(marked, name), f"{name}: the panel says {had}, it is {getattr(marked, name)}")
        w.log(f"round {number + 1}: {dict(came)}, {lost} lost; {state()}")
    w.check(len(came) == 7, f"every entry came: {dict(came)}")
    w.check(lost <= 0.05 * sum(came.values()), f"{lost} times no menu opened")
    w.shot("3_end")


def field_of(w, hands, number):
    """Where the field with this number from the top is in the panel of the last operator."""
    x, y, wide, _ = w.rect("HUD")
    place = x + round(0.6 * wide), y + round((HEAD + hands.PITCH * number) * hands.unit())
    w.move(*place)
    for _ in range(20):
        yield 0.1
        with bpy.context.temp_override(window=w.window, area=w.area(), region=w.region("HUD")):
            if bpy.ops.ui.reset_default_button.poll():
                return place
    return None


def raise_panels():
    """The panels with the menus come first: what others say changes their height while plates follow."""
    for order, name in enumerate(("opening", "metal", "kit")):
        kind = getattr(bpy.types, f"TACKWRIGHT_PT_{name}")
        bpy.utils.unregister_class(kind)
        kind.bl_order = order - 10
        bpy.utils.register_class(kind)


def taken_back(w, chance):
    """Some undo steps, and at times one of them done again."""
    yield chance.random() * LONGEST
    for key in ["ctrl+z"] * chance.choice((1, 1, 2, 3)) + ["ctrl+shift+z"] * chance.choice((0, 1)):
        w.key(key)
        yield chance.random() * LONGEST


def state():
    tank = bpy.data.objects["tank"]
    return f"{len(tank.tackwright.findings)} findings, least room {tank.tackwright_space.least:.2f}"


def target(menu):
    group, name = menu.split(".")
    of = bpy.data.objects["hole"] if group == "tackwright_opening" else bpy.data.objects["tank"]
    return getattr(of, group), name


def current(menu):
    return getattr(*target(menu))


def drawn(*, long):
    """A tank in a niche, with an opening in its lid and baffles; its name and the opening's are what is looked for."""
    from made_scans import niche

    points, faces = niche(3000)
    mesh = bpy.data.meshes.new("scan")
    mesh.from_pydata((points / 1000).tolist(), [], faces.tolist())
    scan = bpy.data.objects.new("scan", mesh)
    bpy.context.scene.collection.objects.link(scan)
    x, y, z = 0.4, 0.3, 0.2
    corners = [(i * x, j * y, k * z) for k in (0, 1) for i, j in ((0, 0), (1, 0), (1, 1), (0, 1))]
    sides = [(0, 3, 2, 1), (4, 5, 6, 7), (0, 1, 5, 4), (1, 2, 6, 5), (2, 3, 7, 6), (3, 0, 4, 7)]
    for n in range(12 if long else 1):
        at = (n + 1) * x / 14
        first = len(corners)
        corners += [(at, 0.004, 0.004), (at, y - 0.004, 0.004), (at, y - 0.004, z - 0.004), (at, 0.004, z - 0.004)]
        sides.append((first, first + 1, first + 2, first + 3))
    mesh = bpy.data.meshes.new("tank")
    mesh.from_pydata(corners, [], sides)
    tank = bpy.data.objects.new("tank", mesh)
    bpy.context.scene.collection.objects.link(tank)
    tank.location = (0.2, 0.15, 0.1)
    tank.tackwright_space.scan = scan
    bpy.context.view_layer.objects.active = tank
    tank.select_set(True)
    bpy.context.view_layer.update()
    bpy.context.scene.cursor.location = (0.5, 0.3, 0.3)
    bpy.ops.tackwright.add_opening()
    bpy.context.object.name = "hole"
    return tank, "hole"


def seen(w, menus):
    """Where the menus are now."""
    found = yield from w.buttons()
    return {menu: (b.x, b.y) for menu in menus for b in found if b.endswith("." + menu)}


def path(menu):
    """As Blender writes it."""
    return f'bpy.data.objects["{"hole" if menu.startswith("tackwright_opening") else "tank"}"].{menu}'


def press(w, place):
    w.move(place.x - 4, place.y)
    yield 0.5
    w.move(place.x, place.y)
    yield 0.3
    w.click(place.x, place.y)
    yield 0.5


def named(found, name):
    return next(b for b in found if b.endswith(name))
