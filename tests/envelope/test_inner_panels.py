"""Inner faces merged into panels: crossing baffles, names, metal, frames, and pairs that coincide."""

import numpy as np
import pytest
import shapely
from drawn_meshes import box, faces_of, together
from hypothesis import given, settings
from hypothesis import strategies as st
from strategies import moved, rigid_motions

from tackwright.core.envelope.mesh import Mesh
from tackwright.core.envelope.read_envelope import read_envelope
from tackwright.core.terms.choices import Choices, PanelChoice, Settings
from tackwright.core.terms.errors import InputError

CROSS = [(x, y, z) for z in (20, 80) for x, y in ((150, 100), (50, 100), (250, 100), (150, 40), (150, 160))]
ARMS = [(0, i, i + 5, 5) for i in range(1, 5)]


def sheet(*corners) -> Mesh:
    return Mesh.of(corners, [tuple(range(len(corners)))])


def rectangle(x=50.0, y=50.0, z=50.0, a=100.0, b=80.0) -> Mesh:
    return sheet((x, y, z), (x + a, y, z), (x + a, y + b, z), (x, y + b, z))


def chosen(faces=None, panels=None, **more) -> Choices:
    return Choices(settings=Settings(thickness=1.0, **more), faces=faces or {}, panels=panels or {})


def inner(mesh: Mesh, choices: Choices | None = None):
    return read_envelope(together(box(), mesh), choices or chosen()).inner


def solid(panel, envelope) -> np.ndarray:
    return np.concatenate([panel.frame.solid(ring) for ring in panel.rings]) + envelope.origin


def test_two_baffles_that_cross_with_a_shared_edge_are_two_panels():
    panels = inner(Mesh.of(CROSS, ARMS))
    assert [p.faces for p in panels] == [(6, 7), (8, 9)] or [p.faces for p in panels] == [(8, 9), (6, 7)]
    assert sorted(p.area for p in panels) == pytest.approx([120 * 60, 200 * 60])
    assert all(len(p.rings) == 1 and len(p.rings[0]) == 4 for p in panels)     # straight where they cross


def test_three_baffles_through_one_edge():
    turns = np.radians([0, 60, 120, 180, 240, 300])
    points = [(150, 100, z) for z in (20, 80)]
    points += [(150 + 60 * np.cos(t), 100 + 60 * np.sin(t), z) for t in turns for z in (20, 80)]
    panels = inner(Mesh.of(points, [(0, 2 + 2 * i, 3 + 2 * i, 1) for i in range(6)]))
    assert sorted(p.faces for p in panels) == [(6, 9), (7, 10), (8, 11)]


def test_halves_of_another_thickness_stay_apart():
    panels = inner(Mesh.of(CROSS, ARMS), chosen({6: PanelChoice(thickness=2.0)}))
    assert sorted(p.faces for p in panels) == [(6,), (7,), (8, 9)]
    assert {p.faces: p.thickness for p in panels} == {(6,): 2.0, (7,): 1.0, (8, 9): 1.0}


def test_a_bent_plate_is_two_panels():
    bent = Mesh.of([(50, 50, 50), (150, 50, 50), (150, 120, 50), (50, 120, 50), (150, 120, 80), (50, 120, 80)],
                   [(0, 1, 2, 3), (3, 2, 4, 5)])
    assert sorted(p.faces for p in inner(bent)) == [(6,), (7,)]


def test_a_wide_face_beside_two_narrow_ones_is_one_panel():
    points = [(50, 50, 50), (150, 50, 50), (150, 90, 50), (50, 90, 50), (110, 90, 50), (150, 130, 50), (110, 130, 50),
              (50, 130, 50)]
    (panel,) = inner(Mesh.of(points, [(0, 1, 2, 3), (4, 2, 5, 6), (3, 4, 6, 7)]))
    assert panel.area == pytest.approx(100 * 80) and [len(r) for r in panel.rings] == [4]


def test_a_hole_in_a_baffle_is_a_clockwise_ring():
    outer = [(50, 50, 50), (150, 50, 50), (150, 130, 50), (50, 130, 50)]
    hole = [(80, 70, 50), (120, 70, 50), (120, 110, 50), (80, 110, 50)]
    frame = Mesh.of([*outer, *hole], [(i, (i + 1) % 4, 4 + (i + 1) % 4, 4 + i) for i in range(4)])
    (panel,) = inner(frame)
    assert [shapely.LinearRing(r).is_ccw for r in panel.rings] == [True, False]
    assert panel.area == pytest.approx(100 * 80 - 40 * 40)
    assert len(panel.mesh_edges) == 12
    keyhole = Mesh.of([*outer, *hole], [(0, 1, 2, 3, 0, 4, 7, 6, 5, 4)])
    (same,) = inner(keyhole)
    assert [r.tolist() for r in same.rings] == [r.tolist() for r in panel.rings]


@pytest.mark.parametrize("flip", [False, True])
def test_the_normal_is_that_of_the_largest_face_as_drawn(flip):
    points = [(50, 50, 50), (150, 50, 50), (150, 100, 50), (50, 100, 50), (150, 120, 50), (50, 120, 50)]
    large = (0, 1, 2, 3) if not flip else (3, 2, 1, 0)
    (panel,) = inner(Mesh.of(points, [large, (3, 5, 4, 2)]))
    np.testing.assert_allclose(panel.frame.axes[2], (0, 0, -1 if flip else 1), atol=1e-12)
    assert panel.area == pytest.approx(100 * 70)


def test_v_points_up_and_u_is_level():
    envelope = read_envelope(together(box(), sheet((50, 50, 20), (150, 90, 20), (150, 90, 80), (50, 50, 80))), chosen())
    (panel,) = envelope.inner
    u, v, _ = panel.frame.axes
    assert u[2] == pytest.approx(0) and v == pytest.approx((0, 0, 1))
    np.testing.assert_allclose(panel.frame.origin + envelope.origin, (50, 50, 20), atol=1e-9)
    np.testing.assert_allclose(np.sort(solid(panel, envelope)[:, 2]), [20, 20, 80, 80])


def test_metal_is_centred_unless_chosen():
    assert inner(rectangle(), chosen(metal_side="outside"))[0].metal_side == "centred"
    (panel,) = inner(rectangle(), chosen({6: PanelChoice(metal_side="inside", limber=5.0, thickness=2.0)}, limber=9.0))
    assert (panel.metal_side, panel.limber, panel.thickness, panel.low) == ("inside", 5.0, 2.0, -2.0)
    assert inner(rectangle(), chosen(limber=9.0))[0].limber == 9.0


def test_names_are_counted_in_geometric_order():
    panels = inner(together(rectangle(z=70), rectangle(z=30)))
    assert [(p.name, p.faces) for p in panels] == [("inner 1", (7,)), ("inner 2", (6,))]


def test_a_choice_by_the_default_name_takes_hold():
    panels = inner(rectangle(), chosen(panels={"inner 1": PanelChoice(name="shelf", thickness=4.0)}))
    assert [(p.name, p.thickness) for p in panels] == [("shelf", 4.0)]
    assert inner(rectangle(), chosen(panels={"inner 1": PanelChoice(left_out=True)})) == ()


def test_names_do_not_meet_those_of_the_walls():
    mesh = together(box(), rectangle())
    named = Mesh.of(mesh.points, faces_of(mesh), face_names=["tank"] * 7)
    envelope = read_envelope(named, chosen())
    assert {p.name for p in envelope.panels} == {"tank", *(f"tank {i}" for i in range(2, 7))}
    assert [p.name for p in envelope.inner] == ["tank 7"]
    with pytest.raises(InputError, match="More than one panel would be called 'top'"):
        inner(rectangle(), chosen(panels={"inner 1": PanelChoice(name="top")}))


def test_a_choice_for_no_panel_lists_the_inner_ones_too():
    with pytest.raises(InputError, match="no panel is called that.*'inner 1'"):
        inner(rectangle(), chosen(panels={"inner 2": PanelChoice()}))


@pytest.mark.parametrize(("apart", "refused"), [(0.0, True), (0.99, True), (1.01, False)])
def test_two_that_coincide(apart, refused):
    pair = together(rectangle(), rectangle(z=50 + apart, x=100))
    if refused:
        with pytest.raises(InputError, match=r"'inner 1' and 'inner 2' coincide.*over 4000 mm²") as caught:
            inner(pair)
        assert sorted(caught.value.faces) == [6, 7]
    else:
        assert len(inner(pair)) == 2


def test_two_end_to_end_do_not_coincide():
    assert len(inner(together(rectangle(), rectangle(x=150.5)))) == 2


def test_faces_of_one_plate_that_overlap():
    """The second goes on from the first's far side, and comes back over it with a strip of 30 x 5."""
    flat = [(50, 50), (150, 50), (150, 100), (50, 100),
            (150, 105), (170, 105), (170, 60), (120, 60), (120, 55), (180, 55), (180, 120), (50, 120)]
    with pytest.raises(InputError, match="Faces of inner plate 'inner 1' overlap at .*by 150.000 mm²") as caught:
        inner(Mesh.of([(x, y, 50) for x, y in flat], [(0, 1, 2, 3), (3, 2, *range(4, 12))]))
    assert caught.value.faces == (6, 7)


def test_a_warped_baffle_is_mended_or_refused():
    warped = sheet((50, 50, 50), (150, 50, 50.4), (150, 130, 50), (50, 130, 50.4))
    envelope = read_envelope(together(box(), warped), chosen())
    assert [f.rule for f in envelope.notes] == ["warped_face_mended", "found_inside"] and len(envelope.inner) == 1
    with pytest.raises(InputError, match="Face 6 is warped"):
        inner(sheet((50, 50, 50), (150, 50, 54), (150, 130, 50), (50, 130, 54)))


def test_what_was_mended_is_said_once():
    doubled = Mesh.of(rectangle().points, [(0, 1, 2, 3), (3, 2, 1, 0), (0, 1, 1)])
    envelope = read_envelope(together(box(), doubled), chosen())
    assert sorted(f.rule for f in envelope.notes) == ["face_twice", "face_without_area", "found_inside"]
    assert [p.faces for p in envelope.inner] == [(6,)]


@pytest.mark.parametrize(("choices", "match"), [
    (chosen(limber=-1.0), "The limber size is -1 mm"),
    (chosen({6: PanelChoice(limber=float("nan"))}), "limber size of face 6 is nan mm"),
    (chosen(panels={"inner 1": PanelChoice(limber=-2.0)}), "limber size of panel 'inner 1' is -2 mm"),
])
def test_a_limber_size_that_is_none(choices, match):
    with pytest.raises(InputError, match=match):
        inner(rectangle(), choices)


@settings(deadline=None, max_examples=25)
@given(rigid_motions(), st.integers(0, 2**32 - 1))
def test_motion_and_triangles_do_not_change_the_plates(motion, seed):
    """Crossing baffles drawn in triangles of any winding, anywhere: the same plates in space."""
    random = np.random.default_rng(seed)
    plain = read_envelope(together(box(), Mesh.of(CROSS, ARMS)), chosen())
    triangles = [t for a, b, c, d in ARMS for t in ((a, b, c), (a, c, d))]
    triangles = [t if random.random() < 0.5 else t[::-1] for t in triangles]
    turned = read_envelope(moved(together(box(), Mesh.of(CROSS, triangles)), motion), chosen())
    wanted = [solid(p, plain) @ motion[:3, :3].T + motion[:3, 3] for p in plain.inner]
    found = [solid(p, turned) for p in turned.inner]
    assert len(found) == 2
    for one in wanted:
        gaps = [np.linalg.norm(one[:, None] - two[None], axis=2).min(axis=1).max() for two in found]
        assert min(gaps) < 1e-6
