"""Proofs that interlocking plates do not clash, before manifold3d as the judge."""

from __future__ import annotations

import numpy as np
import pytest
from baffled import random_baffled

from tackwright.core.make_kit import draft_kit
from tackwright.core.plates import clashes
from tackwright.core.plates.plates import Plate
from tackwright.core.plates.solids import Solids
from tackwright.core.plates.strips import parted_along_crossing
from tackwright.core.shapes.frame import Frame
from tackwright.core.shapes.outline import Contour, Outline
from tackwright.core.terms import tolerance
from tackwright.core.terms.errors import InputError


def plate(ring, axes=((1, 0, 0), (0, 1, 0), (0, 0, 1)), origin=(0, 0, 0), thickness=3.0, holes=(), low=0.0):
    outline = Outline(outer=Contour(points=np.array(ring, float)),
                      holes=tuple(Contour(points=np.array(h, float)) for h in holes))
    return Plate(name="p", number=0, outline=outline, thickness=thickness, low=low,
                 frame=Frame(origin=np.array(origin, float), axes=np.array(axes, float)))


def box(x0, y0, x1, y1):
    return [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]


UPRIGHT = ((0, 1, 0), (0, 0, 1), (1, 0, 0))              # stands on the floor, its normal along x
FLOOR_WITH_SLOT = [box(47, 30, 50.2, 50)[::-1]]


@pytest.mark.parametrize(("floor_holes", "tab", "parted"), [
    (FLOOR_WITH_SLOT, (30.1, 49.9), True),               # the tab stands in its slot
    (FLOOR_WITH_SLOT, (30.1, 50.1), False),              # 0.1 mm too wide
    ((), (30.1, 49.9), False),                           # no slot
])
def test_a_tab_in_its_slot(floor_holes, tab, parted):
    floor = plate(box(0, 0, 100, 80), holes=floor_holes)
    a, b = tab
    wall = plate([(10, 3), (a, 3), (a, 0), (b, 0), (b, 3), (70, 3), (70, 60), (10, 60)], UPRIGHT, (47.1, 0, 0))
    solids = Solids([floor, wall])
    assert ((solids[0] ^ solids[1]).volume() < tolerance.CLASH) == parted
    assert parted_along_crossing([floor, wall], np.array([[0, 1]])).tolist() == [parted]


@pytest.mark.parametrize("degrees", [25.0, 60.0, 89.9, 90.0, 120.0, 155.0])
def test_square_ends_that_touch_along_their_inner_edges_are_parted(degrees):
    """An open corner at any angle: only the inner edges touch. A millimetre longer, one is in the other."""
    turn = np.radians(degrees)
    way = (np.cos(turn), 0, np.sin(turn))
    axes = (way, (0, 1, 0), (-np.sin(turn), 0, np.cos(turn)))
    for begin, parted in ((0.0, True), (-1.0, False)):
        both = [plate(box(begin, 0, 50, 80), low=-3.0), plate(box(begin, 0, 50, 80), axes)]
        solids = Solids(both)
        assert ((solids[0] ^ solids[1]).volume() < tolerance.CLASH) == parted
        assert parted_along_crossing(both, np.array([[0, 1]])).tolist() == [parted]


def test_parallel_plates_are_left_to_the_solids():
    one, two = plate(box(0, 0, 50, 50)), plate(box(0, 0, 50, 50), origin=(0, 0, 1.0))
    assert parted_along_crossing([one, two], np.array([[0, 1]])).tolist() == [False]


@pytest.fixture(scope="module")
def told():
    """Every question that random baffled hulls put to the proof: plates, pair, answer."""
    asked = []

    def listening(plates, pairs):
        answer = parted_along_crossing(plates, pairs)
        asked.append((plates, pairs, answer))
        return answer

    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(clashes, "parted_along_crossing", listening)
        for seed in range(12):
            try:
                draft_kit(*random_baffled(seed))
            except InputError:
                continue
    return asked


def test_what_is_proved_apart_shares_nothing(told):
    proved = 0
    for plates, pairs, answer in told:
        solids = Solids(plates)
        for i, j in pairs[answer].tolist():
            assert (solids[i] ^ solids[j]).volume() < tolerance.CLASH / 10, (plates[i].name, plates[j].name)
            proved += 1
    assert proved > 100


def test_most_of_what_is_apart_is_proved(told):
    """Or it would be worth nothing: of pairs that share nothing, three in four."""
    apart = proved = 0
    for plates, pairs, answer in told:
        solids = Solids(plates)
        apart += sum((solids[i] ^ solids[j]).volume() < tolerance.CLASH / 10 for i, j in pairs.tolist())
        proved += int(answer.sum())
    assert proved >= 0.75 * apart


@pytest.mark.parametrize("seed", range(6))
def test_random_plates_through_each_other(seed):
    """Random rectangles with random holes, any turn: never proved apart where they share space, and in small pieces
    as in one."""
    random = np.random.default_rng(seed)
    plates = []
    for _ in range(14):
        turn, _ = np.linalg.qr(random.normal(size=(3, 3)))
        axes = turn.T * np.sign(np.linalg.det(turn))
        hole = box(*(random.uniform(-15, -2, 2)), *(random.uniform(2, 15, 2)))
        plates.append(plate(box(-30, -20, 30, 20), axes, random.uniform(-25, 25, 3), holes=[hole[::-1]]))
    pairs = np.array([(i, j) for i in range(14) for j in range(i + 1, 14)])
    answer = parted_along_crossing(plates, pairs)
    solids = Solids(plates)
    shared = np.array([(solids[i] ^ solids[j]).volume() for i, j in pairs.tolist()])
    assert not (answer & (shared > tolerance.CLASH / 10)).any()
    assert answer.any() and (shared > 1.0).any()
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr("tackwright.core.plates.strips._AT_ONCE", 50)
        assert (parted_along_crossing(plates, pairs) == answer).all()


def test_it_changes_no_kit(monkeypatch):
    from baffled import with_inner
    from drawn_meshes import box as drawn_box

    from tackwright.core.files.kit_json import kit_json
    from tackwright.core.make_kit import make_kit

    mesh, choices = with_inner(drawn_box(300, 200, 150), [[(100, 0, 0), (100, 200, 0), (130, 200, 150), (130, 0, 150)]])
    with_proof = kit_json(make_kit(mesh, choices))
    monkeypatch.setattr(clashes, "parted_along_crossing", lambda plates, pairs: np.zeros(len(pairs), dtype=bool))
    assert kit_json(make_kit(mesh, choices)) == with_proof
