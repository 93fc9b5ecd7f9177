"""Where a kit is put: told without solving it."""

from __future__ import annotations

from pathlib import Path

import bpy

__all__ = ["folder_of_kit", "parent_folder"]


def parent_folder(chosen: str) -> Path | None:
    """The chosen folder, None where there is none: unchosen, or beside a file that was never saved."""
    if not chosen or (chosen.startswith("//") and not bpy.data.is_saved):
        return None
    return Path(bpy.path.abspath(chosen))


def folder_of_kit(parent: Path, envelope: bpy.types.Object) -> Path:
    """Where in there an envelope's kit will be."""
    from ...core.files.safe_names import safe_name

    return parent / f"{safe_name(envelope.tackwright.kit_name or envelope.name)}_kit"
