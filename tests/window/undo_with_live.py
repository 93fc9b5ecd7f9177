"""In a real window: a tank that is followed is made taller by the keyboard, in Object Mode and in Edit Mode, and Ctrl Z
and Ctrl Shift Z are pressed fast. At every redraw the plates are those of the drawing or none, and what the panels
tell is of the drawing too unless they say that they are catching up.

For the bench and the size of window that `draw_and_export.py` speaks of. Not a pytest file: it needs a window.
"""

import importlib

import bpy

FACTORS = ("1.5", "1.4", "0.8")
FAST = 0.05
"""s between two presses."""


def scenario(w):
    bpy.context.scene.unit_settings.length_unit = "MILLIMETERS"
    for item in list(bpy.data.objects):
        bpy.data.objects.remove(item)
    w.show_sidebar("Tackwright")
    w.view(direction=(1.4, -2.2, 1.0))
    yield 0.5
    for kind in ("object", "edit"):
        yield from undone(w, kind)


def undone(w, kind):
    live = importlib.import_module(f"{w.extension}.addon.kit.live")
    states = importlib.import_module(f"{w.extension}.addon.kit.live_states")
    solve = importlib.import_module(f"{w.extension}.addon.kit.asked_kit")
    states.TOO_SLOW = states.TOO_LONG = 60.0             # however slowly this machine draws: Live follows
    for item in list(bpy.data.objects):
        bpy.data.objects.remove(item)
    bpy.ops.tackwright.first_scene("EXEC_DEFAULT", True)
    bpy.ops.tackwright.make_plates("EXEC_DEFAULT", True)
    tank = bpy.context.object
    name = tank.name
    tank.tackwright.live = True
    bpy.ops.ed.undo_push(message="Live")
    yield from w.until(lambda: not live.busy(), 30)
    w.view(direction=(1.4, -2.2, 1.0))
    if kind == "edit":
        bpy.ops.object.mode_set(mode="EDIT")
        bpy.ops.mesh.select_all(action="SELECT")
        bpy.ops.ed.undo_push(message="editing")
    told = {}
    w.move(w.size[0] // 3, w.size[1] // 2)
    yield 1.0
    told[seen(name)[0]] = said(bpy.data.objects[name])
    for factor in FACTORS:
        w.key("s", "z")
        yield 0.4
        w.type(factor)
        yield 0.4
        w.key("Return")
        yield 1.0
        yield from w.until(lambda: not live.busy(), 30)
        yield 0.5
        told[seen(name)[0]] = said(bpy.data.objects[name])
    w.log(kind, "heights", sorted(told))
    w.check(len(told) == len(FACTORS) + 1, f"{kind}: as many drawings as steps")

    redraws = []
    handle = bpy.types.SpaceView3D.draw_handler_add(
        lambda: redraws.append((*seen(name), *state(live, name))), (), "WINDOW", "POST_VIEW")
    try:
        for keys in (("ctrl+z", "ctrl+z"), ("ctrl+shift+z",), ("ctrl+z", "ctrl+z"), ("ctrl+shift+z",) * 3,
                     ("ctrl+z",) * 3, ("ctrl+shift+z", "ctrl+z") * 4):
            redraws.clear()
            for key in keys:
                w.key(key)
                yield FAST
            yield 0.6
            w.shot(f"{kind}_{len(keys)}_{keys[0][5:]}")
            yield from w.until(lambda: not live.busy(), 30)
            yield 0.5
            drawn, shown, caught, _ = (*seen(name), *state(live, name))
            w.check(shown == drawn and not caught, f"{kind} {keys}: in the end plates {shown} of a drawing {drawn}")
            w.check(said(bpy.data.objects[name]) == told[drawn], f"{kind} {keys}: and told of it")
            false = [one for one in redraws if one[1] not in (None, one[0])]
            w.check(not false, f"{kind} {keys}: no redraw of {len(redraws)} with plates of another drawing {false[:3]}")
            untrue = [one for one in redraws if not one[2] and one[3] != told.get(one[0])]
            w.check(not untrue, f"{kind} {keys}: none with figures of another {[one[:3] for one in untrue[:3]]}")
            w.log("redraws with plates:", sum(one[1] is not None for one in redraws), "of", len(redraws),
                  "catching up:", sum(one[2] for one in redraws))
        # ---- what is not known any more and takes its time: nothing is shown meanwhile, and the panels say so
        solve.forget_kits()
        states.AT_ONCE, usual = -1.0, states.AT_ONCE
        redraws.clear()
        w.key("ctrl+shift+z")
        yield FAST
        w.shot(f"{kind}_catching_up")
        yield from w.until(lambda: not live.busy(), 30)
        yield 0.5
        states.AT_ONCE = usual
        w.check(any(one[2] for one in redraws), f"{kind}: it says that it is catching up")
        w.check(all(one[1] in (None, one[0]) for one in redraws), f"{kind}: and shows nothing false")
        w.check(seen(name)[1] == seen(name)[0] and not live.catching_up(bpy.data.objects[name]), f"{kind}: and has")
    finally:
        bpy.types.SpaceView3D.draw_handler_remove(handle, "WINDOW")
    if bpy.context.mode != "OBJECT":
        bpy.ops.object.mode_set(mode="OBJECT")
    yield 0.5


def seen(name):
    """How high the drawing is, mm, and how high each plate would have it if it is of this drawing: None where there are
    none, the height where all lie in it and reach its ends, else their own."""
    item = bpy.data.objects[name]
    if item.mode == "EDIT":
        item.update_from_editmode()
    drawn = [(item.matrix_world @ vertex.co).z for vertex in item.data.vertices]
    plates = [
        (plate.matrix_world @ vertex.co).z
        for plate in bpy.data.objects if plate.tackwright_plate.made_as for vertex in plate.data.vertices]
    tall = round(1000 * (max(drawn) - min(drawn)))
    if not plates:
        return tall, None
    off = max(abs(max(plates) - max(drawn)), abs(min(plates) - min(drawn)))
    return tall, tall if off < OFF else round(1000 * (max(plates) - min(plates)))


OFF = 0.012
"""m: plates reach as near to the ends of the drawing as this, whatever side the metal is on; other drawings differ by
far more."""


def state(live, name):
    item = bpy.data.objects[name]
    catching = getattr(live, "catching_up", lambda item: False)(item)
    return catching, said(item)


def said(item):
    return item.tackwright.summary
