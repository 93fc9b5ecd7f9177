"""The envelopes that other tests are made from are what they claim to be. Outside judge: trimesh."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from shapely import Polygon
from solids_data import PUBLISHED, SIZE, edge_length, solid
from strategies import (
    SHARPEST,
    SHORTEST,
    STRAIGHT,
    angle_wedges,
    convex_envelopes,
    corner_angles,
    edge_angles,
    edge_lengths,
    moved,
    prism_envelopes,
    rigid_motions,
    star_polygons,
)


def triangles(mesh):
    """The mesh as trimesh's, faces that may be concave split by shapely's triangulation of their own plane."""
    found = []
    for i in range(mesh.face_count):
        face = mesh.face(i)
        corners = mesh.points[face]
        normal = np.cross(corners - corners[0], np.roll(corners, -1, axis=0) - corners[0]).sum(axis=0)
        normal /= np.linalg.norm(normal)
        assert np.abs((corners - corners[0]) @ normal).max() < 1e-6, "a face is not flat"
        to_plane = trimesh.geometry.plane_transform(corners[0], normal)
        flat = trimesh.transform_points(corners, to_plane)[:, :2]
        assert Polygon(flat).is_valid and Polygon(flat).exterior.is_ccw
        _, parts = trimesh.creation.triangulate_polygon(Polygon(flat), engine="manifold")
        found += [[int(face[c]) for c in part] for part in parts]
    return trimesh.Trimesh(mesh.points, found, process=False)


def assert_is_a_solid(mesh):
    judged = triangles(mesh)
    assert judged.is_watertight
    assert judged.is_winding_consistent
    assert judged.volume > 1e4
    return judged


def assert_within_limits(mesh, sharpest=SHARPEST):
    angles = np.array(list(edge_angles(mesh).values()))
    assert edge_lengths(mesh).min() >= SHORTEST
    assert angles.min() >= sharpest - 1e-9 and angles.max() <= 360 - sharpest + 1e-9
    assert np.abs(angles - 180).min() >= STRAIGHT


@given(convex_envelopes())
@settings(deadline=None, max_examples=40)
def test_convex_envelopes_are_convex_solids(mesh):
    assert_within_limits(mesh)
    assert assert_is_a_solid(mesh).volume == pytest.approx(trimesh.convex.convex_hull(mesh.points).volume, rel=1e-9)


@given(prism_envelopes())
@settings(deadline=None, max_examples=60)
def test_prism_envelopes_are_solids(mesh):
    assert_within_limits(mesh)
    assert_is_a_solid(mesh)


@given(angle_wedges())
@settings(deadline=None, max_examples=60)
def test_wedges_have_the_angle_they_say(wedge):
    assert_within_limits(wedge.mesh, sharpest=20)
    assert_is_a_solid(wedge.mesh)
    assert edge_angles(wedge.mesh)[wedge.edge] == pytest.approx(wedge.angle, abs=1e-9)


@given(angle_wedges(200, 340))
@settings(deadline=None, max_examples=60)
def test_notches_have_the_angle_they_say(wedge):
    assert_within_limits(wedge.mesh, sharpest=20)
    assert_is_a_solid(wedge.mesh)
    assert edge_angles(wedge.mesh)[wedge.edge] == pytest.approx(wedge.angle, abs=1e-9)


@given(star_polygons())
def test_star_polygons_are_simple_and_within_limits(points):
    assert Polygon(points).is_valid and Polygon(points).exterior.is_ccw
    assert Polygon(points).contains(Polygon(points * 0.99))  # every corner is seen from the origin
    angles = corner_angles(points)
    assert angles.min() >= SHARPEST and angles.max() <= 360 - SHARPEST
    assert np.abs(angles - 180).min() >= STRAIGHT


@given(prism_envelopes(), rigid_motions())
@settings(deadline=None, max_examples=40)
def test_rigid_motions_keep_every_length_and_the_volume(mesh, motion):
    there = moved(mesh, motion)
    assert np.linalg.det(motion[:3, :3]) == pytest.approx(1)
    assert edge_lengths(there) == pytest.approx(edge_lengths(mesh))
    assert triangles(there).volume == pytest.approx(triangles(mesh).volume)


@pytest.mark.parametrize("name", PUBLISHED)
def test_solids_are_as_published(name):
    mesh, published = solid(name), PUBLISHED[name]
    assert Counter(len(mesh.face(i)) for i in range(mesh.face_count)) == published.faces
    assert edge_lengths(mesh) == pytest.approx(edge_length(mesh))
    judged = assert_is_a_solid(mesh)
    assert judged.volume == pytest.approx(published.volume * edge_length(mesh) ** 3, rel=1e-6)
    assert np.linalg.norm(mesh.points, axis=1) == pytest.approx(SIZE / 2)


def test_edge_angles_are_those_of_a_known_solid():
    assert set(np.round(list(edge_angles(solid("Octahedron")).values()), 6)) == {109.471221}  # acos(-1/3)
