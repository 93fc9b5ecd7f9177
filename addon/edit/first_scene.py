"""What to begin with: the demo tank, a plain box, or a job file, each added to the scene."""

# No `from __future__ import annotations`: Blender reads the annotations as properties.

from collections.abc import Iterable
from pathlib import Path
from typing import Any, Final

import bpy
from bpy.props import FloatProperty, StringProperty
from mathutils import Matrix, Vector

from ...core.terms.errors import TackwrightError
from ..host.editor_types import Ended, OfOperator
from ..host.framing import frame_place
from ..host.reports import report_error
from ..host.shown_lengths import mm_per_unit
from ..scene.active_envelope import select_only

__all__ = [
    "TACKWRIGHT_OT_first_scene", "TACKWRIGHT_OT_new_envelope", "TACKWRIGHT_OT_open_job", "add_menu_entry", "look_at",
]  # fmt: skip

DEMO: Final = Path(__file__).with_name("data") / "bow_tank.toml"
BOX: Final = (400.0, 300.0, 250.0)
"""Length, width and height of a new envelope, mm: of the size of the demo tank, which the usual settings suit."""
ROOM: Final = 2.2
"""How far a view stands off, in lengths of what it shows: the whole of it with a margin."""


def look_at(screens: Iterable[bpy.types.Screen], item: bpy.types.Object) -> None:
    """Move all 3D views of these screens, without turning them, so that they see the whole object."""
    corners = [item.matrix_world @ Vector(corner) for corner in item.bound_box]
    low, high = (Vector(tuple(map(pick, zip(*corners, strict=True)))) for pick in (min, max))
    distance = ROOM * max(high - low)
    for area in (area for screen in screens for area in screen.areas):
        if area.type != "VIEW_3D":
            continue
        space = area.spaces.active
        space.region_3d.view_location, space.region_3d.view_distance = (low + high) / 2, distance
        space.clip_end = max(space.clip_end, 50 * distance)
        space.clip_start = min(max(space.clip_start, space.clip_end * 1e-5), distance / 50)


class _Beginning(OfOperator):
    """An operator that adds an envelope to the scene and leaves it active and seen."""

    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if context.mode != "OBJECT":
            cls.poll_message_set("Go to Object Mode first")
            return False
        if not context.scene.is_editable:
            cls.poll_message_set("This scene is linked from another file and cannot be changed here")
            return False
        return True


def _show(context: bpy.types.Context, item: bpy.types.Object) -> None:
    """Select what was added and move the views of this scene to it."""
    select_only(context, [item])
    windows = context.window_manager.windows if context.window_manager else ()
    look_at([window.screen for window in windows if window.scene == context.scene], item)


def _open(operator: bpy.types.Operator, context: bpy.types.Context, path: Path, title: str) -> Ended:
    """Add the job in a file to a collection of its own."""
    from ...core.files.job import read_job
    from ..gather.job_scene import add_job

    collection = bpy.data.collections.new(title or path.stem)
    context.scene.collection.children.link(collection)
    try:
        opened = add_job(context, read_job(path), collection, title=title)
    except TackwrightError as error:
        bpy.data.collections.remove(collection)
        report_error(operator, error)
        return {"CANCELLED"}
    _show(context, opened.envelope)
    if opened.left_behind:
        operator.report({"WARNING"}, f"Opened, but there is no place here for: {'; '.join(opened.left_behind)}")
    else:
        operator.report({"INFO"}, f"{opened.envelope.name} is in the collection {collection.name}. Press Make Plates")
    return {"FINISHED"}


class TACKWRIGHT_OT_first_scene(_Beginning, bpy.types.Operator):
    """Add the demo to the scene: a tank for a boat's bow with two baffles and five openings, ready to be made"""

    bl_idname = "tackwright.first_scene"
    bl_label = "Demo Tank"

    def execute(self, context: bpy.types.Context) -> Ended:
        return _open(self, context, DEMO, "Bow tank")


class TACKWRIGHT_OT_open_job(_Beginning, bpy.types.Operator):
    """Add what a job file (*.toml) describes to the scene: its meshes, openings and choices"""

    bl_idname = "tackwright.open_job"
    bl_label = "Open Job"

    filepath: StringProperty(
        name="Job File", description="The job, a TOML file as the command line takes it", subtype="FILE_PATH",
        options={"SKIP_SAVE"},
    )  # fmt: skip
    filter_glob: StringProperty(default="*.toml", options={"HIDDEN"})

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> Ended:
        context.window_manager.fileselect_add(self)
        return {"RUNNING_MODAL"}

    def execute(self, context: bpy.types.Context) -> Ended:
        if not self.filepath:
            self.report({"ERROR"}, "Choose a job file")
            return {"CANCELLED"}
        return _open(self, context, Path(bpy.path.abspath(self.filepath)), "")


def _side(name: str, description: str) -> Any:
    """A length in the scene's units. 0 until the button is first pressed: a default in mm needs the scene."""
    return FloatProperty(name=name, description=description, subtype="DISTANCE", min=0.0, precision=4, step=0.1)


class TACKWRIGHT_OT_new_envelope(_Beginning, bpy.types.Operator):
    """Add a box to begin with, standing on the 3D cursor. Edit it like any mesh: its faces become plates"""

    bl_idname = "tackwright.new_envelope"
    bl_label = "New Envelope"

    length: _side("Length", "Size along the x axis")
    width: _side("Width", "Size along the y axis")
    height: _side("Height", "Size along the z axis")

    def execute(self, context: bpy.types.Context) -> Ended:
        mm = mm_per_unit(context.scene)
        for name, usual in zip(("length", "width", "height"), BOX, strict=True):
            setattr(self, name, getattr(self, name) or usual / mm)
        x, y, z = self.length / 2, self.width / 2, self.height
        mesh = bpy.data.meshes.new("Envelope")
        points = [(i * x, j * y, k * z) for k in (0, 1) for i, j in ((-1, -1), (1, -1), (1, 1), (-1, 1))]
        faces = [(0, 3, 2, 1), (4, 5, 6, 7), (0, 1, 5, 4), (1, 2, 6, 5), (2, 3, 7, 6), (3, 0, 4, 7)]
        mesh.from_pydata(points, [], faces)
        item = bpy.data.objects.new("Envelope", mesh)
        home = context.collection if context.collection.is_editable else context.scene.collection
        home.objects.link(item)
        item.matrix_world = Matrix.Translation(context.scene.cursor.location)
        select_only(context, [item])
        if not any(other.type == "MESH" and other != item for other in context.visible_objects):
            # alone it would be a speck in Blender's own view
            frame_place(context, item.location + Vector((0.0, 0.0, z / 2)), Vector((x, y, z / 2)).length)
        return {"FINISHED"}


def add_menu_entry(self: bpy.types.Menu, context: bpy.types.Context) -> None:
    """In Add, Mesh."""
    self.layout.operator(TACKWRIGHT_OT_new_envelope.bl_idname, text="Envelope of Plates", icon="MESH_CUBE")


CLASSES = (TACKWRIGHT_OT_first_scene, TACKWRIGHT_OT_open_job, TACKWRIGHT_OT_new_envelope)
_register_classes, _unregister_classes = bpy.utils.register_classes_factory(CLASSES)


def register() -> None:
    _register_classes()
    bpy.types.VIEW3D_MT_mesh_add.append(add_menu_entry)


def unregister() -> None:
    bpy.types.VIEW3D_MT_mesh_add.remove(add_menu_entry)
    _unregister_classes()
