"""How the plates are seen: in place, spread apart, laid flat beside the model, or not at all. Nothing is solved for
it: every plate object knows its places."""

# No `from __future__ import annotations`: Blender reads the annotations as properties.

from collections.abc import Iterator
from typing import Any

import bpy
from bpy.props import BoolProperty, EnumProperty, FloatProperty, PointerProperty, StringProperty
from mathutils import Matrix, Vector

from ...core.kit.ways_out import share_of_way
from ..host.shown_lengths import mm_per_unit
from .plate_objects import collections_of, home_of_plate, plate_objects
from .sidebar import CONTEXT

__all__ = ["apply_view", "draw_views", "home_matrix", "view_of"]

STILL = 1e-6
"""In the scene's units and of directions: an object nearer than this to its place is left alone, so that nothing is
redrawn that did not change. A few steps of single precision near 1, for a turn is kept as three angles."""


ICON = 4
"""Width of an icon and the room round a label, in letters."""


def _changed(self: "TackwrightView", context: bpy.types.Context) -> None:
    item: Any = self.id_data                             # an object: it hangs at no other
    apply_view(context, item)


class TackwrightView(bpy.types.PropertyGroup):
    """How the plates of an envelope are seen. drawn_as: the user's own way of drawing the envelope, while a view
    draws it as wires; empty while no view does."""

    view: EnumProperty(
        name="View",
        description="How the plates are seen",
        items=[
            ("SOLID", "Solid", "The plates in place, the envelope as wires round them", "MESH_CUBE", 0),
            ("SPREAD", "Spread", "The plates drawn out of each other, each along its own way", "FULLSCREEN_ENTER", 1),
            ("FLAT", "Flat", "The plates lying beside the envelope as they are cut, outside face up. Home shows all",
             "MESH_GRID", 2),
            ("BARE", "Bare", "The envelope alone, as it is drawn; the plates are hidden", "MESH_PLANE", 3),
        ],
        default="SOLID",
        update=_changed,
        translation_context=CONTEXT,
    )
    spread: FloatProperty(
        name="Spread",
        description="How far the plates are drawn out of each other: the walls first, then what they held",
        subtype="FACTOR", min=0.0, max=5.0, soft_max=1.0, default=0.6,
        update=_changed, translation_context=CONTEXT,
    )  # fmt: skip
    marks: BoolProperty(
        name="Marks", description="Write the piece mark on every plate while they are spread or flat", default=True
    )
    drawn_as: StringProperty(options={"HIDDEN"})


def view_of(envelope: bpy.types.Object) -> str:
    """SOLID, SPREAD, FLAT or BARE."""
    return str(envelope.tackwright_view.view)


def home_matrix(item: bpy.types.Object, scene: bpy.types.Scene | None = None) -> Matrix:
    """Where a plate stands in the assembly, whatever view is on: its matrix in the world, in the scene's units. Of an
    object that is no plate, or one made by an earlier version: where it is."""
    plate = item.tackwright_plate
    if not plate.placed:
        return item.matrix_world.copy()
    return home_of_plate(plate, mm_per_unit(scene or bpy.context.scene))


def apply_view(context: bpy.types.Context, envelope: bpy.types.Object) -> None:
    """Bring the envelope's plates to where its view has them, and show or hide them and the envelope's faces."""
    chosen, mm = envelope.tackwright_view, mm_per_unit(context.scene)
    items = plate_objects(envelope)
    for item in items:
        if item.tackwright_plate.placed:
            _bring(item, _seen_at(item, chosen, mm))
    for collection in collections_of(envelope):
        _hide(collection, chosen.view == "BARE")
    if envelope.library is None:
        _know_wires_of_before(envelope, items)
        _draw_envelope(envelope, as_wires=bool(items) and chosen.view in {"SOLID", "SPREAD"})


def _seen_at(item: bpy.types.Object, chosen: TackwrightView, mm: float) -> Matrix:
    plate = item.tackwright_plate
    if chosen.view == "FLAT":
        return Matrix.Translation(Vector(plate.flat) / mm)
    home = home_of_plate(plate, mm)
    if chosen.view == "SPREAD":
        share = share_of_way(plate.begin, plate.end, chosen.spread)
        home.translation += Vector(plate.way) * (share / mm)
    return home


def _bring(item: bpy.types.Object, place: Matrix) -> None:
    if item.parent is None and not item.constraints:
        off = item.matrix_basis - place
        if max(abs(value) for row in off for value in row) <= STILL:
            return
    item.matrix_world = place


def _hide(collection: bpy.types.Collection, hidden: bool) -> None:
    """Hide or show the collection where the eye in the Outliner does: kept in the file, and apart from what the user
    hid one by one. Only a change of view does so, that the user may have it otherwise meanwhile."""
    group = collection.tackwright_plates
    if group.hidden == hidden:
        return
    group.hidden = hidden
    for layer in _layers_of(collection):
        layer.hide_viewport = hidden


def _layers_of(collection: bpy.types.Collection) -> Iterator[bpy.types.LayerCollection]:
    """Where the collection stands in the view layers of all scenes."""
    for scene in bpy.data.scenes:
        for view_layer in scene.view_layers:
            yield from _found_under(view_layer.layer_collection, collection)


def _found_under(layer: bpy.types.LayerCollection, wanted: bpy.types.Collection) -> Iterator[bpy.types.LayerCollection]:
    if layer.collection == wanted:
        yield layer
    for child in layer.children:
        yield from _found_under(child, wanted)


def _know_wires_of_before(envelope: bpy.types.Object, items: list[bpy.types.Object]) -> None:
    """An earlier version drew the envelope as wires and kept no word of it."""
    before = bool(items) and not any(item.tackwright_plate.placed for item in items)
    if before and envelope.display_type == "WIRE" and not envelope.tackwright_view.drawn_as:
        envelope.tackwright_view.drawn_as = "TEXTURED"


def _draw_envelope(envelope: bpy.types.Object, as_wires: bool) -> None:
    """Draw the envelope as wires, or its faces would cover the plates in them, and as the user had it when it is seen
    alone. Only a change does so: what the user sets meanwhile stays."""
    chosen = envelope.tackwright_view
    if bool(chosen.drawn_as) == as_wires:
        return
    if as_wires:
        chosen.drawn_as = envelope.display_type
        if envelope.display_type in {"SOLID", "TEXTURED"}:
            envelope.display_type = "WIRE"
    else:
        if envelope.display_type == "WIRE":
            envelope.display_type = chosen.drawn_as
        chosen.drawn_as = ""


def draw_views(layout: bpy.types.UILayout, envelope: bpy.types.Object) -> None:
    """The choice of view, where there are plates to be seen, and what belongs to the one chosen."""
    collections = collections_of(envelope)
    if not collections:
        return
    chosen = envelope.tackwright_view
    column = layout.column(align=True)
    if envelope.library is not None:
        column.label(text="Linked: views cannot be kept", icon="LINKED")
        return
    row = column.row(align=True)
    for item in chosen.bl_rna.properties["view"].enum_items:  # one by one, so that each is as wide as its word needs
        part = row.row(align=True)
        part.scale_x = (ICON + len(item.name)) / (ICON + len("Solid"))
        part.prop_enum(chosen, "view", item.identifier)
    if chosen.view == "SPREAD":
        column.prop(chosen, "spread", slider=True)
    if chosen.view in {"SPREAD", "FLAT"}:
        layout.prop(chosen, "marks")
        if not any(item.tackwright_plate.placed for c in collections for item in c.objects):
            layout.label(text="Make Plates again to move them", icon="INFO")
    if chosen.view != "BARE" and (reason := _why_out_of_sight(bpy.context, collections)):
        layout.label(text=reason, icon="HIDE_ON")


def _why_out_of_sight(context: bpy.types.Context, collections: list[bpy.types.Collection]) -> str:
    """Why none of the plates is seen; empty where some are."""
    root = context.view_layer.layer_collection
    if not any(layer.is_visible for c in collections for layer in _found_under(root, c)):
        return "Plates are hidden in the Outliner"
    space = context.space_data
    if space is not None and space.type == "VIEW_3D" and space.local_view is not None:
        plates = {item for c in collections for item in c.objects}
        if plates.isdisjoint(context.visible_objects):
            return "Plates are outside this local view"
    return ""


CLASSES = (TackwrightView,)
_register_classes, _unregister_classes = bpy.utils.register_classes_factory(CLASSES)


def register() -> None:
    _register_classes()
    bpy.types.Object.tackwright_view = PointerProperty(type=TackwrightView, name="Tackwright View")


def unregister() -> None:
    del bpy.types.Object.tackwright_view
    _unregister_classes()
