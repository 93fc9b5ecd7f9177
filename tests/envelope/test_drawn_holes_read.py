"""Holes drawn in a wall: no longer rings of the panel, so that a tank with a port is a closed tank."""

import numpy as np
import pytest
from drawn_meshes import THIN, box, box_with_hole, faces_of, shuffled, without

from tackwright.core.envelope.mesh import Mesh
from tackwright.core.envelope.read_envelope import read_envelope
from tackwright.core.make_kit import make_kit

PORT = [(100, 60, 100), (200, 60, 100), (200, 140, 100), (100, 140, 100)]


def ported() -> Mesh:
    """A box 300 x 200 x 100 with a hole 100 x 80 drawn in its top."""
    lid = [1, 5, 7, 3]
    frame = [(lid[i], lid[(i + 1) % 4], 8 + (i + 1) % 4, 8 + i) for i in range(4)]
    return Mesh.of([*box().points, *PORT], [*faces_of(box())[:5], *frame], name="tank")


def test_a_port_is_a_drawn_hole_and_the_tank_is_closed():
    envelope = read_envelope(ported(), THIN)
    plain = read_envelope(box(), THIN)
    (hole,) = envelope.drawn_holes
    top = envelope.panels[hole.panel]
    assert top.name == "top" and envelope.shells[0].closed
    assert envelope.notes == ()                                              # nothing of free edges
    assert len(envelope.edges) == 12 and not any(e.free for e in envelope.edges)
    assert [r.tolist() for p in envelope.panels for r in p.rings] == [r.tolist() for p in plain.panels for r in p.rings]
    assert [e.tolist() for p in envelope.panels for e in p.edges] == [e.tolist() for p in plain.panels for e in p.edges]
    assert top.area == pytest.approx(300 * 200)                              # of the outline


def test_its_corners_run_clockwise_and_its_edges_are_those_drawn():
    envelope = read_envelope(ported(), THIN)
    (hole,) = envelope.drawn_holes
    x, y = hole.points.T
    assert 0.5 * (x @ np.roll(y, -1) - y @ np.roll(x, -1)) == pytest.approx(-100 * 80)
    solid = envelope.panels[hole.panel].frame.solid(hole.points) + envelope.origin
    assert {tuple(np.round(p, 6)) for p in solid} == {tuple(map(float, p)) for p in PORT}
    assert hole.mesh_edges == ((8, 9), (8, 11), (9, 10), (10, 11))


def test_a_tank_with_a_port_has_the_capacity_of_one_without():
    assert make_kit(ported(), THIN).envelopes[0].capacity == pytest.approx(make_kit(box(), THIN).envelopes[0].capacity)


def test_the_order_of_the_faces_does_not_matter():
    plain = read_envelope(ported(), THIN)
    mixed = read_envelope(shuffled(ported(), np.random.default_rng(3)), THIN)
    np.testing.assert_array_equal(plain.drawn_holes[0].points, mixed.drawn_holes[0].points)


def test_a_tunnel_is_no_drawn_hole():
    """Its rims are edges of walls."""
    envelope = read_envelope(box_with_hole(), THIN)
    assert envelope.drawn_holes == () and sorted(len(p.rings) for p in envelope.panels)[-2:] == [2, 2]


def test_an_open_top_is_no_drawn_hole():
    envelope = read_envelope(without(box(), 5), THIN)
    assert envelope.drawn_holes == () and not envelope.shells[0].closed


def test_an_open_box_with_a_port_is_open_at_its_rim_only():
    mesh = ported()
    envelope = read_envelope(without(mesh, 4), THIN)
    assert len(envelope.drawn_holes) == 1 and not envelope.shells[0].closed
    (note,) = [f for f in envelope.notes if f.rule == "free_edges"]
    assert "4 free edges round 1 rim." in note.message and len(note.edges) == 4


def test_a_hole_round_a_corner_leaves_the_tank_open():
    """Half in the top and half in the front: no panel's own hole."""
    points = [*box().points, (100, 0, 100), (200, 0, 100), (200, 60, 100), (100, 60, 100), (200, 0, 40), (100, 0, 40)]
    faces = faces_of(box())
    faces[2] = [0, 4, 5, 9, 12, 13, 8, 1]
    faces[5] = [1, 8, 11, 10, 9, 5, 7, 3]
    envelope = read_envelope(Mesh.of(points, faces), THIN)
    assert envelope.drawn_holes == () and not envelope.shells[0].closed


def test_a_sheet_with_a_hole():
    frame = Mesh.of([(0, 0, 0), (300, 0, 0), (300, 200, 0), (0, 200, 0), *((x, y, 0) for x, y, _ in PORT)],
                    [(i, (i + 1) % 4, 4 + (i + 1) % 4, 4 + i) for i in range(4)])
    envelope = read_envelope(frame, THIN)
    assert len(envelope.drawn_holes) == 1
    assert [len(p.rings) for p in envelope.panels] == [1] and len(envelope.edges) == 4
