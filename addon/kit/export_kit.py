"""Export Kit: the kit's folder on disk, solved anew from the drawing as it is."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import bpy
from bpy.app.handlers import persistent
from bpy.props import BoolProperty, StringProperty

from ...core.kit.kit import Kit
from ...core.terms.errors import TackwrightError
from ..findings.finding_titles import title_of_rule
from ..findings.shown_findings import keep_findings, places_in, select_places
from ..gather.gather import DrawnObject, read_drawing
from ..gather.shop_habits import settle_new
from ..host.editor_types import Ended
from ..host.handlers import Handlers, hear, stop_hearing
from ..host.reports import report_error
from ..host.shown_lengths import BESIDE_THE_FILE
from ..scene.active_envelope import envelope_of, poll_envelope
from . import export_job
from .asked_kit import alone, count_of, keep_kit, kit_name, kit_of, solved_kit, tell_refusal
from .export_job import Export
from .export_watch import Watch, end_watch
from .kit_paths import folder_of_kit, parent_folder
from .told_age import plates_stay

__all__ = ["TACKWRIGHT_OT_export_kit"]


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

    _watch = None

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

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> Ended:
        envelope = envelope_of(context)
        chosen = self.directory or envelope.tackwright.folder
        parent = parent_folder(chosen)
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
        export_job.begin(export)
        self._watch = Watch(context)
        context.window_manager.modal_handler_add(self)
        self._watch.show(export)
        return {"RUNNING_MODAL"}

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

    def modal(self, context: bpy.types.Context, event: bpy.types.Event) -> Ended:
        export = export_job.under_way()
        if export is None:  # stopped from elsewhere
            end_watch()
            return {"CANCELLED"}
        if event.type == "ESC" and event.value == "PRESS" and not export.cancelled:
            export.cancel()
            self._watch.show(export)
            return {"RUNNING_MODAL"}
        if event.type != "TIMER":
            self._watch.give_way(export)
            return {"PASS_THROUGH"}
        self._watch.go_on(export)
        state = export.step()
        envelope = _envelope(export)
        if state == "solved" and envelope is not None and self._goes_on(export):
            export.write()
            state = "working"
        if state == "working":
            self._watch.show_news(export)
            return {"PASS_THROUGH"}
        end_watch()
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
        end_watch()

    def _goes_on(self, export: Export) -> bool:
        """Keep the kit that was solved; whether it can be written without a question."""
        keep_kit(_envelope(export), export.drawing, export.kit)
        return self._may_be_written(export) and not export.must_ask

    def _may_be_written(self, export: Export) -> bool:
        """Keep what the checks said; whether the kit may be written, which is said if not."""
        envelope = _envelope(export)
        with plates_stay(bpy.context, envelope):
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

    def draw(self, context: bpy.types.Context) -> None:
        """Beside the file browser."""
        column = self.layout.column()
        column.label(text="The kit becomes a folder here:")
        column.label(text=folder_of_kit(Path(), envelope_of(context)).name, icon="FILE_FOLDER", translate=False)
        column.prop(self, "replace", text="Replace an Earlier Kit")

    # ---- from a script: all in one go

    def execute(self, context: bpy.types.Context) -> Ended:
        if self.answered and not bpy.app.background:
            self._again(replace=self.replace)
            return {"CANCELLED"}
        from ...core.files.kit_folder import write_kit  # here, so that Blender starts without loading the libraries

        envelope = envelope_of(context)
        chosen = self.directory or envelope.tackwright.folder
        parent = parent_folder(chosen)
        if parent is None:
            self.report({"ERROR"}, "No folder to export to. Choose one, or save the file if it is relative to it (//)")
            return {"CANCELLED"}
        settle_new(self, envelope)
        with plates_stay(context, envelope):
            kit = solved_kit(self, context, envelope, in_part=envelope.mode == "EDIT")
        if kit is None:
            return {"CANCELLED"}
        if not self.even_so and any(finding.level == "error" for finding in kit.checks):
            self._say_errors(kit)
            return {"CANCELLED"}
        try:
            folder = write_kit(kit, parent, replace=self.replace)
        except TackwrightError as error:
            report_error(self, error)
            return {"CANCELLED"}
        return self._written(envelope, kit, folder, chosen)

    def _written(self, envelope: bpy.types.Object, kit: Kit, folder: Path, chosen: str) -> Ended:
        envelope.tackwright.folder = chosen
        counted = count_of(kit, "warning")
        self.report({"WARNING" if counted else "INFO"}, f"Exported {folder}" + (f"; {counted}" if counted else ""))
        return {"FINISHED"}

    def _say_errors(self, kit: Kit) -> None:
        # the messages are long, and a report does not break its lines: the panel has them
        errors = [finding for finding in kit.checks if finding.level == "error"]
        rules = dict.fromkeys(title_of_rule(finding.rule) for finding in errors)
        self.report(
            {"ERROR"}, f"Not exported: the kit has {count_of(kit, 'error')} ({', '.join(rules)}). \n"
            "The Findings panel says what and where; Export Even So, there, writes the kit all the same")

    def _refuse(
        self, context: bpy.types.Context, envelope: bpy.types.Object, parts: Sequence[DrawnObject],
        error: TackwrightError,
    ) -> None:
        """Report why the drawing or the folder was refused; a place on the drawing is left selected."""
        from ...core.terms.errors import ExportError

        if isinstance(error, ExportError):
            report_error(self, error)
            return
        tell_refusal(context, envelope, error, parts)
        select_places(context, places_in(parts, error.faces, error.edges))
        report_error(self, error)


_asked: list[Export] = []
"""The export that waits for an answer, so that it is not solved again for it."""


def _envelope(export: Export) -> bpy.types.Object | None:
    """The export's envelope, None where it was deleted since."""
    return next((item for item in bpy.data.objects if item.session_uid == export.uid), None)


@persistent
def _stop_before_load(*_: object) -> None:
    """Another file is opened: what is under way is of this one."""
    export_job.stop()
    _asked.clear()
    end_watch()


_register_class, _unregister_class = bpy.utils.register_classes_factory((TACKWRIGHT_OT_export_kit,))


def _handlers() -> Handlers:
    return [(bpy.app.handlers.load_pre, _stop_before_load)]


def register() -> None:
    _register_class()
    hear(_handlers())


def unregister() -> None:
    """Also in the middle of an export: it is cancelled, and nothing of it stays."""
    _stop_before_load()
    stop_hearing(_handlers())
    _unregister_class()
