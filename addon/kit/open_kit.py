"""Open Folder: the exported kit in the system's file manager."""

from __future__ import annotations

import bpy

from ..host.editor_types import Ended
from ..scene.active_envelope import envelope_of
from .kit_paths import folder_of_kit, parent_folder

__all__ = ["TACKWRIGHT_OT_open_kit"]


class TACKWRIGHT_OT_open_kit(bpy.types.Operator):
    """Show the kit's folder in the file manager"""

    bl_idname = "tackwright.open_kit"
    bl_label = "Open Folder"
    bl_options = {"INTERNAL"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        envelope = envelope_of(context)
        parent = parent_folder(envelope.tackwright.folder) if envelope is not None else None
        if parent is None:
            cls.poll_message_set("Export the kit first")
            return False
        folder = folder_of_kit(parent, envelope)
        if not folder.is_dir():
            cls.poll_message_set("The kit is not in its folder: export it, or choose where it is now")
            return False
        return True

    def execute(self, context: bpy.types.Context) -> Ended:
        envelope = envelope_of(context)
        folder = folder_of_kit(parent_folder(envelope.tackwright.folder), envelope)
        try:
            return bpy.ops.wm.path_open(filepath=str(folder))
        except (RuntimeError, OSError):  # no file manager, or none that Blender finds
            self.report({"ERROR"}, f"The file manager could not be opened. The kit is in {folder}")
            return {"CANCELLED"}


register, unregister = bpy.utils.register_classes_factory((TACKWRIGHT_OT_open_kit,))
