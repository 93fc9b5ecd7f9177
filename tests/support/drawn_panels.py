"""A stand-in for Blender's layout, and panels drawn into it: the background has no window to draw in."""

from __future__ import annotations

from types import SimpleNamespace

import pytest


class Layout:
    """Notes what is drawn, and refuses a property or an operator that does not exist."""

    def __init__(self, blender, notes):
        self.__dict__.update(blender=blender, notes=notes)

    def column(self, **_):
        return Layout(self.blender, self.notes)

    row = box = split = grid_flow = column_flow = column

    def separator(self, **_):
        pass

    def progress(self, text="", **_):
        self.notes.append(text)

    def prop_menu_enum(self, data, name, text=None, **_):
        self.prop(data, name, text)

    def prop_enum(self, data, name, value, text=None, **_):
        item = data.bl_rna.properties[name].enum_items[value]
        pressed = " (pressed)" if getattr(data, name) == value else ""
        self.notes.append((item.name if text is None else text) + pressed)

    def menu(self, name, text=None, **_):
        kind = getattr(self.blender.types, name)
        self.notes.append(kind.bl_label if text is None else text)

    def prop(self, data, name, text=None, **_):
        known = data.bl_rna.properties[name]
        self.notes.append(known.name if text is None else text)

    def label(self, text="", **_):
        self.notes.append(text)

    def operator(self, name, text=None, depress=False, **_):
        module, _, own = name.partition(".")
        kind = getattr(getattr(self.blender.ops, module), own).get_rna_type()
        self.notes.append((kind.name if text is None else text) + (" (pressed)" if depress else ""))
        return SimpleNamespace()

    def template_list(self, kind, _id, data, items, active_data, active, **_):
        assert hasattr(self.blender.types, kind)
        assert active_data.bl_rna.properties[active]
        self.notes += [f"list: {getattr(item, 'message', item.name)}" for item in getattr(data, items)]


@pytest.fixture
def drawn(blender):
    """drawn(name): what the panel shows, None where it is not shown at all."""

    def draw(name):
        kind = getattr(blender.types, f"TACKWRIGHT_PT_{name}")
        context = SimpleNamespace(
            object=blender.context.object,
            view_layer=blender.context.view_layer,
            mode=blender.context.mode,
            scene=blender.context.scene,
            region=SimpleNamespace(width=280),
            preferences=SimpleNamespace(system=SimpleNamespace(ui_scale=1.0)),
        )
        if not getattr(kind, "poll", lambda _: True)(context):
            return None
        panel = SimpleNamespace(layout=Layout(blender, notes := []))
        for method in {name for c in kind.__mro__ if c.__module__.startswith("tackwright") for name in vars(c)}:
            if callable(getattr(kind, method)) and not method.startswith("__"):
                setattr(panel, method, getattr(kind, method).__get__(panel))
        kind.draw(panel, context)
        return notes

    return draw
