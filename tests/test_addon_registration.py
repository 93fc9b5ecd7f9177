"""Registering and unregistering, and what a register() that fails half-way leaves behind."""

from __future__ import annotations

import subprocess
import sys

import pytest


def test_three_cycles_leave_a_working_add_on(blender, draw_box):
    import tackwright

    for _ in range(3):
        tackwright.unregister()
        assert not hasattr(blender.types.Object, "tackwright")
        assert not hasattr(blender.types, "TACKWRIGHT_OT_make_plates")
        tackwright.register()
    draw_box(0.3, 0.2, 0.1)
    assert blender.ops.tackwright.make_plates() == {"FINISHED"}


def test_a_part_that_fails_rolls_the_others_back(blender, monkeypatch):
    import tackwright
    from tackwright.addon import panels

    tackwright.unregister()
    try:
        with monkeypatch.context() as broken:
            broken.setattr(panels, "register", lambda: 1 / 0)
            with pytest.raises(ZeroDivisionError):
                tackwright.register()
        assert not hasattr(blender.types.Object, "tackwright")
    finally:
        tackwright.register()  # fails with "already registered" if a class was left
    assert hasattr(blender.types, "TACKWRIGHT_PT_kit")


def test_registering_does_not_load_the_solid_library():
    code = "import bpy, sys, tackwright; tackwright.register(); print({'manifold3d', 'ezdxf'} & set(sys.modules))"
    pytest.importorskip("bpy", reason="bpy is not installed: the add-on is not tested")
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.stdout.splitlines()[-1:] == ["set()"], done.stderr


@pytest.mark.parametrize("name", ["make_plates", "export_kit", "select_finding"])
def test_an_operator_has_a_title_and_a_tooltip_without_a_full_stop(blender, name):
    operator = getattr(blender.ops.tackwright, name).get_rna_type()
    assert operator.name.istitle() or operator.name == "Select in Edit Mode"
    assert operator.description and not operator.description.endswith(".")


def test_every_setting_has_a_name_and_a_tooltip(blender, draw_box):
    shown = [p for p in draw_box(1, 1, 1).tackwright.bl_rna.properties if not p.is_hidden]
    inner = {"rna_type", "name", "summary", "findings", "active_finding"}  # kept for the panel, never typed in
    assert len(shown) > 12
    for setting in shown:
        if setting.identifier not in inner:
            assert setting.description, setting.identifier
            assert setting.name != setting.identifier, setting.identifier
