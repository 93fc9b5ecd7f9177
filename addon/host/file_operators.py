"""Operators that ask for a file and read it, or write one."""

# No `from __future__ import annotations`: Blender reads the annotations as properties.

from pathlib import Path

import bpy
from bpy.props import BoolProperty, StringProperty

from ...core.terms.errors import TackwrightError
from .editor_types import Ended, OfOperator
from .reports import report_error
from .user_files import write_whole

__all__ = ["ReadsFile", "WritesFile"]


class ReadsFile(OfOperator):
    """What it reads is said by `read`; `missing` is said where no file was chosen."""

    filepath: StringProperty(name="File", description="The file to read", subtype="FILE_PATH", options={"SKIP_SAVE"})
    missing = "Choose the file"

    def read(self, context: bpy.types.Context, path: str) -> str:
        """Take what is in the file; what to tell about it. Raises TackwrightError where that cannot be."""
        raise NotImplementedError

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> Ended:
        context.window_manager.fileselect_add(self)
        return {"RUNNING_MODAL"}

    def execute(self, context: bpy.types.Context) -> Ended:
        if not self.filepath:
            self.report({"ERROR"}, self.missing)
            return {"CANCELLED"}
        try:
            told = self.read(context, bpy.path.abspath(self.filepath))
        except TackwrightError as error:
            report_error(self, error)
            return {"CANCELLED"}
        self.report({"INFO"}, told)
        return {"FINISHED"}


class WritesFile(OfOperator):
    """A file with a suffix, of the text that `text` gives."""

    filepath: StringProperty(name="File", description="Where to write it", subtype="FILE_PATH", options={"SKIP_SAVE"})
    check_existing: BoolProperty(default=True, options={"HIDDEN"})
    suffix = ""

    def first_name(self, context: bpy.types.Context) -> str:
        """What the file is called until the user says otherwise, without its suffix."""
        raise NotImplementedError

    def text(self, context: bpy.types.Context, path: Path) -> str:
        """What to write there."""
        raise NotImplementedError

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> Ended:
        self.filepath = self.first_name(context) + self.suffix
        context.window_manager.fileselect_add(self)
        return {"RUNNING_MODAL"}

    def execute(self, context: bpy.types.Context) -> Ended:
        if not self.filepath:
            self.report({"ERROR"}, "Choose where to write the file")
            return {"CANCELLED"}
        path = Path(bpy.path.ensure_ext(bpy.path.abspath(self.filepath), self.suffix))
        try:
            write_whole(path, self.text(context, path))
        except TackwrightError as error:
            report_error(self, error)
            return {"CANCELLED"}
        self.report({"INFO"}, f"Wrote {path}")
        return {"FINISHED"}
