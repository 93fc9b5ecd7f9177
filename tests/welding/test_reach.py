"""Reach: boxes with answers that anybody can see, and random ones against a judge without rays."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from torch_judge import Box, box_triangles, gets_there

from tackwright.core.terms.choices import Torch
from tackwright.core.welding.reach import Reach, reaches
from tackwright.core.welding.shields import Shields, shields
from tackwright.core.welding.torch_ways import TorchLine

TORCH = Torch()
T = 3.0


def shielded(boxes: list[Box]) -> Shields:
    triangles, plate = box_triangles(boxes)
    return shields(triangles, plate, len(boxes))


def cell(size: float, at: float = 0.0) -> list[Box]:
    """A closed cube, empty from `at` to at + size in all directions: bottom, left, right, front, back, lid."""
    a, b = at, at + size
    return [
        ((a, a, a - T), (b, b, a)),
        ((a - T, a - T, a - T), (a, b + T, b)), ((b, a - T, a - T), (b + T, b + T, b)),
        ((a, a - T, a - T), (b, a, b)), ((a, b, a - T), (b, b + T, b)),
        ((a - T, a - T, b), (b + T, b + T, b + T)),
    ]


BOTTOM, LEFT, LID = 0, 1, 5


def inside_corner(size: float, at: float = 0.0, first: int = 0) -> TorchLine:
    """The corner of bottom and left, from inside."""
    return TorchLine(
        line=np.array([[at, at, at], [at, at + size, at]]), toward=np.array([1.0, 0.0, 1.0]), wedge=90.0,
        plates=(first + BOTTOM, first + LEFT))


def reach_of(line: TorchLine, boxes: list[Box], torch: Torch = TORCH, doors: list[list[float]] | None = None) -> Reach:
    (reach,) = reaches([line], shielded(boxes), torch, None if doors is None else np.array(doors))
    return reach


SIZES = (60.0, 200.0, 500.0, 2000.0)


@pytest.mark.parametrize("size", SIZES)
def test_in_a_cell_closed_on_all_sides_a_weld_is_made_before_a_plate_it_does_not_join(size: float) -> None:
    reach = reach_of(inside_corner(size), cell(size))
    assert reach.when == "before"
    assert len(reach.before) == 1 and reach.before[0] not in (BOTTOM, LEFT)
    assert reach.unreached == 0.0


@pytest.mark.parametrize("size", SIZES)
def test_with_an_open_top_it_is_reached_at_the_end(size: float) -> None:
    assert reach_of(inside_corner(size), cell(size)[:LID]) == Reach(when="end")


def slit_lid(size: float, gap: float) -> list[Box]:
    """A lid in two halves with a gap between."""
    low, high = size / 2 - gap / 2, size / 2 + gap / 2
    return [((-T, -T, size), (low, size + T, size + T)), ((high, -T, size), (size + T, size + T, size + T))]


@pytest.mark.parametrize(("size", "gap", "when"), [
    (130.0, 10.0, "before"),        # no nozzle of 16 mm
    (400.0, 10.0, "before"),
    (400.0, 40.0, "before"),        # a nozzle, but no hand
    (400.0, 250.0, "end"),
])
def test_through_a_slot_wide_gap_no_torch_goes(size: float, gap: float, when: str) -> None:
    assert reach_of(inside_corner(size), cell(size)[:LID] + slit_lid(size, gap)).when == when


def test_a_torch_goes_in_through_a_gap_as_wide_as_its_nozzle_where_the_hand_stays_out() -> None:
    """A cell less deep than the torch is long: the gap lies where the torch leans to."""
    size = 60.0
    low_box = cell(size)[:LID] + [((-T, -T, size), (44.0, size + T, size + T)),
                                  ((80.0, -T, size), (120.0, size + T, size + T))]
    low_box[2] = ((100.0, -T, -T), (103.0, size + T, size))
    assert reach_of(inside_corner(size), low_box).when == "end"
    assert reach_of(inside_corner(size), low_box, replace(TORCH, nozzle=34.0, stand_off=42.0)).when == "before"


def test_boxes_within_boxes_take_a_plate_of_each_off_and_seven_are_too_many() -> None:
    boxes = [cell(200.0 + 300.0 * k, at=-150.0 * k) for k in range(7)]
    line = inside_corner(200.0)
    for count in (2, 3, 6):
        reach = reach_of(line, [box for some in boxes[:count] for box in some])
        assert reach.when == "before"
        assert [plate // 6 for plate in reach.before] == list(range(count))
        assert reach.before[0] not in (BOTTOM, LEFT)
    assert reach_of(line, [box for some in boxes for box in some]) == Reach(when="none", unreached=200.0)


def test_in_a_stack_each_plate_is_welded_before_the_next_ones() -> None:
    """A shelf of uprights 15 mm apart: to get at the third one, all on one side of it must be missing."""
    boxes = cell(300.0) + [((x, 0.0, 0.0), (x + T, 300.0, 300.0)) for x in (120.0, 135.0, 150.0, 165.0, 180.0)]
    line = TorchLine(
        line=np.array([[153.0, 0.0, 0.0], [153.0, 300.0, 0.0]]), toward=np.array([1.0, 0.0, 1.0]), wedge=90.0,
        plates=(BOTTOM, 8))
    reach = reach_of(line, boxes)
    assert reach.when == "before" and {9, 10} < set(reach.before)


def test_a_tee_on_the_lid_itself_needs_another_plate_off() -> None:
    """The lid is one of the two: taking it off would take the weld away."""
    size = 300.0
    line = TorchLine(
        line=np.array([[0.0, 0.0, size], [0.0, size, size]]), toward=np.array([1.0, 0.0, -1.0]), wedge=90.0,
        plates=(LEFT, LID))
    reach = reach_of(line, cell(size))
    assert reach.when == "before" and reach.before[0] not in (LEFT, LID)


def test_one_plate_is_put_on_last_for_as_many_welds_as_it_can() -> None:
    """A box parted by a baffle: of what each weld could do with, the long plates that close both cells are named."""
    boxes = cell(400.0) + [((198.0, 0.0, 0.0), (202.0, 400.0, 400.0))]
    lines = [
        TorchLine(line=np.array([[x, y, 0.0], [x, y, 400.0]]), toward=np.array([side, turn, 0.0]), wedge=90.0,
                  plates=(6, wall))
        for x, side in ((198.0, -1.0), (202.0, 1.0)) for y, turn, wall in ((0.0, 1.0, 3), (400.0, -1.0, 4))
    ]
    found = reaches(lines, shielded(boxes), TORCH)
    assert {reach.when for reach in found} == {"before"}
    assert len({reach.before for reach in found}) == 1
    assert found[0].before in ((BOTTOM,), (LID,))


@pytest.mark.parametrize(("hole", "when"), [(60.0, "before"), (160.0, "end")])
def test_a_hand_hole_lets_a_hand_in_and_a_port_does_not(hole: float, when: str) -> None:
    size = 600.0
    low, high = 430.0 - hole / 2, 430.0 + hole / 2
    lid: list[Box] = [
        ((-T, -T, size), (low, size + T, size + T)), ((high, -T, size), (size + T, size + T, size + T)),
        ((low, -T, size), (high, low, size + T)), ((low, high, size), (high, size + T, size + T))]
    triangles, plate = box_triangles(cell(size)[:LID] + lid)
    one_lid = shields(triangles, np.minimum(plate, LID), LID + 1)
    line = TorchLine(
        line=np.array([[0.0, 280.0, 0.0], [0.0, 320.0, 0.0]]), toward=np.array([1.0, 0.0, 1.0]), wedge=90.0,
        plates=(BOTTOM, LEFT))
    (reach,) = reaches([line], one_lid, TORCH, np.array([[430.0, 430.0, size]]))
    assert reach.when == when


@pytest.mark.parametrize(("wedge", "narrow"), [(30.0, True), (60.0, False)])
def test_plates_that_lean_too_close_leave_no_room_by_themselves(wedge: float, narrow: bool) -> None:
    """Two plates of 300 mm from one line; the upper one leans over the lower."""
    lean = np.radians(wedge)
    triangles, plate = box_triangles([((0.0, 0.0, -T), (300.0, 300.0, 0.0)), ((0.0, 0.0, 0.0), (300.0, 300.0, T))])
    turn = np.array([[np.cos(lean), 0, -np.sin(lean)], [0, 1, 0], [np.sin(lean), 0, np.cos(lean)]])
    triangles[plate == 1] = triangles[plate == 1] @ turn.T
    line = TorchLine(
        line=np.array([[0.0, 0.0, 0.0], [0.0, 300.0, 0.0]]), wedge=wedge, plates=(0, 1),
        toward=np.array([np.cos(lean / 2), 0.0, np.sin(lean / 2)]))
    (reach,) = reaches([line], shields(triangles, plate, 2), TORCH)
    assert (reach.when, reach.narrow) == (("none", True) if narrow else ("end", False))


@pytest.mark.parametrize(("covered", "when", "unreached"), [(45.0, "end", 400.0 / 7), (220.0, "before", 0.0)])
def test_the_length_that_is_not_reached_is_told(covered: float, when: str, unreached: float) -> None:
    """A corner of 400 mm between two plates, and a bar laid into one end of it."""
    boxes: list[Box] = [
        ((0.0, 0.0, -T), (300.0, 400.0, 0.0)), ((-T, 0.0, -T), (0.0, 400.0, 300.0)),
        ((0.1, 0.0, 0.1), (12.0, covered, 12.0))]
    line = TorchLine(line=np.array([[0.0, 0.0, 0.0], [0.0, 400.0, 0.0]]), toward=np.array([1.0, 0.0, 1.0]), wedge=90.0,
                     plates=(0, 1))
    reach = reach_of(line, boxes)
    assert (reach.when, reach.before) == (when, () if when == "end" else (2,))
    assert reach.unreached == pytest.approx(unreached, abs=0.1)


def test_nothing_in_the_way_and_next_to_nothing_to_weld() -> None:
    none = shields(np.empty((0, 3, 3)), np.empty(0, dtype=np.int64), 0)
    line = TorchLine(line=np.zeros((2, 3)), toward=np.array([0.0, 0.0, 1.0]), wedge=180.0, plates=())
    assert reaches([line], none, TORCH) == (Reach(when="end"),)
    assert reaches([], shielded(cell(100.0)), TORCH) == ()
    one = shielded(cell(100.0)[:1])
    assert reaches([replace(line, plates=(0,))], one, TORCH) == (Reach(when="end"),)
    point = replace(inside_corner(0.0, at=0.0), line=np.array([[0.0, 50.0, 0.0]] * 2))
    assert reach_of(point, cell(100.0)).when == "before"
    assert reach_of(point, cell(100.0)[:LID]) == Reach(when="end")


def test_a_plate_without_triangles_or_area_is_in_nobodys_way() -> None:
    triangles, plate = box_triangles(cell(200.0)[:LID])
    flat = np.array([[[0.0, 0.0, 100.0], [200.0, 200.0, 100.0], [100.0, 100.0, 100.0]]])
    more = shields(np.concatenate([triangles, flat]), np.append(plate, LID), 8)
    assert reaches([inside_corner(200.0)], more, TORCH) == (Reach(when="end"),)


def test_the_order_of_triangles_and_of_welds_changes_nothing() -> None:
    triangles, plate = box_triangles(cell(200.0) + [((98.0, 0.0, 0.0), (102.0, 200.0, 120.0))])
    lines = [inside_corner(200.0), TorchLine(
        line=np.array([[102.0, 0.0, 0.0], [102.0, 200.0, 0.0]]), toward=np.array([1.0, 0.0, 1.0]), wedge=90.0,
        plates=(BOTTOM, 6))]
    order = np.random.default_rng(1).permutation(len(plate))
    one = reaches(lines, shields(triangles, plate, 7), TORCH)
    other = reaches(lines[::-1], shields(triangles[order], plate[order], 7), TORCH)
    assert one == other[::-1]


def random_boxes(rng: np.random.Generator) -> list[Box]:
    """Bottom and left, and what stands about: walls with gaps between, shelves, lids."""
    boxes: list[Box] = [((0.0, 0.0, -T), (400.0, 400.0, 0.0)), ((-T, 0.0, -T), (0.0, 400.0, 400.0))]
    for _ in range(int(rng.integers(2, 6))):
        axis = int(rng.integers(3))
        low, size = rng.uniform(20.0, 250.0, 3), rng.uniform(80.0, 500.0, 3)
        size[axis] = T
        low = np.where(np.arange(3) == axis, low, np.maximum(low - size / 2, 0.1))
        boxes.append((tuple(low), tuple(low + size)))       # type: ignore[arg-type]
    return boxes


@pytest.mark.parametrize("gap", [30.0, 250.0])
def test_a_plate_with_a_hollow_is_in_the_way_by_its_triangles(gap: float) -> None:
    """The lid in two halves, as one plate."""
    size = 400.0
    triangles, plate = box_triangles(cell(size)[:LID] + slit_lid(size, gap))
    (reach,) = reaches([inside_corner(size)], shields(triangles, np.minimum(plate, LID), LID + 1), TORCH)
    assert reach.when == ("end" if gap > 200.0 else "before")


@pytest.mark.parametrize("seed", range(24))
def test_random_boxes_against_balls(seed: int) -> None:
    """What is reached with much wider torches is reached; what is not with much narrower ones that lean more is not."""
    rng = np.random.default_rng(seed)
    boxes = random_boxes(rng)
    at = [0.4, float(rng.uniform(120.0, 280.0)), 0.4]
    toward = [1.0, 0.0, 1.0]
    line = TorchLine(line=np.array([[0.0, at[1], 0.0]] * 2), toward=np.array(toward), wedge=90.0, plates=(0, 1))
    reach = reach_of(line, boxes)
    for off in [(), *((n,) for n in range(2, len(boxes)))]:
        left = [box for number, box in enumerate(boxes) if number not in off]
        easy = gets_there(left, at, toward, TORCH, wider=1.3, lean=18.0, many=600)
        said = reach.when == "end" or (reach.when == "before" and set(reach.before) <= set(off))
        if easy:
            assert reach.when == "end" or (off and len(reach.before) == 1), (off, reach)
        if said:
            assert gets_there(left, at, toward, TORCH, wider=0.75, lean=48.0), (off, reach)
