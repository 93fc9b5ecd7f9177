"""True Faces: all faces of a drawing flattened together."""

# No `from __future__ import annotations`: Blender reads the annotations as properties.

import math
import time
from collections.abc import Callable

import bpy
import numpy as np
from bpy.props import BoolProperty, EnumProperty, FloatProperty

from ...core.terms.errors import InputError
from ...core.true_faces.face_wishes import GRIDS, FaceWishes, Snap
from ...core.true_faces.true_faces import TrueFaces, true_faces
from ..findings.shown_findings import select_places
from ..findings.told_moves import tell_moves
from ..gather.drawn_faces import DrawnFaces, read_drawn_faces, write_points
from ..host.editor_types import Ended, mesh_of
from ..host.reports import report_error, report_line
from ..scene.active_envelope import envelope_of, inner_meshes_of
from ..scene.edited_meshes import IS_A_PLATE, edited_meshes

__all__ = ["TACKWRIGHT_OT_true_faces", "objects_to_flatten"]

SNAPS: dict[str, Snap] = {"OFF": "off", "OFFSETS": "offsets", "LENGTHS": "lengths"}
GRID_SIZES = dict(zip(("HALF_MM", "MM", "SIXTEENTH"), GRIDS, strict=True))

_PATIENCE = 15.0
"""s that the window may stand still: what takes longer is given up, and nothing moves."""

_SEEN = 1e-3
"""mm: points that move less are said to have stayed."""


def objects_to_flatten(context: bpy.types.Context) -> list[bpy.types.Object]:
    """In Edit Mode the meshes that are edited; in Object Mode the envelope and its meshes of inner plates. Each mesh
    once."""
    if context.mode == "EDIT_MESH":
        return edited_meshes(context)
    envelope = envelope_of(context)
    if envelope is None:
        return []
    items = [envelope, *(item for item in inner_meshes_of(context, envelope) if len(mesh_of(item).polygons))]
    return list({item.data: item for item in reversed(items)}.values())[::-1]


class TACKWRIGHT_OT_true_faces(bpy.types.Operator):
    """Make faces that were drawn freehand truly flat, all together, moving vertices as little as possible. """ \
        """In Edit Mode the selected faces, in Object Mode all of them. Pinned vertices stay where they are"""

    bl_idname = "tackwright.true_faces"
    bl_label = "True Faces"
    bl_options = {"REGISTER", "UNDO"}

    parallel: BoolProperty(
        name="Parallel",
        description="Make faces parallel that nearly are. Neighbours that are nearly in one plane become one panel",
    )
    square: BoolProperty(
        name="Square",
        description="Make faces and edges square that nearly are: to the object's axes, else to their neighbours. "
        "Faces that are nearly parallel become so too",
    )
    within: FloatProperty(
        name="Within",
        description="How far off faces and edges may be to become parallel or square",
        subtype="ANGLE", min=0.0, max=math.radians(20.0), default=math.radians(3.0), step=50, precision=1,
    )  # fmt: skip
    snap: EnumProperty(
        name="Snap",
        description="Go to round numbers, where faces can stay flat",
        items=[
            ("OFF", "Off", "Lengths stay as they come out", 0),
            ("OFFSETS", "Face Offsets", "Round the distance of each face from the object's origin", 1),
            ("LENGTHS", "Edge Lengths", "Round the lengths of the edges between faces", 2),
        ],
        default="OFF",
    )
    grid: EnumProperty(
        name="Grid",
        description="What lengths are rounded to",
        items=[
            ("HALF_MM", "0.5 mm", "Half a millimetre", 0),
            ("MM", "1 mm", "A millimetre", 1),
            ("SIXTEENTH", '1/16"', "A sixteenth of an inch", 2),
        ],
        default="MM",
    )
    keep_selected: BoolProperty(
        name="Keep Selected",
        description="In Edit Mode flatten all faces that are not hidden, and leave the selected vertices where they "
        "are as if they were pinned",
    )

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        items = objects_to_flatten(context) if context.mode in {"OBJECT", "EDIT_MESH"} else []
        if context.mode not in {"OBJECT", "EDIT_MESH"}:
            cls.poll_message_set("Go to Object Mode or Edit Mode first")
        elif not items and context.mode == "EDIT_MESH":
            cls.poll_message_set(IS_A_PLATE)
        elif not items:
            cls.poll_message_set("Select a mesh object: its faces become flat")
        elif context.mode == "EDIT_MESH" and not any(mesh_of(item).total_vert_sel for item in items):
            cls.poll_message_set("Select the faces to flatten, or leave Edit Mode to flatten all")
        elif context.mode == "OBJECT" and not any(len(mesh_of(item).polygons) for item in items):
            cls.poll_message_set("Draw some faces first")
        else:
            return True
        return False

    @classmethod
    def description(cls, context: bpy.types.Context, properties: bpy.types.OperatorProperties) -> str:
        if properties.keep_selected and context.mode == "EDIT_MESH":
            return ("Make all faces that are not hidden truly flat, together, and leave the selected vertices where "
                    "they are, as if they were pinned")
        return cls.__doc__ or ""

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        layout.use_property_split = True
        layout.use_property_decorate = False
        wishes = layout.column(heading="Make")
        own = wishes.row()
        own.active = not self.square                         # square has parallel in it
        own.prop(self, "parallel")
        wishes.prop(self, "square")
        angle = layout.column()
        angle.active = self.parallel or self.square
        angle.prop(self, "within")
        layout.prop(self, "snap")
        grid = layout.column()
        grid.active = self.snap != "OFF"
        grid.prop(self, "grid")
        if context.mode == "EDIT_MESH":
            layout.prop(self, "keep_selected")

    def execute(self, context: bpy.types.Context) -> Ended:
        items = objects_to_flatten(context)
        if context.mode == "EDIT_MESH" and not self.keep_selected:
            items = [item for item in items if mesh_of(item).total_face_sel]
            if not items:
                self.report({"ERROR"}, "No face is selected. Select the faces to flatten, or turn on Keep Selected to "
                            "flatten all but leave the selected vertices where they are")
                return {"CANCELLED"}
        found: list[tuple[bpy.types.Object, TrueFaces, int]] = []
        in_time = _until(time.monotonic() + _PATIENCE)
        for item in items:
            try:
                drawn = read_drawn_faces(context, item, keep_selected=self.keep_selected)
                found.append((item, self._flattened(drawn, in_time), len(drawn.faces)))
            except TimeoutError:
                less = [prop for prop, on in (("Square", self.square), ("Parallel", self.parallel),
                                              ("Snap", self.snap != "OFF")) if on]
                other = f", or turn off {' and '.join(less)}" if less else ""
                self.report({"ERROR"}, f"{item.name} is not flat after {_PATIENCE:g} s, and nothing has moved: select "
                            f"fewer of its {len(drawn.faces)} faces{other}")
                return {"CANCELLED"}
            except InputError as error:
                select_places(context, [(item, list(error.faces), list(error.edges))])
                report_error(self, error)
                return {"CANCELLED"}
        for item, result, _ in found:
            write_points(item, result.stored, np.flatnonzero(result.moved > 0).tolist())
            tell_moves(item, result.told)
        self._say(found)
        return {"FINISHED"}

    def _flattened(self, drawn: DrawnFaces, progress: Callable[[int, int], None]) -> TrueFaces:
        return true_faces(
            drawn.mesh, faces=drawn.faces.tolist(), pinned=drawn.pinned.tolist(), storage=drawn.storage,
            progress=progress,
            wishes=FaceWishes(
                parallel=self.parallel, square=self.square, within=math.degrees(self.within), snap=SNAPS[self.snap],
                grid=GRID_SIZES[self.grid], axes=drawn.axes, origin=drawn.origin,
            ),
        )  # fmt: skip

    def _say(self, found: list[tuple[bpy.types.Object, TrueFaces, int]]) -> None:
        faces = sum(count for _, _, count in found)
        what = f"{faces} {'face is' if faces == 1 else 'faces are'}"
        moved = [(item, result) for item, result, _ in found if result.largest[0] >= _SEEN]
        lines = [f"{what} flat now" if moved else f"{what} flat: nothing had to move"]
        lines += [f"{item.name}: {result.told}" if len(found) > 1 else result.told for item, result in moved]
        unmet = [str(one) for _, result, _ in found for one in result.unmet]
        if unmet:
            lines.append("What could not be had: " + "; ".join(unmet))
        shared = [item for item, _, _ in found if item.data.users > 1]
        if shared:
            lines.append(f"The mesh of {shared[0].name} is shared: {shared[0].data.users} objects have the new faces")
        bent = [item.name for item, _, _ in found if item.modifiers]
        if bent:
            lines.append(f"Its modifiers are applied to {bent[0]} afterwards")
        report_line(self, "WARNING" if unmet or shared else "INFO", ". ".join(lines))


def _until(end: float) -> Callable[[int, int], None]:
    """What a solve calls before each of its steps; ends it by a TimeoutError once the time is over."""

    def progress(done: int, total: int) -> None:
        if time.monotonic() > end:
            raise TimeoutError

    return progress


CLASSES = (TACKWRIGHT_OT_true_faces,)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
