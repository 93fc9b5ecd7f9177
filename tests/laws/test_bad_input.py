"""Drawings that cannot be built are refused, and the error says what, where and by how much."""

import math

import numpy as np
import pytest
from drawn_meshes import THIN, box, extruded, faces_of, together, without

from tackwright.core.envelope.mesh import Mesh
from tackwright.core.envelope.read_envelope import read_envelope
from tackwright.core.terms.choices import Choices, PanelChoice, Settings
from tackwright.core.terms.errors import InputError


def refused(mesh: Mesh, match: str, choices: Choices = THIN) -> InputError:
    with pytest.raises(InputError, match=match) as caught:
        read_envelope(mesh, choices)
    return caught.value


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_coordinates_that_are_no_numbers(value):
    points = box().points.copy()
    points[7, 1] = value
    error = refused(Mesh.of(points, faces_of(box())), r"not finite numbers at point 7 of faces 1, 3, 5")
    assert error.faces == (1, 3, 5)


def test_an_empty_mesh():
    refused(Mesh.of([], []), "'envelope' has no faces")
    refused(Mesh.of([(0, 0, 0)], []), "no faces")


@pytest.mark.parametrize("index", [8, -1])
def test_a_face_that_points_nowhere(index):
    faces = faces_of(box())
    faces[2] = (0, 4, index, 1)
    assert refused(Mesh.of(box().points, faces), "Face 2 point.*has 8").faces == (2,)


def test_nothing_but_faces_without_area():
    refused(Mesh.of([(0, 0, 0), (1, 0, 0), (2, 0, 0)], [(0, 1, 2)]), "No face of 'envelope' is left")


@pytest.mark.parametrize("thickness", [0.0, -3.0, math.nan, math.inf])
def test_thickness_that_is_none(thickness):
    refused(box(), f"The thickness is {thickness:g} mm", Choices(settings=Settings(thickness=thickness)))
    choices = Choices(
        faces={4: PanelChoice(thickness=thickness)}, panels={"top": PanelChoice(thickness=thickness)}
    )
    error = refused(box(), rf"(?s)panel 'top' is {thickness:g} mm.*face 4 is {thickness:g} mm", choices)
    assert error.faces == (4,)


def test_choices_for_what_does_not_exist():
    refused(box(), "face 6, but the mesh has 6", Choices(faces={6: PanelChoice()}))
    refused(box(), "choices for 'lid'.*'top'", Choices(panels={"lid": PanelChoice(thickness=2.0)}))


def test_leaving_everything_out():
    everything = {name: PanelChoice(left_out=True) for name in ("top", "bottom", "front", "back", "left", "right")}
    refused(box(), "Every panel is left out", Choices(panels=everything))


def test_a_face_too_warped_to_mend():
    points = box().points.copy()
    points[7, 2] += 4.0                                            # a quarter of it, 1 mm, off the best plane
    error = refused(Mesh.of(points, faces_of(box())), r"Face 5 is warped at .*by 1\.000 mm")
    assert error.faces == (5,)


def test_three_faces_at_one_edge():
    mesh = Mesh.of([*box().points, (0, -50, 50), (300, -50, 50)], [*faces_of(box()), (0, 4, 9, 8)])
    wall = Choices(faces={6: PanelChoice(inner=False)})
    error = refused(mesh, r"3 faces meet at one edge \(faces 2, 4, 6\).*\(0, 0, 0\) mm to \(300, 0, 0\) mm", wall)
    assert error.edges == ((0, 4),) and error.faces == (2, 4, 6)


def test_each_branching_edge_is_named():
    wall = [(0, 0, 50), (300, 0, 50), (300, 200, 50), (0, 200, 50)]
    halves = together(box(c=50), box(c=50, at=(0, 0, 50)))
    error = refused(Mesh.of([*halves.points, *wall], faces_of(halves)[:4] + faces_of(halves)[4:5] + faces_of(halves)[6:]
                            + [(1, 5, 7, 3), (16, 17, 18, 19)]), "faces meet at one edge",
                    Choices(faces=dict.fromkeys((9, 11, 12), PanelChoice(inner=False))))
    assert len(str(error).splitlines()) == 4


def test_a_torn_surface():
    """A stray triangle hangs on the rim of an open box by one point."""
    mesh = without(box(), 5)
    loose = Mesh.of([*mesh.points, (-50, 0, 150), (-50, 50, 150)], [*faces_of(mesh), (1, 8, 9)])
    error = refused(loose, r"Torn surface: 4 free edges meet.*at \(0, 0, 100\) mm")
    assert (1, 8) in error.edges and 5 in error.faces


def test_parts_that_touch_at_a_point():
    error = refused(together(box(), box(at=(300, 200, 100))), r"touch only at a point at \(300, 200, 100\) mm")
    assert error.faces == (1, 3, 5, 6, 8, 10)


def test_a_surface_with_one_side():
    turns = np.arange(12) * 2 * np.pi / 12
    out = np.column_stack([np.cos(turns), np.sin(turns), np.zeros(12)])
    width = out * np.cos(turns / 2)[:, None] + np.outer(np.sin(turns / 2), (0, 0, 1))
    points = np.concatenate([out * 300 + width * 50, out * 300 - width * 50])
    faces = []
    for i in range(12):
        a, b, c, d = i, i + 1, i + 13, i + 12
        if i == 11:
            b, c = 12, 0                                           # half a turn: the edges meet the other way
        faces += [(a, b, c), (a, c, d)]
    error = refused(Mesh.of(points, faces), "one side only")
    assert error.faces == tuple(range(24))


def test_shells_that_cross():
    error = refused(
        together(box(), box(at=(150, 100, 50))),
        r"of shells 'several 1' and 'several 2' cross or touch each other \(faces .*mm",
    )
    assert set(error.faces) == {1, 3, 5, 6, 8, 10}


@pytest.mark.parametrize("gap", [0.0, 5e-7])
def test_shells_that_touch_count_as_crossing(gap):
    stacked = together(box(), box(100, 80, 50, at=(20, 30, 100 + gap)))
    assert 5 in refused(stacked, "cross or touch").faces


def test_shells_a_hair_apart_do_not_touch():
    stacked = together(box(), box(100, 80, 50, at=(20, 30, 100.01)))
    assert len(read_envelope(stacked, THIN).shells) == 2


def test_a_shell_inside_another():
    nested = together(box(), box(50, 50, 50, at=(20, 20, 20)))
    error = refused(nested, "'several [12]' .*lies inside shell 'several [12]'")
    assert error.faces == tuple(range(6, 12))


def test_a_surface_that_runs_through_itself():
    """A long roof over a box pulled down at one end until it goes through the floor."""
    outline = [(0, 0), (400, 0), (400, 200), (350, 200), (350, -100), (300, -100), (300, 300), (0, 300)]
    error = refused(extruded(outline, 100), "(cross or touch each other|crosses itself).*mm")
    assert error.faces


def test_a_bow_tie_face():
    points = [(0, 0, 0), (300, 0, 0), (0, 200, 0), (400, 200, 0)]
    error = refused(
        Mesh.of(points, [(0, 1, 2, 3)]), r"outline of panel '\w+' crosses itself at \(171\.429, 85\.714, 0\) mm"
    )
    assert error.faces == (0,)


def test_faces_that_pierce_each_other_are_named():
    sheet = Mesh.of([(-200, 90, 40), (500, 90, 40), (500, 110, 60), (-200, 110, 60)], [(0, 1, 2, 3)])
    error = refused(together(box(), sheet), "'(left|right)'.*cross or touch")
    assert {0, 1, 6} == set(error.faces)


def test_coplanar_faces_that_overlap():
    sheets = together(
        Mesh.of([(0, 0, 0), (300, 0, 0), (300, 200, 0), (0, 200, 0)], [(0, 1, 2, 3)]),
        Mesh.of([(200, 50, 0), (500, 50, 0), (500, 150, 0), (200, 150, 0)], [(0, 1, 2, 3)]),
    )
    assert refused(sheets, "cross or touch").faces == (0, 1)


def test_pyramid_sides_that_cross_away_from_their_apex():
    """A fan over a figure of eight: all faces share the apex, two pairs of them cross below it."""
    rim = [(0, 0, 0), (300, 0, 0), (300, 200, 0), (150, -80, 0), (0, 200, 0)]
    faces = [(i, (i + 1) % 5, 5) for i in range(5)]
    error = refused(Mesh.of([*rim, (150, 100, 250)], faces), "cross or touch each other")
    assert {0, 2} <= set(error.faces) or {0, 3} <= set(error.faces)


@pytest.mark.parametrize("degrees", [0.5, 10.0, 19.9])
def test_a_corner_too_sharp(degrees):
    a = math.radians(degrees)
    wedge = extruded([(0, 0), (600, 0), (600 * math.cos(a), 600 * math.sin(a))], 800)
    error = refused(wedge, rf"too sharp: {degrees:.2f} degrees.*\(0, 0, 800\) mm to \(0, 0, 0\) mm")
    assert error.edges == ((0, 3),)


def test_a_corner_just_blunt_enough():
    a = math.radians(20.1)
    assert read_envelope(extruded([(0, 0), (600, 0), (600 * math.cos(a), 600 * math.sin(a))], 800), THIN).panels


@pytest.mark.parametrize(("size", "side", "limit"), [
    ((300, 200, 2.5), "inside", "2.5"), ((300, 2, 2.9), "outside", "2.9"), ((0.3, 0.2, 0.1), "inside", "0.1"),
])
def test_metal_thicker_than_the_part(size, side, limit):
    choices = Choices(settings=Settings(thickness=3.0, metal_side=side))
    error = refused(box(*size), rf"'top' are 3 mm thick, but 'box' is only {limit} mm wide.*\.", choices)
    assert "metres" in str(error)


def test_ten_faults_are_one_report():
    points = box().points.copy()
    mesh = together(*(Mesh.of(points + _moved_and_warped(i), faces_of(box())) for i in range(3)))
    error = refused(mesh, "warped")
    assert len(str(error).splitlines()) == 3 and error.faces == (5, 11, 17)


def _moved_and_warped(i: int) -> np.ndarray:
    offset = np.full((8, 3), (500.0 * i, 0.0, 0.0))
    offset[7, 2] = 4.0 + i
    return offset


def test_a_drawing_of_a_hundred_metres_is_asked_about_its_unit():
    refused(box(300_000, 200_000, 150_000), r"300 m long.*more than 100 m.*unit")
