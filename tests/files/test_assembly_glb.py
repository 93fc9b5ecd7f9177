"""The assembly file, read back by trimesh."""

from __future__ import annotations

import dataclasses
import io
import json
import struct

import numpy as np
import pytest
import trimesh
from kit_samples import LID_AREA, SIDE_AREA, corner_kit

from tackwright.core.files.assembly_glb import assembly_glb
from tackwright.core.plates.solids import plate_mesh

KIT = corner_kit()
DATA = assembly_glb(KIT)


def load():
    return trimesh.load(io.BytesIO(DATA), file_type="glb")


def solids():
    """Each node's solid where it stands, in mm and Z up."""
    scene = load()
    back = np.array([[1, 0, 0, 0], [0, 0, -1, 0], [0, 1, 0, 0], [0, 0, 0, 1]]) * 1000.0
    back[3, 3] = 1.0
    out = {}
    for node in scene.graph.nodes_geometry:
        transform, geometry = scene.graph[node]
        solid = scene.geometry[geometry].copy()
        solid.apply_transform(back @ transform)
        out[node] = solid
    return out


def document():
    length = struct.unpack_from("<I", DATA, 12)[0]
    return json.loads(DATA[20 : 20 + length])


def test_a_node_per_placement_a_mesh_per_mark():
    assert set(load().graph.nodes_geometry) == {"P01-1", "P02-1", "P02-2"}
    assert [mesh["name"] for mesh in document()["meshes"]] == ["P01", "P02"]
    assert [node["mesh"] for node in document()["nodes"]] == [0, 1, 1]


def test_every_node_is_watertight_and_has_the_plates_volume():
    for name, solid in solids().items():
        assert solid.is_watertight and solid.is_winding_consistent
        area = LID_AREA if name == "P01-1" else SIDE_AREA
        assert solid.volume == pytest.approx(area * 3, rel=2e-3)      # arcs are chords here


def test_solids_stand_where_their_placements_put_them():
    found = solids()
    assert found["P01-1"].bounds == pytest.approx(np.array([[0, 0, 0], [100, 80, 3]]), abs=1e-4)
    assert found["P02-1"].bounds == pytest.approx(np.array([[97, 0, -60], [100, 80, 0]]), abs=1e-4)
    side = KIT.plates[1]
    points, _ = plate_mesh(side.outline, side.thickness)
    placed = points @ side.placements[1].matrix[:3, :3].T + side.placements[1].matrix[:3, 3]
    assert found["P02-2"].bounds == pytest.approx(np.array([placed.min(axis=0), placed.max(axis=0)]), abs=2e-3)


def test_up_is_y_and_lengths_are_metres():
    assert load().geometry["P01"].extents == pytest.approx([0.1, 0.08, 0.003], abs=1e-7)
    scene = trimesh.load(io.BytesIO(assembly_glb(dataclasses.replace(KIT, plates=KIT.plates[:1]))), file_type="glb")
    assert scene.extents == pytest.approx([0.1, 0.003, 0.08], abs=1e-7)


def test_points_keep_their_precision_far_from_the_origin():
    far = dataclasses.replace(KIT.plates[0].placements[0], matrix=np.array(
        [[1, 0, 0, 1e7], [0, 1, 0, 0], [0, 0, 1, 0], [0, 0, 0, 1]], dtype=float))
    data = assembly_glb(dataclasses.replace(KIT, plates=(dataclasses.replace(KIT.plates[0], placements=(far,)),)))
    solid = trimesh.load(io.BytesIO(data), file_type="glb").geometry["P01"]
    assert solid.volume == pytest.approx(LID_AREA * 3e-9, rel=2e-3)


def test_the_container_follows_the_specification():
    magic, version, total = struct.unpack_from("<4sII", DATA)
    assert (magic, version, total) == (b"glTF", 2, len(DATA))
    length, kind = struct.unpack_from("<I4s", DATA, 12)
    assert kind == b"JSON" and length % 4 == 0
    data_length, kind = struct.unpack_from("<I4s", DATA, 20 + length)
    assert kind == b"BIN\0" and data_length % 4 == 0 and 28 + length + data_length == total
    record = document()
    points = record["accessors"][0]
    assert points["min"] == pytest.approx([0, 0, 0]) and points["max"] == pytest.approx([0.1, 0.08, 0.003])
    for accessor in record["accessors"]:
        assert accessor["byteOffset"] % 4 == 0
    for node in record["nodes"]:
        matrix = np.array(node["matrix"]).reshape(4, 4).T             # column-major in the file
        assert np.linalg.det(matrix[:3, :3]) == pytest.approx(1.0) and matrix[3].tolist() == [0, 0, 0, 1]


def test_holes_go_through():
    side = KIT.plates[1]
    points, corners = plate_mesh(side.outline, side.thickness)
    solid = trimesh.Trimesh(points, corners, process=False)
    assert solid.is_watertight and solid.euler_number == 0            # one handle
    assert solid.volume == pytest.approx(SIDE_AREA * 3, rel=2e-3)


def test_the_same_kit_gives_the_same_bytes():
    assert assembly_glb(corner_kit()) == DATA


def test_a_kit_without_plates_is_still_a_file():
    scene = trimesh.load(io.BytesIO(assembly_glb(dataclasses.replace(KIT, plates=()))), file_type="glb")
    assert len(scene.geometry) == 0
