"""The demo tank, with all that is in it, before outside judges."""

import dataclasses

import numpy as np
import pytest
from demo_kits import made
from judges import cavities, worst_overlap


@pytest.fixture(scope="module")
def tank():
    return made("bow_tank")


def test_no_two_plates_share_space_and_nothing_is_an_error(tank):
    assert worst_overlap(tank) < 0.01
    assert not [f for f in tank.checks if f.level == "error"]
    assert not [f for f in tank.checks if f.rule in {"sealed_cell", "cannot_drain", "web_too_small", "trimmed"}]


def test_every_tee_is_located_and_every_opening_is_there(tank):
    tees = [j for j in tank.joints if j.kind == "tee"]
    assert len(tees) == 8 and all(len(j.tabs) >= 2 for j in tees)
    marked = {o.name: o.purpose for o in tank.openings if o.purpose not in {"limber", "perforation"}}
    assert marked == {"fill": "port", "vent": "vent", "outlet": "port", "drain": "drain", "hand hole": "hand_hole"}
    assert sum(o.purpose == "limber" for o in tank.openings) == 2
    assert [o.pattern for o in tank.openings if o.purpose == "perforation"] == ["R16T32", "R16T32 + LR8x40Z24x60"]
    ids = {i.panel: i.id for p in tank.plates for i in p.placements}
    (sloped,) = [j for j in tees if j.plates == (ids["bottom"], ids["fore_baffle"])]
    assert sloped.angle == pytest.approx(np.degrees(np.arctan2(350.0, 90.0)), abs=0.02)


def test_with_its_openings_plugged_it_is_one_sealed_space_of_the_capacity(tank):
    """Judge: manifold3d joins the plates with a bead along every joint and a drop in every corner. The tabs in their
    slots leave gaps, wider for the sloping baffle, which the welds along the tees close."""
    plugged = made("bow_tank", openings=(), settings=dataclasses.replace(tank.settings, sealed=True))
    inside = cavities(plugged, bead=5.0, fill=9.0)
    assert len(inside) == 1
    beads = sum(np.pi * 5.0**2 * j.length for j in plugged.joints) + len(plugged.corners) * 4 / 3 * np.pi * 9.0**3
    capacity = plugged.envelopes[0].capacity
    assert capacity - beads < inside[0] < capacity
    assert capacity == pytest.approx(tank.envelopes[0].capacity, rel=1e-6)


def test_the_upright_is_vented_all_through():
    upright = made("drill_upright")
    assert worst_overlap(upright) < 0.01 and not [f for f in upright.checks if f.level == "error"]
    assert len([j for j in upright.joints if j.kind == "tee"]) == 8
    shut = made("drill_upright", openings=())
    assert [f.level for f in shut.checks if f.rule == "sealed_cell"] == ["error"]
    solid = made("drill_upright", settings=dataclasses.replace(upright.settings, limber=0.0))
    assert [f.level for f in solid.checks if f.rule == "sealed_cell"] == ["error"]     # between the diaphragms
