"""Registering and unregistering, and what a register() that fails half-way leaves behind."""

from __future__ import annotations

import subprocess
import sys

import pytest


def test_three_cycles_leave_a_working_add_on(blender, draw_box):
    import tackwright

    for _ in range(3):
        tackwright.unregister()
        assert not [name for name in dir(blender.types.Object) if name.startswith("tackwright")]
        assert not [name for name in dir(blender.types) if name.startswith(("TACKWRIGHT", "Tackwright"))]
        tackwright.register()
    draw_box(0.3, 0.2, 0.1)
    assert blender.ops.tackwright.make_plates() == {"FINISHED"}


def test_a_part_that_fails_rolls_the_others_back(blender, monkeypatch):
    import tackwright
    from tackwright.addon.screen import envelope_panels

    tackwright.unregister()
    try:
        with monkeypatch.context() as broken:
            broken.setattr(envelope_panels, "register", lambda: 1 / 0)
            with pytest.raises(ZeroDivisionError):
                tackwright.register()
        assert not [name for name in dir(blender.types.Object) if name.startswith("tackwright")]
    finally:
        tackwright.register()  # fails with "already registered" if a class was left
    assert hasattr(blender.types, "TACKWRIGHT_PT_kit")


def test_registering_does_not_load_the_solid_library():
    code = "import bpy, sys, tackwright; tackwright.register(); print({'manifold3d', 'ezdxf'} & set(sys.modules))"
    pytest.importorskip("bpy", reason="bpy is not installed: the add-on is not tested")
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.stdout.splitlines()[-1:] == ["set()"], done.stderr


OPERATORS = (
    "make_plates", "edit_envelope", "export_kit", "select_finding", "show_finding", "apply_remedy", "mark_faces",
    "assign_inner", "unassign_inner", "add_opening",
    "perforate_faces", "clear_perforation", "remove_perforation", "add_band", "remove_band",
    "set_face_metal", "select_like_face", "clear_face", "set_joint", "swap_through", "select_like_joint", "clear_joint",
    "first_scene", "new_envelope", "open_job",
    "apply_shop", "save_shop", "delete_shop", "import_shop", "export_shop", "add_material", "remove_material",
    "import_materials", "export_materials", "keep_material", "set_gauge", "cancel_export", "open_kit",
    "true_faces", "pin_vertices", "unpin_vertices",
    "use_scan", "clear_scan", "set_patch", "square_up", "known_distance", "check_clearance", "show_tight_place",
    "select_collisions", "select_opening",
)  # fmt: skip


def test_every_operator_is_among_those_looked_at_here(blender):
    assert sorted(dir(blender.ops.tackwright)) == sorted(OPERATORS)


@pytest.mark.parametrize("name", OPERATORS)
def test_an_operator_has_a_title_and_a_tooltip_without_a_full_stop(blender, name):
    operator = getattr(blender.ops.tackwright, name).get_rna_type()
    assert operator.name.istitle() or operator.name == "Select in Edit Mode"
    assert operator.description and not operator.description.endswith(".")


@pytest.mark.parametrize(
    ("kind", "least"),
    [("TackwrightSettings", 20), ("TackwrightInner", 3), ("TackwrightOpening", 15), ("TackwrightField", 4),
     ("TackwrightBand", 2), ("TackwrightShop", 10)],
)  # fmt: skip
def test_every_setting_has_a_name_and_a_tooltip(add_on, kind, least):
    from tackwright.addon import PARTS

    (group,) = (c for part in PARTS for c in getattr(part, "CLASSES", ()) if c.__name__ == kind)
    shown = [p for p in group.bl_rna.properties if not p.is_hidden]
    inner = {"rna_type", "name", "summary", "findings", "active_finding", "number"}  # never typed in
    assert len(shown) > least
    for setting in shown:
        if setting.identifier not in inner:
            assert setting.description, setting.identifier
            assert setting.name != setting.identifier, setting.identifier
