"""Export Kit: the kit's folder on disk, solved anew from the drawing as it is."""

from __future__ import annotations

from pathlib import Path

import bpy
from bpy.props import BoolProperty, StringProperty

from ..core.errors import TackwrightError
from .envelope import envelope_of, poll_envelope
from .solve import count_of, solve
from .units import BESIDE_THE_FILE

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

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return poll_envelope(cls, context)

    @classmethod
    def description(cls, context: bpy.types.Context, properties: bpy.types.OperatorProperties) -> str:
        if properties.even_so:
            return "Write the kit although it has errors: it cannot be built as drawn"
        return (cls.__doc__ or "").strip()

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        envelope = envelope_of(context)
        parent = _parent_folder(self.directory or envelope.tackwright.folder)
        if parent is None:
            self.directory = bpy.path.abspath("//") if bpy.data.is_saved else str(Path.home())
            context.window_manager.fileselect_add(self)
            return {"RUNNING_MODAL"}
        folder = _kit_folder(parent, envelope)
        if folder.exists() and not self.replace:
            self.replace = True
            return context.window_manager.invoke_confirm(
                self, event, title="Replace Kit", message=f"{folder.name} is there already", confirm_text="Replace"
            )
        return self.execute(context)

    def draw(self, context: bpy.types.Context) -> None:
        """Beside the file browser."""
        column = self.layout.column()
        column.label(text="The kit becomes a folder here:")
        column.label(text=_kit_folder(Path(), envelope_of(context)).name, icon="FILE_FOLDER", translate=False)
        column.prop(self, "replace", text="Replace an Earlier Kit")

    def execute(self, context: bpy.types.Context) -> set[str]:
        from ..core.files.kit_folder import write_kit  # here, so that Blender starts without loading the libraries

        envelope = envelope_of(context)
        chosen = self.directory or envelope.tackwright.folder
        parent = _parent_folder(chosen)
        if parent is None:
            self.report({"ERROR"}, "No folder to export to. Choose one, or save the file if it is relative to it (//)")
            return {"CANCELLED"}
        kit = solve(self, context, envelope)
        if kit is None:
            return {"CANCELLED"}
        errors = [finding for finding in kit.checks if finding.level == "error"]
        if errors and not self.even_so:
            # the messages are long, and a report does not break its lines: the panel has them
            rules = dict.fromkeys(finding.rule.replace("_", " ") for finding in errors)
            self.report(
                {"ERROR"}, f"Not exported: the kit has {count_of(kit, 'error')} ({', '.join(rules)}).\n"
                "The Findings panel says what and where, and can export even so")
            return {"CANCELLED"}
        try:
            folder = write_kit(kit, parent, replace=self.replace)
        except TackwrightError as error:
            self.report({"ERROR"}, str(error))
            return {"CANCELLED"}
        envelope.tackwright.folder = chosen
        said = count_of(kit, "warning")
        self.report({"WARNING" if said else "INFO"}, f"Exported {folder}" + (f"; {said}" if said else ""))
        return {"FINISHED"}


def _parent_folder(chosen: str) -> Path | None:
    """The chosen folder, None where there is none: unchosen, or beside a file that was never saved."""
    if not chosen or (chosen.startswith("//") and not bpy.data.is_saved):
        return None
    return Path(bpy.path.abspath(chosen))


def _kit_folder(parent: Path, envelope: bpy.types.Object) -> Path:
    """Where the kit will be, told without solving it."""
    from ..core.files.safe_names import safe_name

    return parent / f"{safe_name(envelope.tackwright.kit_name or envelope.name)}_kit"


CLASSES = (TACKWRIGHT_OT_export_kit,)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
