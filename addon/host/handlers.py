"""Handlers of the editor's events: put in and taken out together, so that none is left behind."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

__all__ = ["Handlers", "hear", "stop_hearing"]

Handlers = Sequence[tuple[list[Any], Callable[..., None]]]
"""Lists of bpy.app.handlers, each with what is put into it."""


def hear(handlers: Handlers) -> None:
    """Put each into its list."""
    for of_event, ours in handlers:
        of_event.append(ours)


def stop_hearing(handlers: Handlers) -> None:
    """Take each out of its list; Blender may have emptied that already."""
    for of_event, ours in handlers:
        if ours in of_event:
            of_event.remove(ours)
