"""Which outlines are the same piece. Outside judge: shapely moves the representative and measures the distance."""

from __future__ import annotations

import math
import time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from outline_shapes import SLOT, drilled_stars, mirrored, motion, piece, restarted, slot, solid
from shapely import Polygon
from shapely.affinity import affine_transform
from strategies import plane_motions, star_polygons

from tackwright.core.shapes.congruence import congruence_groups
from tackwright.core.shapes.outline import Circle, Contour
from tackwright.core.terms import tolerance

SCALENE = np.array([(0, 0), (50, 0), (15, 30)], dtype=float)


def members(outlines, keys=None, **options):
    groups = congruence_groups(outlines, keys or [None] * len(outlines), **options)
    return [[index for index, _ in group.members] for group in groups]


@given(drilled_stars(), plane_motions(2000.0), st.integers(0, 9))
@settings(deadline=None)
def test_a_moved_piece_is_the_same_piece_and_the_matrix_is_the_move(outline, move, by):
    there = restarted(outline.moved(move), by)
    (group,) = congruence_groups([outline, there], ["a", "a"])
    assert group.representative == 0
    assert [index for index, _ in group.members] == [0, 1]
    matrix = group.members[1][1]
    assert np.allclose(matrix[:2, :2] @ matrix[:2, :2].T, np.eye(2), atol=1e-12)
    assert np.linalg.det(matrix) == pytest.approx(1.0)
    (a, b, x), (c, d, y) = matrix[:2]
    judged, drawn = affine_transform(solid(outline), [a, b, c, d, x, y]), solid(there)
    # A circle is flattened from an angle of its own, so two flattened ones lie apart by as much as that allows.
    room = tolerance.CHORD if any(isinstance(hole, Circle) for hole in outline.holes) else 0.0
    assert judged.boundary.hausdorff_distance(drawn.boundary) <= room + 1e-6


@given(star_polygons(), plane_motions())
@settings(deadline=None)
def test_a_mirrored_piece_is_another_unless_its_own_mirror_image(points, move):
    outline = piece(points)
    turned_over = mirrored(outline).moved(move)
    # shapely's judgement: does any corner-to-corner turn lay the mirrored polygon on the drawn one?
    drawn, over = solid(outline), turned_over.outer.points
    z, w = points @ [1, 1j], over @ [1, 1j]
    best = math.inf
    for k in range(len(z)):
        turn = np.vdot(z - z.mean(), np.roll(w, k) - w.mean())
        turn /= abs(turn) or 1
        moved = (w - w.mean()) / turn + z.mean()
        best = min(best, drawn.hausdorff_distance(Polygon(np.column_stack([moved.real, moved.imag]))))
    if best < tolerance.CONGRUENT / 10:
        assert members([outline, turned_over]) == [[0, 1]]
    elif best > tolerance.CONGRUENT * 10:
        assert members([outline, turned_over]) == [[0], [1]]


def test_a_mirrored_scalene_triangle_is_another_piece():
    outline = piece(SCALENE)
    assert members([outline, mirrored(outline), outline.moved(motion(200, 5, 6))]) == [[0, 2], [1]]


def test_other_keys_make_other_pieces():
    outline = piece(SCALENE)
    assert members([outline] * 4, [(3.0, "steel"), (4.0, "steel"), (3.0, "steel"), (3.0, "5052")]) == [[0, 2], [1], [3]]


def test_groups_come_in_the_order_of_their_first_outline():
    a, b = piece(SCALENE), piece(SCALENE * 2)
    square = piece([(0, 0), (9, 0), (9, 9), (0, 9)])
    assert members([square, b, a, b, square, a]) == [[0, 4], [1, 3], [2, 5]]


def test_no_outlines_give_no_groups():
    assert congruence_groups([], []) == []


def test_one_key_an_outline_is_asked_for():
    with pytest.raises(ValueError, match="1 outlines, but 2 keys"):
        congruence_groups([piece(SCALENE)], [1, 2])


@pytest.mark.parametrize(("off", "same"), [(0.9e-3, True), (8e-3, False)])
def test_a_corner_may_be_off_by_the_limit_only(off, same):
    changed = SCALENE.copy()
    changed[2, 1] += off
    assert len(members([piece(SCALENE), piece(changed).moved(motion(77, 10, 20))])) == (1 if same else 2)


def test_one_corner_off_among_many_is_seen():
    """The mean error of its 60 corners is within the limit; the one corner is not."""
    turn = np.arange(60) * math.pi / 30
    points = np.column_stack([np.cos(turn), np.sin(turn)]) * np.linspace(60, 100, 60)[:, None]
    changed = points.copy()
    changed[20] *= 1 + 6e-3 / np.linalg.norm(changed[20])
    assert members([piece(points), piece(changed)]) == [[0], [1]]


def test_the_limit_is_the_callers_to_choose():
    changed = SCALENE.copy()
    changed[2, 1] += 0.05
    assert members([piece(SCALENE), piece(changed)], limit=0.1) == [[0, 1]]


@pytest.mark.parametrize(
    ("change", "same"),
    [
        (slot(10.001, 8), True), (slot(10.1, 8), False), (Contour(points=SLOT @ motion(1)[:2, :2] + (10, 8)), False),
        (Contour(points=SLOT * (1.01, 1) + (10, 8)), False),
    ],
    ids=["same", "shifted", "turned", "longer"],
)
def test_slots_must_match_in_place_and_shape(change, same):
    plate = [(0, 0), (60, 0), (60, 40), (0, 40)]
    a = piece(plate, slot(10, 8), slot(35, 30))
    b = restarted(piece(plate, change, slot(35, 30)).moved(motion(140, -7, 3)), 1)
    assert len(members([a, b])) == (1 if same else 2)


@pytest.mark.parametrize(
    ("centre", "diameter", "same"), [((10, 10.001), 6, True), ((10, 10.1), 6, False), ((10, 10), 6.1, False)]
)
def test_circles_must_match_in_place_and_size(centre, diameter, same):
    plate = [(0, 0), (60, 0), (60, 40), (0, 40)]
    a = piece(plate, Circle(centre=(10, 10), diameter=6), Circle(centre=(30, 20), diameter=8))
    b = piece(plate, Circle(centre=(30, 20), diameter=8), Circle(centre=centre, diameter=diameter))
    assert len(members([a, b.moved(motion(-50, 1, 2))])) == (1 if same else 2)


def test_the_hole_decides_which_of_four_turns_a_square_takes():
    square = [(0, 0), (40, 0), (40, 40), (0, 40)]
    a = piece(square, Circle(centre=(5, 6), diameter=4))
    b = restarted(a.moved(motion(90, 100, 0)), 2)
    (group,) = congruence_groups([a, b], [0, 0])
    assert np.allclose(group.members[1][1], motion(90, 100, 0), atol=1e-12)


def test_a_slot_and_a_circle_are_not_the_same_hole():
    square = [(0, 0), (40, 0), (40, 40), (0, 40)]
    assert members([piece(square, slot(10, 10)), piece(square, Circle(centre=(17.5, 12), diameter=4))]) == [[0], [1]]


def test_many_holes_slightly_off_are_still_matched():
    square = np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)]) * 100.0
    rng = np.random.default_rng(4)
    spots = np.array([(x, y) for x in range(-90, 91, 4) for y in range(-90, 91, 4)]) + rng.uniform(-1, 1, (2116, 2))
    a = piece(square, *(Circle(centre=tuple(s), diameter=1) for s in spots))
    near = [Circle(centre=tuple(s + rng.uniform(-1, 1, 2) * 1e-3), diameter=1) for s in rng.permutation(spots)]
    far = [Circle(centre=(c.centre[0] + 0.01 * (i == 777), c.centre[1]), diameter=1) for i, c in enumerate(near)]
    assert members([a, piece(square, *near).moved(motion(31)), piece(square, *far)]) == [[0, 1], [2]]


def test_hole_corners_joined_in_another_order_are_another_hole():
    """A dart has three corners round a fourth; which side it is notched from is another cut."""
    plate = [(0, 0), (60, 0), (60, 40), (0, 40)]
    a, b, c, inner = (10, 10), (20, 30), (40, 10), (24, 17)
    one, two = (Contour(points=np.array(p, dtype=float)) for p in ((a, inner, b, c), (a, b, inner, c)))
    assert members([piece(plate, one), piece(plate, two)]) == [[0], [1]]


@pytest.mark.parametrize(("bulge", "same"), [(0.2, True), (0.21, False), (-0.2, False), (0.0, False)])
def test_arcs_must_match(bulge, same):
    plate = [(0, 0), (60, 0), (60, 40), (0, 40)]
    a = piece(plate, bulges=np.array([0, 0.2, 0, 0]))
    b = restarted(piece(plate, bulges=np.array([0, bulge, 0, 0])), 3).moved(motion(10))
    assert len(members([a, b])) == (1 if same else 2)


def test_points_on_a_straight_side_and_repeated_points_make_no_difference():
    plain = piece(SCALENE)
    drawn = piece([(0, 0), (0, 0), (20, 0), (25, 1e-8), (50, 0), (50, 1e-8), (15, 30), (7.5, 15)])
    assert members([plain, drawn.moved(motion(123, 4, 5))]) == [[0, 1]]


def test_two_shapes_of_equal_edges_are_told_apart():
    """An L and a Z of the same edge lengths, area and perimeter: only the turns differ."""
    l_shape = [(0, 0), (30, 0), (30, 10), (20, 10), (20, 20), (0, 20)]
    other = [(0, 0), (30, 0), (30, 20), (10, 20), (10, 10), (0, 10)]
    assert members([piece(l_shape), piece(other)]) == [[0], [1]]


def test_geodesic_numbers_of_plates_are_grouped():
    """As many plates as the largest geodesic sphere has, each moved and begun elsewhere; the time is printed."""
    rng = np.random.default_rng(11)
    shapes = []
    for n in range(3, 43):
        angle = (np.arange(n) + rng.uniform(0, 0.8, n)) * 2 * math.pi / n
        radius = rng.uniform(60, 100, n)
        shapes.append(piece(np.column_stack([np.cos(angle), np.sin(angle)]) * radius[:, None], slot(-8, -2)))
    chosen = rng.permutation(np.arange(20480) % len(shapes))
    moves = rng.uniform(-1000, 1000, (20480, 3))
    outlines = [restarted(shapes[i].moved(motion(*move)), int(move[0])) for i, move in zip(chosen, moves, strict=True)]
    start = time.perf_counter()
    groups = congruence_groups(outlines, [None] * len(outlines))
    print(f"20480 outlines of 3 to 42 corners grouped in {time.perf_counter() - start:.2f} s")
    found = {tuple(index for index, _ in group.members) for group in groups}
    assert found == {tuple(np.flatnonzero(chosen == i).tolist()) for i in range(len(shapes))}
    for group in groups:
        at = outlines[group.representative].outer.points
        for index, matrix in group.members[::50]:
            there = at @ matrix[:2, :2].T + matrix[:2, 2]
            gaps = np.linalg.norm(there[:, None] - outlines[index].outer.points[None], axis=2)
            assert gaps.min(axis=1).max() < 1e-9
