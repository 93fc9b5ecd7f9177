"""What the window shows of an export under way, the timer by which it is watched, and Cancel.

Drawing and the work take turns: a redraw rests the work, and is not asked for oftener than there is something new.
"""

from __future__ import annotations

import time

import bpy

from ..host.editor_types import Ended
from . import export_job
from .export_job import Export

__all__ = ["TACKWRIGHT_OT_cancel_export", "Watch", "end_watch"]

TICK = 0.1
"""s between looks at an export under way."""
SHOWN_EVERY = 0.5
"""s between redraws for its progress, at least."""
DRAWING = 0.5
"""s that the work rests for such a redraw, at most: until the next look."""
AT_HAND = 0.15
"""s that the work rests when the user does something in the window."""

_timers: list[tuple[bpy.types.Timer, str]] = []
"""Timers that run, and the workspace whose status bar shows what they wait for."""


class Watch:
    """A timer in the context's window, and what is shown there; `end_watch` ends it."""

    def __init__(self, context: bpy.types.Context) -> None:
        self._workspace = context.workspace.name
        self._shown: tuple[str, int] | None = None
        self._when = self._gave = 0.0
        timer = context.window_manager.event_timer_add(TICK, window=context.window)
        _timers.append((timer, self._workspace))

    def give_way(self, export: Export) -> None:
        """The user does something in the window."""
        now = time.monotonic()
        if now - self._gave > 2 * AT_HAND:  # half of the time is the work's, however much the mouse is moved
            export.give_way(AT_HAND)
            self._gave = now

    def go_on(self, export: Export) -> None:
        """The timer came: what was to be drawn is drawn."""
        if time.monotonic() - self._gave > AT_HAND:
            export.give_way(0.0)

    def show(self, export: Export) -> None:
        workspace = bpy.data.workspaces.get(self._workspace)
        if workspace is not None:
            workspace.status_text_set(f"Export Kit: {export.said} {100 * export.share:.0f} %   Esc: Cancel")
        _redraw()

    def show_news(self, export: Export) -> None:
        """Show it, where there is anything new and it is time to: drawing takes the work's time."""
        now, new = time.monotonic(), (export.said, round(100 * export.share))
        if new == self._shown or now - self._when < SHOWN_EVERY:
            return
        self._shown, self._when = new, now
        export.give_way(DRAWING)
        self.show(export)


def end_watch() -> None:
    """Take all timers away, and what the status bar says."""
    while _timers:
        timer, name = _timers.pop()
        for manager in bpy.data.window_managers:
            manager.event_timer_remove(timer)
        if (workspace := bpy.data.workspaces.get(name)) is not None:
            workspace.status_text_set(None)
    _redraw()


def _redraw() -> None:
    for manager in bpy.data.window_managers:
        for window in manager.windows:
            for area in window.screen.areas:
                for region in area.regions if area.type == "VIEW_3D" else ():
                    if region.type == "UI":  # the sidebar alone: the view itself takes long to draw
                        region.tag_redraw()


class TACKWRIGHT_OT_cancel_export(bpy.types.Operator):
    """Stop the export. Nothing of the new kit stays, and an older one is left as it was"""

    bl_idname = "tackwright.cancel_export"
    bl_label = "Cancel Export"
    bl_options = {"INTERNAL"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        export = export_job.under_way()
        if export is None or export.cancelled:
            cls.poll_message_set("No export is under way" if export is None else "The export is stopping already")
            return False
        return True

    def execute(self, context: bpy.types.Context) -> Ended:
        export_job.under_way().cancel()
        return {"FINISHED"}


register, unregister = bpy.utils.register_classes_factory((TACKWRIGHT_OT_cancel_export,))
