"""Metals of the user's own: the CSV file, jobs that use it, and what they decide."""

from __future__ import annotations

import pytest
from own_metals import COPPER, OWN, ZINCED
from plain_shapes import box

from tackwright.core.files.job import job_from_table, read_job
from tackwright.core.make_kit import make_kit
from tackwright.core.stock.lengths import parse_length
from tackwright.core.stock.materials import MATERIALS, find_material, material_of
from tackwright.core.stock.own_materials import materials_csv, own_material, read_materials_csv
from tackwright.core.terms.choices import Choices, Settings
from tackwright.core.terms.errors import InputError

# density of copper 8960 and of titanium 4506 kg/m3: CRC Handbook of Chemistry and Physics, from memory

HEAD, CORNER = "name,family,density\n", "name,family,density,corner\n"


@pytest.fixture
def put(tmp_path):
    def put(text, name="own.csv"):
        path = tmp_path / name
        path.write_bytes(text.encode() if isinstance(text, str) else text)
        return path

    return put


def test_what_is_written_is_read_again(put):
    path = put(materials_csv(OWN))
    assert read_materials_csv(path) == OWN
    assert materials_csv(read_materials_csv(path)) == path.read_text(encoding="utf-8")


def test_three_columns_are_enough_and_the_rest_is_as_usual_in_the_family(put):
    text = "\ufeffDensity, NAME ,family,price\r\n2700,alu X,Aluminum,3\r\n7850,  steel   Y,STEEL\r\n8960,cu,other\r\n"
    alu, steel, copper = read_materials_csv(put(text))
    assert (alu.name, alu.density, alu.default_corner, alu.gauge_table) == ("alu X", 2700.0, "open", "aluminium")
    assert (steel.name, steel.default_corner, steel.gauge_table) == ("steel Y", "closed", "steel")
    assert (copper.default_corner, copper.gauge_table, copper.needs_filler) == ("open", None, False)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "own.csv is empty. Begin it with the line name,family,density"),
        ("name,density\na,2700\n", "own.csv, line 1: the columns are name, density. Begin the file with the line"),
        (HEAD + ",steel,7850\n", "own.csv, line 2: the name is missing"),
        (HEAD + "a,steel,heavy\n", "line 2: the density of 'a' is 'heavy'. Give a number, in kg/m3"),
        (HEAD + "a,steel,7.85\n", "line 2: the density of 'a' is 7.85 kg/m3. Give kg/m3: 7.85 g/cm3 is"),
        (HEAD + "a,steel,nan\n", "line 2: the density of 'a' is nan kg/m3. Give kg/m3, from 500 to 23000"),
        (HEAD + "a,steel,\n", "line 2: the density of 'a' is ''"),
        (HEAD + "\na,wood,700\n", "line 3: family of 'a' is 'wood'. Use one of aluminium, steel"),
        (CORNER + "a,steel,7850,round\n", "line 2: corner of 'a' is 'round'. Use one of open, closed"),
        ("name,family,density,gauges\na,steel,7850,US\n", "line 2: gauges of 'a' is 'us'. Use one of steel, alu"),
        ("name,family,density,needs_filler\na,steel,7850,maybe\n", "line 2: needs_filler of 'a' is 'maybe'. Give"),
        (HEAD + "A b,steel,7850\na  B,steel,7800\n", "line 3: 'a B' stands in line 2 already"),
        (HEAD.encode() + b"\xff,steel,7850\n", "own.csv is no UTF-8 text at byte 20"),
    ],
)
def test_what_is_wrong_in_the_file_is_named_by_its_line(put, text, message):
    with pytest.raises(InputError) as caught:
        read_materials_csv(put(text))
    assert message in str(caught.value)


def test_every_fault_is_named_at_once_and_a_missing_file_too(put, tmp_path):
    with pytest.raises(InputError) as caught:
        read_materials_csv(put(HEAD + ",steel,1\nb,wood,700\nc,steel,9\n"))
    assert [line.split("line ")[1][0] for line in str(caught.value).splitlines()] == ["2", "3", "4"]
    with pytest.raises(InputError, match=r"none\.csv cannot be opened: No such file"):
        read_materials_csv(tmp_path / "none.csv")


def test_an_own_material_goes_before_the_tables():
    assert find_material("copper", OWN) is COPPER
    mine = own_material(name="5052", family="aluminium", density=2690.0)
    assert find_material("5052", (mine,)) is mine and find_material("5052") is not mine
    with pytest.raises(InputError, match="'bronze' is not known. There is copper C110, .*steel weathering"):
        find_material("bronze", OWN)
    assert find_material("6061", OWN) in MATERIALS


def test_gauges_are_looked_up_where_the_material_says():
    assert parse_length("16ga", material=ZINCED) == pytest.approx(0.0635 * 25.4)  # galvanized, published table
    with pytest.raises(InputError, match="'16ga' is no thickness of copper C110: .*no gauge numbers"):
        parse_length("16ga", material=COPPER)


def test_a_job_takes_its_material_from_its_own_file(put):
    put(materials_csv(OWN))
    path = put('mesh = "tank.obj"\nmaterials = "own.csv"\nmaterial = "copper"\nthickness = "2mm"\n', "job.toml")
    choices = read_job(path).choices
    assert (choices.settings.material, choices.materials) == ("copper C110", OWN)
    assert material_of(choices) is choices.materials[0]
    elsewhere = put(HEAD + "copper X,other,8900\n", "other.csv")
    again = read_job(path, {"materials": str(elsewhere)}).choices
    assert again.settings.material == "copper X"


def test_a_fault_in_the_own_file_is_named_by_job_file_and_line(put):
    put(HEAD + "a,steel,7.85\n")
    path = put('mesh = "tank.obj"\nmaterials = "own.csv"\nfit_gap = -1\n', "job.toml")
    with pytest.raises(InputError) as caught:
        read_job(path)
    assert "job.toml: materials: " in str(caught.value) and "own.csv, line 2" in str(caught.value)
    assert "fit_gap" in str(caught.value)
    with pytest.raises(InputError, match="materials is 3"):
        job_from_table({"mesh": "tank.obj", "materials": 3})


def test_the_kits_mass_and_corners_are_those_of_the_own_material():
    def made(name):
        settings = Settings(material=name, sealed=True)
        kit = make_kit(box(), Choices(settings=settings, materials=OWN))
        return sum(p.mass * p.quantity for p in kit.plates), {j.overlap for j in kit.joints}

    copper, titanium, steel = (made(m.name) for m in OWN)
    assert copper[1] == {0.0} and titanium[1] == {1.0} and steel[1] == {1.0}
    assert titanium[0] / steel[0] == pytest.approx(4506 / 7850)  # the same plates
    with pytest.raises(InputError, match="'copper C110' is not known"):
        make_kit(box(), Choices(settings=Settings(material="copper C110")))
