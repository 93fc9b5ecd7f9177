"""In a real window: from an empty scene by the Start panel to the demo tank's plates, then switched off and on fifty
times, after which nothing of the extension may be left.

For a bench that shows Blender a `scenario(w)` generator, as draw_and_export.py; it needs the folder of the tests.
"""

import importlib
import sys
from collections import Counter
from pathlib import Path

import bpy

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "support"))

CYCLES = 50


def scenario(w):
    left_behind = importlib.import_module("left_behind")
    package = f"{w.extension}.addon"
    callbacks = watch_callbacks()

    for item in list(bpy.data.objects):
        bpy.data.objects.remove(item)
    bpy.ops.ed.undo_push(message="empty")
    w.show_sidebar("Tackwright")
    w.view(direction=(1.5, -2, 1.2))
    yield 0.5
    w.shot("1_start")

    found = yield from w.buttons()
    demo = button(found, "tackwright.first_scene")
    w.click(demo.x, demo.y)
    yield 1.0
    tank = bpy.context.object
    w.check(tank is not None and tank.name == "Bow tank", "Demo Tank adds the tank and leaves it active")
    w.shot("2_demo_tank")
    found = yield from w.buttons()
    make = button(found, "tackwright.make_plates")
    w.click(make.x, make.y)
    yield 2.5
    w.shot("3_plates")
    found = yield from w.buttons()
    w.check(not [b for b in found if "first_scene" in str(b)], "the Start panel is gone")
    w.check(sum(bool(o.tackwright_plate.made_as) for o in bpy.data.objects) == 11, "eleven plates")
    w.move(*centre(w))
    w.key("ctrl+z")
    yield 1.0
    w.check(not any(o.tackwright_plate.made_as for o in bpy.data.objects), "one Ctrl Z takes the plates away")
    w.key("ctrl+z")
    yield 1.0
    w.check("Bow tank" not in bpy.data.objects, "the next one takes the tank away")
    w.shot("4_undone")

    found = yield from w.buttons()
    box = button(found, "tackwright.new_envelope")
    w.click(box.x, box.y)
    yield 0.8
    w.shot("5_new_envelope")
    w.check(bpy.context.object is not None and bpy.context.object.name == "Envelope", "a box to begin with")

    bpy.ops.curve.primitive_bezier_circle_add()
    yield 0.5
    w.shot("6_a_curve")

    # ---- used and live, then off and on
    bpy.ops.tackwright.first_scene()
    bpy.ops.tackwright.make_plates()
    if hasattr(bpy.context.object.tackwright, "live"):
        bpy.context.object.tackwright.live = True
    yield 1.5
    folder = Path(w.out) / "kits"
    folder.mkdir(exist_ok=True)
    bpy.context.object.tackwright.folder = str(folder)
    bpy.context.object.tackwright.thickness_mm = 2.5     # another kit than the one that was made
    bpy.ops.tackwright.export_kit("INVOKE_DEFAULT")
    w.check(any(name.startswith("thread") for name in left_behind.held(bpy, package)), "an export is under way")
    off(w)
    yield 1.0
    w.check(not list(folder.iterdir()), f"off in the middle of it: no kit, no half of one {list(folder.iterdir())}")
    w.check(not left_behind.held(bpy, package), f"off: nothing left {dict(left_behind.held(bpy, package))}")
    w.check(not +callbacks, f"off: no draw callback left {dict(+callbacks)}")
    bpy.ops.preferences.addon_enable(module=w.extension)
    yield 0.5
    first, drawn = left_behind.held(bpy, package), +callbacks
    w.log("on:", dict(drawn), {k: n for k, n in first.items() if not k.startswith(("class", "property"))})
    for _ in range(CYCLES):
        off(w)
        bpy.ops.preferences.addon_enable(module=w.extension)
        yield 0.01
    yield 0.5
    w.check(timeless(left_behind.held(bpy, package)) == timeless(first), "on again after fifty times: as after once")
    w.check(+callbacks == drawn, f"as many draw callbacks as after once {dict(+callbacks)}")
    bpy.ops.script.reload()
    yield 1.0
    w.check(timeless(left_behind.held(bpy, package)) == timeless(first), "Reload Scripts doubles nothing")
    w.check(sum((+callbacks).values()) == sum(drawn.values()), f"nor draw callbacks {dict(+callbacks)}")
    w.shot("7_after_reload")
    off(w)
    yield 0.3
    w.check(not left_behind.held(bpy, package), f"off at last: nothing {dict(left_behind.held(bpy, package))}")
    w.check(not +callbacks, f"and no draw callback {dict(+callbacks)}")


def off(w):
    bpy.ops.preferences.addon_disable(module=w.extension)


def timeless(held):
    """Without timers and threads, which come and go with what is to be done."""
    return {kind: count for kind, count in held.items() if not kind.startswith(("timer", "thread"))}


def watch_callbacks():
    """Count draw callbacks of all spaces by name, from now on: those that were there are found by enabling anew."""
    live, names = Counter(), {}
    for kind in dir(bpy.types):
        space = getattr(bpy.types, kind)
        if kind == "Space" or not (kind.startswith("Space") and hasattr(space, "draw_handler_add")):
            continue
        add, remove = space.draw_handler_add, space.draw_handler_remove

        def added(function, *given, add=add):
            handle = add(function, *given)
            names[id(handle)] = f"{function.__module__}.{function.__name__}"
            live[names[id(handle)]] += 1
            return handle

        def removed(handle, *given, remove=remove):
            live[names.get(id(handle), "before")] -= 1
            return remove(handle, *given)

        space.draw_handler_add, space.draw_handler_remove = staticmethod(added), staticmethod(removed)
    return live


def button(found, name):
    return next(b for b in found if name in str(b))


def centre(w):
    x, y, wide, high = w.rect("WINDOW")
    return x + wide // 2, y + high // 2
