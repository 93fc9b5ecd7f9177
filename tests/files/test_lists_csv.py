"""The cut list and the weld list."""

from __future__ import annotations

import csv
import dataclasses
import io

import pytest
from kit_samples import LID, LID_AREA, corner_kit, plate, straight

from tackwright.core.files.lists_csv import cut_list, weld_list


def rows(data):
    return list(csv.DictReader(io.StringIO(data.decode("utf-8"), newline="")))


def test_the_cut_list_has_a_row_per_plate_under_the_given_names():
    data = cut_list(corner_kit())
    columns = "mark,name,quantity,material,thickness,width,height,area,mass,cut_length,pierces,bends"
    assert data.split(b"\r\n")[0] == columns.encode()
    lid, side = rows(data)
    assert (lid["mark"], lid["quantity"], lid["width"], lid["height"]) == ("P01", "1", "100", "80")
    assert float(lid["area"]) == pytest.approx(LID_AREA)
    assert (side["name"], side["quantity"], side["bends"]) == ("left/side: Ö", "2", "0")


def test_the_weld_list_has_the_joints_then_the_corners():
    data = weld_list(corner_kit())
    assert data.split(b"\r\n")[0] == b"id,kind,plates,length,angle,groove_side,groove_area,filler_volume"
    joint, free, corner = rows(data)
    assert (joint["id"], joint["plates"], joint["groove_side"]) == ("J01", "P01-1 P02-1", "outside")
    assert float(joint["filler_volume"]) == 9.0 * 80.0
    assert (free["kind"], free["filler_volume"]) == ("free", "0")
    assert (corner["id"], corner["kind"], corner["plates"]) == ("V01", "corner", "P01-1 P02-1")
    assert (corner["length"], corner["filler_volume"]) == ("", "27")


@pytest.mark.parametrize("name", ["=1+1", "+1", "-1", "@sum", "\t=1", "  =1", "\r\n=1"])
def test_a_name_is_never_a_formula(name):
    kit = dataclasses.replace(corner_kit(), plates=(plate(straight(LID), name=name),))
    (row,) = rows(cut_list(kit))
    assert row["name"].startswith("'") and row["name"].strip("' ") == name.strip()


def test_commas_quotes_and_breaks_do_not_break_the_table():
    kit = dataclasses.replace(corner_kit(), plates=(plate(straight(LID), name='a,"b"\nc'),))
    (row,) = rows(cut_list(kit))
    assert row["name"] == 'a,"b" c' and row["quantity"] == "1"
