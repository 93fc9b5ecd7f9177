"""Files of other versions of the extension: nothing is lost, and what is to be said is said once."""

from __future__ import annotations

import pytest
from demo_kits import cut_by_panel, made, openings_of
from repo_paths import ROOT

OLD = ROOT / "tests" / "data" / "bow_tank_before_versions.blend"
"""The demo tank as the first version of the extension saved it, from Blender 4.2."""


def kit_of(blender, envelope):
    from tackwright.addon.gather.gather import read_drawing
    from tackwright.core.make_kit import make_kit

    drawing = read_drawing(blender.context, envelope)
    return make_kit(drawing.mesh, drawing.choices, name=envelope.name)


def reopened(blender, tmp_path):
    path = str(tmp_path / "again.blend")
    blender.ops.wm.save_as_mainfile(filepath=path)
    blender.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)
    blender.ops.wm.open_mainfile(filepath=path)


def test_a_file_of_the_first_version_loses_nothing(blender):
    from tackwright.addon.scene.migrate import SETTINGS

    blender.ops.wm.open_mainfile(filepath=str(OLD))
    tank = blender.context.object
    drawn, wanted = kit_of(blender, tank), made("bow_tank")
    assert openings_of(drawn) == openings_of(wanted)
    ours, theirs = cut_by_panel(drawn), cut_by_panel(wanted)
    assert ours.keys() == theirs.keys()
    for panel, numbers in ours.items():
        assert numbers == pytest.approx(theirs[panel], rel=1e-6), panel
    assert tank.tackwright.material == "aluminium 5052-H32"
    owned = [o for o in blender.data.objects if o.tackwright_opening.enabled or o == tank]
    assert {o.tackwright_version for o in owned} == {SETTINGS}


def test_it_is_the_same_after_it_was_saved_anew(blender, tmp_path):
    blender.ops.wm.open_mainfile(filepath=str(OLD))
    before = cut_by_panel(kit_of(blender, blender.context.object))
    reopened(blender, tmp_path)
    assert cut_by_panel(kit_of(blender, blender.data.objects["Bow tank"])) == before


def test_what_is_saved_has_the_number_of_this_version(blender, draw_box, tmp_path):
    from tackwright.addon.scene.migrate import SETTINGS

    draw_box(0.3, 0.2, 0.1).tackwright.thickness_mm = 5.0
    blender.ops.object.camera_add()
    reopened(blender, tmp_path)
    assert blender.data.objects["tank"].tackwright_version == SETTINGS
    assert blender.data.objects["Camera"].tackwright_version == 0      # nothing of ours is on it


@pytest.fixture
def step(monkeypatch):
    """A later version, which keeps kit names in capitals."""
    from tackwright.addon.scene import migrate

    def capitals(item):
        before = item.tackwright.kit_name
        item.tackwright.kit_name = before.upper()
        return item.tackwright.kit_name != before

    later = migrate.SETTINGS + 1
    monkeypatch.setattr(migrate, "SETTINGS", later)
    monkeypatch.setitem(migrate.STEPS, later, capitals)
    return later


def test_an_older_file_is_brought_up_to_date_and_says_so_once(blender, draw_box, drawn, tmp_path, request):
    draw_box(0.3, 0.2, 0.1).tackwright.kit_name = "tank"
    path = str(tmp_path / "old.blend")
    blender.ops.wm.save_as_mainfile(filepath=path)
    later = request.getfixturevalue("step")
    blender.ops.wm.open_mainfile(filepath=path)
    tank = blender.data.objects["tank"]
    assert (tank.tackwright.kit_name, tank.tackwright_version) == ("TANK", later)
    assert "older Tackwright" in " ".join(drawn("start"))
    reopened(blender, tmp_path)
    assert blender.data.objects["tank"].tackwright.kit_name == "TANK"
    assert "older" not in " ".join(drawn("start"))


def test_a_file_that_was_open_before_the_extension_is_brought_up_to_date_when_saved(blender, draw_box, step, tmp_path):
    item = draw_box(0.3, 0.2, 0.1)
    item.tackwright.kit_name = "tank"
    blender.ops.wm.save_as_mainfile(filepath=str(tmp_path / "a.blend"))
    assert (item.tackwright.kit_name, item.tackwright_version) == ("TANK", step)


def test_a_newer_file_is_opened_with_a_warning_and_keeps_its_number(blender, draw_box, drawn, tmp_path):
    from tackwright.addon.scene.migrate import SETTINGS

    item = draw_box(0.3, 0.2, 0.1)
    item.tackwright_version, item.tackwright.kit_name = SETTINGS + 5, "tank"
    for _ in range(2):
        reopened(blender, tmp_path)
        blender.context.view_layer.objects.active = blender.data.objects["tank"]
        assert "saved by a newer Tackwright" in " ".join(drawn("start"))
        assert blender.data.objects["tank"].tackwright_version == SETTINGS + 5
    blender.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)
    assert "newer" not in " ".join(drawn("start"))


def test_linked_objects_are_left_as_their_file_has_them(blender, draw_box, step, tmp_path):
    item = draw_box(0.3, 0.2, 0.1)
    item.tackwright.kit_name = "tank"
    library = str(tmp_path / "library.blend")
    blender.data.libraries.write(library, {item})                # no saving of the file: no number
    blender.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)
    with blender.data.libraries.load(library, link=True) as (_, wanted):
        wanted.objects = ["tank"]
    blender.context.scene.collection.objects.link(wanted.objects[0])
    reopened(blender, tmp_path)
    assert blender.data.objects["tank"].tackwright.kit_name == "tank"


# Names and numbers that files of the first version hold. They keep their meaning for ever.
KEPT = {
    "tackwright": "material thickness_mm metal_side corner overlap root_gap_mm tabs fit_gap_mm tab_width_mm "
    "tab_spacing_mm reach_mm tab_short_mm slot_relief_mm limber_mm hole_radius_mm fittings_file sealed fields "
    "active_field last_field etch dxf_units folder kit_name summary findings active_finding",
    "tackwright_inner": "envelope thickness_mm metal_side",
    "tackwright_opening": "enabled envelope purpose fitting shape size_x_mm size_y_mm radius_mm along_axis all_along "
    "bolts bolt_count bolt_circle_mm bolt_hole_mm bolt_turn",
    "tackwright_plate": "placement panel made_as",
}


@pytest.mark.parametrize("group", KEPT)
def test_the_names_of_the_first_version_are_still_there(blender, draw_box, group):
    known = getattr(draw_box(1, 1, 1), group).bl_rna.properties
    assert not [name for name in KEPT[group].split() if name not in known]


def test_the_numbers_of_the_first_versions_choices_are_still_the_same(blender, draw_box):
    known = draw_box(1, 1, 1).tackwright.bl_rna.properties
    numbers = {item.identifier: item.value for item in known["metal_side"].enum_items}
    assert numbers == {"INSIDE": 1, "CENTRED": 2, "OUTSIDE": 0}
    numbers = {item.identifier: item.value for item in known["corner"].enum_items}
    assert {"BY_MATERIAL": 0, "OPEN": 1, "HALF_OPEN": 2, "CLOSED": 3}.items() <= numbers.items()
    assert {item.identifier: item.value for item in known["dxf_units"].enum_items} == {"MM": 0, "IN": 1}
