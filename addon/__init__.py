"""Tackwright inside Blender: one source of envelopes and one viewer of kits. No geometry is computed here."""

from __future__ import annotations

import contextlib

from .edit import (
    face_operators,
    first_scene,
    flatten,
    joint_operators,
    metal_operators,
    perforate_faces,
    preferences,
    shop_operators,
)
from .findings import place_overlay, shown_findings
from .gather import add_opening
from .host import background
from .kit import apply_remedy, edit_envelope, export_kit, export_watch, live_watch, make_plates, open_kit
from .scene import (
    field_settings,
    finding_group,
    inner_marks,
    migrate,
    opening_objects,
    own_metals,
    pins,
    plate_names,
    plate_objects,
    properties,
    shop_settings,
    space,
    views,
)
from .screen import (
    choice_overlay,
    choosing_menus,
    choosing_panels,
    clearance_overlay,
    drawing_panel,
    envelope_panels,
    figures_panel,
    findings_panel,
    inside_panels,
    kit_panel,
    opening_overlay,
    opening_panel,
    pick_opening,
    plate_marks,
    plates_panel,
    shop_panel,
    space_panel,
    start_panel,
)
from .space import clearance_work, look_for_room, scan_operators

PARTS = (
    plate_names, field_settings, own_metals, shop_settings, finding_group, properties, plate_objects, views,
    inner_marks, opening_objects, migrate, shown_findings, pins, flatten, make_plates, edit_envelope, apply_remedy,
    export_watch, export_kit, open_kit, add_opening, perforate_faces, joint_operators, face_operators, first_scene,
    space, scan_operators, clearance_work, look_for_room, metal_operators, shop_operators, preferences, shop_panel,
    start_panel, opening_panel, plates_panel, choosing_panels, choosing_menus, findings_panel, figures_panel,
    space_panel, drawing_panel, envelope_panels, inside_panels, kit_panel, choice_overlay, opening_overlay,
    clearance_overlay, place_overlay, plate_marks, pick_opening, live_watch, background,
)  # fmt: skip
"""In the order of registration: settings before what refers to them; the work in the background last, so that it is
stopped before anything else goes. Panels say their own place by bl_order."""


def register() -> None:
    """Register every part, or none: the host does not call `unregister` after a `register` that failed."""
    with contextlib.ExitStack() as undo:
        for part in PARTS:
            part.register()
            undo.callback(part.unregister)
        undo.pop_all()


def unregister() -> None:
    """Unregister every part, the last first, also after one that fails."""
    with contextlib.ExitStack() as undo:
        for part in PARTS:
            undo.callback(part.unregister)
