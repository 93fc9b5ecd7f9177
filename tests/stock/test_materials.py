"""The table of metals, and finding one by what people call it."""

from __future__ import annotations

import pytest

from tackwright.core.stock.materials import MATERIALS, find_material
from tackwright.core.terms.choices import Settings
from tackwright.core.terms.errors import InputError


@pytest.mark.parametrize(
    ("name", "density", "source"),
    [
        ("aluminium 5052-H32", 2680, "Aluminum Design Manual table 3.3-1M"),
        ("aluminium 5052-O", 2680, "Aluminum Design Manual table 3.3-1M"),
        ("aluminium 6061-T6", 2700, "from memory: ASTM B209"),
        ("aluminium 3003-H14", 2730, "from memory: ASTM B209"),
        ("aluminium 5083-H116", 2660, "Aluminum Design Manual"),
        ("steel A36", 7850, "ASTM A36"),
        ("steel S235JR", 7850, "from memory: EN 10025-2"),
        ("steel DC01", 7850, "from memory: EN 10130"),
        ("stainless 304", 7930, "from memory: ASTM A240"),
        ("stainless 316", 7980, "from memory: ASTM A240"),
        ("steel weathering", 7850, "ASTM A588"),
    ],
)
def test_density(name, density, source):
    material = find_material(name)
    assert material.name == name
    assert material.density == density, source
    assert source.removeprefix("from memory: ").split(" table")[0] in material.density_source
    assert material.density_source.startswith("from memory") == source.startswith("from memory")


def test_the_mass_of_a_sheet_agrees_with_a_printed_one():
    # one square metre of 1 mm: 2.680 kg 5052, 7.850 steel, 7.930 stainless 304 (trade tables)
    for name, mass in (("5052", 2.680), ("steel", 7.850), ("304", 7.930)):
        assert find_material(name).density * 1e-3 == pytest.approx(mass)


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("5052", "aluminium 5052-H32"), ("5052-h32", "aluminium 5052-H32"), ("Aluminum 5052 H32", "aluminium 5052-H32"),
        ("aluminum", "aluminium 5052-H32"), ("5052-O", "aluminium 5052-O"), ("6061", "aluminium 6061-T6"),
        ("6061 T6", "aluminium 6061-T6"), ("304", "stainless 304"), ("Stainless Steel", "stainless 304"),
        ("316L", "stainless 316"), ("mild steel", "steel A36"), ("a36", "steel A36"), ("S235", "steel S235JR"),
        ("dc01", "steel DC01"), ("Weathering Steel", "steel weathering"), ("5083", "aluminium 5083-H116"),
    ],
)
def test_a_material_is_found_by_what_people_call_it(text, name):
    assert find_material(text).name == name


def test_every_name_finds_its_own_material():
    for material in MATERIALS:
        for name in (material.name, *material.also):
            assert find_material(name) is material


def test_an_unknown_material_is_refused_with_what_there_is():
    with pytest.raises(InputError, match="'oak' is not known. There is aluminium 5052-H32, .*steel weathering"):
        find_material("oak")
    with pytest.raises(InputError, match="Did you mean 'aluminium 5083-H116'"):
        find_material("5038")
    with pytest.raises(InputError, match="material '' is not known"):
        find_material("")


def test_only_6061_cracks_without_filler():
    assert [m.name for m in MATERIALS if m.needs_filler] == ["aluminium 6061-T6"]


def test_aluminium_corners_are_left_open_for_filler_and_steel_is_butted():
    # common practice, no source
    assert {m.family: m.default_corner for m in MATERIALS} == {
        "aluminium": "open", "steel": "closed", "stainless": "closed",
    }


def test_the_default_material_is_in_the_table():
    assert find_material(Settings().material).name == Settings().material
