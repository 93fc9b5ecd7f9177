"""Meshes that are not quite right come out as what was meant, with a note."""

import numpy as np
import pytest
from drawn_meshes import THIN, box, extruded, faces_of, freehand_box, geodesic_sphere, shuffled, together, without
from hypothesis import given, settings
from hypothesis import strategies as st

from tackwright.core.envelope.mesh import Mesh
from tackwright.core.envelope.read_envelope import read_envelope
from tackwright.core.terms import tolerance
from tackwright.core.terms.choices import Choices, PanelChoice


def rules(envelope):
    return [note.rule for note in envelope.notes]


def outlines(envelope):
    """Every panel's name and the places of its corners: what must not depend on how the mesh was listed."""
    return [(p.name, [(envelope.points[r] + envelope.origin).tolist() for r in p.rings]) for p in envelope.panels]


def test_a_clean_box_needs_no_note():
    assert read_envelope(box(), THIN).notes == ()


def test_triangle_soup_is_welded_into_a_sphere():
    envelope = read_envelope(geodesic_sphere(2, 200.0), THIN)
    assert len(envelope.panels) == 320 and len(envelope.edges) == 480 and len(envelope.points) == 162
    assert envelope.shells[0].closed


@pytest.mark.parametrize("grid", np.linspace(-0.5, 0.5, 5))
def test_points_either_side_of_a_grid_line_are_welded(grid):
    near = box(at=np.full(3, grid * tolerance.MERGE))
    soup = together(*(without(near, *(set(range(6)) - {i})) for i in range(6)))
    points = np.array(soup.points)
    points += np.random.default_rng(3).uniform(-0.25, 0.25, points.shape) * tolerance.MERGE
    envelope = read_envelope(Mesh.of(points, faces_of(soup)), THIN)
    assert envelope.shells[0].closed and len(envelope.points) == 8


@given(st.integers(0, 10**6), st.sampled_from([2e-4, 1e-3, 5e-3]), st.booleans())
def test_a_torn_mesh_is_closed_and_said(seed, tear, triangles):
    """Every face, or every part of a freehand box, by itself, its corners off by up to half the tear."""
    random = np.random.default_rng(seed)
    whole = freehand_box(seed % 1000, count=3) if triangles else box(*random.uniform(50, 400, size=3))
    torn = random.random(whole.face_count) < 0.5
    torn[int(random.integers(whole.face_count))] = True
    points, faces = [np.array(whole.points)], []
    count = len(whole.points)
    for face, apart in zip(faces_of(whole), torn, strict=True):
        if not apart:
            faces.append(face)
            continue
        way = random.normal(size=(len(face), 3))
        way *= tear / 2 / np.linalg.norm(way, axis=1)[:, None]
        points.append(whole.points[face] + way)
        faces.append(list(range(count, count + len(face))))
        count += len(face)
    envelope = read_envelope(Mesh.of(np.concatenate(points), faces), THIN)
    assert envelope.shells[0].closed and len(envelope.panels) == 6
    note = next(note for note in envelope.notes if note.rule == "torn_mesh")
    assert note.level == "note" and note.remedy is None
    sound = read_envelope(whole, THIN)
    assert rules(sound) == []
    near = np.linalg.norm(
        (envelope.points + envelope.origin)[:, None] - (sound.points + sound.origin)[None], axis=2).min(axis=1)
    assert near.max() <= tear


def test_points_farther_than_the_tolerance_stay_apart():
    soup = together(without(box(), 5), without(box(at=(0, 0, 30 * tolerance.STRAIGHT)), 0, 1, 2, 3, 4))
    envelope = read_envelope(soup, Choices())
    assert len(envelope.shells) == 2 and not any(shell.closed for shell in envelope.shells)


def test_a_mesh_far_from_the_origin_is_moved_near_it():
    at = np.array([1e6, -2e6, 3e6])
    envelope = read_envelope(box(at=at), THIN)
    assert np.abs(envelope.points).max() <= 150.0
    np.testing.assert_allclose(envelope.origin, at + np.array([150, 100, 50]))
    assert {round(p.area) for p in envelope.panels} == {60000, 30000, 20000}


def test_single_precision_noise_leaves_six_panels():
    turn = np.linalg.qr(np.random.default_rng(1).normal(size=(3, 3)))[0]
    mesh = box(900, 800, 700)
    points = ((mesh.points @ turn.T + 500).astype(np.float32)).astype(np.float64)
    triangles = [t for a, b, c, d in faces_of(mesh) for t in ((a, b, c), (a, c, d))]
    envelope = read_envelope(Mesh.of(points, triangles), THIN)
    assert len(envelope.panels) == 6 and len(envelope.edges) == 12
    assert all(edge.angle == pytest.approx(90, abs=1e-4) for edge in envelope.edges)


def test_repeated_corners_and_faces_without_area_go_with_a_note():
    mesh = box()
    faces = faces_of(mesh)
    faces[0] = [faces[0][0], *faces[0]]
    envelope = read_envelope(Mesh.of(mesh.points, [*faces, (0, 1, 0), (2, 2, 2)]), THIN)
    assert rules(envelope) == ["face_without_area"] and envelope.notes[0].faces == (6, 7)
    assert len(envelope.panels) == 6 and envelope.shells[0].closed


@pytest.mark.parametrize("turned", [False, True])
def test_a_face_drawn_twice_is_used_once(turned):
    mesh = box()
    again = faces_of(mesh)[3][:: -1 if turned else 1]
    envelope = read_envelope(Mesh.of(mesh.points, [*faces_of(mesh), np.roll(again, 1)]), THIN)
    assert rules(envelope) == ["face_twice"] and envelope.notes[0].faces == (6,)
    assert len(envelope.panels) == 6


def test_a_wide_face_beside_two_narrow_ones_closes():
    mesh = box()
    points = [*mesh.points, (150, 0, 100), (150, 200, 100)]
    split_top = [(1, 8, 9, 3), (8, 5, 7, 9)]                       # front and back keep their long sides
    envelope = read_envelope(Mesh.of(points, [*faces_of(mesh)[:5], *split_top]), THIN)
    assert envelope.shells[0].closed and envelope.notes == ()
    assert len(envelope.panels) == 6 and len(envelope.edges) == 12
    top = next(e for e in envelope.edges if {envelope.panels[p].name for p in e.panels} == {"front", "top"})
    assert top.mesh_edges == ((1, 5), (1, 8), (5, 8))              # as either face drew it


def test_flipped_faces_are_turned_and_named():
    mesh = box()
    faces = faces_of(mesh)
    faces[2], faces[5] = faces[2][::-1], faces[5][::-1]
    envelope = read_envelope(Mesh.of(mesh.points, faces), THIN)
    assert rules(envelope) == ["faces_turned_over"] and envelope.notes[0].faces == (2, 5)
    assert outlines(envelope) == outlines(read_envelope(mesh, THIN))


@pytest.mark.parametrize("lid", [False, True])
def test_a_surface_inside_out_is_turned(lid):
    mesh = box() if lid else without(box(), 5)
    inside_out = Mesh.of(mesh.points, [f[::-1] for f in faces_of(mesh)])
    envelope = read_envelope(inside_out, THIN)
    assert "faces_turned_over" in rules(envelope)
    assert outlines(envelope) == outlines(read_envelope(mesh, THIN))


@pytest.mark.parametrize("way", [1, -1])
def test_an_open_angle_keeps_the_side_it_was_drawn_with(way):
    flanges = [(0, 1, 2, 3)[::way], (1, 0, 4, 5)[::way]]
    points = [(0, 0, 0), (300, 0, 0), (300, 200, 0), (0, 200, 0), (0, 0, 200), (300, 0, 200)]
    envelope = read_envelope(Mesh.of(points, flanges), THIN)
    assert rules(envelope) == (["free_edges", "inside_out"] if way == 1 else ["free_edges"])
    edge = next(e for e in envelope.edges if not e.free)
    assert edge.angle == pytest.approx(270 if way == 1 else 90)


def test_of_an_angle_drawn_both_ways_the_larger_part_decides():
    points = [(0, 0, 0), (300, 0, 0), (300, 200, 0), (0, 200, 0), (0, 0, 150), (300, 0, 150)]
    envelope = read_envelope(Mesh.of(points, [(0, 1, 2, 3), (5, 4, 0, 1)]), THIN)
    turned = [n.faces for n in envelope.notes if n.rule == "faces_turned_over"]
    assert turned == [(1,)]


def test_an_open_box_has_a_rim_and_no_capacity():
    envelope = read_envelope(without(box(), 5), THIN)
    assert rules(envelope) == ["free_edges"] and not envelope.shells[0].closed
    assert "4 free edges round 1 rim" in envelope.notes[0].message
    assert sorted(envelope.notes[0].edges) == [(1, 3), (1, 5), (3, 7), (5, 7)]


def test_faces_left_out_leave_a_rim():
    by_face = read_envelope(box(), Choices(faces={5: PanelChoice(left_out=True)}))
    by_name = read_envelope(box(), Choices(panels={"top": PanelChoice(left_out=True)}))
    assert outlines(by_face) == outlines(by_name) == outlines(read_envelope(without(box(), 5), THIN))
    assert sum(edge.free for edge in by_name.edges) == 4


def test_leaving_out_one_panel_renames_no_other():
    outline = [(0, 0), (400, 0), (400, 300), (200, 300), (200, 150), (0, 150)]
    whole = read_envelope(extruded(outline, 100), THIN)
    assert "back 2" in {p.name for p in whole.panels}
    rest = read_envelope(extruded(outline, 100), Choices(panels={"back": PanelChoice(left_out=True)}))
    assert {p.name for p in rest.panels} == {p.name for p in whole.panels} - {"back"}


def test_a_face_warped_within_tolerance_is_mended():
    mesh = box()
    points = mesh.points.copy()
    points[7] += (0, 0, 0.8)                                       # lid: off its best plane by a quarter, 0.2 mm
    envelope = read_envelope(Mesh.of(points, faces_of(mesh)), THIN)
    assert rules(envelope) == ["warped_face_mended"]
    assert envelope.notes[0].faces == (5,) and "0.200 mm" in envelope.notes[0].message


def test_two_boxes_apart_are_two_shells():
    envelope = read_envelope(together(box(), box(at=(500, 0, 0))), THIN)
    assert rules(envelope) == ["several_shells"]
    assert [s.closed for s in envelope.shells] == [True, True]
    assert sorted(p for s in envelope.shells for p in s.panels) == list(range(12))


def test_metres_read_as_millimetres_are_noted():
    sheet = read_envelope(without(box(2, 1.5, 1.2), 5), Choices(panels={}, settings=THIN.settings))
    assert "units_doubtful" in rules(sheet)
    assert "units_doubtful" not in rules(read_envelope(box(), THIN))
    assert "larger than 10 m" in read_envelope(box(3e4, 2e4, 15e3), THIN).notes[0].message


@settings(max_examples=15, deadline=None, derandomize=True)
@given(st.integers(0, 10_000), st.booleans())
def test_the_order_of_faces_and_points_does_not_matter(seed, lid):
    outline = [(0, 0), (400, 0), (400, 300), (200, 300), (200, 150), (0, 150)]
    mesh = extruded(outline, 100)
    mesh = mesh if lid else without(mesh, 1)
    one = read_envelope(mesh, THIN)
    two = read_envelope(shuffled(mesh, np.random.default_rng(seed)), THIN)
    assert outlines(one) == outlines(two)
    assert [(e.panels, e.start, e.end, e.angle) for e in one.edges] == [
        (e.panels, e.start, e.end, e.angle) for e in two.edges
    ]
    for a, b in zip(one.panels, two.panels, strict=True):
        np.testing.assert_array_equal(a.frame.matrix(), b.frame.matrix())
        assert [x.tolist() for x in a.edges] == [x.tolist() for x in b.edges]
