"""Job files: what they say, and how what is wrong in them is named."""

from __future__ import annotations

from pathlib import Path

import pytest

from tackwright.core.files.job import job_from_table, read_job
from tackwright.core.terms.choices import (
    Band,
    Bolts,
    Field,
    JointChoice,
    MarkedOpening,
    PanelChoice,
    Settings,
    TabRule,
)
from tackwright.core.terms.errors import InputError

WHOLE = """
name = "header tank"
mesh = "meshes/tank.obj"
units = "in"
material = "304"
thickness = "11ga"
metal_side = "outside"
corner = "half-open"
overlap = 0.25
root_gap = "0.5mm"
fit_gap = 0.005
reach = 1
tab_short = "0.5mm"
jog = "0.2mm"
slot_relief = "1mm"
limber = "20mm"
hole_radius = "2mm"
sealed = true
etch = false
note = false
dxf_units = "in"
file_names = "{mark}_{thickness}_{quantity}x"

[tabs]
on = true
width = "12mm"
flank = "8mm"
spacing = 4
keep_out = "1/2 in"
count = 3

[panels.lid]
thickness = "14 ga"
metal_side = "centred"
name = "hatch"

[panels."end plate 2"]
left_out = true

[panels.baffle]
inner = true
limber = 0

[[joints]]
between = ["lid", "front"]
corner = "closed"
through = "lid"
tab_on = "front"
root_gap = "1mm"
fit_gap = "0.2mm"
tabs = { count = 1 }

[[joints]]
between = ["back", "front"]
overlap = 1
tabs = { on = false }
"""


@pytest.fixture
def put(tmp_path):
    def write(text):
        path = tmp_path / "job.toml"
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return path

    return write


def test_a_whole_job_is_read(put, tmp_path):
    job = read_job(put(WHOLE))
    assert job.name == "header tank"
    assert job.mesh_path == tmp_path / "meshes" / "tank.obj"
    assert job.unit == "in"
    assert job.choices.settings == Settings(
        material="stainless 304", thickness=0.1250 * 25.4, metal_side="outside", corner="half-open", overlap=0.25,
        root_gap=0.5, fit_gap=0.005 * 25.4, reach=25.4, tab_short=0.5, jog=0.2, slot_relief=1.0, limber=20.0,
        hole_radius=2.0, sealed=True, etch=False, note=False, dxf_units="in",
        file_names="{mark}_{thickness}_{quantity}x",
        tabs=TabRule(on=True, width=12.0, flank=8.0, spacing=4 * 25.4, keep_out=12.7, count=3),
    )
    assert dict(job.choices.panels) == {
        "lid": PanelChoice(name="hatch", thickness=0.0781 * 25.4, metal_side="centred"),
        "end plate 2": PanelChoice(left_out=True),
        "baffle": PanelChoice(inner=True, limber=0.0),
    }
    assert dict(job.choices.joints) == {
        ("front", "lid"): JointChoice(
            corner="closed", through="lid", tab_on="front", root_gap=1.0, fit_gap=0.2, tabs=TabRule(count=1)
        ),
        ("back", "front"): JointChoice(overlap=1.0, tabs=TabRule(on=False)),
    }


def test_a_job_of_one_key_has_the_defaults():
    job = job_from_table({"mesh": "tank.obj"}, folder=Path("jobs"))
    assert job.mesh_path == Path("jobs/tank.obj")
    assert (job.unit, job.name) == ("mm", None)
    assert job.choices.settings == Settings()
    assert not job.choices.panels and not job.choices.joints
    assert (job.choices.openings, job.choices.fields, dict(job.choices.fittings)) == ((), (), {})
    assert job.inner_paths == ()


def test_a_plain_number_is_in_mm_and_in_inches_only_where_the_mesh_is():
    for units, thickness in (("mm", 2.0), ("m", 2.0), ("in", 50.8)):
        job = job_from_table({"mesh": "a.obj", "units": units, "thickness": 2})
        assert job.choices.settings.thickness == pytest.approx(thickness)


def test_overrides_replace_keys_and_reach_gauges_and_single_tab_settings(put):
    job = read_job(put(WHOLE), {"material": "steel", "name": "second", "tabs": {"on": False}})
    assert job.choices.settings.material == "steel A36"
    assert job.choices.settings.thickness == pytest.approx(0.1196 * 25.4)
    assert job.name == "second"
    assert job.choices.settings.tabs.on is False and job.choices.settings.tabs.count == 3


OPENINGS = """
mesh = "tank.obj"
fittings = "lists/own.csv"

[[openings]]
name = "fill"
at = [100, "2in", -0.5]
fitting = "NPT 1 1/2"
purpose = "port"

[[openings]]
name = "hand hole"
at = [1, 2, 3]
shape = "rectangle"
size = ["150mm", 100]
radius = 20
purpose = "hand_hole"
axis = [0, 0.5, -1]
across = [1, 0, 0]
all_along = true
panel = "lid"
[openings.bolts]
count = 8
circle = 220
hole = "1/4in"
turn = -22.5

[[openings]]
name = "vent"
at = [0, 0, 0]
size = 12

[[openings]]
name = "slit"
at = [0, 0, 0]
shape = "slot"
size = [60, 20]

[[perforations]]
panel = "baffle"
code = "R5T8"

[[perforations]]
panel = "shelf"
bands = [{ code = "R5T8", depth = "50mm" }, { code = "LR5x20Z9x24" }]
margin = 10
gap = 15
region = [[0, 0, 0], [100, 0, 0], [100, 0, "60mm"]]
turn = 30

[[inner]]
mesh = "baffles.obj"

[[inner]]
mesh = "../shelf.stl"
"""


@pytest.fixture
def own_csv(tmp_path):
    (tmp_path / "lists").mkdir()
    path = tmp_path / "lists" / "own.csv"
    path.write_text("name,hole\nmy bung,28.4\n")
    return path


def test_openings_are_read(put, own_csv):
    choices = read_job(put(OPENINGS)).choices
    assert choices.openings == (
        MarkedOpening(name="fill", at=(100.0, 50.8, -0.5), fitting="NPT 1 1/2"),
        MarkedOpening(
            name="hand hole", at=(1.0, 2.0, 3.0), shape="rectangle", size=(150.0, 100.0), radius=20.0,
            purpose="hand_hole", axis=(0.0, 0.5, -1.0), across=(1.0, 0.0, 0.0), all_along=True, panel="lid",
            bolts=Bolts(count=8, circle=220.0, hole=6.35, turn=-22.5)),
        MarkedOpening(name="vent", at=(0.0, 0.0, 0.0), size=(12.0,)),
        MarkedOpening(name="slit", at=(0.0, 0.0, 0.0), shape="slot", size=(60.0, 20.0)),
    )


def test_perforations_are_read(put, own_csv):
    assert read_job(put(OPENINGS)).choices.fields == (
        Field(panel="baffle", bands=(Band(code="R5T8"),)),
        Field(panel="shelf", bands=(Band(code="R5T8", depth=50.0), Band(code="LR5x20Z9x24")), margin=10.0, gap=15.0,
              region=((0.0, 0.0, 0.0), (100.0, 0.0, 0.0), (100.0, 0.0, 60.0)), turn=30.0),
    )


def test_files_are_found_beside_the_job(put, own_csv, tmp_path):
    job = read_job(put(OPENINGS))
    assert dict(job.choices.fittings) == {"my bung": 28.4}
    assert job.inner_paths == (tmp_path / "baffles.obj", tmp_path / "../shelf.stl")


def test_places_are_in_inches_where_the_mesh_is():
    table = {"mesh": "a.obj", "units": "in",
             "openings": [{"name": "x", "at": [1, 2, "3mm"], "size": 2, "axis": [0, 0, 1]}]}
    (opening,) = job_from_table(table).choices.openings
    assert opening.at == pytest.approx((25.4, 50.8, 3.0)) and opening.size == (50.8,)
    assert opening.axis == (0.0, 0.0, 1.0)                      # a direction has no unit


def test_a_fault_in_the_fittings_file_names_both_files(put, own_csv):
    own_csv.write_text("name,hole\nmy bung,0\nother,x\n")
    with pytest.raises(InputError) as caught:
        read_job(put(OPENINGS))
    first, second = str(caught.value).splitlines()
    assert "job.toml: fittings: " in first and "own.csv, line 2: the hole is 0 mm" in first
    assert "job.toml: " in second and "own.csv, line 3: 'x' is not a length" in second
    own_csv.unlink()
    with pytest.raises(InputError, match="own.csv cannot be opened"):
        read_job(put(OPENINGS))


def test_windows_line_ends_and_a_byte_order_mark_do_no_harm(put):
    assert read_job(put(b'\xef\xbb\xbfmesh = "a.obj"\r\nname = "x"\r\n')).name == "x"


OPENING = "[[openings]]\nname = 'a'\n"
PLACED = OPENING + "at = [0, 0, 0]\n"
FIELD = "[[perforations]]\npanel = 'a'\n"


@pytest.mark.parametrize(
    ("line", "message"),
    [
        ("thicknes = 3", "thicknes is no key of a job. Did you mean thickness? There is units, mesh, name"),
        ("colour = 'red'", "colour is no key of a job. There is units"),
        ("thickness = 0", "thickness is 0 mm. It must be more than 0 mm"),
        ("thickness = '-3mm'", "thickness is -3 mm. It must be more than 0 mm"),
        ("thickness = 'thin'", "thickness is 'thin': 'thin' is not a length. Write a length as 3, 3mm"),
        ("thickness = true", "thickness is true: True is not a length"),
        ("thickness = nan", "thickness is nan: nan is not a finite length"),
        ("thickness = [3]", "thickness is [3]: [3] is not a length"),
        ("thickness = '2ga'", "thickness is '2ga': 2 ga is not in the aluminium gauge table"),
        ("root_gap = -1", "root_gap is -1 mm. It must be at least 0 mm"),
        ("overlap = 1.5", "overlap is 1.5. Give a number from 0 to 1"),
        ("overlap = '1/2'", "overlap is '1/2'. Give a number from 0 to 1"),
        ("overlap = nan", "overlap is nan. Give a number from 0 to 1"),
        ("overlap = true", "overlap is true. Give a number from 0 to 1"),
        ("corner = 'half open'", "corner is 'half open'. Did you mean half-open? Use one of open, half-open, closed"),
        ("metal_side = 3", "metal_side is 3. Use one of outside, inside, centred"),
        ("units = 'feet'", "units is 'feet'. Use one of mm, in, m"),
        ("material = 'oak'", "material 'oak' is not known. There is aluminium 5052-H32"),
        ("material = 5052", "material is 5052. Give a text"),
        ("name = ''", "name is ''. Give a text"),
        ("etch = 'yes'", "etch is 'yes'. Give true or false"),
        ("tabs = 3", "tabs is 3. Give a table headed [tabs]"),
        ("[tabs]\nwide = 3", "tabs.wide is no key of a job. Did you mean width? There is on, width"),
        ("[tabs]\ncount = 1.5", "tabs.count is 1.5. Give a whole number of at least 1"),
        ("[tabs]\ncount = 0", "tabs.count is 0. Give a whole number of at least 1"),
        ("[tabs]\ncount = true", "tabs.count is true. Give a whole number of at least 1"),
        ("[panels.lid]\nthickness = 0", "panels.lid.thickness is 0 mm. It must be more than 0 mm"),
        ("[panels.'big lid']\nthick = 2", 'panels."big lid".thick is no key of a job. Did you mean thickness?'),
        ("[panels]\nlid = 3", "panels.lid is 3. Give a table [panels.lid]"),
        ("[joints]\nbetween = ['a', 'b']", "Give a list of tables each headed [[joints]]"),
        ("[[joints]]\ncorner = 'open'", "joints[1].between is missing. Name the two panels"),
        ("[[joints]]\nbetween = ['a']", "joints[1].between is ['a']. Name two different panels"),
        ("[[joints]]\nbetween = ['a', 'a']", "joints[1].between is ['a', 'a']. Name two different panels"),
        ("[[joints]]\nbetween = 'a b'", "joints[1].between is 'a b'. Give a list of texts"),
        ("[[joints]]\nbetween = ['a', 'b']\nthrough = 'c'", "joints[1].through is 'c'. Use one of a, b"),
        ("[[joints]]\nbetween = ['a', 'b']\n[[joints]]\nbetween = ['b', 'a']",
         "joints[2].between names a and b a second time"),
        ("[[joints]]\nbetween = ['a', 'b']\ntabs = {count = 'x'}", "joints[1].tabs.count is 'x'. Give a whole number"),
        ("reach = -1", "reach is -1 mm. It must be at least 0 mm"),
        ("tab_short = -1", "tab_short is -1 mm"),
        ("slot_relief = 'x'", "slot_relief is 'x'"),
        ("limber = -1", "limber is -1 mm"),
        ("hole_radius = -1", "hole_radius is -1 mm"),
        ("sealed = 1", "sealed is 1. Give true or false"),
        ("[panels.a]\ninner = 'yes'", "panels.a.inner is 'yes'. Give true or false"),
        ("[panels.a]\nlimber = -1", "panels.a.limber is -1 mm"),
        ("fittings = 3", "fittings is 3. Give a text"),
        ("fittings = 'none.csv'", "none.csv cannot be opened: No such file"),
        ("[[inner]]\nfile = 'x'", "inner[1].mesh is missing. Name the mesh file"),
        ("[[inner]]\nfile = 'x'", "inner[1].file is no key of a job"),
        ("[inner]\nmesh = 'x'", "Give a list of tables each headed [[inner]]"),
        ("[[openings]]\nat = [0,0,0]\nsize = 1", 'openings[1].name is missing. Call it something, as in name = "fill"'),
        ("[[openings]]\nname = 'a'\nsize = 1", "openings[1].at is missing. Give a point on or near the plate"),
        (OPENING + "at = [0, 0]\nsize = 1", "openings[1].at is [0, 0]. Give three lengths as in [100, 50, 300]"),
        (OPENING + "at = [0, 0, 'up']\nsize = 1", "openings[1].at[3] is 'up': 'up' is not a length"),
        (OPENING + "at = [0, 0, inf]\nsize = 1", "openings[1].at[3] is inf: inf is not a finite length"),
        (PLACED, "openings[1].size is missing. Give a size, as in size = 50, or a fitting"),
        (PLACED + "size = 0", "openings[1].size is 0 mm. It must be more than 0 mm"),
        (PLACED + "size = -2", "openings[1].size is -2 mm. It must be more than 0 mm"),
        (PLACED + "size = [5, 6]", "openings[1].size has 2 lengths. A round opening takes 1, as in size = 50"),
        (PLACED + "size = 5\nshape = 'slot'", "openings[1].size has 1 length. A slot opening takes 2, as in size"),
        (PLACED + "size = [5, 0]\nshape = 'slot'", "openings[1].size[2] is 0 mm. It must be more than 0 mm"),
        (PLACED + "size = 5\nshape = 'oval'", "openings[1].shape is 'oval'. Use one of round, slot, rectangle"),
        (PLACED + "size = 5\npurpose = 'hole'", "openings[1].purpose is 'hole'. Did you mean hand_hole? Use"),
        (PLACED + "size = 5\nradius = -1", "openings[1].radius is -1 mm"),
        (PLACED + "size = 5\naxis = [0, 0, 0]", "openings[1].axis is [0, 0, 0]. Give a direction as in [0, 0, 1]"),
        (PLACED + "size = 5\naxis = 'z'", "openings[1].axis is 'z'. Give a direction"),
        (PLACED + "size = 5\nacross = [0, nan, 1]", "openings[1].across is [0, nan, 1]. Give a direction"),
        (PLACED + "size = 5\nall_along = 1", "openings[1].all_along is 1. Give true or false"),
        (PLACED + "size = 5\nfitting = 'G 1/2'", "openings[1].fitting stands beside a size. Keep one"),
        (PLACED + "size = 5\ndiameter = 3", "openings[1].diameter is no key of a job. There is"),
        (PLACED + "size = 5\nbolts = {count = 4, hole = 6}", "openings[1].bolts.circle is missing. Give the diameter"),
        (PLACED + "size = 5\nbolts = {count = 0, circle = 9, hole = 6}", "openings[1].bolts.count is 0. Give a whole"),
        (PLACED + "size = 5\nbolts = {count = 4, circle = 9, hole = 0}", "openings[1].bolts.hole is 0 mm. It must be"),
        (PLACED + "size = 5\nbolts = {}", "openings[1].bolts.count is missing. Give the number of bolts"),
        (PLACED + "size = 5\nbolts = {turn = 900}", "openings[1].bolts.turn is 900. Give a number from -360 to 360"),
        ("[[perforations]]\ncode = 'R5T8'", "perforations[1].panel is missing. Name the panel"),
        ("[[perforations]]\npanel = 'a'", 'perforations[1].code is missing. Give one pattern, as in code = "R5T8"'),
        (FIELD + "code = 'R5T8'\nbands = [{code = 'R5T8'}]", "perforations[1].code stands beside bands. Give one"),
        (FIELD + "bands = []", "perforations[1].bands is empty. Give a band"),
        (FIELD + "bands = 'R5T8'", "Give a list of tables each headed [[perforations.bands]]"),
        (FIELD + "bands = [{depth = 3}]", "perforations[1].bands[1].code is missing. Give its pattern"),
        (FIELD + "bands = [{code = 'R5T8', depth = 0}]", "perforations[1].bands[1].depth is 0 mm. It must be more"),
        (FIELD + "code = 'R5T8'\nmargin = -1", "perforations[1].margin is -1 mm"),
        (FIELD + "code = 'R5T8'\nregion = [[0, 0, 0], [1, 0, 0]]", "perforations[1].region has 2 corners. Give at"),
        (FIELD + "code = 'R5T8'\nregion = [0, 1, 2]", "perforations[1].region[1] is 0. Give three lengths"),
        (FIELD + "code = 'R5T8'\nregion = 'all'", "perforations[1].region is 'all'. Give a list of points"),
    ],
)
def test_a_wrong_value_is_named_by_its_keys_path(put, line, message):
    with pytest.raises(InputError) as caught:
        read_job(put(f'mesh = "tank.obj"\n{line}\n'))
    assert message in str(caught.value)
    assert "job.toml: " in str(caught.value)


def test_a_job_without_a_mesh_is_refused(put):
    with pytest.raises(InputError, match='mesh is missing. Name the mesh file, as in mesh = "tank.obj"'):
        read_job(put('name = "x"\n'))
    with pytest.raises(InputError, match="mesh is 3. Give a text"):
        read_job(put("mesh = 3\n"))


def test_every_fault_is_reported_at_once(put):
    with pytest.raises(InputError) as caught:
        read_job(put('mesh = "a.obj"\nthickness = 0\noverlap = 2\nwidth = 1\n[panels.lid]\nthickness = -1\n'))
    text = str(caught.value)
    assert [line.split(": ", 1)[1].split(" is ")[0] for line in text.splitlines()] == [
        "thickness", "overlap", "panels.lid.thickness", "width",
    ]


def test_what_is_no_toml_is_named_by_line(put, tmp_path):
    with pytest.raises(InputError, match="job.toml is not TOML: .*line 2"):
        read_job(put('mesh = "a.obj"\nthickness = = 3\n'))
    with pytest.raises(InputError, match="job.toml is no UTF-8 text at byte 8"):
        read_job(put(b'mesh = "\xff.obj"'))
    with pytest.raises(InputError, match="none.toml cannot be opened: No such file"):
        read_job(tmp_path / "none.toml")
