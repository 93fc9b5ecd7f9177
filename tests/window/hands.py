"""What scenarios that press everything have in common: what is under the mouse, the entries of a menu, picking one.

Places are pixels of the picture, as the bench has them. No value is set here but by mouse and keys.
"""

import ast
import contextlib
import re
import subprocess

import bpy
import numpy as np

FIRST, TITLE, PITCH = 1.16, 1.32, 1.08
"""From the middle of a menu's button down to its first entry, how much farther that is under a title, and from entry to
entry, in units of the interface: as Blender 4.3 lays out a menu that opens downward."""


def unit():
    """Pixels of a button's height."""
    return int(18 * bpy.context.preferences.system.ui_scale + 0.5) + 2


def alone(w):
    """Let the 3D view have the whole window: the other editors take time to draw."""
    with bpy.context.temp_override(window=w.window, area=w.area(), region=w.region()):
        bpy.ops.screen.screen_full_area(use_hide_panels=False)
    yield 0.7


def away(w):
    """The mouse over the view, where nothing is under it."""
    w.move(w.size[0] // 4, w.size[1] * 9 // 10)


def under(w, region="UI"):
    """What the mouse is over: an operator's call or a property's path; None over nothing of the kind. region: a kind of
    region of the view, or a popup's."""
    manager = bpy.context.window_manager
    if isinstance(region, str):
        where = {"window": w.window, "area": w.area(), "region": w.region(region)}
    else:
        where = {"window": w.window, "region": region}
    with bpy.context.temp_override(**where):
        for operator, options in ((bpy.ops.ui.copy_python_command_button, {}),
                                  (bpy.ops.ui.copy_data_path_button, {"full_path": True})):
            manager.clipboard = ""
            with contextlib.suppress(RuntimeError):
                if operator.poll() and "FINISHED" in operator(**options):
                    return manager.clipboard
    return None


def owner_of(path):
    """What a path as Blender writes it belongs to, and the property's name: `bpy.data.objects["a"].b.c`, or an element
    of a property, as in `….location[0]`."""
    path = re.sub(r"\[\d+\]$", "", path) if re.search(r"[a-z_]\[\d+\]$", path) else path
    owner, _, name = path.rpartition(".")
    return eval(owner, {"bpy": bpy}), name


def entries(owner, name):
    """The identifiers that an enum has now, from Blender's own refusal of one that it has not."""
    try:
        setattr(owner, name, "no such entry")
    except TypeError as error:
        return list(ast.literal_eval(re.search(r"\(.*\)$", str(error), re.S)[0]))
    raise AssertionError(f"{name} takes anything")


def labels(owner, name):
    """The words of a menu's entries by their identifiers, where Blender tells."""
    return {item.identifier: item.name for item in owner.bl_rna.properties[name].enum_items}


def reached(w, x, y, name, seconds=2.0):
    """Move there; whether that is what the mouse is over then. Redraws of a busy window take their time."""
    w.move(x - 4, y)
    yield 0.05
    w.move(x, y)
    for _ in range(round(seconds / 0.05)):
        yield 0.05
        if under(w) == name:
            return True
    return False


PROPOSED = (71, 114, 179)
"""Its ground of the button that a dialog proposes."""
POPUP = 24
"""Of red, green and blue alike, the ground of a menu or a dialog in the theme that Blender begins with."""


def screen(w):
    """(h, w, 3) the picture as it is now."""
    w.redraw()
    taking = ["import", "-window", "root", "-depth", "8", "rgb:-"]
    raw = subprocess.run(taking, stdout=subprocess.PIPE, check=True).stdout
    return np.frombuffer(raw, np.uint8).reshape(w.size[1], w.size[0], 3).astype(int)


def popup(w, before):
    """x, y, width and height of the menu or dialog that came since the picture before; None where none did."""
    after = screen(w)
    new = (np.abs(after - POPUP).max(axis=2) <= 1) & (np.abs(after - before).max(axis=2) > 1)
    rows = longest_run(np.flatnonzero(new.sum(axis=1) > 60))         # else a report that fades below would count too
    columns = longest_run(np.flatnonzero(new[rows].sum(axis=0) > 20))
    if len(rows) < 20 or len(columns) < 60:
        return None
    return columns[0], rows[0], columns[-1] - columns[0], rows[-1] - rows[0]


def blue_button(w, before):
    """The middle of the button that a dialog proposes, the only blue one, if it came since the picture before; else
    None."""
    after = screen(w)
    new = (np.abs(after - PROPOSED).max(axis=2) <= 2) & (np.abs(after - before).max(axis=2) > 2)
    rows = longest_run(np.flatnonzero(new.sum(axis=1) > 60))
    columns = longest_run(np.flatnonzero(new[rows].sum(axis=0) > 8))
    if len(rows) < 8 or len(columns) < 40:
        return None
    return (columns[0] + columns[-1]) // 2, (rows[0] + rows[-1]) // 2


def longest_run(numbers):
    """The longest stretch of rising numbers without a gap to speak of."""
    parts = np.split(numbers, np.flatnonzero(np.diff(numbers) > unit()) + 1)
    return max(parts, key=len)


def near(w, x, y, name, span=1.3):
    """Bring the mouse over what is called so, there or up to so many units above or below: a busy window hears of the
    mouse late, and panels above grow and shrink. Its place, None where it is not found."""
    steps = [sign * 0.44 * n for n in range(1, round(span / 0.44) + 1) for sign in (-1, 1)]
    for down in (0.0, *steps):
        at = y + round(down * unit())
        if (yield from reached(w, x, at, name, 1.5 if down == 0.0 else 0.2 if span > 2 else 0.4)):
            return x, at
    return None


def pick(w, x, y, number, name, *, title=False, rest=0.1):
    """Open the menu of the button there, which is called so, and click the entry with this number, from 0 at the top.
    Whether both were there to be clicked: while a menu is open the bench hears of nothing that is under it."""
    if not (yield from reached(w, x, y, name)):
        return False
    w.click(x, y)
    yield rest
    at = y + round((FIRST + TITLE * title + PITCH * number) * unit())
    if not (yield from reached(w, x + 3, at, None)):
        return False
    w.click(x + 3, at)
    yield rest
    return True
