"""Job files: what they say, and how what is wrong in them is named."""

from __future__ import annotations

from pathlib import Path

import pytest

from tackwright.core.choices import JointChoice, PanelChoice, Settings, TabRule
from tackwright.core.errors import InputError
from tackwright.core.job import job_from_table, read_job

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
etch = false
dxf_units = "in"

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
        root_gap=0.5, fit_gap=0.005 * 25.4, etch=False, dxf_units="in",
        tabs=TabRule(on=True, width=12.0, flank=8.0, spacing=4 * 25.4, keep_out=12.7, count=3),
    )
    assert dict(job.choices.panels) == {
        "lid": PanelChoice(name="hatch", thickness=0.0781 * 25.4, metal_side="centred"),
        "end plate 2": PanelChoice(left_out=True),
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


def test_windows_line_ends_and_a_byte_order_mark_do_no_harm(put):
    assert read_job(put(b'\xef\xbb\xbfmesh = "a.obj"\r\nname = "x"\r\n')).name == "x"


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
        ("thickness = '6ga'", "thickness is '6ga': 6 ga is not in the aluminium gauge table"),
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
