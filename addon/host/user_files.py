"""The user's own folder of this extension, which stays when the extension is updated, and files written whole."""

from __future__ import annotations

import os
from contextlib import suppress
from pathlib import Path

import bpy

from ...core.terms.errors import ExportError

__all__ = ["PACKAGE", "user_folder", "write_whole"]

PACKAGE = __name__.rpartition(".addon.")[0]
"""What Blender calls the extension: its preferences are kept under this name. The same however deep this file lies."""


def user_folder(*, create: bool = False) -> Path:
    """Where the user's own files are. Blender keeps a folder for every extension; without being one, it is beside
    Blender's settings."""
    if PACKAGE.startswith("bl_ext."):
        return Path(bpy.utils.extension_path_user(PACKAGE, create=create))
    folder = Path(bpy.utils.user_resource("CONFIG")) / PACKAGE
    if create:
        folder.mkdir(parents=True, exist_ok=True)
    return folder


def write_whole(path: Path, text: str) -> None:
    """Write a file of text, or leave what was there as it was (ExportError)."""
    part = path.with_name(f".{path.name}.part")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        part.write_text(text, encoding="utf-8", newline="\n")
        os.replace(part, path)
    except OSError as error:
        with suppress(OSError):
            part.unlink(missing_ok=True)
        raise ExportError(
            f"{path} was not written: {error.strerror or error}", do="Choose another folder, or make room"
        ) from error
