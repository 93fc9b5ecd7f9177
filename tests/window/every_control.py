"""In a real window: every entry of every menu and every button of the Tackwright tab, pressed with the mouse, and after
each whether what was chosen is the value that came, and whether what was pressed ran.

For the bench that `first_use.py` speaks of, the folder `tests` mounted, in a window of 900 x 1500. Arguments: names of
scenes (SCENES below) and of panels to walk through, all if left out, and of operators that ran in other runs; a scene
takes one to eight minutes.

A scene is set up by a script; from there on nothing is set but by mouse and keys. What is to be pressed is found by
itself: each panel draws into a stand-in for Blender's layout, which says what there is; the mouse is moved over the
panel until all of it is found; a control that is drawn and not found fails. Panels are shown one at a time, open, so
that none lies below the window's edge; nothing else of them is changed. At its end it lists what was pressed, by panel,
and what was not, with the reason.
"""

import math
import sys
import time
from collections import Counter
from pathlib import Path

import bmesh
import bpy

sys.path[:0] = [str(Path(__file__).resolve().parents[1] / "support"), str(Path(__file__).resolve().parent)]

import hands  # noqa: E402
from drawn_controls import called, dialog_controls, drawn_by, operator_type, unusual  # noqa: E402
from made_scans import niche  # noqa: E402

COLUMNS = (0.62, 0.3, 0.83, 0.12, 0.75, 0.45, 0.2, 0.7, 0.55, 0.86)
"""Where across the sidebar is looked for controls, as shares of its width, until all are found."""
STEP = 0.44
"""Units of the interface from one look to the next: less than half of a button's height."""
AHEAD, ROW, BEHIND = 3.2, 1.24, 1.48
"""From the upper edge of a dialog's region to its first row, from row to row, and from the last one to OK, in units: as
Blender 4.3 lays it out."""
NAMED = 2.7
"""Units from the upper edge of such a dialog to the field of its name."""
PIE = 4.5
"""Units from the middle of a pie menu to where its entries are clicked."""
TRIES = 3
PICTURES = 12
"""Of failures, the first so many."""
FOREIGN = ("bpy.ops.ui.", "bpy.ops.buttons.")
"""Blender's own buttons in a field: its eyedropper and its file browser."""
ENDS_ALONE = {"open_kit": "opens the system's file manager"}
ELSEWHERE = {
    "tackwright.open_kit": ENDS_ALONE["open_kit"],
    "tackwright.cancel_export": "shown only while an export is under way",
    **dict.fromkeys(
        ("tackwright.add_material", "tackwright.remove_material", "tackwright.import_materials",
         "tackwright.export_materials"), "in the preferences"),
}
"""Operators that no button of the tab has, or none that can be pressed here."""


class Bench:
    def __init__(self, w):
        self.w, self.ran, self.dialog = w, [], {}
        self.shown, self.scene, self.panel = None, "", ""
        self.pressed, self.entries, self.missed = Counter(), Counter(), {}
        self.ever = {}                                  # by control: whether it was ever pressed with effect
        self.done = set()

    # ---- what is pressed is only watched

    def watch(self):
        """Note what operators run, and where their dialogs are; show panels one at a time and open."""
        self.panels, self.operators = [], {}
        for module in sorted(name for name in sys.modules if name.startswith(f"{self.w.extension}.addon.")):
            for kind in vars(sys.modules[module]).copy().values():
                if not isinstance(kind, type) or kind.__module__ != module or not getattr(kind, "is_registered", False):
                    continue
                if issubclass(kind, bpy.types.Panel):
                    self.panels.append(kind)
                elif issubclass(kind, bpy.types.Operator):
                    self.operators[kind.bl_idname] = kind
                    self._watch_operator(kind)
        self.panels.sort(key=lambda kind: kind.bl_order)
        for kind in self.panels:
            self._lay_open(kind)

    def _watch_operator(self, kind):
        for name in ("execute", "invoke"):
            inner = getattr(kind, name, None)
            if inner is not None:
                setattr(kind, name, self._noting(kind.bl_idname, name, inner))
        if hasattr(kind, "draw"):
            kind.draw = self._noting_draw(kind.draw)

    def _noting_draw(self, inner):
        def draw(operator, context):
            region = context.region_popup
            if region is not None:
                self.dialog = {"operator": operator, "region": region, "draw": inner}
            inner(operator, context)
        return draw

    def _noting(self, idname, name, inner):
        def note(operator, result):
            given = {one: getattr(operator, one) for one in dict(operator.properties.items())}
            self.ran.append((idname, name, given, set(result)))
            return result

        def execute(operator, context):
            return note(operator, inner(operator, context))

        def invoke(operator, context, event):            # Blender counts the arguments
            return note(operator, inner(operator, context, event))

        return execute if name == "execute" else invoke

    def _lay_open(self, kind):
        polled = getattr(kind, "poll", None)
        bpy.utils.unregister_class(kind)

        def poll(cls, context):
            return self.shown in {None, cls.__name__} and (polled is None or polled(context))

        kind.poll, kind.polled = classmethod(poll), polled
        kind.bl_options = set(getattr(kind, "bl_options", set())) - {"DEFAULT_CLOSED"}
        bpy.utils.register_class(kind)

    # ---- what there is, and where

    def view(self):
        return bpy.context.temp_override(window=self.w.window, area=self.w.area(), region=self.w.region("UI"))

    def drawn(self, kind):
        with self.view():
            if kind.polled is not None and not kind.polled(bpy.context):
                return []
            head = []
            if hasattr(kind, "draw_header"):
                head = drawn_by(type("Head", (), {"draw": kind.draw_header, "__module__": "bl_ext"}))
            return head + drawn_by(kind)

    def column(self, share, region="UI", wanted=frozenset()):
        """What is under the mouse down the region: rows of name, x and y."""
        x0, y0, wide, high = self.w.rect(region)
        x, step = int(x0 + wide * share), max(6, round(STEP * hands.unit()))
        rows = []
        for y in range(y0 + step, y0 + high - step, step):
            self.w.move(x, y)
            yield 0.05
            name = hands.under(self.w, region)
            if name and rows and rows[-1][0] == name and y - rows[-1][2][-1] <= step:
                rows[-1][2].append(y)
            elif name:
                rows.append((name, x, [y]))
            if wanted and not name and wanted <= {key_of(row[0]) for row in rows}:
                break
        return [(name, x, (ys[0] + ys[-1]) // 2) for name, x, ys in rows]

    def locate(self, controls):
        """Where the controls are, by their keys; those that the mouse hears nothing of, menus and choices laid open, by
        the row that they are in. Beside it Blender's own buttons that were met."""
        wanted = {c.heard for c in controls if c.kind not in {"MENU", "CHOICE"}}
        wanted |= {("ENUM", c.name, None) for c in controls if c.kind == "CHOICE"}
        places, rows, foreign = {}, [], {}
        for share in COLUMNS:
            missing = wanted - places.keys()
            if rows and not missing:
                break
            found = yield from self.column(share, wanted=frozenset(missing))
            for name, x, y in found:
                rows.append((name, x, y))
                if name.startswith(FOREIGN):
                    foreign.setdefault(name, (x, y))
                else:
                    places.setdefault(key_of(name), (x, y))
        return places, rows, foreign

    # ---- pressing

    def check(self, truth, text):
        if not truth:
            self.w.check(False, f"{self.scene}, {self.panel}: {text}")
            if len(self.w.failed) <= PICTURES:
                self.w.shot(f"failed_{len(self.w.failed)}")
        else:
            self.w.passed += 1
        return bool(truth)

    def miss(self, control, why):
        self.missed.setdefault((self.panel, control if isinstance(control, str) else control.shown), (self.scene, why))

    def count(self, control, entries=0):
        self.pressed[self.panel] += 1
        self.entries[self.panel] += entries
        self.ever[control if isinstance(control, str) else control.shown] = True

    def settle(self, truth, seconds=3.0):
        for _ in range(round(seconds / 0.05)):
            if truth():
                return True
            yield 0.05
        return bool(truth())

    def over(self, control, place, name):
        """Bring the mouse over a control; its place, which may be a little beside the one that was found, for a busy
        window hears of the mouse late. None, and a failure, where it is not there."""
        spot = yield from hands.near(self.w, *place, name)
        if spot is None:
            spot = yield from self.again(control)
            spot = spot and (yield from hands.near(self.w, *spot, name))
        self.check(spot is not None, f"{control} is not at its place")
        return spot

    def press(self, control, place, name):
        self.w.log(f"{self.scene}, {self.panel}: {control}")
        kind = control.kind
        if kind == "OPERATOR":
            yield from self.press_operator(control, place, name)
        elif kind == "BOOLEAN":
            yield from self.press_toggle(control, place, name)
        elif kind == "ENUM":
            yield from self.press_menu(control, place, name)
        elif kind in {"FLOAT", "INT"}:
            yield from self.type_number(control, place, name)
        elif kind == "STRING":
            yield from self.type_text(control, place, name)
        elif kind == "POINTER":
            yield from self.choose_object(control, place, name)
        else:
            self.miss(control, f"no way to press a {kind}")

    def value(self, control):
        owner, name = hands.owner_of(control.name)
        return getattr(owner, name)

    def press_toggle(self, control, place, name):
        for _ in range(2):
            before = self.value(control)
            place = yield from self.over(control, place, name)
            if place is None:
                return
            self.w.click(*place)
            came = yield from self.settle(lambda before=before: self.value(control) != before)
            self.check(came, f"{control}: a click does not turn {before}")
            yield from self.appeared()
        self.count(control, 2)

    def press_menu(self, control, place, name):
        owner, prop = hands.owner_of(control.name)
        for number in range(len(hands.entries(owner, prop))):
            names = hands.entries(*hands.owner_of(control.name))
            if number >= len(names):                     # what was missing here is not offered any more
                break
            wanted, came = names[number], False
            for _ in range(TRIES):
                place = yield from self.over(control, place, name)
                if place is None:
                    return
                opened = yield from hands.pick(self.w, *place, number, name, title=control.titled)
                came = opened and (yield from self.settle(lambda wanted=wanted: self.value(control) == wanted, 1.5))
                if came:
                    break
                if opened:
                    self.w.log(f"{control}: {wanted} was clicked, {self.value(control)!r} came")
                yield from self.escape()
            self.check(came, f"{control}: {wanted} was clicked, the value is {self.value(control)!r}")
            self.entries[self.panel] += came
            yield from self.appeared()
        self.count(control)

    def type_number(self, control, place, name):
        owner, prop = hands.owner_of(control.name)
        known = owner.bl_rna.properties[prop]
        if known.is_readonly:
            self.miss(control, "only shows a value")
            return
        text, wanted = number_to_type(owner, known)
        yield from self.typed(control, place, name, text)
        came = yield from self.settle(lambda: math.isclose(self.value(control), wanted, rel_tol=1e-4, abs_tol=1e-6))
        self.check(came, f"{control}: {text} was typed, the value is {self.value(control)!r} and not {wanted!r}")
        self.count(control)

    def type_text(self, control, place, name):
        owner, prop = hands.owner_of(control.name)
        known = owner.bl_rna.properties[prop]
        text = {"DIR_PATH": str(self.w.out), "FILE_PATH": ""}.get(known.subtype, TEXTS.get(prop, "typed in"))
        for _ in range(TRIES):
            yield from self.typed(control, place, name, text)
            came = yield from self.settle(lambda: text in bpy.data.objects if owner == owner.id_data and prop == "name"
                                          else self.value(control).rstrip("/") == text)
            if came:
                break
            self.w.log(f"{control}: {text!r} was typed and did not come")
            yield from self.laid_open()
        if owner == owner.id_data and prop == "name":    # the path to it is another one now
            self.check((yield from self.settle(lambda: text in bpy.data.objects)), f"{control}: {text!r} is nobody's")
            yield from self.begin(self.setup)
        else:
            came = yield from self.settle(lambda: self.value(control).rstrip("/") == text)
            self.check(came, f"{control}: {text!r} was typed, the value is {self.value(control)!r}")
        self.count(control)

    def typed(self, control, place, name, text):
        if control.row_key:                              # the name in a row stands at its left
            x0, _, wide, _ = self.w.rect("UI")
            place = int(x0 + 0.2 * wide), place[1]
        place = yield from self.over(control, place, name)
        if place is None:
            return
        self.w.click(*place, double=True)
        yield from self.drawn_anew()                     # keys that come before the field is open are the view's
        self.w.key("ctrl+a")
        if text:
            self.w.type(text)
        else:
            self.w.key("BackSpace")
        yield 0.2
        self.w.key("Return")
        yield 0.3

    def drawn_anew(self):
        """Wait for as long as a window that is slow to draw takes to follow a click."""
        began = time.monotonic()
        self.w.redraw()
        yield 0.4 + 3.0 * (time.monotonic() - began)

    def laid_open(self):
        """The sidebar again, should a key have gone to the view and closed it."""
        yield from self.escape()
        if not self.w.area().spaces.active.show_region_ui:
            self.w.show_sidebar("Tackwright")
            yield 0.5

    def choose_object(self, control, place, name):
        """The list of objects that opens under the field: its first row but for the field itself."""
        place = yield from self.over(control, place, name)
        if place is None:
            return
        self.w.click(*place)
        yield 1.0
        for row in (1.6, 2.6):
            self.w.move(place[0], place[1] + round(row * hands.unit()))
            yield 0.3
            self.w.click(place[0], place[1] + round(row * hands.unit()))
            yield 0.5
            if self.value(control) is not None:
                break
        self.check(self.value(control) is not None, f"{control}: nothing was chosen")
        yield from self.escape()
        self.count(control)

    def press_operator(self, control, place, name):
        idname = control.call[0]
        module, _, own = idname.partition(".")
        with self.view():
            can = getattr(getattr(bpy.ops, module), own).poll()
        if own in ENDS_ALONE:
            self.miss(control, ENDS_ALONE[own])
            return
        place = yield from self.over(control, place, name)
        if place is None:
            return
        self.dialog, before, picture = {}, len(self.ran), hands.screen(self.w)
        self.w.click(*place)
        if not can:
            yield 0.5
            self.check(len(self.ran) == before, f"{control} is grey and runs")
            self.miss(control, "grey here")
            return
        came = yield from self.settle(lambda: len(self.ran) > before, 20.0)
        if not self.check(came, f"{control} was clicked and did not run"):
            yield from self.escape()
            return
        ran = self.ran[before]
        self.check(ran[0] == idname, f"{control} was clicked, {ran[0]} ran")
        for one, wanted in control.call[1].items():
            self.check(ran[2].get(one) == wanted, f"{control}: {one} is {ran[2].get(one)!r} and not {wanted!r}")
        self.count(control)
        if ran[1] == "invoke" and "RUNNING_MODAL" in ran[3]:
            yield from self.answer(control, idname, before, picture)

    def answer(self, control, idname, before, picture):
        """What an operator asked: a file, some values, or whether it is meant; or it goes on by itself."""
        yield 1.0
        if self.browser() is not None:
            yield from self.leave_browser(control)
        elif self.dialog:
            yield from self.walk_dialog(control, idname)
        elif (box := hands.popup(self.w, picture)) is not None:
            yield from self.agree(control, before, box, picture)
        else:
            yield 4.0                                    # at work

    def agree(self, control, before, box, picture):
        """OK, or whatever it is called, in a question or a dialog that Blender lays out by itself: right below. Where
        it asks for a name, that is typed in first."""
        x, y, wide, high = box
        kind, own = self.operators[control.call[0]], control.call[0].partition(".")[2]
        asked = "name" in kind.__annotations__ and not hasattr(kind, "draw") and not hasattr(kind, "_meant")
        if asked:
            self.w.move(x + round(0.7 * wide), y + round(NAMED * hands.unit()))
            yield 0.3
            self.w.click(x + round(0.7 * wide), y + round(NAMED * hands.unit()), double=True)
            yield 0.4
            self.w.key("ctrl+a")
            self.w.type("typed in")
            self.w.key("Return")
            yield 0.3
        self.w.shot(f"question_{self.scene}_{own}")
        place = hands.blue_button(self.w, picture) or (x + round(0.74 * wide), y + high - round(hands.unit()))
        self.w.move(*place)
        yield 0.5
        self.w.click(*place)
        # who works by steps may have said already why not, in a box that goes with the mouse
        came = yield from self.settle(lambda: any(one[1] == "execute" for one in self.ran[before:]), 5.0)
        answered = self.check(came or hasattr(kind, "modal"), f"{control}: its question was answered and nothing ran")
        if answered and asked:
            ran = next(one for one in self.ran[before:] if one[1] == "execute")
            self.check(ran[2].get("name") == "typed in", f"{control}: the name came as {ran[2].get('name')!r}")
        if not came:
            yield from self.escape()
        yield 1.0

    def browser(self):
        """The window and area of a file browser, where one is open."""
        for window in bpy.context.window_manager.windows:
            for area in window.screen.areas:
                if area.type == "FILE_BROWSER":
                    return window, area
        return None

    def leave_browser(self, control):
        self.w.log(f"{control}: the file browser is left with Esc")
        for _ in range(TRIES):
            found = self.browser()
            if found is None:
                break
            window, area = found
            self.w.move(window.x + area.x + area.width // 2, self.w.size[1] - window.y - area.y - area.height // 2)
            yield 0.7
            self.w.key("Escape")
            yield from self.settle(lambda: self.browser() is None, 3.0)
        self.check(self.browser() is None, f"{control}: the file browser stays open")
        yield 0.5

    def walk_dialog(self, control, idname):
        """Every entry of every menu of a dialog, its numbers typed in, and OK: what ran must have what was chosen."""
        usual, before = self.dialog["operator"].properties.bl_rna.properties, len(self.ran)
        x0, y0, wide, _ = self.popup_rect()
        picked = {}
        while True:
            rows = self.dialog_rows()
            left = [(number, one) for number, row in enumerate(rows) for one in row if one.prop not in picked]
            if not left:
                break
            number, one = left[0]
            y = y0 + round((AHEAD + ROW * number) * hands.unit())
            if one.kind == "ENUM":
                picked[one.prop] = yield from self.walk_dialog_menu(one, x0 + round(0.5 * wide), y)
            else:
                beside = 0.8 if len(rows[number]) > 1 else 0.6
                picked[one.prop] = yield from self.type_in_dialog(one, x0 + round(beside * wide), y)
        picked = {one.prop: picked[one.prop] for row in rows for one in row}
        y = y0 + round((AHEAD + ROW * (len(rows) - 1) + BEHIND) * hands.unit())
        self.w.move(x0 + round(0.74 * wide), y)
        yield 0.5
        self.w.shot(f"dialog_{idname.partition('.')[2]}")
        self.w.click(x0 + round(0.74 * wide), y)
        self.dialog = {}
        came = yield from self.settle(lambda: any(one[1] == "execute" for one in self.ran[before:]), 5.0)
        if self.check(came, f"{control}: OK was clicked and nothing ran"):
            ran = next(one for one in self.ran[before:] if one[1] == "execute")
            for prop, wanted in picked.items():
                had = ran[2].get(prop, usual[prop].default)
                same = math.isclose(had, wanted, rel_tol=1e-4) if isinstance(wanted, float) else had == wanted
                self.check(same, f"{control}: {prop} was chosen as {wanted!r} and came as {had!r}")
        else:
            yield from self.escape()

    def walk_dialog_menu(self, one, x, y):
        """Every entry, and then again one of those under which the dialog has most."""
        names = hands.entries(self.dialog["operator"], one.prop)
        shown = []
        for entry in range(len(names)):
            yield from self.pick_in_dialog(one, x, y, entry)
            shown.append(sum(map(len, self.dialog_rows())))
        return (yield from self.pick_in_dialog(one, x, y, len(shown) - 1 - shown[::-1].index(max(shown))))

    def dialog_rows(self):
        return dialog_controls(self.dialog["operator"], self.dialog["draw"])

    def popup_rect(self):
        region = self.dialog["region"]
        return region.x, self.w.size[1] - region.y - region.height, region.width, region.height

    def on_value(self):
        with bpy.context.temp_override(window=self.w.window, region=self.dialog["region"]):
            return bpy.ops.ui.reset_default_button.poll()

    def hover(self, x, y, wanted):
        self.w.move(x - 4, y)
        yield 0.05
        self.w.move(x, y)
        return (yield from self.settle(lambda: self.on_value() == wanted, 2.0))

    def pick_in_dialog(self, by, x, y, entry):
        wanted = hands.entries(self.dialog["operator"], by.prop)[entry]
        for _ in range(TRIES):
            if (yield from self.hover(x, y, True)):
                self.w.click(x, y)
                yield 0.3
                at = y + round((hands.FIRST + hands.PITCH * entry) * hands.unit())
                if (yield from self.hover(x, at, False)):
                    self.w.click(x, at)
                    if (yield from self.settle(lambda: getattr(self.dialog["operator"], by.prop) == wanted)):
                        self.entries[self.panel] += 1
                        return wanted
                self.w.log(f"{by.prop}: {wanted} is tried again")
                self.w.shot(f"again_{by.prop}_{wanted}")
                self.w.key("Escape")                     # closes the menu; the dialog stays
                yield 0.5
        self.check(False, f"{by.prop}: {wanted} was clicked, {getattr(self.dialog['operator'], by.prop)!r} came")
        return getattr(self.dialog["operator"], by.prop)

    def type_in_dialog(self, one, x, y):
        operator = self.dialog["operator"]
        known = operator.properties.bl_rna.properties[one.prop]
        if one.kind == "BOOLEAN":
            before = getattr(operator, one.prop)
            yield from self.hover(x, y, True)
            self.w.click(x, y)
            came = yield from self.settle(lambda: getattr(operator, one.prop) != before)
            self.check(came, f"{one.prop}: a click does not turn {before}")
            return getattr(operator, one.prop)
        text, wanted = ("typed in", "typed in") if one.kind == "STRING" else number_to_type(operator, known)
        yield from self.hover(x, y, True)
        self.w.click(x, y, double=True)
        yield 0.4
        self.w.key("ctrl+a")
        self.w.type(text)
        self.w.key("Return")
        came = yield from self.settle(
            lambda: getattr(operator, one.prop) == wanted if one.kind == "STRING"
            else math.isclose(getattr(operator, one.prop), wanted, rel_tol=1e-4, abs_tol=1e-6))
        self.check(came, f"{one.prop}: {text} was typed, {getattr(operator, one.prop)!r} came")
        self.entries[self.panel] += came
        return getattr(operator, one.prop)

    def escape(self):
        hands.away(self.w)
        self.w.key("Escape")
        yield 0.4

    # ---- choices laid open, and menus of operators

    def press_choices(self, controls, rows):
        """One property laid open as buttons side by side: all of its entries must come, whichever is where."""
        name = controls[0].name
        ys = [y for text, _, y in rows if text == name]
        if not self.check(ys, f"{controls[0]} is not at its place"):
            return
        x0, _, wide, _ = self.w.rect("UI")
        wanted, came, y = {c.entry for c in controls}, set(), ys[0]
        for share in (0.12, 0.3, 0.4, 0.5, 0.62, 0.7, 0.8, 0.88):
            spot = yield from hands.near(self.w, int(x0 + wide * share), y, name)
            if spot is not None:
                y = spot[1]
                self.w.click(*spot)
                yield 0.7
                came.add(self.value(controls[0]))
                yield from self.appeared()
            if came == wanted:
                break
        self.check(came == wanted, f"{name}: only {sorted(came)} came")
        for control in controls:
            self.count(control, 1)

    def press_menus(self, control, rows):
        """A menu of operators: where in its row a click opens it, then each of its entries."""
        kind = getattr(bpy.types, control.name)
        with self.view():
            wanted = [one for one in drawn_by(kind) if one.kind == "OPERATOR"]
        spot = yield from self.find_menu(rows, {one.key for one in wanted})
        if not self.check(spot is not None, f"{control} was not found"):
            return
        self.count(control)
        x, y = spot
        for one in wanted:
            came = yield from self.pick_entry(one, x, y)
            self.check(came, f"{control}: {one} was clicked and did not run")
            self.entries[self.panel] += came

    def find_menu(self, rows, wanted):
        x0, _, wide, _ = self.w.rect("UI")
        step = hands.unit()
        for y in sorted({y for _, _, y in rows}):
            for share in (0.83, 0.3, 0.12):
                x = int(x0 + wide * share)
                if not (yield from hands.reached(self.w, x, y, None, 0.2)):
                    continue
                self.w.click(x, y)
                yield 0.5
                self.w.move(x, y + 3 * step)
                yield 0.2
                self.w.move(x - 2, y + 3 * step + 2)
                yield 0.3
                name = hands.under(self.w)
                if name and not name.startswith(FOREIGN) and key_of(name) in wanted:
                    yield from self.escape()
                    return x, y
                yield from self.escape()
        return None

    def pick_entry(self, one, x, y):
        for _ in range(2):
            self.w.move(x, y)
            yield 0.2
            self.w.click(x, y)
            yield 0.4
            step = max(5, round(STEP * hands.unit()))
            for at in range(y + hands.unit() // 2, self.w.size[1] - 10, step):
                self.w.move(x - 3, at)
                yield 0.04
                name = hands.under(self.w)
                if name and not name.startswith(FOREIGN) and key_of(name) == one.key:
                    before = len(self.ran)
                    self.w.move(x - 3, at + 3)
                    yield 0.1
                    self.w.click(x - 3, at + 3)
                    came = yield from self.settle(lambda before=before: len(self.ran) > before, 3.0)
                    ran = self.ran[before] if came else (None, None, {})
                    return ran[0] == one.call[0] and all(ran[2].get(k) == v for k, v in one.call[1].items())
            yield from self.escape()
        return False

    # ---- walking

    def again(self, control):
        """Where a control is after something above it has grown or gone."""
        for share in COLUMNS[:4]:
            found = yield from self.column(share, wanted=frozenset({control.heard}))
            for name, x, y in found:
                if not name.startswith(FOREIGN) and key_of(name) == control.heard:
                    self.met = name
                    return x, y
        return None

    def mark(self, control):
        """What is pressed once: a property of a panel, a button of a panel in each scene."""
        return control.key if control.kind not in {"OPERATOR", "MENU"} else (self.scene, control.key), self.panel

    def appeared(self):
        """Press what is shown only now, under the choice that was just made."""
        yield 0.2
        if self.within:
            return
        self.within = True
        for control in self.drawn(self.kind):
            if control.kind in {"CHOICE", "MENU", "OPERATOR"} or control.key in self.listed:
                continue                                 # buttons: what they do would take the choice away
            if self.mark(control) in self.done:
                continue
            self.done.add(self.mark(control))
            place = yield from self.again(control)
            if self.check(place is not None, f"{control} is drawn and the mouse does not find it"):
                yield from self.press(control, place, self.met)
        self.within = False

    def walk_panel(self, kind, setup):
        """Press everything that a panel shows, and what it shows then; anew from the scene as it was set up until that
        brings nothing more."""
        self.kind, self.panel, self.shown, self.setup = kind, kind.bl_label, kind.__name__, setup
        self.within, fresh = False, True
        self.w.redraw()
        yield 0.3
        while True:
            controls = self.drawn(kind)
            left = [c for c in controls if self.mark(c) not in self.done]
            if not left and fresh:
                break
            if not left:
                yield from self.begin(setup)
                fresh = True
                continue
            fresh, self.listed = False, {c.key for c in controls}
            places, rows, foreign = yield from self.locate(controls)
            names = {key_of(name): name for name, _, _ in rows if not name.startswith(FOREIGN)}
            before = [c.key for c in controls]
            for control in left:
                self.done.add(self.mark(control))
                if control.kind == "CHOICE":
                    choices = [c for c in left if c.kind == "CHOICE" and c.name == control.name]
                    self.done.update(self.mark(c) for c in choices)
                    yield from self.press_choices(choices, rows)
                elif control.kind == "MENU":
                    yield from self.press_menus(control, rows)
                elif control.heard in places:
                    yield from self.press(control, places[control.heard], names[control.heard])
                elif control.row > 3:
                    self.miss(control, "a further row of its list, scrolled out of sight")
                else:
                    self.check(False, f"{control} is drawn and the mouse does not find it")
                if control.kind in {"OPERATOR", "MENU"}:
                    yield from self.begin(setup)
                if [c.key for c in self.drawn(kind)] != before:
                    break
            for name, place in foreign.items():
                key = (self.scene, self.panel, name)
                if key not in self.done:
                    self.done.add(key)
                    yield from self.press_foreign(name, place)

    def press_pie(self, setup):
        """The pie menu with its key: what lies in each of the eight directions."""
        self.panel, kind = "Pie", bpy.types.TACKWRIGHT_MT_joint_pie
        wanted = {one.key for one in drawn_by(kind)}
        x, y = self.w.size[0] // 3, self.w.size[1] * 2 // 3
        for turn in range(8):
            yield from self.begin(setup)
            self.w.move(x, y)
            yield 0.3
            before = len(self.ran)
            self.w.key("shift+j")
            yield 0.7
            if turn == 0:
                self.w.shot("pie")
            way = turn * math.pi / 4
            at = x + round(PIE * hands.unit() * math.cos(way)), y + round(PIE * hands.unit() * math.sin(way))
            self.w.move(*at)
            yield 0.3
            self.w.click(*at)
            came = yield from self.settle(lambda before=before: len(self.ran) > before)
            if self.check(came, f"nothing ran in direction {turn}"):
                wanted -= self.noted(before)
            yield from self.escape()
        self.check(not wanted, f"these did not run: {wanted}")

    def press_context_menu(self, setup):
        """The right-click menu of Edit Mode: what is ours is below."""
        self.panel = "Right click"
        self.w.move(self.w.size[0] // 3, 150)
        found, number = [], 0
        draw = sys.modules[f"{self.w.extension}.addon.screen.choosing_menus"]._draw_entries
        yield from self.begin(setup)
        with self.view():
            wanted = drawn_by(type("Entries", (), {"draw": draw, "__module__": "bl_ext"}))
        self.check(bool(wanted), "nothing of ours is drawn in it")
        for number, one in enumerate(reversed(wanted)):
            yield from self.begin(setup)
            self.w.move(self.w.size[0] // 3, 150)
            yield 0.3
            before, picture = len(self.ran), hands.screen(self.w)
            self.w.click(self.w.size[0] // 3, 150, button=3)
            yield 0.7
            box = hands.popup(self.w, picture)
            if not self.check(box is not None, "no menu opens"):
                return
            if number == 0:
                self.w.shot(f"context_menu_{self.scene}")
            x, y = box[0] + box[2] // 3, box[1] + box[3] - round((0.7 + hands.PITCH * number) * hands.unit())
            self.w.move(x, y)
            yield 0.3
            self.w.click(x, y)
            came = yield from self.settle(lambda before=before: len(self.ran) > before)
            if self.check(came and one.key in self.noted(before), f"{one} was clicked, {self.ran[before:]} ran"):
                self.count(one)
            found.append(one)
            yield from self.escape()

    def noted(self, before):
        """The keys of what ran first since then."""
        name, _, given, _ = self.ran[before]
        kind = operator_type(name)
        return {("OPERATOR", name, tuple(sorted(unusual(kind, given).items()))), ("OPERATOR", name, ())}

    def press_foreign(self, name, place):
        if not (yield from hands.reached(self.w, *place, name, 1.0)):
            return
        self.w.click(*place)
        yield 1.2
        if self.browser() is not None:
            yield from self.leave_browser(name)
        else:
            yield from self.escape()
        self.count(name)

    def begin(self, setup):
        if bpy.context.object is not None and bpy.context.mode != "OBJECT":
            bpy.ops.object.mode_set(mode="OBJECT")
        for data in (bpy.data.objects, bpy.data.meshes, bpy.data.collections):
            for item in list(data):
                data.remove(item)
        setup()
        bpy.ops.ed.undo_push(message="set up")
        self.w.redraw()
        space = self.w.area().spaces.active
        if not space.show_region_ui or self.w.region("UI").active_panel_category != "Tackwright":
            self.w.show_sidebar("Tackwright")            # it was empty for a moment
        under_way = sys.modules[f"{self.w.extension}.addon.space.clearance_work"].running
        yield from self.settle(lambda: not len(under_way), 30.0)  # what it finds has buttons of its own
        yield 0.3


def key_of(name):
    """A control's key from what is under the mouse."""
    if name.startswith("bpy.ops."):
        idname, values = called(name)
        return "OPERATOR", idname, tuple(sorted(values.items()))
    owner, prop = hands.owner_of(name)
    return owner.bl_rna.properties[prop].type, name, None


TEXTS = {"code": "R6T9", "fitting": "G 1/2", "name": "renamed", "kit_name": "typed in"}
"""What is typed into a text field, where it must be something of its own kind."""


def number_to_type(owner, known):
    """A text to type into a number's field, and the value that should come of it."""
    low, high = known.hard_min, known.hard_max
    if known.type == "INT":
        value = int(min(max(getattr(owner, known.identifier) + 1, low), high))
        return str(value), value
    if known.subtype == "DISTANCE":
        return "7mm", 0.007
    if known.subtype == "ANGLE":
        return "30d", math.radians(30.0)
    value = 0.25 if low <= 0.25 <= high else min(max(1.5, low), high)
    return f"{value:g}", value


# ---- scenes

def box(name, size, at=(0.0, 0.0, 0.0)):
    x, y, z = size
    corners = [(i * x, j * y, k * z) for k in (0, 1) for i, j in ((0, 0), (1, 0), (1, 1), (0, 1))]
    faces = [(0, 3, 2, 1), (4, 5, 6, 7), (0, 1, 5, 4), (1, 2, 6, 5), (2, 3, 7, 6), (3, 0, 4, 7)]
    mesh = bpy.data.meshes.new(name)
    mesh.from_pydata(corners, [], faces)
    item = bpy.data.objects.new(name, mesh)
    item.location = at
    bpy.context.scene.collection.objects.link(item)
    return item


def activate(item, *more):
    bpy.context.view_layer.update()                      # until then there is None in place of what was removed
    for other in bpy.context.view_layer.objects:
        other.select_set(other in (item, *more))
    bpy.context.view_layer.objects.active = item
    bpy.context.view_layer.update()


def tank():
    item = box("tank", (0.3, 0.2, 0.1))
    activate(item)
    return item


def scanned(at=(0.1, 0.1, 0.1)):
    points, faces = niche(3000)
    mesh = bpy.data.meshes.new("scan")
    mesh.from_pydata((points / 1000).tolist(), [], faces.tolist())
    scan = bpy.data.objects.new("scan", mesh)
    bpy.context.scene.collection.objects.link(scan)
    scan.tackwright_scan.floor = "0 0 0 1 0 0 0 1 0.01"
    scan.tackwright_scan.wall = "0 0 0 0 1 0 0 0.1 1"
    item = tank()
    item.location = at
    item.tackwright_space.scan = scan
    bpy.context.view_layer.update()
    return item, scan


def nothing():
    pass


def fresh():
    tank()


def whole():
    """Everything an envelope can have: plates, findings, a scan, patterns of holes, an opening."""
    item, _ = scanned((-0.1, 0.1, 0.1))
    bpy.ops.object.mode_set(mode="EDIT")
    select(item, "FACE", lambda face: face.normal.z > 0.9)
    bpy.ops.tackwright.perforate_faces(code="R20T34")
    bpy.ops.tackwright.add_band()
    bpy.ops.object.mode_set(mode="OBJECT")
    bpy.ops.tackwright.make_plates()
    bpy.ops.tackwright.check_clearance()


def unscanned():
    item, scan = scanned()
    item.tackwright_space.scan = None
    activate(item, scan)


def opened():
    tank()
    bpy.context.scene.cursor.location = (0.15, 0.1, 0.1)
    bpy.ops.tackwright.add_opening()
    bpy.context.object.name = "hole"


def orphan():
    opened()
    bpy.context.object.tackwright_opening.envelope = None
    bpy.context.object.parent = None


def shelved():
    item = tank()
    shelf = box("shelf", (0.1, 0.1, 0.05), (0.05, 0.05, 0.02))
    activate(item, shelf)
    bpy.ops.tackwright.assign_inner()
    activate(shelf, item)


def on_plate():
    tank()
    bpy.ops.tackwright.make_plates()
    activate(next(o for o in bpy.data.objects if o.tackwright_plate.made_as))


def edited_plate():
    on_plate()
    bpy.ops.object.mode_set(mode="EDIT")


def foreign_metal():
    item = tank()
    item.tackwright.material_name = "unobtainium"
    item.tackwright.material_row = "name,family,density\nunobtainium,other,8940\n"


def select(item, kind, wanted):
    bpy.context.tool_settings.mesh_select_mode = tuple(kind == one for one in ("VERT", "EDGE", "FACE"))
    edited = bmesh.from_edit_mesh(item.data)
    edited.select_mode = {kind}
    for one in (*edited.verts, *edited.edges, *edited.faces):
        one.select_set(False)
    of_kind = {"VERT": edited.verts, "EDGE": edited.edges, "FACE": edited.faces}[kind]
    edited.select_history.clear()
    for one in of_kind:
        if wanted(one):
            one.select_set(True)
            edited.select_history.add(one)
            if kind == "FACE":
                edited.faces.active = one
    edited.select_flush_mode()
    bmesh.update_edit_mesh(item.data)


def faces():
    item = tank()
    item.data.vertices[6].co.z += 0.01
    bpy.ops.object.mode_set(mode="EDIT")
    select(item, "FACE", lambda face: face.normal.z < -0.9)


def edges():
    item = tank()
    bpy.ops.object.mode_set(mode="EDIT")
    select(item, "EDGE", lambda edge: all(v.co.z > 0.09 and v.co.y < 0.01 for v in edge.verts))


def patterned():
    item = tank()
    bpy.ops.object.mode_set(mode="EDIT")
    select(item, "FACE", lambda face: face.normal.z > 0.9)
    bpy.ops.tackwright.perforate_faces(code="R20T34")
    bpy.ops.tackwright.add_band()


def on_scan(count=3):
    _, scan = scanned()
    activate(scan)
    bpy.ops.object.mode_set(mode="EDIT")
    picked = (0, 40, 300)[:count]
    select(scan, "VERT", lambda vert: vert.index in picked)


def two_on_scan():
    on_scan(2)


def unvented():
    tank()
    bpy.ops.tackwright.make_plates()


def own_shop():
    item = tank()
    item.tackwright.shop.name = "ours"
    bpy.ops.tackwright.save_shop(name="ours", replace=True)
    item.tackwright.shop.name = "ours"


def exported():
    item = tank()
    item.tackwright.sealed, item.tackwright.folder = True, OUT[0]
    bpy.ops.tackwright.export_kit(directory=OUT[0], replace=True)


OUT = [""]
"""The folder that the bench lets write to."""

SCENES = {
    "nothing": (nothing, {"Start", "Plates", "Kit"}),
    "fresh": (fresh, {"Start", "Plates", "Metal", "Corners", "Tabs", "Welds", "Inner Plates", "Openings", "Kit"}),
    "shop": (fresh, {"Shop"}),
    "own_shop": (own_shop, {"Shop"}),
    "unvented": (unvented, {"Findings"}),
    "exported": (exported, {"Kit"}),
    "whole": (whole, {"Plates", "Findings", "Figures", "Space", "Drawing"}),
    "unscanned": (unscanned, {"Space"}),
    "opened": (opened, {"Opening", "Openings"}),
    "orphan": (orphan, {"Opening"}),
    "shelved": (shelved, {"Inner Plates"}),
    "on_plate": (on_plate, {"Plates"}),
    "edited_plate": (edited_plate, {"Plates"}),
    "foreign_metal": (foreign_metal, {"Metal"}),
    "faces": (faces, {"Plates", "Selected Faces", "Drawing", "Inner Plates", "Openings"}),
    "edges": (edges, {"Selected Edges"}),
    "patterned": (patterned, {"Perforations"}),
    "on_scan": (on_scan, {"Space"}),
    "two_on_scan": (two_on_scan, {"Space"}),
}
"""By name: what sets a scene up, and the panels that are walked in it. Which panels there are is found by itself: one
that no scene names fails."""


BESIDE = {"edges", "faces"}
"""Scenes whose right-click menu has entries of ours; the pie menu is that of edges."""


def scenario(w):
    bench, OUT[0] = Bench(w), str(w.out)
    bpy.context.scene.unit_settings.length_unit = "MILLIMETERS"
    yield from hands.alone(w)
    w.area().spaces.active.shading.type = "WIREFRAME"    # what is quick to draw
    w.area().spaces.active.overlay.show_floor = False
    bench.watch()
    w.show_sidebar("Tackwright")
    yield 0.5
    wanted = [name for name in w.args if name in SCENES] or list(SCENES)
    panels = {kind.bl_label for kind in bench.panels}
    panels = panels.intersection(w.args) or panels
    unnamed = {kind.bl_label for kind in bench.panels} - set().union(*(names for _, names in SCENES.values()))
    w.check(not unnamed, f"every panel has a scene: {sorted(unnamed)}")
    for name in wanted:
        setup, labels = SCENES[name]
        bench.scene = name
        w.log(f"---- {name}")
        for kind in bench.panels:
            if kind.bl_label in labels & panels:
                bench.shown = kind.__name__
                yield from bench.begin(setup)
                if w.check(bool(bench.drawn(kind)) or kind.bl_label == "Figures", f"{name}: {kind.bl_label} is shown"):
                    yield from bench.walk_panel(kind, setup)
        if name in BESIDE:
            bench.shown = None
            yield from bench.press_context_menu(setup)
            if name == "edges":
                yield from bench.press_pie(setup)
    for panel in sorted(bench.pressed):
        w.log(f"{panel}: {bench.pressed[panel]} controls pressed, {bench.entries[panel]} entries and values chosen")
    for (panel, control), (scene, why) in sorted(bench.missed.items()):
        if control not in bench.ever:
            w.log(f"not pressed: {panel}: {control} ({scene}): {why}")
    ran = {one[0] for one in bench.ran}
    w.log("RAN " + " ".join(sorted(ran)))                    # for the run of the last scene, which is given all of them
    if list(SCENES)[-1] in wanted:
        for name in sorted(bench.operators.keys() - ran - set(w.args)):
            w.log(f"never shown or never run: {name}: {ELSEWHERE.get(name, 'UNKNOWN')}")
            w.check(name in ELSEWHERE, f"{name} is known to be elsewhere")
    w.log(f"{sum(bench.pressed.values())} controls, {sum(bench.entries.values())} entries, {w.passed} checks")
