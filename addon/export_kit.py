"""Export Kit: the kit's folder on disk, solved anew from the drawing as it is."""

from __future__ import annotations

import time
from pathlib import Path
from typing import Any

import bpy
from bpy.app.handlers import persistent
from bpy.props import BoolProperty, StringProperty

from ..core.errors import TackwrightError
from ..core.kit import Kit
from ..core.said_units import said
from . import export_job
from .envelope import envelope_of, poll_envelope
from .export_job import Export
from .findings import keep_findings, keep_refusal, places_in, select_places
from .gather import read_drawing
from .handlers import Handlers, hear, stop_hearing
from .preferences import settle_new
from .solve import alone, count_of, keep_kit, kit_name, kit_of, solve
from .units import BESIDE_THE_FILE, units_of

__all__ = ["TACKWRIGHT_OT_cancel_export", "TACKWRIGHT_OT_export_kit", "TACKWRIGHT_OT_open_kit"]

TICK = 0.1
"""s between looks at an export under way."""
SHOWN_EVERY = 0.5
"""s between redraws for its progress, at least."""
DRAWING = 0.5
"""s that the work rests for such a redraw, at most: until the next look."""
AT_HAND = 0.15
"""s that the work rests when the user does something in the window."""


class TACKWRIGHT_OT_export_kit(bpy.types.Operator):
    """Write the kit's folder: cut files, lists and the assembly. In Edit Mode only the selected faces count"""

    bl_idname = "tackwright.export_kit"
    bl_label = "Export Kit"
    bl_options = {"UNDO"}  # no REGISTER: changing a value afterwards would write the files again

    directory: StringProperty(
        name="Folder",
        description="Where the kit's folder is put. Empty: the envelope's own setting",
        subtype="DIR_PATH",
        options={"SKIP_SAVE"} | BESIDE_THE_FILE,
    )
    filter_folder: BoolProperty(default=True, options={"HIDDEN", "SKIP_SAVE"})
    replace: BoolProperty(
        name="Replace", description="Put the new kit in the place of the one that is there", options={"SKIP_SAVE"}
    )
    even_so: BoolProperty(
        name="Even So", description="Write a kit that cannot be built as drawn", options={"SKIP_SAVE"}
    )
    answered: BoolProperty(
        description="Whether a question was asked in the window, so that its answer goes on there",
        options={"HIDDEN", "SKIP_SAVE"},
    )

    _timer = _workspace = _shown = None
    _when = _gave = 0.0

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if export_job.busy():
            cls.poll_message_set("An export is under way: wait for it, or cancel it in the Kit panel")
            return False
        return poll_envelope(cls, context)

    @classmethod
    def description(cls, context: bpy.types.Context, properties: bpy.types.OperatorProperties) -> str:
        if properties.even_so:
            return "Write the kit although it has errors: it cannot be built as drawn"
        return (cls.__doc__ or "").strip()

    # ---- in the window: the drawing is frozen here, the rest is done beside it

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        envelope = envelope_of(context)
        chosen = self.directory or envelope.tackwright.folder
        parent = _parent_folder(chosen)
        if parent is None:
            self.directory = bpy.path.abspath("//") if bpy.data.is_saved else str(Path.home())
            self.answered = True
            context.window_manager.fileselect_add(self)
            return {"RUNNING_MODAL"}
        export = _asked.pop() if _asked and self.answered else self._frozen(context, envelope, parent, chosen)
        _asked.clear()
        if export is None:
            return {"CANCELLED"}
        export.replace = self.replace
        if export.kit is None:
            export.solve()
        elif not self._may_be_written(export):
            return {"CANCELLED"}
        elif export.must_ask:
            _asked.append(export)
            self.directory, self.replace, self.answered = export.chosen, True, True
            return context.window_manager.invoke_confirm(
                self, event, title="Replace Kit", message=f"{export.folder.name} is there already",
                confirm_text="Replace",
            )  # fmt: skip
        else:
            export.write()
        return self._watch(context, export)

    def _frozen(self, context: bpy.types.Context, envelope: bpy.types.Object, parent: Path, chosen: str) -> Any:
        """The export of the drawing as it is now; None where that was refused."""
        settle_new(self, envelope)
        try:
            drawing = read_drawing(context, envelope)
        except TackwrightError as error:
            self._refuse(context, envelope, (alone(envelope),), error)
            return None
        return Export(
            uid=envelope.session_uid, drawing=drawing, name=kit_name(envelope), parent=parent, chosen=chosen,
            replace=self.replace, even_so=self.even_so, kit=kit_of(envelope, drawing, kit_name(envelope)),
        )  # fmt: skip

    def _watch(self, context: bpy.types.Context, export: Export) -> set[str]:
        export_job.begin(export)
        manager = context.window_manager
        self._workspace = context.workspace.name
        self._timer = manager.event_timer_add(TICK, window=context.window)
        _timers.append((self._timer, self._workspace))
        manager.modal_handler_add(self)
        self._show(context, export)
        return {"RUNNING_MODAL"}

    def modal(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        export = export_job.under_way()
        if export is None:  # stopped from elsewhere
            self._leave(context)
            return {"CANCELLED"}
        if event.type == "ESC" and event.value == "PRESS" and not export.cancelled:
            export.cancel()
            self._show(context, export)
            return {"RUNNING_MODAL"}
        now = time.monotonic()
        if event.type != "TIMER":
            if now - self._gave > 2 * AT_HAND:  # half of the time is the work's, however much the mouse is moved
                export.give_way(AT_HAND)
                self._gave = now
            return {"PASS_THROUGH"}
        if now - self._gave > AT_HAND:
            export.give_way(0.0)  # what was to be drawn is drawn
        state = export.step()
        envelope = _envelope(export)
        if state == "solved" and envelope is not None and self._goes_on(export):
            export.write()
            state = "working"
        if state == "working":
            if self._changed(export):
                export.give_way(DRAWING)
                self._show(context, export)
            return {"PASS_THROUGH"}
        self._leave(context)
        export_job.end(export)
        if state == "stopped" or envelope is None:
            self.report({"INFO"}, "Export cancelled: nothing was written")
            return {"CANCELLED"}
        if state == "refused":
            self._refuse(context, envelope, export.drawing.parts, export.error)
            return {"CANCELLED"}
        if state == "written":
            return self._written(envelope, export.kit, export.written, export.chosen)
        if not export.refused:
            _asked[:] = [export]
            self._again(replace=False)
        return {"CANCELLED"}

    def cancel(self, context: bpy.types.Context) -> None:
        """Blender ends the operator: its window closes, or another file is opened."""
        export_job.stop()
        self._leave(context)

    def _goes_on(self, export: Export) -> bool:
        """Keep the kit that was solved; whether it can be written without a question."""
        keep_kit(_envelope(export), export.drawing, export.kit)
        return self._may_be_written(export) and not export.must_ask

    def _may_be_written(self, export: Export) -> bool:
        """Keep what the checks said; whether the kit may be written, which is said if not."""
        envelope = _envelope(export)
        keep_findings(envelope, export.kit, export.drawing.parts, only_selected=envelope.mode == "EDIT")
        if export.refused:
            self._say_errors(export.kit)
        return not export.refused

    def _again(self, *, replace: bool) -> None:
        """Go on in the window, as an operator of its own: a question cannot be asked from where this one is."""
        try:
            bpy.ops.tackwright.export_kit(
                "INVOKE_DEFAULT", directory=self.directory, replace=replace, even_so=self.even_so, answered=True)
        except RuntimeError as error:  # what it reported as an error
            self.report({"ERROR"}, str(error).removeprefix("Error: ").strip())

    def _show(self, context: bpy.types.Context, export: Export) -> None:
        workspace = bpy.data.workspaces.get(self._workspace or "")
        if workspace is not None:
            workspace.status_text_set(f"Export Kit: {export.said} {100 * export.share:.0f} %   Esc: Cancel")
        _redraw()

    def _changed(self, export: Export) -> bool:
        """Whether there is anything new to show, and it is time to: drawing takes the work's time."""
        now, new = time.monotonic(), (export.said, round(100 * export.share))
        if new == self._shown or now - self._when < SHOWN_EVERY:
            return False
        self._shown, self._when = new, now
        return True

    def _leave(self, context: bpy.types.Context) -> None:
        _remove_timers()
        self._timer = None
        _redraw()

    def draw(self, context: bpy.types.Context) -> None:
        """Beside the file browser."""
        column = self.layout.column()
        column.label(text="The kit becomes a folder here:")
        column.label(text=_kit_folder(Path(), envelope_of(context)).name, icon="FILE_FOLDER", translate=False)
        column.prop(self, "replace", text="Replace an Earlier Kit")

    # ---- from a script: all in one go

    def execute(self, context: bpy.types.Context) -> set[str]:
        if self.answered and not bpy.app.background:
            self._again(replace=self.replace)
            return {"CANCELLED"}
        from ..core.files.kit_folder import write_kit  # here, so that Blender starts without loading the libraries

        envelope = envelope_of(context)
        chosen = self.directory or envelope.tackwright.folder
        parent = _parent_folder(chosen)
        if parent is None:
            self.report({"ERROR"}, "No folder to export to. Choose one, or save the file if it is relative to it (//)")
            return {"CANCELLED"}
        settle_new(self, envelope)
        kit = solve(self, context, envelope)
        if kit is None:
            return {"CANCELLED"}
        if not self.even_so and any(finding.level == "error" for finding in kit.checks):
            self._say_errors(kit)
            return {"CANCELLED"}
        try:
            folder = write_kit(kit, parent, replace=self.replace)
        except TackwrightError as error:
            self.report({"ERROR"}, str(error))
            return {"CANCELLED"}
        return self._written(envelope, kit, folder, chosen)

    def _written(self, envelope: bpy.types.Object, kit: Kit, folder: Path, chosen: str) -> set[str]:
        envelope.tackwright.folder = chosen
        counted = count_of(kit, "warning")
        self.report({"WARNING" if counted else "INFO"}, f"Exported {folder}" + (f"; {counted}" if counted else ""))
        return {"FINISHED"}

    def _say_errors(self, kit: Kit) -> None:
        # the messages are long, and a report does not break its lines: the panel has them
        errors = [finding for finding in kit.checks if finding.level == "error"]
        rules = dict.fromkeys(finding.rule.replace("_", " ") for finding in errors)
        self.report(
            {"ERROR"}, f"Not exported: the kit has {count_of(kit, 'error')} ({', '.join(rules)}).\n"
            "The Findings panel says what and where, and can export even so")

    def _refuse(self, context: bpy.types.Context, envelope: bpy.types.Object, parts: Any, error: Any) -> None:
        """Report why the drawing or the folder was refused; a place on the drawing is left selected."""
        from ..core.errors import ExportError

        if isinstance(error, ExportError):
            self.report({"ERROR"}, str(error))
            return
        keep_refusal(envelope, error, parts)
        select_places(context, places_in(parts, error.faces, error.edges))
        self.report({"ERROR"}, said(str(error), units_of(context.scene)))


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

    def execute(self, context: bpy.types.Context) -> set[str]:
        export_job.under_way().cancel()
        return {"FINISHED"}


class TACKWRIGHT_OT_open_kit(bpy.types.Operator):
    """Show the kit's folder in the file manager"""

    bl_idname = "tackwright.open_kit"
    bl_label = "Open Folder"
    bl_options = {"INTERNAL"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        envelope = envelope_of(context)
        parent = _parent_folder(envelope.tackwright.folder) if envelope is not None else None
        if parent is None:
            cls.poll_message_set("Export the kit first")
            return False
        folder = _kit_folder(parent, envelope)
        if not folder.is_dir():
            cls.poll_message_set("The kit is not in its folder: export it, or choose where it is now")
            return False
        return True

    def execute(self, context: bpy.types.Context) -> set[str]:
        envelope = envelope_of(context)
        folder = _kit_folder(_parent_folder(envelope.tackwright.folder), envelope)
        return bpy.ops.wm.path_open(filepath=str(folder))


_asked: list[Export] = []
"""The export that waits for an answer, so that it is not solved again for it."""
_timers: list[tuple[bpy.types.Timer, str]] = []
"""Timers that run, and the workspace whose status bar shows what they wait for."""


def _parent_folder(chosen: str) -> Path | None:
    """The chosen folder, None where there is none: unchosen, or beside a file that was never saved."""
    if not chosen or (chosen.startswith("//") and not bpy.data.is_saved):
        return None
    return Path(bpy.path.abspath(chosen))


def _kit_folder(parent: Path, envelope: bpy.types.Object) -> Path:
    """Where the kit will be, told without solving it."""
    from ..core.files.safe_names import safe_name

    return parent / f"{safe_name(envelope.tackwright.kit_name or envelope.name)}_kit"


def _envelope(export: Export) -> bpy.types.Object | None:
    """The export's envelope, None where it was deleted since."""
    return next((item for item in bpy.data.objects if item.session_uid == export.uid), None)


def _remove_timers() -> None:
    while _timers:
        timer, name = _timers.pop()
        for manager in bpy.data.window_managers:
            manager.event_timer_remove(timer)
        if (workspace := bpy.data.workspaces.get(name)) is not None:
            workspace.status_text_set(None)


def _redraw() -> None:
    for manager in bpy.data.window_managers:
        for window in manager.windows:
            for area in window.screen.areas:
                for region in area.regions if area.type == "VIEW_3D" else ():
                    if region.type == "UI":  # the sidebar alone: the view itself takes long to draw
                        region.tag_redraw()


@persistent
def _stop_before_load(*_: Any) -> None:
    """Another file is opened: what is under way is of this one."""
    export_job.stop()
    _asked.clear()
    _remove_timers()


CLASSES = (TACKWRIGHT_OT_export_kit, TACKWRIGHT_OT_cancel_export, TACKWRIGHT_OT_open_kit)
_register_classes, _unregister_classes = bpy.utils.register_classes_factory(CLASSES)


def _handlers() -> Handlers:
    return [(bpy.app.handlers.load_pre, _stop_before_load)]


def register() -> None:
    _register_classes()
    hear(_handlers())


def unregister() -> None:
    """Also in the middle of an export: it is cancelled, and nothing of it stays."""
    _stop_before_load()
    stop_hearing(_handlers())
    _unregister_classes()
