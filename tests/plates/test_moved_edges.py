"""Moved edges, with shapely's mitred offset as judge where all setbacks are alike, and by hand where not."""

import numpy as np
import pytest
import shapely
from hypothesis import assume, given
from hypothesis import strategies as st
from strategies import prism, star_polygons

from tackwright.core.envelope.mesh import Mesh
from tackwright.core.envelope.read_envelope import read_envelope
from tackwright.core.plates.moved_edges import move_sides, sides_of
from tackwright.core.terms.choices import Choices, Settings


def sides_for(outline):
    """The sides of the floor of a prism on `outline`, and which rows they are."""
    envelope = read_envelope(prism(np.asarray(outline, dtype=float), 100.0), Choices(settings=Settings(thickness=0.5)))
    floor = next(i for i, p in enumerate(envelope.panels) if p.frame.axes[2, 2] < -0.9)
    sides = sides_of(envelope)
    return sides, np.flatnonzero(sides.panel == floor)


def moved_floor(outline, setback):
    sides, rows = sides_for(outline)
    values = np.zeros(len(sides.edge))
    values[rows] = setback
    moved = move_sides(sides, values)
    ring = moved.vanished[sides.ring[rows[0]]]
    points = [] if ring else np.stack([moved.start[rows], moved.end[rows]], axis=1).reshape(-1, 2)
    return sides, rows, moved, points


@given(star_polygons(), st.floats(-20.0, 20.0))
def test_like_setbacks_are_shapelys_mitred_offset(outline, setback):
    whole = shapely.Polygon(outline)
    wanted = shapely.buffer(whole, -setback, join_style="mitre", mitre_limit=50.0)
    assume(wanted.geom_type == "Polygon" and len(wanted.exterior.coords) - 1 == len(outline))
    turns = np.diff(np.unwrap(np.arctan2(*(np.roll(outline, -1, 0) - outline).T[::-1])))
    assume(np.abs(turns).max(initial=0) < 2.4)                # a needle's tip is cut off, by design
    *_, points = moved_floor(outline, setback)
    assert shapely.Polygon(points).area == pytest.approx(wanted.area, rel=1e-9)


def test_each_side_moves_by_its_own_setback():
    sides, rows, moved, points = moved_floor([(0, 0), (200, 0), (200, 100), (0, 100)], [1.0, 2.0, 3.0, 4.0])
    for row, setback in zip(rows, [1.0, 2.0, 3.0, 4.0], strict=True):
        for end in (moved.start[row], moved.end[row]):
            assert (end - sides.at[row]) @ sides.into[row] == pytest.approx(setback)
    assert shapely.Polygon(points).area == pytest.approx((200 - 2 - 4) * (100 - 1 - 3)) or shapely.Polygon(
        points).area == pytest.approx((200 - 1 - 3) * (100 - 2 - 4))


@given(star_polygons(corners=(5, 10)), st.floats(20.0, 90.0))
def test_swallowed_sides_leave_what_a_front_would_leave(outline, setback):
    """Where the shrinking polygon stays in one piece, shapely's offset is what must be left."""
    whole = shapely.Polygon(outline)
    shares = np.linspace(0.02, 1, 50)
    steps = [shapely.buffer(whole, -setback * s, join_style="mitre", mitre_limit=50.0) for s in shares]
    assume(all(s.geom_type == "Polygon" and not s.is_empty for s in steps))
    assume(shapely.is_valid(steps[-1]) and steps[-1].area > 100)
    reflex = shapely.convex_hull(whole).area > whole.area * 1.0001
    assume(not reflex)
    *_, points = moved_floor(outline, setback)
    assert shapely.Polygon(points).buffer(0).area == pytest.approx(steps[-1].area, rel=1e-6)


def test_a_ring_that_closes_up_is_said_to_vanish():
    sides, rows, moved, points = moved_floor([(0, 0), (200, 0), (200, 100), (0, 100)], 51.0)
    assert moved.vanished[sides.ring[rows[0]]]


def test_nearly_straight_neighbours_with_unlike_setbacks_meet_in_a_step():
    """Two sides 0.6 degrees apart, one 3 mm in: their lines cross 286 mm away, so a step is cut instead."""
    outline = np.array([(0, 0), (100, 0), (200, 1), (200, 100), (0, 100)], dtype=float)
    sides, rows = sides_for(outline)
    values = np.zeros(len(sides.edge))
    first = next(r for r in rows if np.allclose(sides.corner[r], sides.corner[r]) and abs(
        np.linalg.norm(sides.corner[sides.after[r]] - sides.corner[r]) - 100.0) < 1e-6)
    values[first] = 3.0
    moved = move_sides(sides, values)
    assert np.linalg.norm(moved.end[first] - moved.start[sides.after[first]]) < 12.1
    assert np.linalg.norm(moved.start[first] - moved.end[sides.before[first]]) < 12.1


def test_holes_shrink_when_their_sides_move_in():
    """A tunnel through a block: its rims are holes of two panels, metal outside grows them."""
    from manifold3d import Manifold

    solid = Manifold.cube([200, 200, 100]) - Manifold.cube([80, 60, 300]).translate([50, 60, -50])
    mesh = solid.to_mesh64()
    envelope = read_envelope(Mesh.of(np.asarray(mesh.vert_properties)[:, :3], np.asarray(mesh.tri_verts)), Choices())
    assert sorted(len(p.rings) for p in envelope.panels) == [1] * 8 + [2, 2]
    sides = sides_of(envelope)
    moved = move_sides(sides, np.full(len(sides.edge), 5.0))
    for index, panel in enumerate(envelope.panels):
        if len(panel.rings) == 2:
            hole = sides.ring[sides.panel == index].max()
            rows = sides.ring == hole
            assert abs(shapely.Polygon(moved.start[rows]).area) == pytest.approx(90 * 70)
