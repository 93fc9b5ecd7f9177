"""Panels and joints that choices name, found on the mesh."""

from __future__ import annotations

from drawn_meshes import box, faces_of

from tackwright.core.envelope.choice_places import find_places
from tackwright.core.envelope.mesh import Mesh
from tackwright.core.terms.choices import Choices, PanelChoice


def test_a_box_without_names_has_six_panels_and_twelve_joints():
    found = find_places(box(), Choices())
    assert sorted(found.panels) == ["back", "bottom", "front", "left", "right", "top"]
    assert sorted(face for faces in found.panels.values() for face in faces) == list(range(6))
    assert len(found.joints) == 12                                # the edges of a cube: derived
    top, front = (set(map(int, box().face(found.panels[name][0]))) for name in ("top", "front"))
    assert found.joints["front", "top"] == (tuple(sorted(top & front)),)


def test_a_panel_left_out_or_renamed_is_found_by_the_name_that_chooses():
    choices = Choices(panels={"top": PanelChoice(left_out=True), "left": PanelChoice(name="port")})
    found = find_places(box(), choices)
    assert {"top", "left"} <= found.panels.keys()
    assert "port" not in found.panels


def test_faces_in_one_plane_are_one_panel_with_its_joint_in_two_edges():
    points = [*box().points.tolist(), (150.0, 0.0, 100.0), (150.0, 200.0, 100.0)]
    whole = faces_of(box())
    top = next(i for i, face in enumerate(whole) if all(points[p][2] == 100 for p in face))
    xs = sorted(whole[top], key=lambda p: points[p])              # (0,0) (0,200) (300,0) (300,200)
    faces = [face for i, face in enumerate(whole) if i != top]
    faces = [_with(face, points, 8) if _has(face, xs[0], xs[2]) else
             _with(face, points, 9) if _has(face, xs[1], xs[3]) else face for face in faces]
    faces += [(xs[0], 8, 9, xs[1]), (8, xs[2], xs[3], 9)]
    found = find_places(Mesh.of(points, faces), Choices())
    assert found.panels["top"] == (5, 6)
    assert len(found.joints["front", "top"]) == 2


def test_a_drawing_that_is_refused_goes_by_the_names_of_its_faces():
    points = box().points.copy()
    points[7, 2] += 4.0
    names = ["floor", "roof", *"abcd"]
    found = find_places(Mesh.of(points, faces_of(box()), face_names=names), Choices())
    assert found.panels == {name: (i,) for i, name in enumerate(names)}
    assert len(found.joints) == 12


def _has(face, a, b):
    return a in face and b in face


def _with(face, points, new):
    """The face with a point put into the one of its sides that it lies on."""
    ring = list(face)
    for i, (a, b) in enumerate(zip(ring, ring[1:] + ring[:1], strict=True)):
        (_, ay, az), (_, by, bz), (_, y, z) = points[a], points[b], points[new]
        if (ay, az) == (by, bz) == (y, z):
            return (*ring[: i + 1], new, *ring[i + 1 :])
    return tuple(ring)
