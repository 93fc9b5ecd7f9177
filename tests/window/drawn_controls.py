"""What a panel, a dialog or a menu draws, told by drawing it into a stand-in for Blender's layout: the list that what
the mouse finds is held against."""

import ast
from types import SimpleNamespace


class Control:
    """One thing to press. kind: operator, menu, list, enum (one entry of a property laid open) or a property's type.
    name: as the bench names it, an operator's call or a property's path, in Blender's quotes. rows: of a list, what is
    drawn in each of its rows."""

    def __init__(self, kind, name, *, owner=None, prop=None, entry=None, titled=False, call=None):
        self.kind, self.name, self.owner, self.prop = kind, name, owner, prop
        self.entry, self.titled, self.call = entry, titled, call
        self.row, self.row_key = 0, None

    @property
    def key(self):
        return (self.kind, *self.call_key) if self.call else (self.kind, self.name, self.entry)

    @property
    def heard(self):
        """The key of what the bench hears of over it: over a text in a row of a list, of the row."""
        return self.row_key if self.row_key and self.kind == "STRING" else self.key

    @property
    def call_key(self):
        return self.call[0], tuple(sorted(self.call[1].items()))

    def __repr__(self):
        return f"{self.kind} {self.shown}"

    @property
    def shown(self):
        if self.call:
            return f"{self.call[0]}({', '.join(f'{k}={v!r}' for k, v in sorted(self.call[1].items()))})"
        return self.name + (f" = {self.entry}" if self.entry else "")


def path_of(owner, name):
    """A property's path as Blender's own Copy Full Data Path gives it; of an operator's, its name alone."""
    whose = owner.id_data
    if whose is None:
        return name
    within = name if owner == whose else owner.path_from_id(name)
    return f"{whose!r}.{within}".replace("'", '"')


def called(text):
    """An operator's call as text: its name and the values it has, but for those that are the usual ones."""
    call = ast.parse(text, mode="eval").body
    kind = operator_type(ast.unparse(call.func).removeprefix("bpy.ops."))
    values = {word.arg: ast.literal_eval(word.value) for word in call.keywords}
    return ast.unparse(call.func).removeprefix("bpy.ops."), unusual(kind, values)


def operator_type(name):
    import bpy

    module, _, own = name.partition(".")
    return getattr(getattr(bpy.ops, module), own).get_rna_type()


def unusual(kind, values):
    """The values without those that Blender leaves out of a call: the default ones."""
    known = kind.properties
    return {name: value for name, value in values.items()
            if name not in known or getattr(known[name], "default", None) != value}


class Given:
    """The values that a button gives to its operator."""

    def __init__(self):
        self.__dict__["values"] = {}

    def __setattr__(self, name, value):
        self.values[name] = value


class Drawn:
    """Notes what is drawn, as Blender's layout would show it."""

    def __init__(self, found):
        self.__dict__["found"] = found

    def column(self, **_):
        return Drawn(self.found)

    row = box = split = grid_flow = column_flow = menu_pie = column

    def separator(self, **_):
        pass

    label = progress = separator

    def prop(self, data, name, text=None, emboss=True, **_):
        kind = data.bl_rna.properties[name]
        self.found.append(Control(kind.type, path_of(data, name), owner=data, prop=name, titled=text == ""))

    def prop_enum(self, data, name, value, text=None, **_):
        self.found.append(Control("CHOICE", path_of(data, name), owner=data, prop=name, entry=value))

    def menu(self, name, text=None, **_):
        self.found.append(Control("MENU", name))

    def operator(self, name, text=None, depress=False, **_):
        given = Given()
        self.found.append(Control("OPERATOR", name, call=(name, given.values)))
        return given

    def template_list(self, kind, _id, data, items, active_data, active, rows=5, **_):
        import bpy

        shown = getattr(data, items)
        for number, item in enumerate(shown):
            one = SimpleNamespace(bitflag_filter_item=1, filter_name="", use_filter_sort_alpha=False)
            inside = []
            getattr(bpy.types, kind).draw_item(
                one, bpy.context, Drawn(inside), data, item, 0, active_data, active, number)
            for control in inside:
                control.row, control.row_key = number, ("INT", path_of(active_data, active), None)
                self.found.append(control)


def drawn_by(kind, instance=None, context=None):
    """What a class with a `draw` would show now. instance: the operator whose dialog it is."""
    import bpy

    found = []
    if instance is None:
        instance = SimpleNamespace(layout=Drawn(found))
        for name in {name for c in kind.__mro__ for name in vars(c) if c.__module__.startswith("bl_ext")}:
            value = getattr(kind, name)
            if callable(value) and not name.startswith("__"):
                setattr(instance, name, value if hasattr(value, "__self__") else value.__get__(instance))
    kind.draw(instance, context or bpy.context)
    for control in found:
        if control.call:
            control.call = control.call[0], unusual(operator_type(control.call[0]), control.call[1])
    return found


class Seen:
    """An operator whose dialog is open, drawing into the stand-in."""

    def __init__(self, operator, found):
        self.__dict__.update(operator=operator, layout=RowsDrawn(found))

    def __getattr__(self, name):
        return getattr(self.operator, name)


class RowsDrawn(Drawn):
    """The same, row by row: what is drawn into one row stands side by side."""

    def __init__(self, found, row=None):
        self.__dict__.update(found=found, into=row)

    def row(self, **_):
        self.found.append(made := [])
        return RowsDrawn(self.found, made)

    def column(self, **_):
        return RowsDrawn(self.found)

    box = column

    def prop(self, data, name, text=None, **_):
        kind = data.properties.bl_rna.properties[name]
        one = Control(kind.type, name, owner=data, prop=name, titled=text == "")
        if self.into is None:
            self.found.append([one])
        else:
            self.into.append(one)

    def label(self, **_):
        self.found.append([])


def dialog_controls(operator, draw):
    """The rows of an operator's open dialog; a label is a row without a control."""
    import bpy

    found = []
    draw(Seen(operator, found), bpy.context)
    return found
