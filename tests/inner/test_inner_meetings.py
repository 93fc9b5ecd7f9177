"""Who ends on whom among inner plates, and that every arrangement of them becomes plates that share no space."""

import dataclasses

import numpy as np
import pytest
from baffled import QUIET, along, boxed, rules, shelf, tees, upright, with_inner
from drawn_meshes import box
from judges import worst_overlap

from tackwright.core.envelope.read_envelope import read_envelope
from tackwright.core.inner.inner_meetings import meetings_of, order_of, upward
from tackwright.core.make_kit import make_kit


def met(rings, reach=10.0):
    """Meetings by the order in which the plates were drawn."""
    names = [f"plate {i}" for i in range(len(rings))]
    mesh, choices = with_inner(box(300.0, 200.0, 150.0), rings, names=names)
    panels = read_envelope(mesh, choices).inner
    number = [int(p.name.split()[1]) for p in panels]
    found = meetings_of(panels, reach)
    crosses = {tuple(sorted((number[a], number[b]))) for a, b in found.crosses}
    return {(number[a], number[b]) for a, b in found.ends}, crosses, [number[i] for i in order_of(panels, found)]


def test_one_that_stops_at_another_ends_on_it():
    for x in (149.0, 146.0, 141.0, 155.0):
        ends, crosses, order = met([upright(150.0), shelf(70.0, (0.0, x))])
        assert (ends, crosses, order) == ({(1, 0)}, set(), [0, 1]), x


def test_the_larger_may_end_on_the_smaller():
    ends, crosses, order = met([shelf(70.0, (0.0, 148.0)), upright(150.0, z=(30.0, 110.0))])
    assert (ends, crosses, order) == ({(0, 1)}, set(), [1, 0])


def test_one_that_goes_well_past_crosses():
    assert met([upright(150.0), shelf(70.0, (0.0, 170.0))])[1] == {(0, 1)}
    assert met([upright(150.0), shelf(70.0, (0.0, 125.0))]) [:2] == (set(), set())


def test_at_a_corner_of_two_the_less_important_ends():
    ends, crosses, _ = met([upright(150.0, z=(0.0, 70.0)), shelf(70.0, (0.0, 150.0))])
    assert (ends, crosses) == ({(0, 1)}, set())


def test_parallel_plates_do_not_meet():
    assert met([upright(100.0), upright(120.0)])[:2] == (set(), set())


PINWHEEL = [
    [(100.0, 0.0, 0.0), (100.0, 120.0, 0.0), (100.0, 120.0, 150.0), (100.0, 0.0, 150.0)],
    [(0.0, 120.0, 0.0), (180.0, 120.0, 0.0), (180.0, 120.0, 150.0), (0.0, 120.0, 150.0)],
    [(180.0, 60.0, 0.0), (180.0, 200.0, 0.0), (180.0, 200.0, 150.0), (180.0, 60.0, 150.0)],
    [(100.0, 60.0, 0.0), (300.0, 60.0, 0.0), (300.0, 60.0, 150.0), (100.0, 60.0, 150.0)],
]


def test_a_ring_of_plates_each_ending_on_the_next_is_made():
    ends, crosses, order = met(PINWHEEL)
    assert ends == {(0, 1), (1, 2), (2, 3), (3, 0)} and not crosses and sorted(order) == [0, 1, 2, 3]
    kit = boxed(PINWHEEL)
    assert worst_overlap(kit) < 1e-3 and not rules(kit, "error")
    inner = {p.id for plate in kit.plates if plate.role == "inner" for p in plate.placements}
    assert len([j for j in tees(kit) if j.plates[0] in inner]) == 4


@pytest.mark.parametrize("rings", [
    [upright(150.0, z=(0.0, 70.0)), shelf(70.0, (0.0, 150.0))],
    [upright(150.0, lean=60.0), shelf(70.0, (0.0, 178.0))],
    [upright(150.0, lean=60.0), shelf(70.0, (178.0, 300.0))],
    [upright(150.0), shelf(70.0, (0.0, 148.0)), shelf(70.0, (152.0, 300.0))],
    [upright(150.0), shelf(70.0, (0.0, 148.0)), along(100.0, (152.0, 300.0))],
    [upright(100.0), upright(200.0), shelf(70.0, (102.0, 198.0)), along(100.0, (102.0, 198.0), (0.0, 69.0))],
], ids=["corner", "under a leaning one", "over a leaning one", "both sides", "both sides, square", "nested"])
def test_arrangements_of_plates_that_end_on_each_other(rings):
    kit = boxed(rings)
    assert worst_overlap(kit) < 1e-3
    assert not rules(kit, "error"), [f.message for f in kit.checks if f.level == "error"]


def test_the_order_of_drawing_does_not_matter():
    rings = [upright(150.0, lean=20.0), shelf(70.0, (0.0, 158.0)), along(100.0, (0.0, 140.0), (0.0, 66.0))]
    names = ["dam", "tray", "rib"]
    mesh, choices = with_inner(box(300.0, 200.0, 150.0), rings, names=names)
    turned, chosen = with_inner(box(300.0, 200.0, 150.0), [r[::-1] if i == 1 else r for i, r in enumerate(rings[::-1])],
                                names=names[::-1])
    one = make_kit(mesh, choices)
    two = make_kit(turned, dataclasses.replace(chosen, settings=QUIET))
    areas = [sorted((p.name, round(p.area, 6)) for p in kit.plates) for kit in (one, two)]
    assert areas[0] == areas[1]


def test_up_is_decided_by_geometry_alone():
    assert [upward(np.array(v)) for v in ([0, 0, 1], [1, 0, -1e-3], [1, -1, 1e-9], [-1, 1e-8, 0])] == [1, -1, -1, -1]
