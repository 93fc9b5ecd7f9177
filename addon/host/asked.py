"""Values that operators ask for when a part of them may be left as it is or given back to the envelope."""

# No `from __future__ import annotations`: Blender reads the annotations as properties.

from typing import Any

import bpy
from bpy.props import EnumProperty

from .editor_types import Ended, OfOperator

__all__ = ["AS_ENVELOPE", "LEAVE", "OWN", "Asked", "by_choice", "choosing", "draw_value"]

LEAVE, AS_ENVELOPE, OWN = "LEAVE", "AS_ENVELOPE", "OWN"

LEFT = (LEAVE, "Leave", "Leave what each of the selected ones has", 0)
GIVEN_BACK = (AS_ENVELOPE, "As Envelope", "As the settings of the envelope say", 1)


def choosing(
    name: str, description: str, items: list[tuple[str, str, str]], *, back: tuple[Any, ...] = GIVEN_BACK
) -> Any:
    """A property that leaves, gives back, or takes one of the items."""
    kept = [(*item, number) for number, item in enumerate(items, start=2)]
    return EnumProperty(name=name, description=description, items=[LEFT, back, *kept], default=LEAVE,
                        options={"SKIP_SAVE"})


def by_choice(name: str, description: str, *, back: tuple[Any, ...] = GIVEN_BACK) -> Any:
    """For a value `x`, the property `x_by` that says whether it is taken."""
    return choosing(name, description, [(OWN, "Own", "The value beside this")], back=back)


class Asked(OfOperator):
    """An operator that takes what it was called with, else asks in a dialog.

    Its values are not kept from one call to the next, so that what a button leaves out is left alone. numbers: names of
    values that have an `_by` beside them.
    """

    numbers: tuple[str, ...] = ()

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> Ended:
        given: bpy.types.OperatorProperties = self.properties
        names = [one.identifier for one in given.bl_rna.properties if one.identifier != "rna_type"]
        if any(given.is_property_set(name) for name in names):
            return self.execute(context)
        self.begin(context)
        return context.window_manager.invoke_props_dialog(self)

    def begin(self, context: bpy.types.Context) -> None:
        """Put into the dialog what it begins with."""

    def offer(self, name: str, value: float) -> None:
        """Begin with a value that is not taken until the user says so."""
        setattr(self, name, value)
        setattr(self, f"{name}_by", LEAVE)

    def settle(self) -> None:
        """A value that was given without a word on it is taken: the redo panel then shows it so."""
        for name in self.numbers:
            given = self.properties.is_property_set
            if given(name) and not given(f"{name}_by"):
                setattr(self, f"{name}_by", OWN)

    def number(self, name: str) -> float | None:
        """A value where it is taken."""
        return getattr(self, name) if getattr(self, f"{name}_by") == OWN else None


def draw_value(layout: bpy.types.UILayout, operator: Any, by: str, name: str) -> None:
    """How a value is taken, and the value beside it."""
    row = layout.row(align=True)
    row.prop(operator, by)
    if getattr(operator, by) == OWN:
        row.prop(operator, name, text="")
