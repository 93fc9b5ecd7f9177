"""Plates on their way out: judged by manifold3d on the solids, at many values of the slider."""

from __future__ import annotations

import dataclasses
import itertools

import hypothesis.strategies as st
import numpy as np
import pytest
from baffled import along, boxed, shelf, upright, with_inner
from demo_kits import made
from drawn_meshes import box, together
from hypothesis import given, settings
from judges import placed_solids
from kit_samples import corner_kit, plate, straight, turned
from spread import moved_along
from strategies import convex_envelopes, prism, rigid_motions

from tackwright.core.kit.kit import Kit, Placement
from tackwright.core.kit.ways_out import LIFTED, WAIT, ways_out
from tackwright.core.make_kit import make_kit
from tackwright.core.terms.choices import Choices, Settings
from tackwright.core.terms.tolerance import CLASH

ALL_ALONG = np.linspace(0.0, 1.0, 21)
STEEL = Settings(thickness=3.0, sealed=True)


def spread_solids(kit, ways, spread):
    """Every placement's solid at a value of the slider, by id."""
    return {name: solid.translate(moved_along(ways[name], spread).tolist())
            for name, solid in placed_solids(kit).items()}


def clashes(kit, ways, spreads=ALL_ALONG):
    """{(id, id): largest volume, mm3} of pairs that share space at some of the values."""
    out: dict[tuple[str, str], float] = {}
    for spread in spreads:
        solids = spread_solids(kit, ways, spread)
        boxes = {name: np.array(solid.bounding_box()).reshape(2, 3) for name, solid in solids.items()}
        for a, b in itertools.combinations(sorted(solids), 2):
            if (boxes[a][0] <= boxes[b][1]).all() and (boxes[b][0] <= boxes[a][1]).all():
                volume = (solids[a] ^ solids[b]).volume()
                if volume > CLASH:
                    out[a, b] = max(volume, out.get((a, b), 0.0))
    return out


def boxes_that_overlap(kit, ways, spread):
    """Pairs whose axis-aligned boxes overlap, of the solids."""
    found = {name: np.array(s.bounding_box()).reshape(2, 3) for name, s in spread_solids(kit, ways, spread).items()}
    return [(a, b) for a, b in itertools.combinations(sorted(found), 2)
            if (found[a][0] < found[b][1]).all() and (found[b][0] < found[a][1]).all()]


def by_panel(kit, ways):
    return {placed.panel: ways[placed.id] for p in kit.plates for placed in p.placements}


def moves(ways):
    return {name: way.direction * way.distance for name, way in ways.items()}


FITTED = {
    "two across": [upright(100), upright(200)],
    "one in the very middle": [upright(150)],
    "a row near one end": [upright(20), upright(32), upright(44), upright(56)],
    "an egg crate": [upright(100), upright(200), along(70), along(130)],
    "a cross": [upright(150), along(100)],
    "one that stands on two": [upright(100), upright(200), along(100, (100, 200))],
    "short ones on a long one": [along(100), upright(80, (0, 100)), upright(80, (100, 200)), upright(220, (0, 100))],
    "a shelf slotted through uprights": [upright(100), upright(200), shelf(75)],
    "a free strip": [shelf(60, (50, 250), (40, 160))],
}


@pytest.mark.parametrize("rings", FITTED.values(), ids=FITTED.keys())
@pytest.mark.parametrize("corner", ["open", "closed"])
def test_nothing_passes_through_anything_in_a_box_with_inner_plates(rings, corner):
    kit = boxed(rings, dataclasses.replace(STEEL, corner=corner))
    assert clashes(kit, ways_out(kit)) == {}


@pytest.mark.parametrize("rings", FITTED.values(), ids=FITTED.keys())
@pytest.mark.parametrize("spread", [0.5, 0.75, 1.0, 2.0])
def test_from_half_way_on_no_boxes_overlap(rings, spread):
    kit = boxed(rings)
    assert boxes_that_overlap(kit, ways_out(kit), spread) == []


@given(st.lists(st.tuples(st.sampled_from("xyz"), st.integers(8, 92)), min_size=1, max_size=5, unique=True),
       st.sampled_from([2.0, 3.0, 6.0]))
@settings(max_examples=25)
def test_from_half_way_on_no_boxes_overlap_whatever_stands_in_the_box(rows, thickness):
    draw = {"x": lambda p: upright(3.0 * p), "y": lambda p: along(2.0 * p), "z": lambda p: shelf(1.5 * p)}
    taken = {axis: sorted(p for a, p in rows if a == axis) for axis in "xyz"}
    if len([axis for axis in "xyz" if taken[axis]]) == 3 or any(
            b - a < 8 for places in taken.values() for a, b in itertools.pairwise(places)):
        rows = rows[:1]  # plates slotted in three directions lock each other
    kit = boxed([draw[axis](place) for axis, place in rows], dataclasses.replace(STEEL, thickness=thickness))
    ways = ways_out(kit)
    for spread in (0.5, 0.7, 1.0):
        assert boxes_that_overlap(kit, ways, spread) == []


@given(convex_envelopes())
@settings(max_examples=15)
def test_walls_of_a_convex_shell_leave_square_and_never_meet(mesh):
    kit = make_kit(mesh, Choices(settings=STEEL))
    ways = ways_out(kit)
    flat = [joint for joint in kit.joints if joint.angle > 160.0]
    if not flat:
        for p in kit.plates:
            for placed in p.placements:
                assert ways[placed.id].direction == pytest.approx(placed.matrix[:3, 2], abs=1e-9)
                assert ways[placed.id].begin == 0.0
    assert clashes(kit, ways, (0.02, 0.1, 0.3, 0.6, 1.0)) == {}


HOLLOW = {
    "L": [(0, 0), (300, 0), (300, 100), (120, 100), (120, 250), (0, 250)],
    "U": [(0, 0), (300, 0), (300, 250), (220, 250), (220, 100), (100, 100), (100, 250), (0, 250)],
    "C": [(0, 0), (300, 0), (300, 250), (0, 250), (0, 200), (250, 200), (250, 50), (0, 50)],
    "dent": [(0, 0), (400, 0), (400, 200), (200, 180), (0, 200)],
}


@pytest.mark.parametrize("shape", HOLLOW.values(), ids=HOLLOW.keys())
@pytest.mark.parametrize("corner", ["open", "closed"])
def test_walls_that_face_each_other_across_a_hollow_do_not_meet(shape, corner):
    kit = make_kit(prism(np.array(shape, float), 200.0), Choices(settings=dataclasses.replace(STEEL, corner=corner)))
    ways = ways_out(kit)
    assert clashes(kit, ways) == {}
    for p in kit.plates:
        for placed in p.placements:
            assert moves(ways)[placed.id] @ placed.matrix[:3, 2] >= -1e-6, "a wall never goes in"


@pytest.mark.parametrize("name", ["bow_tank", "hopper", "drill_upright"])
def test_the_demos_come_apart_without_a_touch(name):
    kit = made(name)
    ways = ways_out(kit)
    assert clashes(kit, ways) == {}
    solids = list(spread_solids(kit, ways, 1.0).values())
    nearest = min(a.min_gap(b, 20.0) for a, b in itertools.combinations(solids, 2))     # looked for no farther: quick
    assert nearest > 15.0, "mm, of tanks 250 to 500 mm long: to be told apart at a glance"


def test_walls_first_and_farther_then_what_they_held():
    kit = boxed([upright(60), upright(240)])
    ways = by_panel(kit, ways_out(kit))
    walls = [way for panel, way in ways.items() if not panel.startswith("inner")]
    inner = [way for panel, way in ways.items() if panel.startswith("inner")]
    assert {way.begin for way in walls} == {0.0}
    assert {way.begin for way in inner} == {WAIT}
    assert min(way.distance for way in walls) > max(way.distance for way in inner) > 0.0


def test_a_row_of_baffles_opens_in_order_and_its_middle_one_stays():
    kit = boxed([upright(60 * i) for i in range(1, 5)] + [upright(150)])
    row = sorted((placed.matrix[0, 3], moves(ways_out(kit))[placed.id][0])
                 for p in kit.plates if p.role == "inner" for placed in p.placements)
    gone = [move for _, move in row]
    assert gone == sorted(gone)
    assert gone[2] == pytest.approx(0.0, abs=1e-3)
    assert gone[0] == pytest.approx(-gone[4])


def test_slotted_plates_leave_along_their_slots_and_are_apart_at_lifted():
    kit = boxed([upright(100), along(100)])
    ways = ways_out(kit)
    (cross,) = (joint for joint in kit.joints if joint.kind == "cross")
    first, second = (ways[name] for name in cross.plates)
    line = (cross.line[1] - cross.line[0]) / cross.length
    assert second.direction == pytest.approx(line)
    assert first.direction == pytest.approx(-line)
    assert first.end == second.end == LIFTED
    assert first.distance + second.distance > cross.length


def test_a_plate_on_two_others_keeps_between_them():
    kit = boxed(FITTED["one that stands on two"])
    ways = ways_out(kit)
    held = next(joint.plates[1] for joint in kit.joints
                if joint.kind == "tee" and all(_role(kit, name) == "inner" for name in joint.plates))
    assert ways[held].distance == pytest.approx(0.0, abs=0.1)


def _role(kit, name):
    return next(p.role for p in kit.plates for placed in p.placements if placed.id == name)


def test_what_is_symmetric_moves_symmetrically():
    kit = make_kit(prism(np.array(HOLLOW["U"], float) - [[160, 0]], 200.0), Choices(settings=STEEL))
    wide = make_kit(*with_inner(box(300, 200, 150), FITTED["an egg crate"]))
    for one, axes in ((kit, [2]), (wide, [0, 1])):
        found = sorted(np.round(list(moves(ways_out(one)).values()), 1).tolist())
        for axis in axes:
            mirror = np.ones(3)
            mirror[axis] = -1
            image = sorted((np.round(np.array(found) * mirror, 1) + 0.0).tolist())
            assert np.array(image) == pytest.approx(np.array(found), abs=0.2)


@given(rigid_motions())
@settings(max_examples=10)
def test_a_turned_assembly_has_its_ways_turned(motion):
    kit = made_once()
    turned_kit = dataclasses.replace(
        kit,
        plates=tuple(dataclasses.replace(p, placements=tuple(
            dataclasses.replace(q, matrix=motion @ q.matrix) for q in p.placements)) for p in kit.plates),
        joints=tuple(dataclasses.replace(j, line=j.line @ motion[:3, :3].T + motion[:3, 3]) for j in kit.joints))
    here, there = ways_out(kit), ways_out(turned_kit)
    assert here.keys() == there.keys()
    for name, way in here.items():
        assert there[name].direction == pytest.approx(motion[:3, :3] @ way.direction, abs=1e-6)
        assert there[name].distance == pytest.approx(way.distance, abs=1e-4)
        assert (there[name].begin, there[name].end) == (way.begin, way.end)


_kits: list[Kit] = []


def made_once():
    if not _kits:
        _kits.append(made("bow_tank"))
    return _kits[0]


def test_the_same_kit_gives_the_same_ways_to_the_last_bit():
    one, two = ways_out(made_once()), ways_out(made_once())
    assert all(np.array_equal(one[name].direction, two[name].direction) for name in one)
    assert [way.distance for way in one.values()] == [way.distance for way in two.values()]


# ---- few plates, and plates that do not hang together


def loose(*matrices):
    """A kit of like plates of 200 x 100 x 3 without a joint."""
    placements = tuple(Placement(id=f"P01-{i}", panel=f"p{i}", faces=(i,), matrix=np.asarray(m, float))
                       for i, m in enumerate(matrices, 1))
    piece = plate(straight([(0, 0), (200, 0), (200, 100), (0, 100)]), placements=placements)
    return dataclasses.replace(corner_kit(), plates=(piece,), joints=(), corners=(), envelopes=(), checks=())


def test_no_plate_and_one_plate():
    assert ways_out(dataclasses.replace(loose(np.eye(4)), plates=())) == {}
    way = ways_out(loose(np.eye(4)))["P01-1"]
    assert way.distance == 0.0
    assert np.linalg.norm(way.direction) == pytest.approx(1.0)


@pytest.mark.parametrize("turn", [0, 180])
def test_two_parallel_plates_part(turn):
    kit = loose(np.eye(4), turned(0, turn, (0, 100 if turn else 0, 10)))
    found = moves(ways_out(kit))
    assert (found["P01-2"] - found["P01-1"]) @ [0, 0, 1] > 10.0
    assert clashes(kit, ways_out(kit)) == {}


def test_plates_welded_edge_to_edge_in_one_plane_part_in_it():
    strip = [(0, 0, 0), (100, 0, 0), (200, 0, 0), (300, 0, 0), (300, 80, 0), (200, 80, 0), (100, 80, 0), (0, 80, 0)]
    mesh = _mesh(strip, [(0, 1, 6, 7), (1, 2, 5, 6), (2, 3, 4, 5)])
    from tackwright.core.terms.choices import PanelChoice
    thick = {0: PanelChoice(thickness=3.0), 1: PanelChoice(thickness=4.0), 2: PanelChoice(thickness=5.0)}
    kit = make_kit(mesh, Choices(settings=STEEL, faces=thick))
    assert [joint.kind for joint in kit.joints].count("butt") == 2
    spread = spread_solids(kit, ways_out(kit), 1.0)
    ends = sorted((s.bounding_box()[0], s.bounding_box()[3]) for s in spread.values())
    assert all(after[0] - before[1] > 5.0 for before, after in itertools.pairwise(ends))


def _mesh(points, faces):
    from tackwright.core.envelope.mesh import Mesh
    return Mesh.of(np.array(points, float), faces, name="strip")


def test_two_tanks_side_by_side_do_not_spread_into_each_other():
    kit = make_kit(together(box(200, 200, 200), box(200, 200, 200, (230.0, 0.0, 0.0))), Choices(settings=STEEL))
    assert clashes(kit, ways_out(kit), (0.3, 0.6, 1.0)) == {}


def test_beyond_one_all_goes_on_in_proportion():
    for way in ways_out(made_once()).values():
        assert moved_along(way, 2.5) == pytest.approx(2.5 * moved_along(way, 1.0))
        assert np.linalg.norm(moved_along(way, 1.0)) == pytest.approx(way.distance)
        assert not moved_along(way, 0.0).any()


def test_a_large_kit_is_spread_in_a_moment():
    import time

    kit = boxed([upright(20 + 20 * i) for i in range(100)], size=(2100.0, 200.0, 150.0))
    began = time.perf_counter()
    ways = ways_out(kit)
    print(f"100 baffles spread in {time.perf_counter() - began:.3f} s")                # measured 0.03 on two cores
    assert len(ways) == sum(plate.quantity for plate in kit.plates)
