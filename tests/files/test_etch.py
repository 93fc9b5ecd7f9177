"""Where the etched texts go."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from kit_samples import LID, ROUND_HOLE, SIDE, SLOT, border, plate, straight

from tackwright.core.files.etch import etch_strokes, etch_texts
from tackwright.core.shapes.outline import Circle, Outline


def all_borders(points, *neighbours):
    points = np.asarray(points, dtype=float)
    return [border(p, q, *neighbours) for p, q in zip(points, np.roll(points, -1, axis=0), strict=True)]


def drawn(text):
    return shapely.MultiLineString([run.tolist() for run in etch_strokes(text)])


def metal(piece):
    outer, *holes = piece.outline.rings()
    return shapely.Polygon(outer, holes)


def assert_clear(piece, texts):
    """Inside the metal, away from every cut by about the thickness, and apart from each other."""
    cuts = metal(piece).boundary
    for text in texts:
        assert metal(piece).contains(drawn(text))
        assert cuts.distance(drawn(text)) >= min(max(piece.thickness, 1.0), 6.0) - 0.15
    boxes = [drawn(text).minimum_rotated_rectangle for text in texts]
    for i, box in enumerate(boxes):
        assert all(box.distance(other) > 0.3 for other in boxes[:i])


def test_the_mark_and_one_neighbour_are_on_the_lid():
    piece = plate(straight(LID, [SLOT]), borders=[border((97, 0), (97, 80), "P02")])
    mark, neighbour = etch_texts(piece)
    assert (mark.text, neighbour.text) == ("P01", "P02")
    assert_clear(piece, (mark, neighbour))
    assert neighbour.angle == pytest.approx(90.0)            # along the edge, which is at the reader's feet
    middle = np.asarray(drawn(neighbour).envelope.centroid.coords[0])
    assert middle[1] == pytest.approx(40.0, abs=0.5)         # centred on the edge
    assert 97 - 3 - 3.2 < middle[0] < 97 - 3                 # one thickness away from it


def test_arcs_and_round_holes_are_kept_clear_of():
    piece = plate(Outline(outer=SIDE, holes=(ROUND_HOLE,)), borders=[border((80, 60), (0, 60), "P01")])
    texts = etch_texts(piece)
    assert len(texts) == 2
    assert_clear(piece, texts)


def test_a_text_moves_along_its_edge_when_something_is_in_the_way():
    holes = [Circle(centre=(50.0, 8.0), diameter=8.0)]
    piece = plate(straight([(0, 0), (100, 0), (100, 60), (0, 60)], holes), borders=[border((0, 0), (100, 0), "P02")])
    mark, neighbour = etch_texts(piece)
    assert_clear(piece, (mark, neighbour))
    assert abs(drawn(neighbour).centroid.x - 50) > 8
    assert drawn(neighbour).centroid.y < 10                  # still beside its edge


def test_neighbours_share_a_text_up_to_three():
    piece = plate(
        straight([(0, 0), (100, 0), (100, 60), (0, 60)]), borders=[border((0, 0), (100, 0), "P02", "P03", "P04", "P05")]
    )
    assert [t.text for t in etch_texts(piece)] == ["P01", "P02/P03/P04"]


def test_the_mark_reads_along_the_longest_direction_and_upright():
    c, s = math.cos(math.radians(130)), math.sin(math.radians(130))
    strip = np.array([(0, 0), (200, 0), (200, 30), (0, 30)]) @ np.array([[c, s], [-s, c]])
    (mark,) = etch_texts(plate(straight(strip - strip.min(axis=0))))
    assert mark.angle == pytest.approx(-50.0)


def test_the_mark_shrinks_with_the_space():
    heights = []
    for size in (300, 30, 16):
        (mark,) = etch_texts(plate(straight([(0, 0), (size, 0), (size, size), (0, size)]), thickness=1.0))
        heights.append(mark.height)
    assert heights[0] == 8.0
    assert heights == sorted(heights, reverse=True) and heights[-1] >= 2.0


@pytest.mark.parametrize("size", [0.5, 3.0, 7.0])
def test_a_plate_too_small_stays_blank(size):
    points = [(0, 0), (size, 0), (size, size), (0, size)]
    piece = plate(straight(points), borders=all_borders(points, "P02"))
    assert etch_texts(piece) == ()


def test_a_frame_has_its_mark_on_metal_not_in_the_hole():
    hole = straight([(30, 30), (30, 170), (170, 170), (170, 30)]).outer
    points = [(0, 0), (200, 0), (200, 200), (0, 200)]
    piece = plate(straight(points, [hole]), borders=all_borders(points, "P02"))
    texts = etch_texts(piece)
    assert len(texts) == 5
    assert_clear(piece, texts)


@given(
    radii=st.lists(st.floats(15.0, 120.0), min_size=3, max_size=12), thickness=st.floats(0.5, 8.0),
    hole=st.floats(2.0, 12.0),
)
@settings(deadline=None, max_examples=60)
def test_nothing_etched_touches_a_cut_or_another_text(radii, thickness, hole):
    angles = np.arange(len(radii)) * 2 * math.pi / len(radii)
    points = np.column_stack([np.cos(angles), np.sin(angles)]) * np.array(radii)[:, None]
    points -= points.min(axis=0)
    centre = points.mean(axis=0)
    holes = [Circle(centre=(float(centre[0]), float(centre[1])), diameter=hole)]
    if not shapely.Polygon(points).contains(shapely.Point(centre).buffer(hole / 2 + 0.5)):
        holes = []
    piece = plate(straight(points, holes), thickness=thickness, borders=all_borders(points, "P02", "P11"))
    assert_clear(piece, etch_texts(piece))
