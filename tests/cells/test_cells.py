"""The cells of an envelope, against closed forms, trimesh and a flood of voxels."""

import numpy as np
import pytest
import trimesh
from manifold3d import Manifold
from scipy import ndimage
from solid_rooms import GridRoom, block, profile, vent

from tackwright.core.cells.cells import FILM, SLIVER, find_cells
from tackwright.core.shapes.solid_parts import triangles

ROOM = block((0, 0, 0), (400, 200, 300))


def baffle(x, thickness=3.0, low=-1.0, high=301.0):
    return block((x, -1, low), (x + thickness, 201, high))


def has_ball(solid, at, radius):
    ball = Manifold.sphere(radius, 32).translate(at)
    return (ball ^ solid).volume() == pytest.approx(ball.volume(), rel=1e-9)


@pytest.mark.parametrize(("barriers", "volumes"), [
    ([], [400 * 200 * 300]),
    ([baffle(100)], [100 * 200 * 300, 297 * 200 * 300]),
    ([baffle(100), baffle(250, 5)], [100 * 200 * 300, 147 * 200 * 300, 145 * 200 * 300]),
    ([baffle(100), block((102, -1, 100), (401, 201, 103))], [100 * 200 * 300, 297 * 200 * 100, 297 * 200 * 197]),
    ([baffle(100, high=290)], [400 * 200 * 300 - 3 * 200 * 290]),
    ([baffle(100) - block((90, 0, 0), (110, 10, 10))], [397 * 200 * 300 + 3 * 10 * 10]),
])
def test_a_box_with_baffles(barriers, volumes):
    cells = find_cells(ROOM, barriers, [])
    assert [c.volume for c in cells] == pytest.approx(volumes, rel=1e-9)
    assert all(c.low <= c.at <= c.high for c in cells)


def test_a_gap_of_a_millimetre_joins_and_a_weld_closes():
    assert len(find_cells(ROOM, [baffle(100, high=299.0)], [])) == 1
    assert len(find_cells(ROOM, [baffle(100, high=300.0 + 1e-3)], [])) == 2


def test_a_closed_box_inside_is_a_cell_within_a_cell():
    shell = block((100, 50, 50), (200, 150, 150)) - block((103, 53, 53), (197, 147, 147))
    outer, inner = find_cells(ROOM, [shell], [])
    assert outer.volume == pytest.approx(400 * 200 * 300 - 100**3)
    assert inner.volume == pytest.approx(94**3)
    assert (inner.low, inner.high) == ((103, 53, 53), (197, 147, 147))
    assert has_ball(ROOM - block((100, 50, 50), (200, 150, 150)), outer.at, 5.0)


def test_two_closed_boxes_one_in_the_other():
    def shell(reach):
        return block([150 - reach] * 3, [150 + reach] * 3) - block([153 - reach] * 3, [147 + reach] * 3)

    cells = find_cells(block((0, 0, 0), (300, 300, 300)), [shell(100), shell(50)], [])
    assert sorted(c.volume for c in cells) == pytest.approx([94**3, 194**3 - 100**3, 300**3 - 200**3])


def test_the_place_is_inside_even_where_the_centroid_is_not():
    ell = profile([(0, 0), (300, 0), (300, 20), (20, 20), (20, 300), (0, 300)], 50)
    ring = block((0, 0, 0), (200, 200, 30)) - block((20, 20, -1), (180, 180, 31))
    leaning = block((0, 0, 0), (20, 20, 500)).rotate([0, 40, 30])
    for room in (ell, ring, leaning, Manifold.tetrahedron().scale([50, 50, 50])):
        (cell,) = find_cells(room, [], [])
        assert has_ball(room, cell.at, 5.0)
        assert cell.volume == pytest.approx(trimesh.Trimesh(*triangles(room)).volume)


def test_what_welds_fill_is_no_cell():
    wedge = baffle(100) + baffle(108, low=-1, high=10)
    lid = block((100, -1, 0.004), (111, 201, 12))
    crevice = find_cells(ROOM, [wedge, lid], [])
    assert [c.volume for c in crevice] == pytest.approx([100 * 200 * 300, 297 * 200 * 300 - 8 * 200 * 12])
    side = SLIVER ** (1 / 3)
    for grow, count in ((0.95, 1), (1.05, 2)):
        hollow = block((10, 10, 10), (20, 20, 20)) - block([12] * 3, [12 + grow * side] * 3)
        assert len(find_cells(ROOM, [hollow], [])) == count


@pytest.mark.parametrize(("gap", "count"), [(0.8 * FILM, 1), (1.2 * FILM, 2)])
def test_a_film_between_a_plate_and_the_wall_is_no_cell(gap, count):
    plate = block((gap, -1, -1), (gap + 3, 201, 301))
    assert len(find_cells(ROOM, [plate], [])) == count


def test_an_opening_belongs_to_the_cells_that_it_reaches():
    plates = [baffle(100), baffle(200)]
    vents = [
        vent((50, 0, 150), (0, 1, 0), 30),                 # into the first
        vent((101.5, 0, 150), (0, 1, 0), 30),              # across a baffle: into two
        vent((400, 100, 20), (-1, 0, 0), 30, "port"),      # into the third
        vent((101.5, 0, 20), (0, 1, 0), 2.5),              # wholly under the baffle's edge: into none
        vent((98.5, 0, 20), (0, 1, 0), 3.2),               # into the first, and under the edge but not past it
        vent((102, 0, 20), (0, 1, 0), 2.1),                # past it by a twentieth of a millimetre: into none
    ]
    assert [c.vents for c in find_cells(ROOM, plates, vents)] == [(0, 1, 4), (1,), (2,)]


def test_a_plate_flat_on_an_opening_closes_it():
    pad = block((-1, 50, 50), (1.5, 150, 150))
    (cell,) = find_cells(ROOM, [pad], [vent((0, 100, 100), (1, 0, 0), 40), vent((0, 100, 155), (1, 0, 0), 40)])
    assert cell.vents == (1,)


def test_an_opening_in_a_sloped_wall():
    tent = profile([(0, 0), (200, 0), (100, 100)], 300)
    inward = np.array([1, 0, -1]) / np.sqrt(2)
    wall = vent((50, 150, 50), inward, 20)
    halves = find_cells(tent, [block((-1, 100, -1), (201, 103, 101))], [wall])
    assert [c.vents for c in halves] == [(), (0,)]


def test_the_order_of_the_plates_changes_nothing():
    plates = [baffle(100), baffle(200), block((102, -1, 100), (201, 201, 103))]
    first = find_cells(ROOM, plates, [])
    for order in ([2, 0, 1], [1, 2, 0]):
        again = find_cells(ROOM, [plates[i] for i in order], [])
        assert [(c.low, c.high) for c in again] == [(c.low, c.high) for c in first]
        assert [c.volume for c in again] == pytest.approx([c.volume for c in first], rel=1e-12)


@pytest.mark.parametrize("seed", range(40))
def test_count_volumes_and_openings_by_a_flood_of_voxels(seed):
    case = GridRoom(seed)
    label, count = ndimage.label(case.free)
    cells = find_cells(case.room, case.plates, case.vents)
    assert len(cells) == count
    named = [label[tuple((np.array(c.at) // case.grid).astype(int))] for c in cells]
    assert sorted(named) == list(range(1, count + 1))
    for cell, name in zip(cells, named, strict=True):
        voxels = label == name
        assert cell.volume == pytest.approx(voxels.sum() * case.grid**3, abs=case.slack())
        assert cell.vents == tuple(i for i, seeds in enumerate(case.seeds) if (seeds & voxels).any())
