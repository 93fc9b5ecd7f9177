"""Every Platonic and Archimedean solid as an envelope: published volumes, face counts and dihedral angles in,
a kit that does not clash and seals the right volume out."""

import itertools
import math

import numpy as np
import pytest
import shapely
from judges import cavities, offset_volume, worst_overlap
from solids_data import PUBLISHED, edge_length, solid

from tackwright.core.envelope.read_envelope import read_envelope
from tackwright.core.make_kit import make_kit
from tackwright.core.plates.section import crossing, solve_section
from tackwright.core.plates.solve import solve
from tackwright.core.terms.choices import Choices, Settings

THICKNESS = 3.0
CORNERS = ("open", "half-open", "closed")
SIDES = ("outside", "inside", "centred")
PLATONIC = ("Tetrahedron", "Cube", "Octahedron", "Dodecahedron", "Icosahedron")
# Dihedral angles: Coxeter, Regular Polytopes, table I; as closed forms
DIHEDRAL = {
    "Tetrahedron": math.acos(1 / 3),
    "Cube": math.pi / 2,
    "Octahedron": math.acos(-1 / 3),
    "Dodecahedron": math.acos(-1 / math.sqrt(5)),
    "Icosahedron": math.acos(-math.sqrt(5) / 3),
}


def choices(corner, side, **more):
    return Choices(settings=Settings(corner=corner, metal_side=side, thickness=THICKNESS, sealed=True, **more))


@pytest.mark.parametrize("name", sorted(PUBLISHED))
def test_panels_are_the_published_faces(name):
    envelope = read_envelope(solid(name), choices("open", "outside"))
    counts = {}
    for panel in envelope.panels:
        counts[len(panel.rings[0])] = counts.get(len(panel.rings[0]), 0) + 1
    assert counts == PUBLISHED[name].faces


@pytest.mark.parametrize("name", PLATONIC)
def test_dihedral_angles_are_the_published_ones(name):
    envelope = read_envelope(solid(name), choices("open", "outside"))
    for edge in envelope.edges:
        assert edge.angle == pytest.approx(math.degrees(DIHEDRAL[name]), abs=1e-6)


@pytest.mark.parametrize("name", sorted(PUBLISHED))
def test_capacity_is_the_published_volume_when_the_metal_is_outside(name):
    mesh = solid(name)
    kit = make_kit(mesh, choices("open", "outside"))
    assert kit.envelopes[0].capacity == pytest.approx(PUBLISHED[name].volume * edge_length(mesh) ** 3, rel=1e-6)


@pytest.mark.parametrize(("side", "depth"), [("inside", 3.0), ("centred", 1.5)])
@pytest.mark.parametrize("name", sorted(PUBLISHED))
def test_capacity_is_that_of_the_faces_moved_in(name, side, depth):
    mesh = solid(name)
    kit = make_kit(mesh, choices("open", side))
    # where more than three faces meet, their moved planes need not share a point
    meeting = np.bincount([c for f in range(mesh.face_count) for c in mesh.face(f)]).max()
    tolerance = 1e-9 if meeting == 3 else 1e-5
    assert kit.envelopes[0].capacity == pytest.approx(offset_volume(mesh, depth), rel=tolerance)


QUICK = [(n, c, s) for n, (c, s) in itertools.product(PLATONIC, zip(CORNERS, SIDES, strict=True))]
ALL = [(n, c, s) for n, c, s in itertools.product(sorted(PUBLISHED), CORNERS, SIDES)]


def build_and_judge(name, corner, side):
    mesh = solid(name)
    kit = make_kit(mesh, choices(corner, side))
    assert [f for f in kit.checks if f.level == "error"] == []
    assert worst_overlap(kit) <= 0.01
    inside = cavities(kit, bead=1.5)
    assert inside, "the cavity leaks"
    capacity = kit.envelopes[0].capacity
    joints = sum(j.length for j in kit.joints)
    crevices = 3.0 * joints                       # at most this section of crevice and bead along every joint
    assert inside[0] == pytest.approx(capacity, abs=crevices)
    assert sum(v for v in inside[1:]) < 0.001 * capacity


@pytest.mark.parametrize(("name", "corner", "side"), QUICK)
def test_platonic_kits_seal_and_do_not_clash(name, corner, side):
    build_and_judge(name, corner, side)


@pytest.mark.slow
@pytest.mark.parametrize(("name", "corner", "side"), ALL)
def test_every_solid_seals_and_does_not_clash(name, corner, side):
    build_and_judge(name, corner, side)


@pytest.mark.parametrize(("corner", "side"), list(itertools.product(CORNERS, SIDES)))
@pytest.mark.parametrize("name", PLATONIC)
def test_sides_stand_back_by_the_closed_form(name, corner, side):
    """Without tabs, each side of each plate lies parallel to the drawn one at the setback of the section."""
    made = solve(read_envelope(solid(name), choices(corner, side)),
                 Choices(settings=Settings(corner=corner, metal_side=side, thickness=THICKNESS)))
    depth = {"outside": 0.0, "centred": 1.5, "inside": 3.0}[side]
    overlap = {"open": 0.0, "half-open": 0.5, "closed": 1.0}[corner]
    angle = math.degrees(DIHEDRAL[name])
    section = solve_section(angle, THICKNESS, THICKNESS, overlap)
    root = crossing(angle, depth, depth).item()
    wanted = {1: root + section.back1.item(), 2: root + section.back2.item()}
    for plate in made.plates:
        panel = made.envelope.panels[plate.number]
        ring = panel.frame.flat(made.envelope.points[panel.rings[0]])
        outer = plate.outline.outer.points
        for k, edge in enumerate(panel.edges[0]):
            a, b = ring[k], ring[(k + 1) % len(ring)]
            along = (b - a) / np.linalg.norm(b - a)
            into = np.array([-along[1], along[0]])
            through = made.joints.panels[edge, made.joints.through[edge]] == plate.number
            runs = np.roll(outer, -1, axis=0) - outer
            on_it = np.abs(((outer - a) @ into) - wanted[1 if through else 2]) < 1e-6
            straight = on_it & np.roll(on_it, -1)
            assert np.abs(runs[straight] @ into).max() < 1e-6
            length = np.linalg.norm(runs[straight], axis=1).sum()
            assert length > 0.4 * np.linalg.norm(b - a)   # the rest is tabs


@pytest.mark.parametrize(("name", "edge", "void"), [
    ("Tetrahedron", 200, 374.12), ("Cube", 200, 216.0), ("Octahedron", 200, 187.06),
    ("Dodecahedron", 200, 149.86), ("Icosahedron", 200, 136.46),
])
def test_voids_at_the_corners_add_up(name, edge, void):
    """Metal + grooves + corner voids = the space between the skins: V (1 + t/r)^3 - V for a body with an
    inscribed sphere r. Derived; for the cube t^3 a corner."""
    mesh = solid(name)
    kit = make_kit(mesh, choices("open", "outside"))
    assert sum(c.void for c in kit.corners) == pytest.approx(void, abs=0.01)
    bare = solve(read_envelope(mesh, choices("open", "outside")), choices("open", "outside"))
    metal = sum(shapely.Polygon(bare.envelope.panels[p.number].frame.flat(
        bare.envelope.points[bare.envelope.panels[p.number].rings[0]])).area for p in bare.plates) * THICKNESS
    grooves = sum(j.groove.area * j.length for j in kit.joints)
    volume = kit.envelopes[0].capacity
    area = metal / THICKNESS
    radius = 3 * volume / area
    shell = volume * (1 + THICKNESS / radius) ** 3 - volume
    assert metal + grooves + sum(c.void for c in kit.corners) == pytest.approx(shell, rel=1e-6)
