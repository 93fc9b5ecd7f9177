"""Limber holes and corner snipes: where they are, and that liquid gets past."""

import dataclasses
import math

import numpy as np
import pytest
from baffled import QUIET, boxed, inner_of, rules, shelf, upright
from judges import worst_overlap

from tackwright.core.terms.choices import MarkedOpening, TabRule

BARE = dataclasses.replace(QUIET, tabs=TabRule(on=False))
DRAIN = MarkedOpening(name="drain", at=(20.0, 100.0, 0.0), size=(20.0,), purpose="drain")
VENT = MarkedOpening(name="vent", at=(20.0, 100.0, 150.0), size=(20.0,), purpose="vent")


def test_corners_are_sniped_and_the_low_side_bitten():
    plain = inner_of(boxed([upright(100.0)], BARE))[0]
    kit = boxed([upright(100.0)], dataclasses.replace(BARE, limber=12.0))
    (plate,) = inner_of(kit)
    assert plain.area - plate.area == pytest.approx(4 * 72.0 + math.pi * 36.0 / 2, abs=1e-9)
    assert np.count_nonzero(plate.outline.outer.bulges) == 1              # the half round is an arc
    (limber,) = kit.openings
    assert (limber.purpose, limber.shape, limber.size) == ("limber", "round", (12.0,))
    placed = plate.placements[0].matrix @ [*limber.centre, 1.5, 1.0]
    assert placed[:3] == pytest.approx([100.0, 100.0, 3.0], abs=1e-6)     # mid-way along the floor


def test_a_level_shelf_has_snipes_alone():
    kit = boxed([shelf(70.0)], dataclasses.replace(BARE, limber=12.0))
    assert kit.openings == () and inner_of(kit)[0].area == pytest.approx(294.0 * 194.0 - 4 * 72.0)


def test_tabs_keep_clear_of_limber_holes():
    kit = boxed([upright(100.0)], dataclasses.replace(QUIET, limber=20.0, tabs=TabRule(count=3)))
    assert worst_overlap(kit) < 1e-3 and not rules(kit, "error")
    (plate,) = inner_of(kit)
    assert np.count_nonzero(plate.outline.outer.bulges) == 1
    floor = next(j for j in kit.joints if j.kind == "tee" and np.allclose(j.line[:, 2], 3.0))
    assert len(floor.tabs) == 3                                            # the middle one has moved
    assert all(abs(tab.at - floor.length / 2) >= 10.0 + tab.width / 2 for tab in floor.tabs)


@pytest.mark.parametrize("ring", [upright(100.0), shelf(70.0), shelf(70.0, drop=30.0), upright(100.0, lean=60.0)])
def test_what_is_shut_off_without_limber_holes_drains_with_them(ring):
    shut = boxed([ring], dataclasses.replace(QUIET, sealed=False), openings=(DRAIN, VENT))
    assert (rules(shut, "error") | rules(shut, "warning")) & {"cannot_drain", "sealed_cell"}
    open_ = boxed([ring], dataclasses.replace(QUIET, sealed=False, limber=12.0), openings=(DRAIN, VENT))
    assert not rules(open_, "error") and "cannot_drain" not in rules(open_, "warning")


def holes_of(kit):
    return {o.purpose: np.array(o.centre) for o in kit.openings}


def test_a_limber_hole_makes_way_for_an_opening():
    # an opening is where somebody wants it; liquid runs along the floor anyway
    low = MarkedOpening(name="way", at=(100.0, 100.0, 25.0), size=(30.0,), purpose="hand_hole")
    kit = boxed([upright(100.0)], dataclasses.replace(QUIET, limber=20.0), openings=(low,))
    assert not rules(kit, "error") and "opening_near_cut" not in rules(kit)
    found = holes_of(kit)
    # common practice, no source: a web of twice the 3 mm sheet; moved no farther than a step of a quarter of its size
    apart = float(np.linalg.norm(found["hand_hole"] - found["limber"])) - 15.0 - 10.0
    assert 6.0 <= apart < 6.0 + 5.0


def test_a_limber_hole_without_any_room_is_said():
    wide = MarkedOpening(name="way", at=(100.0, 100.0, 50.0), size=(160.0, 80.0), radius=5.0, shape="rectangle",
                         purpose="hand_hole")
    kit = boxed([upright(100.0)], dataclasses.replace(QUIET, limber=20.0), openings=(wide,))
    assert set(holes_of(kit)) == {"hand_hole"}
    (said,) = [f for f in kit.checks if f.rule == "limber_left_out"]
    assert said.at == pytest.approx((100.0, 100.0, 3.0), abs=1e-6) and "20 mm" in said.message


def test_tabs_that_find_no_place_are_counted():
    wide = MarkedOpening(name="way", at=(100.0, 100.0, 50.0), size=(120.0, 90.0), radius=5.0, shape="rectangle",
                         purpose="hand_hole")
    settings = dataclasses.replace(QUIET, tabs=TabRule(count=3))
    (said,) = [f for f in boxed([upright(100.0)], settings, openings=(wide,)).checks if f.rule == "tee_tabs_left_out"]
    assert "2 of 3 locating tabs" in said.message
    assert "tee_tabs_left_out" not in rules(boxed([upright(100.0)], settings))
