"""Clashes are found, whatever the sieves say; corners are trimmed, and what cannot be trimmed is an error."""

import itertools
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from judges import worst_overlap
from manifold3d import Manifold, OpType
from solids_data import solid
from strategies import rigid_motions, star_polygons

from tackwright.core.envelope.mesh import Mesh
from tackwright.core.make_kit import make_kit
from tackwright.core.plates.clashes import find_clashes, near_pairs
from tackwright.core.plates.plates import Plate
from tackwright.core.plates.solids import Solids
from tackwright.core.plates.trimming import settle
from tackwright.core.shapes.frame import Frame
from tackwright.core.shapes.outline import Contour, Outline
from tackwright.core.terms.choices import Choices, PanelChoice, Settings
from tackwright.core.terms.errors import InputError


def plate(points, motion, thickness=3.0):
    return Plate(name="p", number=0, outline=Outline(outer=Contour(points=np.asarray(points, dtype=float))),
                 frame=Frame(origin=motion[:3, 3], axes=motion[:3, :3].T), thickness=thickness, low=0.0)


@given(st.lists(st.tuples(star_polygons(radius=(40.0, 120.0)), rigid_motions(reach=150.0)), min_size=2, max_size=6))
def test_the_sieves_let_no_clash_through(drawn):
    """Against manifold3d on every pair."""
    plates = [plate(points, motion) for points, motion in drawn]
    solids = Solids(plates)
    pairs = {tuple(p) for p in near_pairs(plates).tolist()}
    for i, j in itertools.combinations(range(len(plates)), 2):
        if (solids[i] ^ solids[j]).volume() > 1e-3:
            assert (i, j) in pairs


@pytest.mark.parametrize("rise", [1e-250, 1e-308, 5e-324])
def test_a_side_that_hardly_rises_is_level(rise):
    """Nothing overflows: warnings are errors here."""
    upright = np.eye(4)
    upright[:3, :3] = [[0, 0, 1], [1, 0, 0], [0, 1, 0]]
    one = plate([(0, 0), (100, rise), (100, 50), (0, 50)], np.eye(4))
    two = plate([(0, 0), (100, rise), (80, 40), (0, 60)], upright)
    assert near_pairs([one, two]).tolist() == [[0, 1]]


def test_a_clash_says_how_much_and_where():
    square = [(0, 0), (100, 0), (100, 100), (0, 100)]
    over = np.eye(4)
    over[:3, 3] = [90.0, 90.0, 1.0]
    plates = [plate(square, np.eye(4)), plate(square, over)]
    found = find_clashes(plates, Solids(plates), near_pairs(plates))
    assert [c.plates for c in found] == [(0, 1)]
    assert found[0].volume == pytest.approx(10 * 10 * 2)
    assert found[0].at == pytest.approx((95, 95, 2))


def test_touching_plates_do_not_clash():
    square = [(0, 0), (100, 0), (100, 100), (0, 100)]
    beside = np.eye(4)
    beside[:3, 3] = [100.0, 0.0, 0.0]
    plates = [plate(square, np.eye(4)), plate(square, beside)]
    assert find_clashes(plates, Solids(plates), np.array([[0, 1]])) == ()


def test_corners_where_four_plates_meet_are_trimmed_and_said():
    kit = make_kit(solid("Cuboctahedron"), Choices(settings=Settings(corner="open", metal_side="inside")))
    trims = [f for f in kit.checks if f.rule == "trimmed"]
    assert len(trims) == 12 and all(f.level == "note" and "mm³" in f.message for f in trims)


def two_boxes(gap):
    """Two boxes side by side, `gap` apart: two envelopes in one kit."""
    one = np.array(list(itertools.product((0, 100), (0, 80), (0, 60))), dtype=float)
    faces = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)]
    return Mesh.of(np.concatenate([one, one + [100 + gap, 0, 0]]), faces + [tuple(i + 8 for i in f) for f in faces])


def test_panels_nearer_than_their_plates_are_an_error_that_names_both():
    kit = make_kit(two_boxes(4.0), Choices(settings=Settings(metal_side="outside", thickness=3.0, sealed=True)))
    errors = [f for f in kit.checks if f.level == "error"]
    assert [f.rule for f in errors] == ["clash"]
    assert len(errors[0].about) == 2 and "mm³" in errors[0].message
    assert not [f for f in make_kit(two_boxes(8.0), Choices(settings=Settings(
        metal_side="outside", thickness=3.0, sealed=True))).checks if f.level == "error"]


@pytest.mark.parametrize("stretch", [(1.6, 1.0, 0.8), (1.0, 1.3, 2.0)])
def test_the_larger_plate_stays_whole(stretch):
    """Of two unlike faces the larger's plate keeps its outline: the finding names the one that lost first."""
    mesh = solid("Cuboctahedron")
    kit = make_kit(replace(mesh, points=mesh.points * stretch), Choices(settings=Settings(corner="open")))
    area = {p.id: plate.area for plate in kit.plates for p in plate.placements}
    lost = [(area[f.about[0]], area[f.about[1]]) for f in kit.checks if f.rule == "trimmed"]
    assert sum(loser < 0.9 * keeper for loser, keeper in lost) > 3
    assert all(loser < 1.001 * keeper for loser, keeper in lost)


def test_unlike_thickness_does_not_clash_at_any_corner():
    mesh = solid("Truncated Cuboctahedron")
    faces = {f: PanelChoice(thickness=2.0 + f % 3) for f in range(mesh.face_count)}
    for corner in ("open", "half-open", "closed"):
        kit = make_kit(mesh, Choices(settings=Settings(corner=corner), faces=faces))
        assert worst_overlap(kit) <= 0.01


def test_a_plate_wholly_inside_another_is_an_error_and_no_crash():
    plates = [plate([(0, 0), (200, 0), (200, 200), (0, 200)], np.eye(4), thickness=10.0),
              plate([(50, 50), (90, 50), (90, 90), (50, 90)], np.eye(4), thickness=3.0)]
    done = settle(plates, [0, 1])
    assert [c.plates for c in done.left] == [(0, 1)]
    assert done.left[0].volume == pytest.approx(40 * 40 * 3)


def test_copies_that_differ_by_noise_do_not_push_into_their_neighbours():
    """Opposite walls 1.5 micrometres unlike pass for one piece, unless one drawing for both would clash."""
    low = [(0, 0, 0), (300, 0, 0), (300, 200, 0), (0, 200, 0)]
    high = [(0, 0, 150), (300, 0, 150), (300, 200.0015, 150.0), (0, 200.0015, 150)]
    mesh = Mesh.of(low + high, [(0, 3, 2, 1), (4, 5, 6, 7), (0, 1, 5, 4), (1, 2, 6, 5), (2, 3, 7, 6), (3, 0, 4, 7)])
    for side in ("inside", "outside"):
        kit = make_kit(mesh, Choices(settings=Settings(corner="closed", metal_side=side)))
        assert worst_overlap(kit) <= 0.01


def solid_mesh(body):
    mesh = body.to_mesh64()
    return Mesh.of(np.asarray(mesh.vert_properties)[:, :3], np.asarray(mesh.tri_verts))


def test_a_trim_takes_the_clash_and_not_what_only_touches():
    """Five cubes, an L with one on top, closed corners: two corners of t^3 = 27 mm3 clash; every tab stays."""
    places = ((0, 0, 0), (0, 0, 1), (0, 1, 0), (0, 1, 1), (1, 0, 1))
    body = Manifold.batch_boolean(
        [Manifold.cube([100.0] * 3).translate([100.0 * x for x in p]) for p in places], OpType.Add)
    kit = make_kit(solid_mesh(body), Choices(settings=Settings(corner="closed")))
    trims = [f.message for f in kit.checks if f.rule == "trimmed"]
    assert len(trims) == 2 and all("27.00 mm³ shared" in t and "by 27.1" in t for t in trims)
    assert worst_overlap(kit) <= 0.01


def test_the_plate_that_stays_in_one_piece_gives_way():
    """A thick sharp hull in which the smaller plate's tip would come off for less than a cubic millimetre."""
    body = Manifold.hull_points(np.random.default_rng(19).normal(size=(7, 3)) * 100)
    kit = make_kit(solid_mesh(body), Choices(settings=Settings(thickness=8.0)))
    assert not [f for f in kit.checks if f.rule == "piece_cut_off"]
    assert worst_overlap(kit) <= 0.01


@pytest.mark.parametrize(("at", "severed"), [(300.0, 0.0), (290.0, 100.0)])
def test_of_two_bars_the_one_gives_way_that_loses_less(at, severed):
    """The less important bar would lose its long end; the other loses its own end, or a stub of 10 x 10 mm."""
    bar = [(0, 0), (300, 0), (300, 10), (0, 10)]
    across = np.eye(4)
    across[:3, :3] = np.array([[0, -1, 0], [1, 0, 0], [0, 0, 1]])
    across[:3, 3] = [at, -30.0, 0.0]
    done = settle([plate(bar, np.eye(4)), plate(bar, across)], [0, 1])
    assert not done.left
    assert [(t.plate, t.severed) for t in done.trims] == [(0, pytest.approx(severed, abs=0.1))]


def test_an_envelope_of_which_no_plate_is_left_is_refused_by_name():
    with pytest.raises(InputError, match=r"bottom.*top.*vanish"):
        make_kit(solid_mesh(Manifold.cube([300.0, 200.0, 150.0])), Choices(settings=Settings(root_gap=500.0)))
