"""What is said about closed cells and about cells that keep their liquid, and how large a vent is advised."""

import math

import numpy as np
import pytest
from solid_rooms import block, vent

from tackwright.core.cells.cell_checks import CLINGS, check_cells
from tackwright.core.cells.cells import find_cells
from tackwright.core.cells.vent_holes import VESSEL_HOLE, vent_hole
from tackwright.core.kit.report import findings_text

ROOM = block((0, 0, 0), (400, 200, 300))
BAFFLE = block((100, -1, -1), (103, 201, 301))


def found(room=ROOM, barriers=(), vents=(), **choices):
    return check_cells(find_cells(room, barriers, vents), vents, **choices)


def drain(z, x=0):
    return vent((x, 100, z), (1, 0, 0) if x == 0 else (-1, 0, 0), 20, "drain", "low drain")


def test_a_closed_cell_is_an_error_with_its_place_volume_cause_and_cure():
    (finding,) = found(barriers=[BAFFLE], vents=[drain(10)])
    assert (finding.rule, finding.level) == ("sealed_cell", "error")
    low, high = np.array([103, 0, 0]), np.array([400, 200, 300])
    assert (low < finding.at).all() and (finding.at < high).all()
    for words in ("17.8 L", "no opening", "burst", "3 mm", "50 mm", "galvanis", "local codes and licensed practice"):
        assert words in finding.message
    assert f"({finding.at[0]:g}, {finding.at[1]:g}, {finding.at[2]:g}) mm" in finding.message


def test_a_metal_that_is_not_galvanised_is_told_of_welding_alone():
    (finding,) = found(galvanised=False)
    assert "galvani" not in finding.message
    for words in ("Welding heats", "burst", "3 mm", "Local codes and licensed practice decide"):
        assert words in finding.message


def test_a_closed_cell_that_is_meant_is_a_warning_that_still_names_the_danger():
    (finding,) = found(sealed_meant=True)
    assert (finding.rule, finding.level) == ("sealed_cell", "warning")
    assert "meant" in finding.message and "burst" in finding.message


@pytest.mark.parametrize("purpose", ["vent", "hand_hole", "port", "drain"])
def test_any_opening_opens_a_cell(purpose):
    low = vent((0, 100, 10), (1, 0, 0), 20, purpose)
    assert "sealed_cell" not in [f.rule for f in found(vents=[low])]


def test_a_well_drained_tank_has_no_finding():
    assert found(vents=[drain(10), vent((200, 100, 300), (0, 0, -1), 40, "port")]) == ()
    assert findings_text(found(vents=[drain(10)])) == "nothing found"


def test_what_cannot_run_to_the_drain_is_a_warning_with_volume_place_and_depth():
    hole = block((99, 90, 70), (104, 110, 90))
    (finding,) = found(barriers=[BAFFLE - hole], vents=[drain(40)])
    assert (finding.rule, finding.level) == ("cannot_drain", "warning")
    behind, before = 297 * 200 * 70 / 1e6, 100 * 200 * 30 / 1e6
    for words in (f"{behind + before:.3g} L in the space", f"{behind:.3g} L, 70.0 mm deep", "(103, 0, 0) mm",
                  f"{before:.3g} L, 30.0 mm deep", "'low drain'", "limber holes"):
        assert words in finding.message, words
    assert finding.at == (103.0, 0.0, 0.0)


def test_a_film_is_not_worth_a_word():
    for height, count in ((0.9 * CLINGS / 400 / 200, 0), (1.1 * CLINGS / 400 / 200, 1)):
        shallow = block((0, 0, 0), (400, 200, 50))
        assert len(found(shallow, vents=[drain(10 + height)])) == count
    # of a large tank a ten-thousandth: 0.2 mm of 2 m
    large = block((0, 0, 0), (2000, 2000, 2000))
    for height, count in ((0.19, 0), (0.21, 1)):
        assert len(found(large, vents=[drain(10 + height)])) == count


def test_a_cell_of_a_tank_without_a_drain_of_its_own_is_trapped_whole():
    high = vent((400, 100, 290), (-1, 0, 0), 20, "vent", "breather")
    (finding,) = found(barriers=[BAFFLE], vents=[drain(10), high])
    assert (finding.rule, finding.level) == ("cannot_drain", "warning")
    assert "No drain or port" in finding.message and "17.8 L" in finding.message and "trapped" in finding.message
    assert f"'breather' all but {297 * 200 * 280 / 1e6:.3g} L" in finding.message
    assert finding.at == (103.0, 0.0, 0.0)


def test_an_upright_with_vents_at_the_top_only_keeps_rain_as_a_note():
    upright = block((0, 0, 0), (60, 60, 500))
    top = vent((0, 30, 480), (1, 0, 0), 12, "vent")
    (finding,) = found(upright, vents=[top])
    assert (finding.rule, finding.level) == ("cannot_drain", "note")
    assert "rain or condensation" in finding.message and f"{60 * 60 * 474 / 1e6:.3g} L" in finding.message
    foot = vent((60, 30, 6), (-1, 0, 0), 12, "vent")
    assert found(upright, vents=[top, foot]) == ()


def test_many_pools_are_told_in_short():
    barriers = [block((60 * i + 50, -1, -1), (60 * i + 53, 201, 40)) for i in range(6)]
    (finding,) = found(barriers=barriers, vents=[drain(10)])
    assert "and 2 smaller pools" in finding.message


def test_nothing_is_called_safe():
    hole = block((99, 90, 70), (104, 110, 90))
    said = [*found(), *found(sealed_meant=True), *found(barriers=[BAFFLE - hole], vents=[drain(40)]),
            *found(barriers=[BAFFLE], vents=[drain(10), vent((400, 100, 290), (-1, 0, 0), 20, "vent")])]
    assert len(said) == 4
    assert all("safe" not in finding.message.lower() for finding in said)


@pytest.mark.parametrize(("side", "share"), [
    # American Galvanizers Association, Venting and Drainage, Box Sections: height + width and the share left open
    (12.0, 0.25), (11.9, 0.30), (8.0, 0.30), (7.9, 0.40), (4.0, 0.40),
])
def test_a_box_section_is_open_by_its_share(side, share):
    side = 25.4 * side
    advice = vent_hole((side, 10 * side, side), 10 * side**3)
    assert advice.count == 2 and f"{100 * share:.0f} %" in advice.assumption
    assert math.pi * advice.galvanising**2 / 4 == pytest.approx(share * side**2, rel=2e-3)


@pytest.mark.parametrize("sides", [(101, 101, 2000), (50, 50, 500), (20, 300, 2000), (60, 60, 60)])
def test_what_is_too_small_for_a_hole_stays_open(sides):
    advice = vent_hole(sides, math.prod(sides))
    assert advice.galvanising is None and advice.welding > 0


@pytest.mark.parametrize(("litres", "count"), [(20, 2), (500, 2), (501, 4), (1600, 8)])
def test_a_vessel_has_a_vent_and_a_drain_for_every_half_cubic_metre(litres, count):
    # Galvanizers Association of Australia, design manual: each at least 50 mm
    side = (litres * 1e6) ** (1 / 3)
    advice = vent_hole((side, side, side), litres * 1e6)
    assert (advice.galvanising, advice.count) == (VESSEL_HOLE, count) and VESSEL_HOLE == 50


def test_a_leaning_upright_is_measured_along_itself():
    leaning = block((0, 0, 0), (150, 120, 2000)).rotate([20, 35, 10])
    (finding,) = found(leaning)
    assert "box section 150 × 120 mm, 40 % of it open" in finding.message
    assert f"at least {math.sqrt(4 * 0.4 * 150 * 120 / math.pi):.0f} mm" in finding.message
