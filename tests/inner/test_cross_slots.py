"""Inner plates that cross: half-depth slots, and the way they are put together."""

import dataclasses
import math

import numpy as np
import pytest
from baffled import QUIET, along, boxed, inner_of, rules, shelf, upright
from judges import placed_solids, worst_overlap

from tackwright.core.terms.choices import TabRule
from tackwright.core.terms.errors import InputError

BARE = dataclasses.replace(QUIET, tabs=TabRule(on=False), fit_gap=0.1, thickness_gap=0.2)


def crosses(kit):
    return [joint for joint in kit.joints if joint.kind == "cross"]


def test_a_crate_of_two_is_cut_to_half_the_height_each():
    kit = boxed([upright(150.0), along(100.0)], BARE)
    (joint,) = crosses(kit)
    assert joint.angle == pytest.approx(90.0) and joint.length == pytest.approx(144.0)
    assert sorted(joint.line[:, 2].tolist()) == pytest.approx([3.0, 147.0])
    for plate in inner_of(kit):
        xy = plate.outline.outer.points
        assert len(xy) == 8                                          # a rectangle with one slot
        # what is missing of the rectangle: half the height and half the fit gap, as wide as the other plate and the gap
        missing = plate.size[0] * plate.size[1] - plate.area
        assert missing == pytest.approx(3.2 * (72.0 + 0.1), abs=1e-9)
    assert worst_overlap(kit) < 1e-6


@pytest.mark.parametrize("lean", [0.0, 50.0, -80.0])
@pytest.mark.parametrize("count", [1, 3])
def test_the_second_plate_comes_down_over_the_first(lean, count):
    """Each joint names the plate put first: lifted along the crossing, the other one is free at every height."""
    rings = [upright(70.0 + 60.0 * i, lean=lean) for i in range(count)] + [along(100.0)]
    kit = boxed(rings, BARE)
    solids = placed_solids(kit)
    assert len(crosses(kit)) == count
    for joint in crosses(kit):
        first, second = (solids[i] for i in joint.plates)
        way = joint.line[1] - joint.line[0]
        way = way * np.sign(way[2])
        for lifted in np.linspace(0.0, 1.2, 13):
            assert (first ^ second.translate(way * lifted)).volume() < 1e-3
        assert (first ^ second.translate(-0.05 * way)).volume() > 1.0  # and stops where it belongs
        assert first.min_gap(second, 10.0) == pytest.approx(0.1, abs=1e-6)


def test_slots_are_as_wide_as_the_other_plate_takes_at_the_angle():
    """w = t / sin + t' / tan, and the gap over the sine: the tee's slot, cut through."""
    a = math.radians(60.0)
    run = 150.0 / math.tan(a)
    kit = boxed([upright(100.0, lean=run), shelf(70.0)], BARE, size=(300.0, 200.0, 150.0))
    (joint,) = crosses(kit)
    assert joint.angle == pytest.approx(60.0)
    width = 3.0 / math.sin(a) + 3.0 / math.tan(a) + 0.2 / math.sin(a)
    tray = max(inner_of(kit), key=lambda p: p.area)
    missing = tray.size[0] * tray.size[1] - tray.area
    assert missing == pytest.approx(width * (194.0 / 2 + 0.1), rel=1e-6)         # drawn to 1e-6 mm
    assert worst_overlap(kit) < 1e-6


def test_an_egg_crate_of_many():
    kit = boxed([upright(60.0 * i) for i in range(1, 5)] + [along(50.0 * i) for i in range(1, 4)])
    assert len(crosses(kit)) == 12 and worst_overlap(kit) < 1e-3 and not rules(kit, "error")


def test_a_plate_with_a_free_end_is_slotted_to_that_end():
    kit = boxed([upright(150.0), along(100.0, z=(0.0, 100.0))], BARE)
    (joint,) = crosses(kit)
    assert sorted(joint.line[:, 2].tolist()) == pytest.approx([3.0, 100.0]) and worst_overlap(kit) < 1e-6


def test_crossings_that_share_a_line_are_refused_with_the_place():
    rings = [upright(150.0), along(100.0), [(100.0, 50.0, 0.0), (200.0, 150.0, 0.0), (200.0, 150.0, 150.0),
                                            (100.0, 50.0, 150.0)]]
    with pytest.raises(InputError, match=r"Three inner plates meet.*run into each other at \(1") as caught:
        boxed(rings)
    assert set(caught.value.faces) == {6, 7, 8}


def test_plates_that_cross_at_a_small_angle_are_refused():
    rings = [along(100.0), [(0, 90, 0), (300, 110, 0), (300, 110, 150), (0, 90, 150)]]
    with pytest.raises(InputError, match=r"meet at 3\.8 degrees, sharper than 20") as caught:
        boxed(rings)
    assert set(caught.value.faces) == {6, 7}


def test_a_plate_tabbed_through_both_plates_of_a_crossing_is_said():
    rings = [upright(150.0), along(100.0), shelf(70.0, (0.0, 150.0), (0.0, 100.0))]
    kit = boxed(rings)
    (found,) = [f for f in kit.checks if f.rule == "locked_out"]
    assert found.level == "warning" and found.message.count("'inner") >= 3 and len(found.about) == 2
    assert "locked_out" not in rules(boxed(rings, dataclasses.replace(QUIET, tabs=TabRule(on=False))))
    assert "locked_out" not in rules(boxed(rings[:2]))
