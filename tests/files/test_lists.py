"""The cut list and the weld list."""

from __future__ import annotations

import csv
import dataclasses
import io
import json
import re

import ezdxf
import pytest
from demo_kits import made
from kit_samples import LID, LID_AREA, corner_kit, plate, straight
from repo_paths import DEMOS

from tackwright.core.files.job import read_job
from tackwright.core.files.kit_folder import kit_files
from tackwright.core.files.lists import cut_list, weld_list
from tackwright.core.kit.welded_kit import welded


def rows(data):
    return list(csv.DictReader(io.StringIO(data.decode("utf-8"), newline="")))


def test_the_cut_list_has_a_row_per_plate_under_the_given_names_and_the_sums_of_all_pieces():
    data = cut_list(corner_kit())
    columns = ("mark,name,quantity,material,thickness_mm,width_mm,height_mm,area_mm2,mass_kg,cut_length_mm,pierces,"
               "bends")
    assert data.split(b"\r\n")[0] == columns.encode()
    lid, side, total = rows(data)
    assert (lid["mark"], lid["quantity"], lid["width_mm"], lid["height_mm"]) == ("P01", "1", "100.00", "80.00")
    assert float(lid["area_mm2"]) == pytest.approx(LID_AREA, abs=0.005)
    assert (side["name"], side["quantity"], side["bends"]) == ("left/side: Ö", "2", "0")
    assert total["mark"] == "total" and total["quantity"] == "3" and total["thickness_mm"] == ""
    assert float(total["mass_kg"]) == pytest.approx(float(lid["mass_kg"]) + 2 * float(side["mass_kg"]), abs=0.002)


def test_the_weld_list_has_runs_then_corners_and_no_free_edges():
    data = weld_list(welded(corner_kit(), "aluminium"))
    assert data.split(b"\r\n")[0] == (
        b"id,kind,plates,length_mm,angle_deg,side,size_mm,groove_area_mm2,filler_cm3,run,tight,reach,size_of,welded_mm")
    joint, corner, total = rows(data)
    assert (joint["id"], joint["plates"], joint["side"]) == ("J01", "P01 lid, P02 left", "outside")
    assert float(joint["filler_cm3"]) == pytest.approx(9.0 * (80.0 - 12.0 - 2 * 12.0) / 1e3, abs=0.005)
    assert (joint["run"], joint["tight"], joint["size_mm"]) == ("full", "no", "")
    assert (corner["id"], corner["kind"], corner["plates"]) == ("V01", "corner_fill", "P01 lid, P02 left")
    assert (corner["length_mm"], corner["filler_cm3"]) == ("", "0.03")
    assert (total["id"], total["length_mm"]) == ("total", "80.00")


def the_lists(kit):
    return {path: (path, rows(data)) for path, data in kit_files(kit) if path.endswith(".csv")}


@pytest.mark.parametrize("name", ["bow_tank", "drill_upright", "hopper"])
def test_an_inch_kits_lists_are_the_same_in_inches(name):
    """Read by the csv module alone, column by column against the lists in mm; factors by definition."""
    job = read_job(DEMOS / f"{name}.toml")
    metric = made(name)
    inch = made(name, settings=dataclasses.replace(job.choices.settings, dxf_units="in"))
    factors = {"_mm": ("_in", 25.4), "_mm2": ("_in2", 25.4**2), "_kg": ("_lb", 0.45359237), "_deg": ("_deg", 1.0),
               "_cm3": ("_in3", 16.387064)}
    names = {p.id: f"{plate.mark} {p.panel}" for plate in metric.plates for p in plate.placements}
    for path, (_, ours) in the_lists(metric).items():
        theirs = the_lists(inch)[path][1]
        assert len(ours) == len(theirs)
        for one, other in zip(ours, theirs, strict=True):
            assert not [key for key in other if key.endswith(("_mm", "_mm2", "_kg", "_cm3"))]
            for key, cell in one.items():
                end = next((end for end in factors if key.endswith(end)), None)
                if end is None:
                    assert path == "findings.csv" or other[key] == cell
                    continue
                new, factor = factors[end]
                there = other[key.removesuffix(end) + new]
                assert bool(cell) == bool(there)
                if cell:
                    digits = len(there.partition(".")[2])
                    assert 2 <= digits <= 3
                    assert float(there) == pytest.approx(float(cell) / factor, abs=0.0051 / factor + 0.51 * 10**-digits)
            if one.get("plates") and one.get("level") is None:
                assert set(one["plates"].split(", ")) <= set(names.values())
        last = ours[-1] if ours else {}
        if path in ("cut_list.csv", "weld_list.csv"):
            assert next(iter(last.values())) == "total"
            counts = [float(row.get("quantity") or 1) for row in ours[:-1]]
            for key, cell in last.items():
                if key not in ("mark", "id", "quantity") and cell:
                    total = sum(n * float(row[key] or 0) for n, row in zip(counts, ours, strict=False))
                    assert float(cell) == pytest.approx(total, abs=0.006 * sum(counts)), (path, key)
    assert not any(re.search(r"\d mm", row["message"]) for row in the_lists(inch)["findings.csv"][1])


def test_openings_stand_where_the_drawing_has_them():
    """Each round one against the circles of its plate's file, read by ezdxf."""
    kit = made("bow_tank")
    files = dict(kit_files(kit))
    record = json.loads(files["kit.json"])
    seen = 0
    for row in rows(files["openings.csv"]):
        if row["shape"] != "round":
            continue
        plate = next(p for p in record["plates"] if row["plate"].startswith(p["mark"] + " "))
        document = ezdxf.read(io.StringIO(files[plate["file"]].decode("cp1252")))
        circles = [(c.dxf.center.x, c.dxf.center.y, 2 * c.dxf.radius) for c in document.modelspace().query("CIRCLE")]
        place = [float(row[key]) for key in ("x_mm", "y_mm", "size_mm")]
        assert min(max(abs(a - b) for a, b in zip(place, one, strict=True)) for one in circles) < 0.006
        seen += bool(row["fitting"])
    assert seen >= 4


@pytest.mark.parametrize("name", ["=1+1", "+1", "-1", "@sum", "\t=1", "  =1", "\r\n=1"])
def test_a_name_is_never_a_formula(name):
    kit = dataclasses.replace(corner_kit(), plates=(plate(straight(LID), name=name),))
    row, _ = rows(cut_list(kit))
    assert row["name"].startswith("'") and row["name"].strip("' ") == name.strip()


def test_commas_quotes_and_breaks_do_not_break_the_table():
    kit = dataclasses.replace(corner_kit(), plates=(plate(straight(LID), name='a,"b"\nc'),))
    row, _ = rows(cut_list(kit))
    assert row["name"] == 'a,"b" c' and row["quantity"] == "1"
