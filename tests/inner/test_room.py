"""The room inside an envelope, and what of a plane it leaves free: against closed forms and outside solids."""

import math

import numpy as np
import pytest
import shapely
from drawn_meshes import box, extruded, without
from hypothesis import given
from judges import offset_volume
from manifold3d import Manifold
from solids_data import solid
from strategies import convex_envelopes

from tackwright.core.envelope.read_envelope import read_envelope
from tackwright.core.inner.room import blocked, prism, room_of, shadow
from tackwright.core.make_kit import make_kit
from tackwright.core.shapes.frame import Frame
from tackwright.core.terms.choices import Choices, Settings
from tackwright.core.terms.errors import InputError


def room(mesh, side="inside", thickness=3.0):
    return room_of(read_envelope(mesh, Choices(settings=Settings(metal_side=side, thickness=thickness))))


def tilted(point, angle):
    """A frame whose plane leans `angle` degrees from upright, its level direction along y."""
    a = math.radians(angle)
    u, v = np.array([0.0, 1.0, 0.0]), np.array([math.sin(a), 0.0, math.cos(a)])
    return Frame(origin=np.asarray(point, dtype=float), axes=np.array([u, v, np.cross(u, v)]))


@pytest.mark.parametrize(("side", "size"), [("inside", 3.0), ("outside", 0.0), ("centred", 1.5)])
def test_the_space_of_a_box_is_a_smaller_box(side, size):
    found = room(box(300.0, 200.0, 100.0), side).space
    assert found.volume() == pytest.approx((300 - 2 * size) * (200 - 2 * size) * (100 - 2 * size), rel=1e-12)


@given(convex_envelopes())
def test_the_space_of_a_convex_body_is_its_half_spaces_moved_in(mesh):
    """Judge: qhull meets the half-spaces."""
    try:
        found = room(mesh, thickness=1.0).space
    except InputError:
        return
    assert found.volume() == pytest.approx(offset_volume(mesh, 1.0), rel=1e-6)


def test_a_re_entrant_edge_keeps_its_wedge_for_the_weld():
    """An L: the offset of the outline (shapely, mitred) times the height."""
    outline = [(0, 0), (300, 0), (300, 120), (160, 120), (160, 260), (0, 260)]
    found = room(extruded(outline, 150.0)).space
    inner = shapely.Polygon(outline).buffer(-3.0, join_style="mitre")
    assert found.volume() == pytest.approx(inner.area * 144.0, rel=1e-9)
    sharp = [(0, 0), (300, 0), (300, 200), (150, 90), (0, 200)]               # a re-entrant edge of 287 degrees
    found = room(extruded(sharp, 150.0)).space
    inner = shapely.Polygon(sharp).buffer(-3.0, join_style="mitre", mitre_limit=10.0)
    assert found.volume() == pytest.approx(inner.area * 144.0, rel=1e-9)


def test_the_capacity_of_an_empty_kit_is_the_volume_of_its_room():
    for name in ("Cube", "Octahedron", "Icosahedron"):
        mesh = solid(name)
        kit = make_kit(mesh, Choices(settings=Settings(sealed=True)))
        assert room(mesh).space.volume() == pytest.approx(kit.envelopes[0].capacity, rel=1e-5)


def test_an_open_body_has_walls_and_no_space():
    found = room(without(box(300.0, 200.0, 100.0), 5))
    assert found.space is None
    # six prisms less the lid's, overlapping along eight edges of 3 mm
    whole = Manifold.cube((300.0, 200.0, 100.0)) - Manifold.cube((294.0, 194.0, 97.0)).translate((3.0, 3.0, 3.0))
    assert found.walls.volume() == pytest.approx(whole.volume(), rel=1e-9)


@pytest.mark.parametrize("angle", [0.0, 30.0, -55.0, 70.0])
def test_what_is_blocked_ends_where_the_nearer_corner_touches(angle):
    """In the section of a box 300 x 100: the strip of a 4 mm plate that leans `angle` from upright."""
    frame = tilted((0.0, 0.0, 0.0), angle)                                   # recentred: the box's middle
    found = room(box(600.0, 200.0, 100.0))
    area = shapely.box(-300.0, -200.0, 300.0, 200.0)
    free = shapely.difference(area, blocked(found, frame, -2.0, 2.0, area, 1.0).stop)
    part = max(shapely.get_parts(free), key=lambda p: p.area)
    # up to the floor and the deck, 47 mm away: along the plane 47 / cos, less half the thickness times the tangent
    a = math.radians(abs(angle))
    reach = 47.0 / math.cos(a) - 2.0 * math.tan(a)
    assert part.bounds == pytest.approx((-97.0, -reach, 97.0, reach), abs=4e-4)


def test_shadows_have_holes_and_no_sheets():
    frame = tilted((0.0, 0.0, 0.0), 0.0)
    ring = prism(shapely.box(0, 0, 50, 50) - shapely.box(10, 10, 40, 40), frame, -1.0, 1.0)
    assert shadow(ring, frame).area == pytest.approx(2500.0 - 900.0)
    touching = ring ^ ring.translate(2.0 * frame.axes[2])
    assert shadow(touching, frame).area == 0.0
