"""Openings picked: by a click on what the 3D view draws of one, or in the list of the sidebar.

The host picks an empty by its own few lines alone. So a click looks first whether it meets an opening's ring, what is
inside it, its centre or its arrow, and otherwise goes on to what the host does with clicks.
"""

# No `from __future__ import annotations`: Blender reads the annotations as properties.

from typing import Final, Literal

import bpy
import numpy as np
from bpy.props import BoolProperty, StringProperty
from bpy_extras import view3d_utils
from mathutils import Vector
from numpy.typing import NDArray

from ..host.editor_types import Ended
from ..scene.active_envelope import is_opening, select_only
from .opening_overlay import lines_of_opening

__all__ = ["TACKWRIGHT_OT_select_opening", "meets", "next_one", "openings_at", "pixels_of"]

REACH: Final = 9.0
"""Pixels at scale 1: as near as this a line is hit. Blender's own clicks reach a few more."""
PIERCED: Final = 1.0
"""Of an opening's size: what stands no farther before it than this is the metal it goes through, and what is beside."""

_keys: list[tuple[bpy.types.KeyMap, bpy.types.KeyMapItem]] = []
_MOUSE: Final[dict[str, tuple[Literal["LEFTMOUSE", "RIGHTMOUSE"], Literal["CLICK", "PRESS"]]]] = {
    "LEFT": ("LEFTMOUSE", "CLICK"), "RIGHT": ("RIGHTMOUSE", "PRESS"),
}  # fmt: skip
"""By the button that selects: the events that Blender's own keymap selects by in Object Mode."""


def meets(lines: NDArray[np.float64], at: tuple[float, float], reach: float) -> tuple[bool, bool]:
    """Whether a place is within reach of lines (n, 2, 2), and whether it is inside what they enclose, in pixels. Where
    rings lie in each other it is inside of every second one."""
    if not len(lines):
        return False, False
    a, b, place = lines[:, 0], lines[:, 1], np.array(at, dtype=np.float64)
    along = b - a
    size = np.maximum(np.einsum("ij,ij->i", along, along), np.finfo(np.float64).tiny)
    share = np.clip(np.einsum("ij,ij->i", place - a, along) / size, 0.0, 1.0)
    off = np.linalg.norm(a + share[:, None] * along - place, axis=1)
    crosses = (a[:, 1] > place[1]) != (b[:, 1] > place[1])
    rise = np.where(crosses, along[:, 1], 1.0)
    right = a[:, 0] + (place[1] - a[:, 1]) / rise * along[:, 0] > place[0]
    return bool(off.min() <= reach), bool((crosses & right).sum() % 2)


def pixels_of(
    lines: NDArray[np.float64], perspective: NDArray[np.float64], size: tuple[int, int]
) -> NDArray[np.float64]:
    """(m, 2, 2) where lines of the world (n, 2, 3) are seen, those left out that reach behind the viewer. perspective:
    (4, 4), the view's; size: of the region, pixels."""
    seen = lines @ perspective[:, :3].T + perspective[:, 3]
    seen = seen[(seen[..., 3] > 0.0).all(axis=1)]
    return np.asarray((seen[..., :2] / seen[..., 3:] + 1.0) / 2.0 * np.array(size))


def openings_at(context: bpy.types.Context, at: tuple[float, float]) -> list[bpy.types.Object]:
    """The openings that a click at a pixel of the region means, the nearest to the viewer first: those of which it hits
    a line or the centre, and those inside of whose ring it is with nothing far before it."""
    view, region = context.region_data, context.region
    perspective = np.array(view.perspective_matrix, dtype=np.float64)
    reach = REACH * context.preferences.system.ui_scale
    from_, way = (found(region, view, at) for found in (
        view3d_utils.region_2d_to_origin_3d, view3d_utils.region_2d_to_vector_3d))
    met = []
    for item in context.visible_objects:
        if not is_opening(item) or item.hide_select:
            continue
        ring, arrow = lines_of_opening(context, item)
        (hit, inside), (on_arrow, _) = (
            meets(pixels_of(lines, perspective, (region.width, region.height)), at, reach) for lines in (ring, arrow))
        if hit or on_arrow or (inside and not _covered(context, item, ring, from_, way)):
            met.append(((item.matrix_world.translation - from_).dot(way), item.name, item))
    return [item for _, _, item in sorted(met, key=lambda one: one[:2])]


def _covered(
    context: bpy.types.Context, item: bpy.types.Object, ring: NDArray[np.float64], from_: Vector, way: Vector
) -> bool:
    """Whether something stands before the opening, farther off than the metal it goes through."""
    if context.space_data.shading.show_xray:
        return False
    normal = item.matrix_world.col[2].to_3d()
    slope = way.dot(normal)
    middle = item.matrix_world.translation
    deep = (middle - from_).dot(normal) / slope if abs(slope) > 1e-6 * normal.length else (middle - from_).dot(way)
    hit, place, *_ = context.scene.ray_cast(context.evaluated_depsgraph_get(), from_, way)
    room = PIERCED * float(np.ptp(ring.reshape(-1, 3), axis=0).max(initial=0.0))
    return bool(hit) and (place - from_).dot(way) < deep - room


def next_one(found: list[bpy.types.Object], active: bpy.types.Object | None) -> bpy.types.Object | None:
    """Which of the openings at a place a click means: the first, or the one after that which is active. None after the
    last: so that clicking on reaches what is behind."""
    if active in found and active.select_get():
        found = [*found, None][found.index(active) + 1 :]
    return found[0] if found else None


class TACKWRIGHT_OT_select_opening(bpy.types.Operator):
    """Select this opening and make it active, to move it or to change what it is. """ \
        """In the 3D view a click on its ring, or anywhere inside, does the same"""

    bl_idname = "tackwright.select_opening"
    bl_label = "Select Opening"
    bl_options = {"REGISTER", "UNDO"}

    name: StringProperty(
        name="Opening", description="The opening's name; empty for what is under the mouse",
        options={"HIDDEN", "SKIP_SAVE"},
    )  # fmt: skip
    extend: BoolProperty(
        name="Extend", description="Keep what is selected; an opening that is active is deselected",
        options={"SKIP_SAVE"},
    )  # fmt: skip

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if context.mode not in {"OBJECT", "EDIT_MESH"}:
            cls.poll_message_set("Go to Object Mode first")
        elif not any(item is not None and is_opening(item) for item in context.view_layer.objects):
            cls.poll_message_set("There is no opening: add one in the Openings panel")
        else:
            return True
        return False

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> Ended:
        if self.name:
            self.extend = event.shift
            return self.execute(context)
        space = context.space_data
        if (
            space is None or space.type != "VIEW_3D" or context.region_data is None or not space.overlay.show_overlays
            or event.type != _MOUSE[_selecting_button(context)][0]
        ):
            return {"PASS_THROUGH"}
        found = openings_at(context, (event.mouse_region_x, event.mouse_region_y))
        meant = next_one(found, None if self.extend else context.view_layer.objects.active)
        if meant is None:
            return {"PASS_THROUGH"}
        self.name = meant.name
        return self.execute(context)

    def execute(self, context: bpy.types.Context) -> Ended:
        item = context.view_layer.objects.get(self.name)
        if item is None or not is_opening(item):
            self.report({"WARNING"}, f"There is no opening {self.name}" if self.name else "There is no opening here")
            return {"CANCELLED"}
        if context.mode != "OBJECT":
            bpy.ops.object.mode_set(mode="OBJECT")
        if not self.extend:
            select_only(context, [item])
        elif item.select_get() and context.view_layer.objects.active == item:
            item.select_set(False)
        else:
            item.hide_set(False)
            item.select_set(True)
            context.view_layer.objects.active = item
        return {"FINISHED"}


def _selecting_button(context: bpy.types.Context) -> str:
    """LEFT or RIGHT, as the user's keymap has it."""
    keys = context.window_manager.keyconfigs.active
    return str(getattr(getattr(keys, "preferences", None), "select_mouse", "LEFT"))


CLASSES = (TACKWRIGHT_OT_select_opening,)
_register_classes, _unregister_classes = bpy.utils.register_classes_factory(CLASSES)


def register() -> None:
    _register_classes()
    manager = bpy.context.window_manager
    own = manager.keyconfigs.addon if manager is not None else None
    if own is None:                                      # there are no keys in the background
        return
    keymap = own.keymaps.new(name="Object Mode", space_type="EMPTY")
    for kind, value in _MOUSE.values():
        for shift in (False, True):
            item = keymap.keymap_items.new(TACKWRIGHT_OT_select_opening.bl_idname, kind, value, shift=shift)
            item.properties.extend = shift
            _keys.append((keymap, item))


def unregister() -> None:
    for keymap, item in _keys:
        keymap.keymap_items.remove(item)
    _keys.clear()
    _unregister_classes()
