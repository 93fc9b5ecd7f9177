"""Settings on the object: their units, what the core is told, and that files keep them."""

from __future__ import annotations

import importlib
import pkgutil

import numpy as np
import pytest


def read(item):
    from tackwright.addon.scene.properties import read_settings

    return read_settings(item.tackwright)


def test_an_untouched_object_has_the_defaults_of_the_core(draw_box):
    from tackwright.core.terms.choices import Settings, TabRule

    assert read(draw_box(1, 1, 1)) == Settings(tabs=TabRule(on=True))


@pytest.mark.parametrize(
    ("system", "scale", "shown"),
    [
        ("METRIC", 1.0, 0.004),  # a unit is a metre
        ("METRIC", 0.001, 4.0),  # a unit is a millimetre
        ("IMPERIAL", 0.3048, 0.004 / 0.3048),  # a unit is a foot
        ("NONE", 0.001, 0.004),  # bare numbers: Blender leaves the scale out
    ],
)
def test_lengths_are_shown_in_the_scenes_units(blender, draw_box, system, scale, shown):
    blender.context.scene.unit_settings.system = system
    blender.context.scene.unit_settings.scale_length = scale
    settings = draw_box(1, 1, 1).tackwright
    settings.thickness = shown
    assert settings.thickness_mm == pytest.approx(4.0, rel=1e-6)
    assert settings.thickness == pytest.approx(shown, rel=1e-6)


def test_a_plate_keeps_its_thickness_when_the_unit_scale_changes(blender, draw_box):
    item = draw_box(1, 1, 1)
    item.tackwright.thickness = 0.006
    blender.context.scene.unit_settings.scale_length = 0.001
    assert item.tackwright.thickness == pytest.approx(6.0)
    assert read(item).thickness == 6.0


@pytest.mark.parametrize("mm", [0.1, 0.8, 1.2, 3.175, 12.7, 123.456])
def test_single_precision_leaves_no_noise_in_a_length(draw_box, mm):
    item = draw_box(1, 1, 1)
    item.tackwright.thickness = mm / 1000
    assert read(item).thickness == mm


def test_zero_for_a_tab_means_not_chosen(draw_box):
    item = draw_box(1, 1, 1)
    assert (read(item).tabs.width, read(item).tabs.spacing) == (None, None)
    item.tackwright.tab_width, item.tackwright.tab_spacing = 0.02, 0.15
    assert (read(item).tabs.width, read(item).tabs.spacing) == (20.0, 150.0)


def test_settings_of_inner_plates_and_openings_reach_the_core(draw_box):
    item = draw_box(1, 1, 1)
    item.tackwright.reach, item.tackwright.tab_short, item.tackwright.slot_relief = 0.025, 0.001, 0.0005
    item.tackwright.limber, item.tackwright.hole_radius, item.tackwright.sealed = 0.012, 0.002, True
    found = read(item)
    assert (found.reach, found.tab_short, found.slot_relief) == (25.0, 1.0, 0.5)
    assert (found.limber, found.hole_radius, found.sealed) == (12.0, 2.0, True)


def test_settings_of_cuts_and_files_reach_the_core(draw_box):
    item = draw_box(1, 1, 1)
    assert (read(item).jog, read(item).note, read(item).file_names) == (0.3, True, "{mark}_{name}")
    item.tackwright.jog, item.tackwright.note, item.tackwright.file_names = 0.0005, False, "{mark}_{quantity}x"
    assert (read(item).jog, read(item).note, read(item).file_names) == (0.5, False, "{mark}_{quantity}x")


def test_overlap_counts_only_at_half_open_corners(draw_box):
    item = draw_box(1, 1, 1)
    item.tackwright.overlap = 0.25
    assert (read(item).corner, read(item).overlap) == (None, None)
    item.tackwright.corner = "HALF_OPEN"
    assert (read(item).corner, read(item).overlap) == ("half-open", 0.25)


def test_every_material_can_be_chosen(draw_box):
    from tackwright.core.stock.materials import MATERIALS

    item = draw_box(1, 1, 1)
    for material in MATERIALS:
        item.tackwright.material = material.name
        assert (item.tackwright.material, read(item).material) == (material.name, material.name)


def test_every_number_of_a_menu_comes_through_a_click(add_on, draw_box):
    from tackwright import addon
    from tackwright.addon.scene.metals import metal_items

    metals = {name: number for name, _, _, number in metal_items(draw_box(1, 1, 1).tackwright, None)}
    assert len(set(metals.values())) == len(metals) == 11
    menus = {"material": metals} | {
        f"{kind.__name__}.{one.identifier}": {item.identifier: item.value for item in one.enum_items}
        for kind in registered(addon)
        for one in kind.bl_rna.properties
        if one.type == "ENUM"
    }
    assert len(menus) > 20
    # Blender hands on what is clicked in single precision (numpy's float32 is that)
    every = [(menu, name, number) for menu, numbers in menus.items() for name, number in numbers.items()]
    assert not [one for one in every if int(np.float32(one[2])) != one[2]]


def registered(addon):
    """The classes of the add-on that have properties."""
    for found in pkgutil.walk_packages(addon.__path__, f"{addon.__name__}."):
        module = importlib.import_module(found.name)
        yield from (one for one in getattr(module, "CLASSES", ()) if hasattr(one, "bl_rna"))


@pytest.mark.parametrize(
    ("kind", "name", "numbers"),
    [
        ("TackwrightOpening", "purpose", {"PORT": 0, "VENT": 1, "DRAIN": 2, "HAND_HOLE": 3}),
        ("TackwrightOpening", "shape", {"ROUND": 0, "SLOT": 1, "RECTANGLE": 2}),
        ("TackwrightInner", "metal_side", {"AS_ENVELOPE": 0, "OUTSIDE": 1, "INSIDE": 2, "CENTRED": 3}),
    ],
)
def test_the_number_that_a_file_keeps_for_a_choice_never_changes(add_on, kind, name, numbers):
    from tackwright.addon.scene import inner_marks, opening_objects

    group = next(c for c in (*inner_marks.CLASSES, *opening_objects.CLASSES) if c.__name__ == kind)
    assert {item.identifier: item.value for item in group.bl_rna.properties[name].enum_items} == numbers


def test_the_number_of_a_material_in_menus_never_changes():
    pytest.importorskip("bpy", reason="bpy is not installed: the add-on is not tested")
    from tackwright.addon.scene.metals import metal_number

    assert metal_number("aluminium 5052-H32") == 0x22FDCE  # the upper 24 bits of CRC-32 (as gzip has it)


def test_settings_are_saved_and_opened_again(blender, draw_box, tmp_path):
    item = draw_box(0.3, 0.2, 0.1)
    chosen = {
        "material": "stainless 316", "thickness_mm": 2.0, "metal_side": "OUTSIDE", "corner": "HALF_OPEN",
        "overlap": 0.25, "root_gap_mm": 1.5, "tabs": False, "fit_gap_mm": 0.2, "tab_width_mm": 14.0,
        "tab_spacing_mm": 90.0, "reach_mm": 25.0, "tab_short_mm": 1.0, "slot_relief_mm": 0.4, "limber_mm": 12.0,
        "hole_radius_mm": 2.0, "fittings_file": "//own.csv", "sealed": True,
        "jog_mm": 0.5, "note": False, "file_names": "{mark}",
        "etch": False, "dxf_units": "IN", "folder": "//cut", "kit_name": "bow tank",
    }  # fmt: skip
    for name, value in chosen.items():
        setattr(item.tackwright, name, value)
    before = read(item)
    path = str(tmp_path / "tank.blend")
    blender.ops.wm.save_as_mainfile(filepath=path)
    blender.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)
    blender.ops.wm.open_mainfile(filepath=path)
    again = blender.data.objects["tank"]
    assert read(again) == before
    for name, value in chosen.items():
        assert getattr(again.tackwright, name) == pytest.approx(value), name


def test_a_copy_of_an_object_has_settings_of_its_own(blender, draw_box):
    item = draw_box(1, 1, 1)
    item.tackwright.thickness_mm = 5.0
    copy = item.copy()
    copy.tackwright.thickness_mm = 2.0
    assert (read(item).thickness, read(copy).thickness) == (5.0, 2.0)
