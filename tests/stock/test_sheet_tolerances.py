"""How much thicker than its name sheet may be, against the standards' tables, and slots cut accordingly."""

import dataclasses
import json

import numpy as np
import pytest
import shapely
from baffled import QUIET, boxed, upright
from own_metals import COPPER
from written_solids import cut_rings

from tackwright.core.files.kit_json import kit_json
from tackwright.core.files.plate_dxf import plate_dxf
from tackwright.core.stock.own_materials import materials_from_text
from tackwright.core.stock.sheet_tolerances import LEAST_CLEARANCE, over_nominal, thickness_gap
from tackwright.core.terms.choices import Choices, Settings
from tackwright.core.terms.errors import InputError

# EN 10131:2006 table 1, normal tolerances, Re < 260 MPa, 1200 < w <= 1500, from a listing of the table
COLD_STEEL = {0.35: 0.04, 0.5: 0.04, 0.8: 0.05, 1.0: 0.06, 1.2: 0.07, 1.5: 0.09, 2.0: 0.11, 2.5: 0.13, 3.0: 0.15}
# EN 10051:2010, category A, 1200 < w <= 1500, from a listing of the table
HOT_STEEL = {4.0: 0.24, 5.0: 0.26, 6.0: 0.28, 8.0: 0.30, 10.0: 0.33, 12.0: 0.36, 15.0: 0.38}
# EN 485-4:1993 table 1, 1250 < w <= 1600, group II up to 3.5 mm, from two listings of the table
ALUMINIUM = {0.5: 0.06, 0.8: 0.08, 1.0: 0.09, 1.2: 0.10, 1.5: 0.12, 2.0: 0.14, 2.5: 0.15, 3.0: 0.17, 4.0: 0.22,
             5.0: 0.24, 6.0: 0.25, 8.0: 0.31, 10.0: 0.36, 12.0: 0.40, 15.0: 0.43, 20.0: 0.46}
# EN 10259, now EN ISO 9445, 1500 wide, from two listings of the table
STAINLESS = {0.8: 0.06, 1.0: 0.07, 1.2: 0.08, 1.5: 0.10, 2.0: 0.11, 2.5: 0.12, 3.0: 0.14}


@pytest.mark.parametrize(("family", "table"), [
    ("steel", COLD_STEEL | HOT_STEEL), ("aluminium", ALUMINIUM), ("stainless", STAINLESS)])
def test_the_table_is_the_standards(family, table):
    assert {t: over_nominal(family, t) for t in table} == table


def test_hot_rolled_stainless_has_the_steels_tolerance_and_two_fifths_more():
    """EN 10051: category D (alloyed with molybdenum) is 40 % above category A."""
    for t, over in HOT_STEEL.items():
        if t > 4.0:
            assert over_nominal("stainless", t) == pytest.approx(1.4 * over, abs=1e-9)


def test_thicker_sheet_is_never_taken_for_more_exact_and_what_no_table_has_is_its_thickest():
    for family in ("steel", "aluminium", "stainless"):
        found = [over_nominal(family, t) for t in np.arange(0.3, 60.0, 0.1)]
        assert found == sorted(found)
    assert over_nominal("steel", 200.0) == over_nominal("steel", 80.0) and over_nominal("other", 6.0) == 0.28


def slots(kit):
    """Of every tab in a slot, read from the files: what the slot is wide across its plate, and along it; the joint."""
    record = json.loads(kit_json(kit))
    cut = {plate.mark: cut_rings(plate_dxf(plate, dataclasses.replace(kit.settings, etch=False, note=False)).decode(
        "cp1252")) for plate in kit.plates}
    out = []
    for joint in record["joints"]:
        for tab in joint["tabs"] if joint["kind"] == "tee" else ():
            wall = next(id for id in joint["plates"] if id != tab["on"])
            plate = next(p for p in record["plates"] for one in p["placements"] if one["id"] == wall)
            matrix = np.array(next(one["matrix"] for one in plate["placements"] if one["id"] == wall))
            line = np.array(joint["line"])
            along = (line[1] - line[0]) / np.linalg.norm(line[1] - line[0])
            at = np.linalg.inv(matrix) @ [*(line[0] + tab["at"] * along), 1.0]
            holes = [shapely.Polygon(ring) for ring in cut[plate["mark"]]]
            hole = min(holes, key=lambda one: one.distance(shapely.Point(at[:2])) + one.area * 1e-6)
            flat = matrix[:3, :3].T @ along
            points = np.array(hole.exterior.coords)
            across = points @ [-flat[1], flat[0]]
            out.append((np.ptp(across), np.ptp(points @ flat[:2]), joint, tab))
    return out


@pytest.mark.parametrize(("material", "thickness", "gap"), [
    ("aluminium 5052-H32", 3.0, 0.17), ("steel A36", 6.0, 0.28), ("stainless 304", 1.0, LEAST_CLEARANCE)])
def test_a_slot_takes_sheet_as_thick_as_its_standard_allows_and_a_tab_its_gap_a_side(material, thickness, gap):
    settings = dataclasses.replace(QUIET, material=material, thickness=thickness)
    found = slots(boxed([upright(150.0)], settings))
    assert len(found) >= 4
    for across, along, joint, tab in found:
        assert joint["angle"] == pytest.approx(90.0)
        assert across == pytest.approx(thickness + gap, abs=1e-5) and tab["thickness_gap"] == pytest.approx(gap)
        assert along == pytest.approx(tab["width"] + 2 * 0.1, abs=1e-5) and tab["fit_gap"] == pytest.approx(0.2)


def test_the_clearance_is_the_kits_own_the_metals_or_the_standards_in_that_order():
    copper = materials_from_text("name,family,density,thicker\ncopper X,other,8940,0.4\n", "own.csv")
    for choices, gap in (
        (Choices(settings=Settings(material="copper X"), materials=copper), 0.4),
        (Choices(settings=Settings(material="copper X", thickness_gap=0.0), materials=copper), 0.0),
        (Choices(settings=Settings(material=COPPER.name), materials=(COPPER,)), 0.15),
        (Choices(settings=Settings(material="steel A36", thickness_gap=0.7)), 0.7),
    ):
        assert thickness_gap(choices, 3.0) == gap
    found = slots(boxed([upright(150.0)], dataclasses.replace(QUIET, thickness_gap=0.7)))
    assert {round(across, 4) for across, *_ in found} == {3.7}


@pytest.mark.parametrize("wrong", ["thick", "-0.1", "5"])
def test_a_metal_that_is_thinner_than_its_name_or_far_thicker_is_refused(wrong):
    with pytest.raises(InputError, match="thicker of 'a' is"):
        materials_from_text(f"name,family,density,thicker\na,steel,7850,{wrong}\n", "own.csv")
