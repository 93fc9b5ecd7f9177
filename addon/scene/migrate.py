"""Files of other versions of the extension: older ones are brought up to date, newer ones are opened with a warning.

Every object that holds something of ours carries the number of the version that saved it. A step finds the old form
of what it changes by itself and leaves the present form alone: so it does no harm to an object that was appended, or
that never was saved and has no number yet.
"""

# No `from __future__ import annotations`: Blender reads the annotations as properties.

from collections.abc import Callable, Iterator
from typing import Final

import bpy
from bpy.app.handlers import persistent
from bpy.props import IntProperty

from ..host.editor_types import mesh_of
from ..host.handlers import Handlers, hear, stop_hearing
from .metals import keep_by_name

__all__ = ["SETTINGS", "STEPS", "bring_up_to_date", "file_note"]

SETTINGS: Final = 2
"""The version of what is kept in files. It rises whenever STEPS grows. 0: from before there was a number."""

STEPS: dict[int, Callable[[bpy.types.Object], bool]] = {2: keep_by_name}
"""By the version that it leads to: brings one object's settings and its mesh's attributes there, and says whether it
changed something. Version 1 only added the number."""

GROUPS: Final = ("tackwright", "tackwright_inner", "tackwright_opening", "tackwright_plate")

_note = ""


def file_note() -> str:
    """What the age of the file that is open has to say; empty where nothing."""
    return _note


def bring_up_to_date() -> str:
    """Bring every object of this file's own up to date. What is to be said of it, empty for nothing."""
    newest, changed = 0, 0
    for item in _ours():
        saved = item.tackwright_version
        newest = max(newest, saved)
        if saved < SETTINGS and item.library is None:
            changed += sum(step(item) for number, step in sorted(STEPS.items()) if number > saved)
            item.tackwright_version = SETTINGS
    if newest > SETTINGS:
        return (
            "This file was saved by a newer Tackwright. What this one does not know is not shown, and saving the file "
            "may lose it: update the extension first"
        )
    return "This file was saved by an older Tackwright: its settings were brought up to date" if changed else ""


def _ours() -> Iterator[bpy.types.Object]:
    """The objects that hold settings or choices of ours."""
    for item in bpy.data.objects:
        attributes = mesh_of(item).attributes if item.type == "MESH" else ()
        if any(item.is_property_set(group) for group in GROUPS) or any(
            attribute.name.startswith("tackwright_") for attribute in attributes
        ):
            yield item


@persistent
def _opened(*_: object) -> None:
    global _note
    _note = bring_up_to_date()
    if _note:
        print(f"Tackwright: {_note}")


@persistent
def _before_saving(*_: object) -> None:
    """What is saved has the present form and its number, but for what a newer version left."""
    global _note
    _note = bring_up_to_date()


def _handlers() -> Handlers:
    return [(bpy.app.handlers.load_post, _opened), (bpy.app.handlers.save_pre, _before_saving)]


def register() -> None:
    bpy.types.Object.tackwright_version = IntProperty(options={"HIDDEN"})
    hear(_handlers())


def unregister() -> None:
    global _note
    _note = ""
    stop_hearing(_handlers())
    del bpy.types.Object.tackwright_version
