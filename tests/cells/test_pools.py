"""The liquid that cannot run out, against closed forms and a flood of voxels from the outlets."""

import math
import time
from dataclasses import replace

import numpy as np
import pytest
from manifold3d import Manifold
from solid_rooms import GridRoom, block, flooded, profile, vent

from tackwright.core.cells.cells import Vent, find_cells
from tackwright.core.cells.pools import trapped_liquid

ROOM = block((0, 0, 0), (400, 200, 300))


def baffle(x, height, size=20.0):
    """A plate across the room with a square hole whose lower edge is at a height, None for no hole."""
    plate = block((x, -1, -1), (x + 3, 201, 301))
    return plate if height is None else plate - block((x - 1, 90, height), (x + 4, 90 + size, height + size))


def stays(solid, *outlets):
    return [pool.volume for pool in trapped_liquid(solid, outlets)]


def test_a_drain_above_the_floor():
    drain = vent((0, 100, 40), (1, 0, 0), 20)
    (pool,) = trapped_liquid(ROOM, [drain])
    assert pool.volume == pytest.approx(400 * 200 * 30, rel=1e-5)
    assert pool.at == (0, 0, 0) and pool.depth == pytest.approx(30, abs=2e-4)


def test_the_lowest_of_several_openings_counts():
    outlets = [vent((0, 100, z), (1, 0, 0), 20) for z in (200, 25, 120)]
    assert stays(ROOM, *outlets) == pytest.approx([400 * 200 * 15], rel=1e-5)


@pytest.mark.parametrize("at", [(0, 100, 10), (200, 100, 0)])
def test_a_drain_at_the_floor_leaves_nothing(at):
    inward = (1, 0, 0) if at[0] == 0 else (0, 0, 1)
    assert stays(ROOM, vent(at, inward, 20)) == []


def test_without_an_outlet_all_of_it_stays():
    (pool,) = trapped_liquid(ROOM, [])
    assert (pool.volume, pool.depth) == pytest.approx((400 * 200 * 300, 300))


def test_a_baffle_with_a_hole_holds_back_up_to_the_hole():
    solid = ROOM - baffle(150, 70)
    pools = trapped_liquid(solid, [vent((0, 100, 10), (1, 0, 0), 20)])
    assert [p.volume for p in pools] == pytest.approx([247 * 200 * 70], rel=1e-5)
    assert pools[0].at == (153, 0, 0)


def test_a_low_hole_leaves_the_drain_to_decide():
    solid = ROOM - baffle(150, 20)
    pools = trapped_liquid(solid, [vent((0, 100, 60), (1, 0, 0), 20)])
    assert [p.volume for p in pools] == pytest.approx([397 * 200 * 50 + 3 * 20 * 20], rel=1e-5)


def test_a_chain_of_baffles_is_held_by_the_highest_hole_on_the_way():
    heights = [40, 25, 90, 60]
    room = block((0, 0, 0), (1000, 200, 300))
    solid = room - Manifold.compose([baffle(200 * (i + 1), h) for i, h in enumerate(heights)])
    drain = vent((0, 100, 10), (1, 0, 0), 20)
    # behind the first: 40 over the second hole's 25, so one pool; behind the third: 90 over 60
    expected = [197 * 200 * 40 * 2 + 3 * 20 * 15, (197 + 197) * 200 * 90 + 3 * 20 * 20]
    assert sorted(stays(solid, drain)) == pytest.approx(sorted(expected), rel=1e-5)


def test_two_baffles_hold_two_pools():
    solid = ROOM - baffle(100, 50) - baffle(250, 80)
    assert stays(solid, vent((0, 100, 10), (1, 0, 0), 20)) == pytest.approx(
        [147 * 200 * 80, 147 * 200 * 50], rel=1e-5)


def test_a_round_limber_hole_in_the_corner_drains_all():
    hole = Manifold.cylinder(5, 8, 8, 48).rotate([0, 90, 0]).translate([149, 0, 0])
    assert stays(ROOM - (baffle(150, None) - hole), vent((0, 100, 10), (1, 0, 0), 20)) == []


def test_a_v_bottom_with_a_drain_in_its_side():
    trough = profile([(0, 300), (0, 100), (150, 0), (300, 100), (300, 300)], 200)
    normal = np.array([2, 0, 3]) / math.sqrt(13)
    at = np.array([75, 100, 50])
    drain = vent(at, normal, 20)
    level = drain.corners[:, 2].min()                       # 50 - 10 sin of the slope, as 48 corners round it
    assert level == pytest.approx(50 - 10 * 2 / math.sqrt(13), abs=0.03)
    (pool,) = trapped_liquid(trough, [drain])
    assert pool.volume == pytest.approx(1.5 * level**2 * 200, rel=1e-4)       # half of (3 level) wide, level deep
    assert pool.at == (150, 0, 0)


@pytest.mark.parametrize("lean", [0.5, 5.0, 30.0])
def test_a_tilted_floor_holds_a_wedge(lean):
    solid = ROOM.rotate([0, lean, 0])                       # the end at x = 400 goes down
    c, s = math.cos(math.radians(lean)), math.sin(math.radians(lean))

    def turned(x, z):
        return np.array([c * x + s * z, 100, -s * x + c * z])

    drain = vent(turned(0, 60), (c, 0, -s), 20, corners=48)
    (pool,) = trapped_liquid(solid, [drain])
    lowest = turned(400, 0)[2]
    deep = drain.corners[:, 2].min() - lowest
    # an (x, z) section: the corner at the low end is a right angle, cut off level, by the far side where it is full
    far = 400 * s
    section = deep**2 / (2 * s * c) - max(deep - far, 0)**2 / (2 * s * c) - max(deep - 300 * c, 0)**2 / (2 * s * c)
    assert pool.volume == pytest.approx(section * 200, rel=1e-4)
    assert pool.at == pytest.approx((*turned(400, 0)[[0]], 0, lowest)) and pool.depth == pytest.approx(deep, abs=1e-3)


def test_a_stepped_floor():
    steps = profile([(0, 0), (100, 0), (100, 40), (200, 40), (200, 80), (300, 80), (300, 300), (0, 300)], 200)
    over_two = vent((300, 100, 110), (-1, 0, 0), 20)
    assert stays(steps, over_two) == pytest.approx([200 * (100 * 100 + 100 * 60 + 100 * 20)], rel=1e-5)
    over_one = vent((50, 0, 60), (0, 1, 0), 20)
    assert stays(steps, over_one) == pytest.approx([200 * (100 * 50 + 100 * 10)], rel=1e-5)
    dip = profile([(0, 300), (0, 50), (100, 50), (100, 0), (200, 0), (200, 50), (300, 50), (300, 300)], 200)
    assert stays(dip, vent((0, 100, 60), (1, 0, 0), 20)) == pytest.approx([200 * 100 * 50], rel=1e-5)


def test_a_tray_high_up_holds_its_own():
    tray = block((100, -1, 150), (303, 201, 153)) + block((100, -1, 150), (103, 201, 190)) \
        + block((300, -1, 150), (303, 201, 175))
    drain = vent((0, 100, 10), (1, 0, 0), 20)
    pools = trapped_liquid(ROOM - tray, [drain])
    assert [p.volume for p in pools] == pytest.approx([197 * 200 * 22], rel=1e-5)
    assert pools[0].at == (103, 0, 153)
    assert stays(ROOM - (tray - block((200, 90, 100), (210, 100, 200))), drain) == []


def test_a_roof_catches_air_but_no_liquid():
    roof = block((100, -1, 150), (303, 201, 153)) + block((100, -1, 100), (103, 201, 153)) \
        + block((300, -1, 100), (303, 201, 153))
    assert stays(ROOM - roof, vent((0, 100, 10), (1, 0, 0), 20)) == []


def test_an_opening_across_a_low_weir_drains_both_sides():
    weir = block((199, -1, -1), (202, 201, 100))
    across = vent((200.5, 0, 40), (0, 1, 0), 40, corners=4)
    assert stays(ROOM - weir, across) == pytest.approx([199 * 200 * 20, 198 * 200 * 20], rel=1e-5)
    beside = vent((160, 0, 40), (0, 1, 0), 40, corners=4)
    assert stays(ROOM - weir, beside) == pytest.approx([198 * 200 * 100, 199 * 200 * 20], rel=1e-5)


def test_a_hollow_post_that_hangs_free_is_gone_round():
    post = block((150, 50, 20), (250, 150, 250))
    assert stays(ROOM - post, vent((0, 100, 70), (1, 0, 0), 20)) == pytest.approx(
        [400 * 200 * 60 - 100 * 100 * 40], rel=1e-5)


@pytest.mark.parametrize("turn", [17.0, 90.0, 233.0])
def test_turning_it_about_the_vertical_changes_no_volume(turn):
    solid = ROOM - baffle(100, 50) - baffle(250, 80)
    c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    drain = vent((-s * 100, c * 100, 10), (c, s, 0), 20)
    assert stays(solid.rotate([0, 0, turn]), drain) == pytest.approx([147 * 200 * 80, 147 * 200 * 50], rel=1e-5)


@pytest.mark.parametrize("seed", range(40))
def test_the_same_as_a_flood_of_voxels(seed):
    case = GridRoom(seed)
    free, seeds, middles = case.finer()
    wet = flooded(free, middles[..., 2], seeds)
    cells = find_cells(case.room, case.plates, case.vents)
    found = sum(sum(stays(c.solid, *(case.vents[i] for i in c.vents))) for c in cells)
    assert found == pytest.approx(wet.sum() * case.grid**3, abs=case.slack())


@pytest.mark.parametrize("seed", range(100, 104))
def test_a_flood_of_ever_finer_voxels_comes_to_the_same_when_it_leans(seed):
    """A way along a leaning floor climbs over voxels, so they hold too much: the less, the finer they are."""
    case = GridRoom(seed, shape=(16, 9, 12), grid=10.0)
    tilt = np.random.default_rng(seed).uniform(-0.5, 0.5, 2)
    up = np.array([*tilt, 1.0]) / np.linalg.norm([*tilt, 1.0])
    side = np.cross([0, 1, 0], up) / np.linalg.norm(np.cross([0, 1, 0], up))
    lean = np.array([side, np.cross(up, side), up])
    coarse, fine = (
        flooded(free, middles @ up, seeds).sum() * (case.grid / by)**3
        for by, (free, seeds, middles) in ((by, case.finer(by)) for by in (1, 3)))
    found = 0.0
    for cell in find_cells(case.room, case.plates, case.vents):
        own = [leaning(case.vents[i], lean) for i in cell.vents]
        found += sum(stays(cell.solid.transform(np.column_stack([lean, np.zeros(3)])), *own))
    limit = (3 * fine - coarse) / 2                         # the error shrinks with the size of the voxels
    assert found == pytest.approx(limit, abs=0.005 * case.room.volume())
    assert abs(found - fine) <= abs(found - coarse)


def leaning(opening, lean):
    return replace(opening, at=lean @ opening.at, inward=lean @ opening.inward, corners=opening.corners @ lean.T)


def test_fifty_baffles_take_little_time_and_hold_what_a_chain_holds():
    rng = np.random.default_rng(5)
    room = block((0, 0, 0), (2000, 300, 300))
    holes = rng.uniform(10, 250, 50)
    plates = []
    for i, low in enumerate(holes.tolist()):
        hole = Manifold.cylinder(10, 10, 10, 64).rotate([0, 90, 0])
        hole = hole.translate([39 * i + 17, rng.uniform(50, 250), low + 10])
        plates.append(block((39 * i + 20, -1, -1), (39 * i + 23, 301, 301)) - hole)
    drain = vent((0, 150, 10), (1, 0, 0), 20)
    start = time.perf_counter()
    (cell,) = find_cells(room, plates, [drain])
    found = trapped_liquid(cell.solid, [drain])
    taken = time.perf_counter() - start
    surface = np.maximum.accumulate(holes)
    widths = np.append(np.full(49, 36.0), 2000 - (39 * 49 + 23))
    in_holes = 3 * math.pi * 100                                   # at most what the holes themselves hold
    assert sum(p.volume for p in found) == pytest.approx((surface * widths).sum() * 300, abs=50 * in_holes)
    assert len(found) == len(np.unique(surface))
    print(f"50 baffles in {taken:.2f} s")                          # below one second on two free cores


@pytest.mark.parametrize("at", [(0.0, 0.0), (30.0, -20.0)])
def test_an_outlet_in_the_roof_lets_nothing_out_that_stands_below_it(at):
    """A box whose only outlet is a port in its level roof keeps all of its liquid."""
    box = Manifold.cube((200.0, 100.0, 50.0), True)
    turns = np.linspace(0.0, 2.0 * np.pi, 24, endpoint=False)
    ring = np.column_stack([at[0] + 8 * np.cos(turns), at[1] + 8 * np.sin(turns), np.full(24, 25.0)])
    port = Vent(at=np.array([*at, 25.0]), inward=np.array([0.0, 0.0, -1.0]), radius=8.0, corners=ring, purpose="port",
                name="port")
    (pool,) = trapped_liquid(box, [port])
    assert pool.volume == pytest.approx(1e6, rel=1e-5) and pool.depth == pytest.approx(50.0, abs=1e-3)
    # a ridge on the floor parts the lowest liquid only: it is one pool all the same
    ridge = box - Manifold.cube((4.0, 100.0, 10.0), True).translate((0.0, 0.0, -20.0))
    (pool,) = trapped_liquid(ridge, [port])
    assert pool.volume == pytest.approx(1e6 - 4.0 * 100.0 * 10.0, rel=1e-5)
