"""An envelope and its inner plates in meshes of their own, joined into one."""

import pytest
from drawn_meshes import box, faces_of, together, without

from tackwright.core.envelope.joined_meshes import join_inner
from tackwright.core.envelope.mesh import Mesh
from tackwright.core.envelope.read_envelope import read_envelope
from tackwright.core.terms.choices import Choices, PanelChoice, Settings

CHOICES = Choices(settings=Settings(thickness=1.0), panels={"front": PanelChoice(thickness=2.0)},
                  faces={0: PanelChoice(thickness=3.0)})


def plate(x: float, names=()) -> Mesh:
    return Mesh.of([(x, 0, 0), (x, 200, 0), (x, 200, 100), (x, 0, 100)], [(0, 1, 2, 3)], face_names=names, name="plate")


def test_the_faces_of_the_inner_meshes_follow_and_are_marked():
    whole, choices = join_inner(box(), [plate(100), plate(200)], CHOICES)
    assert faces_of(whole)[:6] == faces_of(box()) and faces_of(whole)[6:] == [[8, 9, 10, 11], [12, 13, 14, 15]]
    assert whole.points[8:].tolist() == [*plate(100).points.tolist(), *plate(200).points.tolist()]
    assert (whole.name, whole.face_names) == ("box", ())
    assert dict(choices.faces) == {
        0: PanelChoice(thickness=3.0), 6: PanelChoice(inner=True), 7: PanelChoice(inner=True)}
    assert choices.panels == CHOICES.panels and choices.settings == CHOICES.settings
    assert dict(CHOICES.faces) == {0: PanelChoice(thickness=3.0)}


def test_choices_that_point_at_faces_of_the_whole_are_kept():
    given = Choices(faces={6: PanelChoice(thickness=2.0, name="shelf")})
    assert join_inner(box(), [plate(100)], given)[1].faces[6] == PanelChoice(thickness=2.0, name="shelf", inner=True)


@pytest.mark.parametrize(("own", "names"), [((), (*[""] * 6, "baffle")), (tuple("abcdef"), (*"abcdef", "baffle"))])
def test_face_names_are_kept(own, names):
    mesh = Mesh.of(box().points, faces_of(box()), face_names=own)
    whole, choices = join_inner(mesh, [plate(100, ["baffle"])], CHOICES if not own else Choices())
    assert whole.face_names == names
    assert [p.name for p in read_envelope(whole, choices).inner] == ["baffle"]


def test_without_inner_meshes_nothing_changes():
    mesh = box()
    assert join_inner(mesh, [], CHOICES) == (mesh, CHOICES)


def test_an_open_box_gets_its_baffles():
    envelope = read_envelope(*join_inner(without(box(), 5), [together(plate(100), plate(200))], CHOICES))
    assert [p.faces for p in envelope.inner] == [(5,), (6,)]
    assert len(envelope.panels) == 5 and len(envelope.shells) == 1
    assert {p.name: p.thickness for p in envelope.panels}["front"] == 2.0
