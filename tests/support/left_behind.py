"""What an add-on has in the editor beside its classes: handlers, timers, callbacks, keys, menu entries, threads."""

from __future__ import annotations

import gc
import sys
import threading
from collections import Counter
from types import FunctionType, ModuleType


def modules(package):
    """The add-on's modules that are loaded."""
    found = (m for name, m in sorted(sys.modules.items()) if name.startswith(f"{package}."))
    return [m for m in found if isinstance(m, ModuleType)]


def functions(package):
    """Every function that the add-on's modules made, closures and methods too, as `module.name` to functions."""
    return [
        f for f in gc.get_objects() if isinstance(f, FunctionType) and (f.__module__ or "").startswith(f"{package}.")
    ]


def held(bpy, package):
    """What of the add-on the editor holds now, counted by kind and name."""
    found: Counter[str] = Counter()
    for kind in dir(bpy.app.handlers):
        handlers = getattr(bpy.app.handlers, kind)
        if isinstance(handlers, list):
            found.update(f"handler {kind}: {named(f)}" for f in handlers if of(f, package))
    found.update(f"timer: {named(f)}" for f in functions(package) if bpy.app.timers.is_registered(f))
    for kind in dir(bpy.types):
        drawn = getattr(getattr(getattr(bpy.types, kind), "draw", None), "_draw_funcs", ())
        found.update(f"menu {kind}: {named(f)}" for f in drawn if of(f, package))
        if kind.startswith(("TACKWRIGHT", "Tackwright")):
            found[f"class {kind}"] += 1
    for owner in ("Object", "Scene", "Collection", "WindowManager", "Mesh", "Screen", "Material"):
        properties = getattr(bpy.types, owner).bl_rna.properties.keys()
        found.update(f"property {owner}.{name}" for name in properties if name.startswith("tackwright"))
    keys = bpy.context.window_manager.keyconfigs.addon if bpy.context.window_manager else None
    for keymap in keys.keymaps if keys else ():
        for item in keymap.keymap_items:
            if item.idname.startswith("tackwright.") or "TACKWRIGHT" in str(getattr(item.properties, "name", "")):
                found[f"key {keymap.name}: {item.idname}"] += 1
    for module in modules(package):
        for name, value in vars(module).items():
            if "handle" in name.lower() and type(value).__name__ == "PyCapsule":
                found[f"draw callback: {module.__name__}.{name}"] += 1
    found.update(f"thread {t.name}" for t in threading.enumerate() if "ackwright" in t.name)
    return found


def of(function, package):
    return (getattr(function, "__module__", None) or "").startswith(f"{package}.")


def named(function):
    return f"{getattr(function, '__module__', '?')}.{getattr(function, '__qualname__', function)}"
