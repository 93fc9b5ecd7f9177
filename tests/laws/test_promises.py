"""The promises that hold for every envelope: nothing shares space, it closes, a move changes only the
placements, the order of the faces does not matter, the same input gives the same kit."""

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from judges import mesh_volume, offset_volume, worst_overlap
from strategies import convex_envelopes, envelopes, moved, rigid_motions

from tackwright.core.envelope.mesh import Mesh
from tackwright.core.envelope.read_envelope import read_envelope
from tackwright.core.make_kit import make_kit
from tackwright.core.terms.choices import Choices, JointChoice, PanelChoice, Settings
from tackwright.core.terms.errors import InputError

CORNERS = st.sampled_from(["open", "half-open", "closed"])
SIDES = st.sampled_from(["outside", "inside", "centred"])


@st.composite
def mixed_choices(draw, mesh: Mesh) -> Choices:
    """Every panel with its own thickness and metal side, every second joint with its own corner."""
    faces = {
        f: PanelChoice(thickness=draw(st.sampled_from([1.5, 2.0, 3.0, 5.0])), metal_side=draw(SIDES))
        for f in range(mesh.face_count)
    }
    edges = {}
    for f in range(mesh.face_count):
        ring = mesh.face(f)
        for a, b in zip(ring, np.roll(ring, -1), strict=True):
            if (int(a) + int(b)) % 2:
                edges[(int(min(a, b)), int(max(a, b)))] = JointChoice(
                    corner=draw(CORNERS), root_gap=draw(st.sampled_from([0.0, 0.0, 1.0])),
                    fit_gap=draw(st.sampled_from([0.0, 0.1, 0.5])), through=f if draw(st.booleans()) else None)
    return Choices(settings=Settings(corner=draw(CORNERS)), faces=faces, edges=edges)


def kit_or_nothing(mesh, choices):
    """The kit; panels too small for their plates are refused by name, which is no failure of the promise."""
    try:
        return make_kit(mesh, choices)
    except InputError as error:
        assert "too small" in str(error) or "thick" in str(error), str(error)
        assume(False)


@given(envelopes(), CORNERS, SIDES, st.sampled_from([1.0, 3.0, 6.0, 10.0]))
def test_nothing_shares_space(mesh, corner, side, thickness):
    settings = Settings(corner=corner, metal_side=side, thickness=thickness, sealed=True)
    kit = kit_or_nothing(mesh, Choices(settings=settings))
    assert worst_overlap(kit) <= 0.01
    assert not [f for f in kit.checks if f.level == "error"]


@given(st.data())
def test_nothing_shares_space_whatever_was_chosen(data):
    mesh = data.draw(envelopes())
    kit = kit_or_nothing(mesh, data.draw(mixed_choices(mesh)))
    if not [f for f in kit.checks if f.level == "error"]:      # a kit that clashes says so, and is not written
        assert worst_overlap(kit) <= 0.01


@given(convex_envelopes(), SIDES)
def test_capacity_is_the_volume_inside_the_metal(mesh, side):
    kit = kit_or_nothing(mesh, Choices(settings=Settings(metal_side=side)))
    depth = {"outside": 0.0, "centred": 1.5, "inside": 3.0}[side]
    assert kit.envelopes[0].capacity == pytest.approx(offset_volume(mesh, depth), rel=1e-4)


@given(envelopes())
def test_capacity_of_any_envelope_with_the_metal_outside_is_its_volume(mesh):
    kit = kit_or_nothing(mesh, Choices(settings=Settings(metal_side="outside")))
    assert kit.envelopes[0].capacity == pytest.approx(fan_volume(mesh), rel=1e-9)


def fan_volume(mesh):
    """Volume by the divergence theorem over fans: exact for flat faces of any outline."""
    total = 0.0
    for f in range(mesh.face_count):
        ring = mesh.points[mesh.face(f)]
        for i in range(1, len(ring) - 1):
            total += np.dot(ring[0], np.cross(ring[i], ring[i + 1])) / 6
    return total


def assert_same_plates(one, two):
    """The same pieces in the same quantities, wherever their drawings start and whatever their marks."""

    def figures(kit):
        return sorted((p.area, p.cut_length, p.pierces) for p in kit.plates for _ in p.placements)

    assert np.array(figures(one)) == pytest.approx(np.array(figures(two)), abs=1e-3)


@given(convex_envelopes(), rigid_motions())
def test_a_move_changes_only_the_placements(mesh, motion):
    choices = Choices(settings=Settings(metal_side="outside"))
    first = kit_or_nothing(mesh, choices)
    areas = np.sort([p.area for p in read_envelope(mesh, choices).panels])
    assume((np.diff(areas) > 1e-3 * areas[1:]).all())     # of equals the one that lies lower runs through
    second = make_kit(moved(mesh, motion), choices)
    assert_same_plates(first, second)


@given(envelopes(), st.randoms(use_true_random=False))
def test_the_order_of_faces_and_points_does_not_matter(mesh, random):
    order = list(range(mesh.face_count))
    random.shuffle(order)
    names = list(range(len(mesh.points)))
    random.shuffle(names)
    points = np.empty_like(mesh.points)
    points[names] = mesh.points
    faces = []
    for f in order:
        ring = [names[c] for c in mesh.face(f)]
        turn = random.randrange(len(ring))
        faces.append(ring[turn:] + ring[:turn])
    first = kit_or_nothing(mesh, Choices())
    second = make_kit(Mesh.of(points, faces), Choices())
    assert_same_plates(first, second)
    assert [j.kind for j in first.joints] == [j.kind for j in second.joints]
    for a, b in zip(first.joints, second.joints, strict=True):
        assert a.line == pytest.approx(b.line, abs=1e-6)


@given(envelopes())
def test_far_from_the_origin_nothing_changes_but_the_place(mesh):
    choices = Choices(settings=Settings(metal_side="outside"))
    near = kit_or_nothing(mesh, choices)
    far = make_kit(Mesh.of(mesh.points + [1e6, -2e6, 5e5], [mesh.face(f) for f in range(mesh.face_count)]), choices)
    for a, b in zip(near.plates, far.plates, strict=True):
        assert a.area == pytest.approx(b.area, abs=1e-3)
    for a, b in zip(near.joints, far.joints, strict=True):
        assert b.line - a.line == pytest.approx(np.tile([1e6, -2e6, 5e5], (2, 1)), abs=1e-6)


@given(envelopes())
def test_panels_hold_the_whole_surface(mesh):
    envelope = read_envelope(mesh, Choices())
    assert sorted(f for p in envelope.panels for f in p.faces) == list(range(mesh.face_count))
    assert mesh_volume(mesh) != 0
