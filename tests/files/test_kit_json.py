"""kit.json, key by key."""

from __future__ import annotations

import dataclasses
import io
import json
import math

import ezdxf
import numpy as np
import pytest
import shapely
from baffled import boxed
from hypothesis import given
from hypothesis import strategies as st
from kit_samples import LID_AREA, UPRIGHT, corner_kit

from tackwright.core.files.kit_folder import kit_files
from tackwright.core.files.kit_json import kit_json
from tackwright.core.terms.choices import Band, Bolts, Field, MarkedOpening
from tackwright.core.terms.version import __version__


def load(kit):
    return json.loads(kit_json(kit))


RECORD = load(corner_kit())

# The keys of the format, each with the type of its value; a list stands for a list of such values.
NUMBERS = [float]
KEYS = {
    "format": str, "version": int, "name": str, "generator": str, "units": {"length": str, "files": str},
    "plates": [{
        "mark": str, "name": str, "file": str, "material": str, "thickness": float, "quantity": int, "role": str,
        "metal_side": str, "density": float, "area": float, "mass": float, "cut_length": float, "pierces": int,
        "size": NUMBERS, "bends": [dict], "placements": [{"id": str, "matrix": [NUMBERS]}],
    }],
    "joints": [{
        "id": str, "kind": str, "plates": [str], "line": [NUMBERS], "length": float, "angle": float, "overlap": float,
        "root_gap": float, "groove": {"side": str, "angle": float, "area": float},
        "filler": float, "weld_size": float,
        "tabs": [{"on": str, "at": float, "width": float, "flank": float, "reach": float, "fit_gap": float,
                  "thickness_gap": float}],
    }],
    "corners": [{"id": str, "at": NUMBERS, "joints": [str], "void": float}],
    "openings": [dict],
    "envelopes": [{"name": str, "closed": bool, "capacity": (float, type(None)), "plates": [str]}],
    "checks": [{"rule": str, "level": str, "about": [str], "at": (list, type(None)), "message": str}],
}


def assert_shape(value, shape, where="kit"):
    if isinstance(shape, dict):
        assert list(value) == list(shape), where
        for key, inner in shape.items():
            assert_shape(value[key], inner, f"{where}.{key}")
    elif isinstance(shape, list):
        assert isinstance(value, list), where
        for item in value:
            assert_shape(item, shape[0], f"{where}[]")
    else:
        assert isinstance(value, shape), where


def test_every_key_is_there_in_order_with_its_type():
    assert_shape(RECORD, KEYS)


def test_the_head():
    assert RECORD["format"] == "tackwright-kit" and RECORD["version"] == 1
    assert RECORD["generator"] == f"tackwright {__version__}"
    assert RECORD["name"] == "corner piece"


def test_matrices_are_proper_and_as_given():
    matrices = {p["id"]: np.array(p["matrix"]) for plate in RECORD["plates"] for p in plate["placements"]}
    assert list(matrices) == ["P01-1", "P02-1", "P02-2"]
    for matrix in matrices.values():
        assert np.linalg.det(matrix) == pytest.approx(1.0, abs=1e-9)
        assert np.allclose(matrix[:3, :3] @ matrix[:3, :3].T, np.eye(3), atol=1e-11)
        assert matrix[3].tolist() == [0, 0, 0, 1]
    assert np.allclose(matrices["P02-1"], UPRIGHT)
    assert matrices["P02-2"][:3, 3] == pytest.approx(corner_kit().plates[1].placements[1].matrix[:3, 3], abs=1e-6)


def test_figures_of_one_piece():
    lid = RECORD["plates"][0]
    assert lid["area"] == pytest.approx(LID_AREA)
    assert lid["mass"] == pytest.approx(LID_AREA * 3 * 7850e-9, abs=1e-6)
    assert lid["size"] == [100.0, 80.0] and lid["pierces"] == 2
    assert RECORD["plates"][1]["quantity"] == 2 == len(RECORD["plates"][1]["placements"])


def test_a_free_edge_has_an_empty_groove_and_one_plate():
    free = RECORD["joints"][1]
    assert free["groove"] == {"side": "outside", "angle": 0.0, "area": 0.0}
    assert free["plates"] == ["P01-1"] and free["tabs"] == []


def test_references_hold():
    placements = {p["id"] for plate in RECORD["plates"] for p in plate["placements"]}
    joints = {j["id"] for j in RECORD["joints"]}
    for joint in RECORD["joints"]:
        assert set(joint["plates"]) <= placements and {t["on"] for t in joint["tabs"]} <= placements
    assert all(set(c["joints"]) <= joints for c in RECORD["corners"])
    assert all(set(e["plates"]) <= placements for e in RECORD["envelopes"])


def test_an_open_envelope_has_no_capacity_and_a_closed_one_does():
    assert RECORD["envelopes"][0]["capacity"] is None
    kit = corner_kit()
    closed = dataclasses.replace(kit.envelopes[0], closed=True, capacity=7912345.123456789)
    assert load(dataclasses.replace(kit, envelopes=(closed,)))["envelopes"][0]["capacity"] == 7912345.12346


def test_numbers_are_rounded_without_minus_zero():
    text = kit_json(corner_kit()).decode()
    assert "-0.0," not in text and "-0.0]" not in text
    assert RECORD["checks"][0]["at"] == [0.333333, 0.0, 0.0]
    assert math.copysign(1, RECORD["joints"][1]["line"][1][2]) == 1


def test_numbers_stay_in_mm_in_an_inch_kit():
    inches = load(corner_kit(dxf_units="in"))
    assert inches.pop("units") == {"length": "mm", "files": "in"}
    assert inches == {key: value for key, value in RECORD.items() if key != "units"}


def test_text_is_utf8_and_one_record_a_line():
    data = kit_json(corner_kit())
    assert "left/side: Ö".encode() in data and "„else“".encode() in data
    lines = data.decode().split("\n")
    assert any(line.strip().startswith('{"id": "P02-1", "matrix": [[') for line in lines)
    assert data.endswith(b"}\n") and b"\r" not in data


def test_the_same_kit_gives_the_same_bytes():
    assert kit_json(corner_kit()) == kit_json(corner_kit())


def test_a_number_that_is_none_is_refused():
    kit = corner_kit()
    wrong = dataclasses.replace(kit.corners[0], void=math.nan)
    with pytest.raises(ValueError, match="JSON compliant"):
        kit_json(dataclasses.replace(kit, corners=(wrong,)))


def test_half_a_letter_in_a_name_does_not_stop_the_export():
    assert load(corner_kit(name="a\ud800b"))["name"] == "a?b"


@given(count=st.integers(1, 9), circle=st.floats(60.0, 90.0), turn=st.floats(-180.0, 180.0), x=st.floats(60.0, 240.0))
def test_every_round_cut_is_told_bolt_holes_too(count, circle, turn, x):
    port = MarkedOpening(name="port", at=(x, 100.0, 150.0), size=(40.0,), purpose="port",
                         bolts=Bolts(count=count, circle=circle, hole=5.0, turn=turn))
    kit = boxed([], openings=(port,))
    (opening,) = load(kit)["openings"]
    (plate,) = [p for p in load(kit)["plates"] if any(i["id"] == opening["plate"] for i in p["placements"])]
    drawing = ezdxf.read(io.StringIO(dict(kit_files(kit))[plate["file"]].decode()))
    cut = sorted((c.dxf.center.x, c.dxf.center.y, 2 * c.dxf.radius)
                 for c in drawing.modelspace().query("CIRCLE[layer=='CUT']"))
    told = sorted((*hole["centre"], *hole["size"]) for hole in (opening, *opening["bolts"]))
    assert len(cut) == count + 1
    assert np.array(told) == pytest.approx(np.array(cut), abs=2e-6)


def test_a_fields_share_is_of_the_ground_that_is_told():
    region = ((50.0, 30.0, 150.0), (250.0, 30.0, 150.0), (250.0, 60.0, 150.0), (150.0, 60.0, 150.0),
              (150.0, 170.0, 150.0), (50.0, 170.0, 150.0))
    hole = MarkedOpening(name="port", at=(100.0, 100.0, 150.0), size=(30.0,), purpose="port")
    field = Field(panel="top", bands=(Band(code="R5T8"),), region=region)
    (record,) = [o for o in load(boxed([], openings=(hole,), fields=(field,)))["openings"] if "pattern" in o]
    ground = shapely.MultiPolygon([(rings[0], rings[1:]) for rings in record["ground"]])
    assert ground.is_valid and len(ground.geoms[0].interiors) == 1
    assert record["open_area"] / ground.area == pytest.approx(record["open_share"], abs=1e-6)
