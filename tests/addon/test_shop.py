"""The Shop panel: shops applied, saved, deleted and shared."""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from tackwright.core.terms.choices import Torch


@pytest.fixture
def shops(kept, tmp_path):
    """The folder of the user's shops."""
    return tmp_path / "user" / "shops"


def habits(item):
    from tackwright.addon.gather.shop_habits import habits_of

    return habits_of(item.tackwright, "mine")


def test_every_built_in_shop_comes_out_as_it_went_in(blender, shops, draw_box):
    from dataclasses import replace

    from tackwright.addon.gather.shop_habits import give_shop
    from tackwright.core.files.shops import BUILT_IN

    item = draw_box(1, 1, 1)
    for shop in BUILT_IN:
        assert give_shop(item.tackwright, shop) == []
        assert blender.ops.tackwright.apply_shop(name=shop.name) == {"FINISHED"}
        assert item.tackwright.shop.name == shop.name
        assert replace(habits(item), tabs=shop.tabs) == replace(shop, name="mine", about="")


def test_applying_leaves_metal_and_thickness(blender, shops, draw_box):
    item = draw_box(1, 1, 1)
    item.tackwright.material, item.tackwright.thickness_mm, item.tackwright.limber_mm = "steel A36", 5.0, 9.0
    blender.ops.tackwright.apply_shop(name="Plasma Table")
    assert (item.tackwright.material, item.tackwright.thickness_mm) == ("steel A36", 5.0)
    assert item.tackwright.limber_mm == 0.0  # a habit, and not one of this shop


def test_applying_is_one_undo_step(blender, shops, draw_box):
    draw_box(1, 1, 1)
    blender.ops.ed.undo_push(message="before")
    blender.ops.tackwright.apply_shop("EXEC_DEFAULT", True, name="Plasma Table")
    assert blender.data.objects["tank"].tackwright.shop.hole_ratio == 2.0
    blender.ops.ed.undo()
    settings = blender.data.objects["tank"].tackwright
    assert (settings.shop.name, settings.shop.hole_ratio, settings.fit_gap_mm) == ("", 1.0, pytest.approx(0.2))


def test_what_was_saved_can_be_applied_to_another(blender, shops, draw_box):
    one = draw_box(1, 1, 1, "one")
    settings = one.tackwright
    settings.corner, settings.overlap, settings.root_gap_mm, settings.tabs = "HALF_OPEN", 0.25, 0.5, False
    settings.tab_width_mm, settings.dxf_units, settings.limber_mm = 22.0, "IN", 12.0
    settings.shop.bed_x_mm, settings.shop.bed_y_mm, settings.shop.thinnest_mm = 3000.0, 1500.0, 1.0
    settings.shop.nozzle_mm, settings.shop.stand_off_mm, settings.shop.torch_length_mm = 13.0, 15.0, 220.0
    settings.shop.hand_mm, settings.shop.lean = 90.0, 30.0
    settings.shop.corner_steel = "OPEN"
    blender.ops.tackwright.save_shop(name="Jo's yard/1")
    assert settings.shop.name == "Jo's yard/1"
    assert len(list(shops.glob("*.toml"))) == 1
    other = draw_box(1, 1, 1, "other")
    blender.ops.tackwright.apply_shop(name="Jo's yard/1")
    assert habits(other) == habits(one)
    assert habits(other).cutter.bed == (3000.0, 1500.0)
    assert habits(other).torch == Torch(nozzle=13.0, stand_off=15.0, length=220.0, lean=30.0, hand=90.0)


def test_saving_over_another_is_only_done_when_told(blender, shops, draw_box):
    item = draw_box(1, 1, 1)
    blender.ops.tackwright.save_shop(name="yard")
    item.tackwright.fit_gap_mm = 0.5
    with pytest.raises(RuntimeError, match="There is a shop 'yard' already"):
        blender.ops.tackwright.save_shop(name="yard")
    blender.ops.tackwright.save_shop(name="yard", replace=True)
    assert "0.25mm" in (shops / "yard.toml").read_text()
    with pytest.raises(RuntimeError, match="'Laser' is built in. Choose another name"):
        blender.ops.tackwright.save_shop(name="Laser", replace=True)
    with pytest.raises(RuntimeError, match="has no name"):
        blender.ops.tackwright.save_shop(name="  ")


def test_two_names_of_one_file_are_kept_apart(blender, shops, draw_box):
    draw_box(1, 1, 1)
    blender.ops.tackwright.save_shop(name="a/b")
    with pytest.raises(RuntimeError, match="same file as 'a/b'"):
        blender.ops.tackwright.save_shop(name="a:b", replace=True)


def test_a_shop_of_ones_own_is_deleted_and_one_built_in_stays(blender, shops, draw_box):
    draw_box(1, 1, 1)
    with pytest.raises(RuntimeError, match="There is no shop of your own to delete"):
        blender.ops.tackwright.delete_shop()
    blender.ops.tackwright.save_shop(name="yard")
    with pytest.raises(RuntimeError, match="'Laser' is no shop of your own. Those built in stay"):
        blender.ops.tackwright.delete_shop(name="Laser")
    assert blender.ops.tackwright.delete_shop() == {"FINISHED"}  # the one that the envelope has
    assert list(shops.iterdir()) == []
    with pytest.raises(RuntimeError, match="There is no shop 'yard'"):
        blender.ops.tackwright.apply_shop(name="yard")


def test_a_shop_is_shared_as_a_file(blender, shops, draw_box, tmp_path):
    item = draw_box(1, 1, 1)
    item.tackwright.fit_gap_mm, item.tackwright.shop.name = 0.35, "theirs"
    blender.ops.tackwright.export_shop(filepath=str(tmp_path / "shared"))
    blender.ops.tackwright.import_shop(filepath=str(tmp_path / "shared.toml"))
    item.tackwright.fit_gap_mm = 0.1
    blender.ops.tackwright.apply_shop(name="theirs")
    assert item.tackwright.fit_gap_mm == pytest.approx(0.35)
    with pytest.raises(RuntimeError, match="There is a shop 'theirs' already"):
        blender.ops.tackwright.import_shop(filepath=str(tmp_path / "shared.toml"))
    assert blender.ops.tackwright.import_shop(filepath=str(tmp_path / "shared.toml"), replace=True) == {"FINISHED"}


def test_a_bad_file_is_named_and_not_kept(blender, shops, tmp_path):
    bad = tmp_path / "bad.toml"
    bad.write_text("[cutter]\nbed = [1]\nholes = 2\n")
    with pytest.raises(RuntimeError, match=r"bad\.toml: cutter\.bed has 1 sides(.|\n)*cutter\.holes is no key"):
        blender.ops.tackwright.import_shop(filepath=str(bad))
    assert not shops.exists()


def test_a_bad_file_in_the_folder_is_shown_and_said_and_hides_no_other(blender, shops, draw_box):
    draw_box(1, 1, 1)
    blender.ops.tackwright.save_shop(name="yard")
    (shops / "bad.toml").write_text("fit_gap = ")
    from tackwright.addon.scene.shop_files import shop_names

    assert shop_names()[0] == "yard"
    with pytest.raises(RuntimeError, match=r"no shop 'bad'(.|\n)*bad\.toml is not TOML"):
        blender.ops.tackwright.apply_shop(name="bad")
    (shops / "bad.toml").write_text("name = 'mended'")
    import os

    os.utime(shops / "bad.toml", (1e9, 1e9))  # another time, whatever the clock's grain
    assert "mended" in shop_names()


def test_a_full_disk_leaves_the_old_file(blender, shops, draw_box, monkeypatch):
    item = draw_box(1, 1, 1)
    blender.ops.tackwright.save_shop(name="yard")
    before = (shops / "yard.toml").read_bytes()
    item.tackwright.fit_gap_mm = 0.9
    from tackwright.addon.host import user_files

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(user_files.os, "replace", full)
    with pytest.raises(RuntimeError, match="was not written: No space left"):
        blender.ops.tackwright.save_shop(name="yard", replace=True)
    assert [p.name for p in shops.iterdir()] == ["yard.toml"]
    assert (shops / "yard.toml").read_bytes() == before


def test_what_an_envelope_has_no_place_for_is_said(blender, shops, draw_box, tmp_path):
    from tackwright.addon.gather.shop_habits import give_shop
    from tackwright.core.files.shops import Shop
    from tackwright.core.terms.choices import TabRule

    left = give_shop(draw_box(1, 1, 1).tackwright, Shop(name="x", tabs=TabRule(width=20.0, flank=9.0, count=2)))
    assert left == ["tabs.flank", "tabs.count"]


def test_the_limits_reach_the_findings(blender, shops, draw_box):
    item = draw_box(0.3, 0.2, 0.1)
    item.tackwright.sealed = True
    item.tackwright.shop.bed_x_mm, item.tackwright.shop.bed_y_mm = 250.0, 150.0
    blender.ops.tackwright.make_plates()
    assert "plate_too_large" in {f.rule for f in item.tackwright.findings}


def test_the_panel_shows_the_shop_and_whether_it_was_left(blender, shops, draw_box, drawn):
    item = draw_box(1, 1, 1)
    assert drawn("shop")[0] == "Apply a Shop"
    blender.ops.tackwright.apply_shop(name="Plasma Table")
    assert drawn("shop")[0] == "Plasma Table"
    item.tackwright.shop.web_ratio = 1.5
    assert drawn("shop")[0] == "Plasma Table *"


def test_the_menu_offers_own_shops_first_and_shows_those_at_fault(blender, shops, draw_box):
    from drawn_panels import Layout

    from tackwright.addon.screen.shop_panel import TACKWRIGHT_MT_shops

    draw_box(1, 1, 1)
    blender.ops.tackwright.save_shop(name="yard")
    (shops / "bad.toml").write_text("fit_gap = ")
    menu = SimpleNamespace(layout=Layout(blender, notes := []))
    menu._offer = TACKWRIGHT_MT_shops._offer.__get__(menu)
    TACKWRIGHT_MT_shops.draw(menu, blender.context)
    assert notes == ["bad.toml", "yard", "Laser", "Laser, Large Bed", "Plasma Table"]


def test_the_users_folder_is_that_of_the_extension_where_there_is_one(add_on, monkeypatch, tmp_path):
    from tackwright.addon.host import user_files

    assert user_files.user_folder().name == "tackwright"
    assert str(user_files.user_folder()).startswith(add_on.utils.user_resource("CONFIG"))
    asked = []
    monkeypatch.setattr(user_files, "PACKAGE", "bl_ext.user_default.tackwright")
    monkeypatch.setattr(
        user_files.bpy.utils, "extension_path_user",
        lambda package, *, path="", create=False: asked.append((package, create)) or str(tmp_path))
    assert user_files.user_folder(create=True) == tmp_path
    assert asked == [("bl_ext.user_default.tackwright", True)]


def test_lengths_are_entered_in_inches_where_the_scene_is(blender, shops, draw_box):
    item = draw_box(1, 1, 1)
    units = blender.context.scene.unit_settings
    for scale in (1.0, 0.0254):
        units.system, units.scale_length = "IMPERIAL", scale
        typed = blender.utils.units.to_value("IMPERIAL", "LENGTH", '1/8"')  # as Blender reads a field: metres
        item.tackwright.thickness = typed / scale
        assert item.tackwright.thickness_mm == pytest.approx(3.175, rel=1e-6)
        item.tackwright.shop.bed_x = blender.utils.units.to_value("IMPERIAL", "LENGTH", "10'") / scale
        assert item.tackwright.shop.bed_x_mm == pytest.approx(3048.0, rel=1e-6)


def test_reports_are_in_the_scenes_units(blender, shops, draw_box, capfd):
    from tackwright.addon.host.shown_lengths import units_of

    draw_box(0.3, 0.2, 0.1)
    scene = blender.context.scene
    assert units_of(scene) == "mm" and units_of(None) == "mm"
    scene.unit_settings.system = "NONE"
    assert units_of(scene) == "mm"
    scene.unit_settings.system = "IMPERIAL"
    assert units_of(scene) == "in"


@pytest.mark.parametrize(("name", "given", "kept"), [
    ("set_gauge", {"gauge": 10}, "thickness_mm"), ("apply_shop", {"name": "Plasma Table"}, "fit_gap_mm")])
def test_in_edit_mode_too_an_undo_takes_back_what_was_set(blender, draw_box, name, given, kept):
    item = draw_box(0.3, 0.2, 0.1)
    item.tackwright.material = "steel A36"
    blender.ops.object.mode_set(mode="EDIT")
    blender.ops.ed.undo_push(message="edited")
    before = getattr(item.tackwright, kept)
    assert getattr(blender.ops.tackwright, name)("EXEC_DEFAULT", True, **given) == {"FINISHED"}
    assert getattr(blender.data.objects["tank"].tackwright, kept) != before
    blender.ops.ed.undo()
    assert getattr(blender.data.objects["tank"].tackwright, kept) == before


def test_where_no_file_can_be_written_it_is_said(blender, draw_box, tmp_path):
    draw_box(0.3, 0.2, 0.1)
    (tmp_path / "file").write_text("")
    with pytest.raises(RuntimeError, match="was not written: .*Choose another folder"):
        blender.ops.tackwright.export_shop(filepath=str(tmp_path / "file" / "shop.toml"))
