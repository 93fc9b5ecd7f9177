"""Faces become the panels a person sees, with the edges and angles that are published or plain."""

import math

import numpy as np
import pytest
from drawn_meshes import THIN, box, box_with_hole, extruded, faces_of, freehand_box, geodesic_sphere
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial import ConvexHull

from tackwright.core.envelope.mesh import Mesh
from tackwright.core.envelope.read_envelope import read_envelope
from tackwright.core.terms.choices import Choices, PanelChoice, Settings

G = (1 + math.sqrt(5)) / 2
SIGNS = [(a, b) for a in (-1, 1) for b in (-1, 1)]
CYCLIC = [p for a, b in SIGNS for p in ((0, a, b * G), (a, b * G, 0), (b * G, 0, a))]
EIGHT = [(a, b, c) for a, b in SIGNS for c in (-1, 1)]
SOLIDS = {
    "tetrahedron": [(1, 1, 1), (1, -1, -1), (-1, 1, -1), (-1, -1, 1)],
    "cube": EIGHT,
    "octahedron": [(1, 0, 0), (-1, 0, 0), (0, 1, 0), (0, -1, 0), (0, 0, 1), (0, 0, -1)],
    "dodecahedron": EIGHT + [p for a, b in SIGNS for p in ((0, a / G, b * G), (a / G, b * G, 0), (b * G, 0, a / G))],
    "icosahedron": CYCLIC,
}


def hull(points, size: float = 100.0) -> Mesh:
    """The convex hull in triangles, as scipy finds it, wound as it comes."""
    points = np.asarray(points, dtype=float) * size
    return Mesh.of(points, ConvexHull(points).simplices)


def neighbours(envelope, edge):
    return {envelope.panels[p].name for p in edge.panels}


# Dihedral angles, faces, edges, corners of a face: Coxeter, Regular Polytopes, table I.
@pytest.mark.parametrize(("solid", "cosine", "faces", "edges", "corners"), [
    ("tetrahedron", 1 / 3, 4, 6, 3),
    ("cube", 0.0, 6, 12, 4),
    ("octahedron", -1 / 3, 8, 12, 3),
    ("dodecahedron", -1 / math.sqrt(5), 12, 30, 5),
    ("icosahedron", -math.sqrt(5) / 3, 20, 30, 3),
])
def test_platonic_solids(solid, cosine, faces, edges, corners):
    envelope = read_envelope(hull(SOLIDS[solid]), THIN)
    assert (len(envelope.panels), len(envelope.edges)) == (faces, edges)
    assert {len(panel.rings[0]) for panel in envelope.panels} == {corners}
    for edge in envelope.edges:
        assert edge.angle == pytest.approx(math.degrees(math.acos(cosine)), abs=1e-9)


def test_rings_run_counter_clockwise_seen_from_outside():
    envelope = read_envelope(box_with_hole(), THIN)
    for panel in envelope.panels:
        for number, ring in enumerate(panel.rings):
            x, y = panel.frame.flat(envelope.points[ring]).T
            area = (x * np.roll(y, -1) - np.roll(x, -1) * y).sum() / 2
            assert (area > 0) == (number == 0)
        np.testing.assert_allclose(panel.frame.flat(panel.frame.origin[None]), 0, atol=1e-12)
        assert np.linalg.det(panel.frame.axes) == pytest.approx(1)


def test_edges_and_rings_agree():
    envelope = read_envelope(box_with_hole(triangles=True), THIN)
    for number, panel in enumerate(envelope.panels):
        for ring, edges in zip(panel.rings, panel.edges, strict=True):
            assert ring[0] == ring.min()
            for here, there, index in zip(ring, np.roll(ring, -1), edges, strict=True):
                edge = envelope.edges[index]
                assert number in edge.panels
                ends = (edge.start, edge.end) if edge.panels[0] == number else (edge.end, edge.start)
                assert ends == (here, there)


def test_an_inner_corner_is_re_entrant():
    outline = [(0, 0), (400, 0), (400, 150), (200, 150), (200, 300), (0, 300)]
    envelope = read_envelope(extruded(outline, 100), THIN)
    angles = sorted(round(e.angle, 9) for e in envelope.edges)
    assert angles == [90.0] * 17 + [270.0]
    inner = next(e for e in envelope.edges if e.angle > 180)
    np.testing.assert_allclose((envelope.points[inner.start] + envelope.origin)[:2], (200, 150))


@pytest.mark.parametrize("triangles", [False, True])
def test_a_hole_is_a_ring_of_the_panel(triangles):
    envelope = read_envelope(box_with_hole(triangles), THIN)
    assert len(envelope.panels) == 10 and len(envelope.edges) == 24
    top = next(p for p in envelope.panels if p.name == "top")
    assert [len(r) for r in top.rings] == [4, 4] and top.area == pytest.approx(300 * 200 - 100 * 80)
    assert sorted(round(e.angle) for e in envelope.edges) == [90] * 20 + [270] * 4  # the four: walls of the hole


def test_a_keyhole_face_has_its_hole():
    mesh = box_with_hole()
    walls = [f for f in faces_of(mesh) if not (max(f) < 8 or min(f) > 7)]
    top, bottom = (8, 9, 10, 11, 8, 12, 15, 14, 13, 12), (0, 4, 5, 6, 7, 4, 0, 3, 2, 1)
    envelope = read_envelope(Mesh.of(mesh.points, [*walls, top, bottom]), THIN)
    assert len(envelope.panels) == 10 and envelope.shells[0].closed
    assert sorted(len(p.rings) for p in envelope.panels) == [1] * 8 + [2, 2]


@settings(max_examples=12, deadline=None, derandomize=True)
@given(st.integers(0, 10_000), st.sampled_from([0.0, 1e-4, 0.003]))
def test_a_freehand_triangulation_comes_out_as_a_box(seed, noise):
    envelope = read_envelope(freehand_box(seed, count=6, noise=noise), THIN)
    assert sorted(p.name for p in envelope.panels) == ["back", "bottom", "front", "left", "right", "top"]
    assert len(envelope.edges) == 12 and len(envelope.points) == 8
    assert all(edge.angle == pytest.approx(90, abs=0.01) for edge in envelope.edges)


def test_a_sliver_goes_to_the_panel_in_whose_plane_it_lies():
    points = [*box().points, (150, 0.01, 100.004)]                 # beside the front edge of the lid
    faces = [f for i, f in enumerate(faces_of(box())) if i != 5]
    lid = [(1, 5, 8), (5, 7, 8), (7, 3, 8), (3, 1, 8)]
    envelope = read_envelope(Mesh.of(points, [*faces, *lid]), THIN)
    assert len(envelope.panels) == 6 and len(envelope.edges) == 12 and len(envelope.points) == 8


def test_a_gentle_curve_does_not_drift_into_one_panel():
    """A roof of 40 strips that turn 0.2 degrees each: neighbours look coplanar, the whole is not."""
    turn = np.radians(0.2) * np.arange(41)
    arc = np.column_stack([np.sin(turn), np.cos(turn)]) * 8000
    arc -= arc[-1]
    outline = np.concatenate([[(arc[0, 0], -300.0), (0, -300.0)], arc[::-1]])
    envelope = read_envelope(extruded(outline, 100), THIN)
    assert 5 < len(envelope.panels) < 40
    for panel in envelope.panels:
        members = {int(i) for f in panel.faces for i in extruded(outline, 100).face(f)}
        heights = (extruded(outline, 100).points[sorted(members)] - envelope.origin - panel.frame.origin)
        assert np.abs(heights @ panel.frame.axes[2]).max() < 0.051


def test_small_turns_stay_edges():
    envelope = read_envelope(geodesic_sphere(3, 500.0), THIN)
    assert len(envelope.panels) == 1280 and len(envelope.edges) == 1920


def test_names_tell_where_a_panel_looks():
    envelope = read_envelope(box(), THIN)
    normals = {p.name: p.frame.axes[2].round(12).tolist() for p in envelope.panels}
    assert normals == {
        "top": [0, 0, 1], "bottom": [0, 0, -1], "front": [0, -1, 0], "back": [0, 1, 0],
        "left": [-1, 0, 0], "right": [1, 0, 0],
    }


def test_groups_name_panels_and_the_largest_keeps_the_name():
    names = ["wall", "wall", "wall", "wall", "floor", "lid"]
    mesh = Mesh.of(box().points, faces_of(box()), face_names=names)
    envelope = read_envelope(mesh, THIN)
    by_name = {p.name: p.faces for p in envelope.panels}
    assert set(by_name) == {"wall", "wall 2", "wall 3", "wall 4", "floor", "lid"}
    assert by_name["wall"] == (2,)                                 # front and back are largest, the front is first


def test_choices_of_a_face_win_over_the_name_and_that_over_the_settings():
    names = ["wall"] * 4 + ["floor", "lid"]
    mesh = Mesh.of(box().points, faces_of(box()), face_names=names)
    envelope = read_envelope(mesh, Choices(
        settings=Settings(thickness=3.0, metal_side="outside"),
        panels={"wall": PanelChoice(thickness=2.0), "lid": PanelChoice(thickness=4.0, name="cover")},
        faces={5: PanelChoice(thickness=5.0), 4: PanelChoice(metal_side="centred")},
    ))
    got = {p.name: (p.thickness, p.metal_side) for p in envelope.panels}
    assert got["cover"] == (5.0, "outside") and got["floor"] == (3.0, "centred")
    assert {got[n] for n in got if n.startswith("wall")} == {(2.0, "outside")}


def test_coplanar_faces_with_their_own_choices_stay_apart():
    outline = [(0, 0), (150, 0), (300, 0), (300, 200), (150, 200), (0, 200)]
    mesh = extruded(outline, 100)                                  # the front is drawn as faces 2 and 3
    assert len(read_envelope(mesh, THIN).panels) == 6
    split = read_envelope(mesh, Choices(faces={3: PanelChoice(thickness=2.0)}))
    assert len(split.panels) == 7
    seam = next(e for e in split.edges if neighbours(split, e) == {"front", "front 2"})
    assert seam.angle == pytest.approx(180)
    bottom = next(p for p in split.panels if p.name == "bottom")
    assert len(bottom.rings[0]) == 5                               # a corner where the neighbour changes


def test_two_runs_between_the_same_panels_are_two_edges():
    notch = read_envelope(_notched_box(), THIN)
    runs = [e for e in notch.edges if neighbours(notch, e) == {"front", "top 2"}]
    assert len(runs) == 2 and {round(np.ptp(notch.points[[e.start, e.end]], axis=0).max()) for e in runs} == {100}


def _notched_box() -> Mesh:
    """A box 300 x 200 x 100 with a notch 100 x 50 x 40 out of the middle of its upper front edge."""
    front = [(0, 0), (300, 0), (300, 100), (200, 100), (200, 60), (100, 60), (100, 100), (0, 100)]
    points = [(x, 0, z) for x, z in front]                         # 0 … 7, the front
    points += [(0, 200, 0), (300, 200, 0), (300, 200, 100), (0, 200, 100)]          # 8 … 11, the back
    points += [(200, 50, 100), (200, 50, 60), (100, 50, 60), (100, 50, 100)]        # 12 … 15, the notch
    faces = [
        (0, 1, 2, 3, 4, 5, 6, 7), (9, 8, 11, 10), (0, 8, 9, 1), (0, 7, 11, 8), (1, 9, 10, 2),
        (7, 6, 15, 12, 3, 2, 10, 11), (3, 12, 13, 4), (5, 4, 13, 14), (6, 5, 14, 15), (12, 15, 14, 13),
    ]
    return Mesh.of(points, faces, name="notched")


def test_what_a_panel_was_drawn_as_can_be_selected():
    envelope = read_envelope(box_with_hole(triangles=True), THIN)
    assert sorted(f for p in envelope.panels for f in p.faces) == list(range(32))
    mesh = box_with_hole(triangles=True)
    for edge in envelope.edges:
        for a, b in edge.mesh_edges:
            assert a < b and any(a in f and b in f for f in faces_of(mesh))
