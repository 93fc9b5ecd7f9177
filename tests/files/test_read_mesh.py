"""Mesh files, with trimesh as the judge of volume."""

from __future__ import annotations

import base64
import json
import struct
import sys

import numpy as np
import plyfile
import pytest
import trimesh

from tackwright.core.files.read_mesh import read_mesh
from tackwright.core.terms.errors import InputError

# An L-shaped prism with a concave top and bottom, 30 x 20 x 10, the notch 20 x 10: 30*20*10 - 20*10*10 = 4000.
L_PLAN = [(0, 0), (30, 0), (30, 10), (10, 10), (10, 20), (0, 20)]
L_POINTS = [(*p, z) for z in (0, 10) for p in L_PLAN]
L_FACES = [
    (5, 4, 3, 2, 1, 0),
    (6, 7, 8, 9, 10, 11),
    *((i, (i + 1) % 6, (i + 1) % 6 + 6, i + 6) for i in range(6)),
]
L_NAMES = ["bottom", "top", "front", "step end", "step", "riser", "back", "left"]
L_VOLUME = 4000.0


def volume(mesh):
    """Of closed polygons, by fans from their first corner: signs make concave ones right."""
    total = 0.0
    for i in range(mesh.face_count):
        p = mesh.points[mesh.face(i)]
        total += np.einsum("ij,ij->i", np.cross(p[1:-1], p[2:]), np.broadcast_to(p[0], p[2:].shape)).sum() / 6
    return total


def obj_text(points=L_POINTS, faces=L_FACES, names=()):
    lines = [f"v {x} {y} {z}" for x, y, z in points]
    for i, face in enumerate(faces):
        lines += [f"g {names[i]}"] if names else []
        lines.append("f " + " ".join(str(c + 1) for c in face))
    return "\n".join(lines) + "\n"


@pytest.fixture
def put(tmp_path):
    def write(name, data):
        path = tmp_path / name
        path.write_bytes(data if isinstance(data, bytes) else data.encode())
        return path

    return write


def l_trimesh():
    fan = [(f[0], f[i], f[i + 1]) for f in L_FACES for i in range(1, len(f) - 1)]
    solid = trimesh.Trimesh(L_POINTS, fan, process=False)
    assert solid.volume == pytest.approx(L_VOLUME)
    return solid


def l_ply(text):
    vertex = np.array(L_POINTS, dtype=[("x", "f8"), ("y", "f8"), ("z", "f8")])
    face = np.empty(len(L_FACES), dtype=[("vertex_indices", "O")])
    face["vertex_indices"] = [np.array(f, dtype="i4") for f in L_FACES]
    return plyfile.PlyData(
        [plyfile.PlyElement.describe(vertex, "vertex"), plyfile.PlyElement.describe(face, "face")], text=text
    )


# ---- the same shape through every format

@pytest.mark.parametrize("text", [True, False])
def test_ply_keeps_polygons_whole(tmp_path, text):
    l_ply(text).write(str(tmp_path / "l.ply"))
    mesh = read_mesh(tmp_path / "l.ply")
    assert [len(mesh.face(i)) for i in range(mesh.face_count)] == [6, 6, 4, 4, 4, 4, 4, 4]
    assert volume(mesh) == pytest.approx(L_VOLUME)
    if text:  # trimesh reads no binary PLY whose polygons differ in size
        assert trimesh.load(tmp_path / "l.ply").volume == pytest.approx(L_VOLUME)


def test_obj_keeps_concave_polygons_whole(put):
    path = put("l.obj", obj_text())
    mesh = read_mesh(path)
    assert mesh.face(1).tolist() == [6, 7, 8, 9, 10, 11]
    assert mesh.points.dtype == np.float64
    assert volume(mesh) == pytest.approx(L_VOLUME)
    assert trimesh.load(path).volume == pytest.approx(L_VOLUME)
    assert mesh.name == "l"


@pytest.mark.parametrize("kind", ["stl", "stl_ascii", "glb", "obj", "ply"])
def test_what_trimesh_writes_has_the_volume_that_trimesh_says(put, kind):
    solid = l_trimesh()
    data = solid.export(file_type=kind)
    path = put("l." + kind.removesuffix("_ascii"), data)
    assert volume(read_mesh(path)) == pytest.approx(solid.volume, rel=1e-6)


@pytest.mark.parametrize(("unit", "factor"), [("mm", 1.0), ("in", 25.4), ("m", 1000.0)])
@pytest.mark.parametrize("kind", ["stl", "glb", "obj", "ply"])
def test_the_declared_unit_scales_every_format(put, kind, unit, factor):
    path = put("l." + kind, l_trimesh().export(file_type=kind))
    assert volume(read_mesh(path, unit=unit)) == pytest.approx(L_VOLUME * factor**3, rel=1e-6)


def test_a_suffix_may_be_in_capitals(put):
    assert read_mesh(put("L.OBJ", obj_text())).face_count == 8


# ---- OBJ in its dialects

def test_obj_negative_indices_count_back(put):
    text = "v 0 0 0\nv 1 0 0\nv 0 1 0\nf -3 -2 -1\nv 0 0 1\nf 1 2 -1\n"
    mesh = read_mesh(put("a.obj", text))
    assert [mesh.face(i).tolist() for i in range(2)] == [[0, 1, 2], [0, 1, 3]]


def test_obj_reads_texture_normals_comments_continuations_and_weights(put):
    text = (
        "# made by hand\nmtllib x.mtl\nv 0 0 0 1.0  # weight\nv 1 0 0 0.5 0.5 0.5\r\nv 1 1 0\nv 0 \\\n1 0\n"
        "vt 0 0\nvn 0 0 1\ns off\nf 1/1/1 2//1 \\\n 3/1 4\nl 1 2\np 1\n"
    )
    mesh = read_mesh(put("a.obj", text))
    assert mesh.face(0).tolist() == [0, 1, 2, 3]
    assert mesh.points.tolist() == [[0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0]]


def test_obj_keeps_double_precision(put):
    mesh = read_mesh(put("a.obj", "v 123456.123456789 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n"))
    assert mesh.points[0, 0] == 123456.123456789


def test_obj_groups_name_faces(put):
    assert read_mesh(put("l.obj", obj_text(names=L_NAMES))).face_names == tuple(L_NAMES)


def test_obj_materials_name_faces_where_groups_do_not(put):
    text = "o Tank\nv 0 0 0\nv 1 0 0\nv 0 1 0\nv 0 0 1\nusemtl lid\nf 1 2 3\nusemtl side\nf 1 2 4\n"
    assert read_mesh(put("a.obj", text)).face_names == ("lid", "side")


def test_obj_objects_name_faces_where_nothing_else_does(put):
    text = "v 0 0 0\nv 1 0 0\nv 0 1 0\nv 0 0 1\nusemtl grey\no lid\nf 1 2 3\no side\nf 1 2 4\n"
    assert read_mesh(put("a.obj", text)).face_names == ("lid", "side")


def test_one_object_name_over_everything_names_no_face(put):
    assert read_mesh(put("a.obj", "o Cube\nusemtl Material\n" + obj_text())).face_names == ()


# ---- glTF

def gltf(nodes, primitives, materials=()):
    """A glTF file of a tetrahedron's points; primitives: lists of triangles, one mesh of all."""
    points = np.array([(0, 0, 0), (1, 0, 0), (0, 1, 0), (0, 0, 1)], dtype="<f4")
    blob, views, accessors = points.tobytes(), [], []
    views.append({"buffer": 0, "byteOffset": 0, "byteLength": len(blob)})
    accessors.append({"bufferView": 0, "componentType": 5126, "count": 4, "type": "VEC3",
                      "min": [0, 0, 0], "max": [1, 1, 1]})
    made = []
    for i, triangles in enumerate(primitives):
        data = np.array(triangles, dtype="<u4").tobytes()
        views.append({"buffer": 0, "byteOffset": len(blob), "byteLength": len(data)})
        accessors.append({"bufferView": i + 1, "componentType": 5125, "count": 3 * len(triangles), "type": "SCALAR"})
        made.append({"attributes": {"POSITION": 0}, "indices": i + 1} | ({"material": i} if materials else {}))
        blob += data
    uri = "data:application/octet-stream;base64," + base64.b64encode(blob).decode()
    return json.dumps({
        "asset": {"version": "2.0"}, "scene": 0, "scenes": [{"nodes": [0]}], "nodes": nodes,
        "meshes": [{"name": "Tank", "primitives": made}], "materials": [{"name": m} for m in materials],
        "accessors": accessors, "bufferViews": views, "buffers": [{"byteLength": len(blob), "uri": uri}],
    } | ({} if materials else {"materials": [{"name": "grey"}]}))


TETRA = [(0, 2, 1), (0, 1, 3), (0, 3, 2), (1, 2, 3)]        # outward, volume 1/6


def test_gltf_is_turned_to_z_up(put):
    mesh = read_mesh(put("a.gltf", gltf([{"mesh": 0}], [TETRA])))
    assert {tuple(p) for p in mesh.points.tolist()} == {(0, 0, 0), (1, 0, 0), (0, 0, 1), (0, -1, 0)}
    assert volume(mesh) == pytest.approx(1 / 6)


def test_gltf_applies_its_nodes_transforms_and_keeps_faces_outward(put):
    nodes = [{"translation": [10, 0, 0], "children": [1]}, {"mesh": 0, "scale": [-2, 1, 1]}]
    mesh = read_mesh(put("a.gltf", gltf(nodes, [TETRA])))
    assert mesh.points[:, 0].min() == pytest.approx(8.0) and mesh.points[:, 0].max() == pytest.approx(10.0)
    assert volume(mesh) == pytest.approx(2 / 6)


def test_gltf_materials_name_faces_of_one_node(put):
    path = put("a.gltf", gltf([{"name": "Tank", "mesh": 0}], [TETRA[:1], TETRA[1:]], ["lid", "side"]))
    assert read_mesh(path).face_names == ("lid", "side", "side", "side")


def test_gltf_nodes_name_faces_where_there_are_several(put):
    nodes = [{"name": "all", "children": [1, 2]}, {"name": "lid", "mesh": 0}, {"name": "base", "mesh": 0}]
    path = put("a.gltf", gltf(nodes, [TETRA[:1], TETRA[1:]], ["red", "blue"]))
    first, again = read_mesh(path), read_mesh(path)
    assert first.face_names == ("base",) * 4 + ("lid",) * 4
    assert first.face_names == again.face_names and first.points.tobytes() == again.points.tobytes()


def test_stl_solids_name_faces(put):
    facet = "facet normal 0 0 1\nouter loop\nvertex 0 0 0\nvertex 1 0 0\nvertex 0 1 0\nendloop\nendfacet\n"
    path = put("a.stl", f"solid lid\n{facet}endsolid lid\nsolid side\n{facet}endsolid side\n")
    assert read_mesh(path).face_names == ("lid", "side")


# ---- what is refused, and how it is named

@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("v 0 0 0\nv 1 0\n", "a.obj: the point on line 2 has 2 coordinates"),
        ("v 0 0 0\nv 1 zero 0\n", "the point on line 2 is not three numbers: 1 zero 0"),
        ("v 0 0 0\nv nan 0 0\n", "the point on line 2 is not finite: nan 0 0"),
        ("v 0 0 0\nv 0 -inf 0\n", "the point on line 2 is not finite: 0 -inf 0"),
        ("v 0 0 1e999\n", "the point on line 1 is not finite"),
        ("v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2\n", "the face on line 4 has 2 corners"),
        ("v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 4\n", "the face on line 4 uses point 4 and the file has 3"),
        ("v 0 0 0\nv 1 0 0\nv 0 1 0\nf 0 1 2\n", "the face on line 4 uses point 0, of 3 so far"),
        ("v 0 0 0\nv 1 0 0\nv 0 1 0\nf -4 1 2\n", "the face on line 4 uses point -4, of 3 so far"),
        ("v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 x/1\n", "'x/1' on line 4 is no point number"),
        ("v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 \\", "line 4 goes on past the end of the file"),
        ("v 0 0 0\nv 1 0 0\nv 0 1 0\n", "3 points and no faces"),
        ("# nothing here\n", "0 points and no faces"),
        ("complete nonsense\nin lines\n", "0 points and no faces"),
        ("v 0 0 0\0\n", "this is no OBJ text at byte 7"),
    ],
)
def test_a_bad_obj_is_refused_by_line(put, text, message):
    with pytest.raises(InputError) as caught:
        read_mesh(put("a.obj", text))
    assert message in str(caught.value)


@pytest.mark.parametrize("suffix", ["obj", "ply", "stl", "glb", "gltf"])
@pytest.mark.parametrize(
    "data", [b"", b"  \n", bytes(range(256)) * 8, b"\x00" * 300, b"\xff\xfe garbage"],
    ids=["empty", "blank", "bytes", "zeros", "garbage"],
)
def test_garbage_is_refused_in_every_format(put, suffix, data):
    with pytest.raises(InputError, match=rf"a\.{suffix}"):
        read_mesh(put(f"a.{suffix}", data))


@pytest.mark.parametrize("kind", ["stl", "stl_ascii", "glb", "ply", "ply_ascii"])
@pytest.mark.parametrize("kept", [0.1, 0.4, 0.6, 0.9])
def test_a_file_cut_short_is_refused(put, kind, kept):
    if kind.startswith("ply"):
        whole = l_trimesh().export(file_type="ply", encoding="ascii" if kind.endswith("ascii") else "binary")
    else:
        whole = l_trimesh().export(file_type=kind)
    whole = whole.encode() if isinstance(whole, str) else whole
    cut = whole[: int(len(whole) * kept)]
    with pytest.raises(InputError):
        read_mesh(put("a." + kind.removesuffix("_ascii"), cut))


def test_points_that_are_not_finite_are_named(put, tmp_path):
    ply = l_ply(text=False)
    ply["vertex"]["y"][3] = np.nan
    ply.write(str(tmp_path / "a.ply"))
    with pytest.raises(InputError, match=r"1 of 12 points are not finite at point 3, \[10\.0, nan, 0\.0\]"):
        read_mesh(tmp_path / "a.ply")
    facet = struct.pack("<12fH", 0, 0, 1, 0, 0, 0, np.inf, 0, 0, 0, 1, 0, 0)
    with pytest.raises(InputError, match="not finite at point 1"):
        read_mesh(put("a.stl", b"\0" * 80 + struct.pack("<I", 1) + facet))


def test_a_ply_face_outside_its_points_is_named(put):
    head = "ply\nformat ascii 1.0\nelement vertex 3\nproperty float x\nproperty float y\nproperty float z\n"
    head += "element face 2\nproperty list uchar int vertex_index\nend_header\n0 0 0\n1 0 0\n0 1 0\n"
    with pytest.raises(InputError, match=r"face 1 is \[0, 1, 7\] in a file of 3 points"):
        read_mesh(put("a.ply", head + "3 0 1 2\n3 0 1 7\n"))


def test_a_ply_without_faces_is_refused(put):
    head = "ply\nformat ascii 1.0\nelement vertex 1\nproperty float x\nproperty float y\nproperty float z\nend_header\n"
    with pytest.raises(InputError, match="lacks vertex x, y, z or face vertex_indices"):
        read_mesh(put("a.ply", head + "0 0 0\n"))


def test_a_missing_file_a_folder_and_a_strange_suffix_are_refused(tmp_path):
    with pytest.raises(InputError, match="none.obj cannot be opened: No such file"):
        read_mesh(tmp_path / "none.obj")
    (tmp_path / "folder.obj").mkdir()
    with pytest.raises(InputError, match="folder.obj cannot be opened: Is a directory"):
        read_mesh(tmp_path / "folder.obj")
    with pytest.raises(InputError, match=r"can be read. Use one of \.obj, \.ply, \.stl, \.glb, \.gltf"):
        read_mesh(tmp_path / "drawing.docx")


@pytest.mark.parametrize(("suffix", "library"), [("ply", "plyfile"), ("stl", "trimesh"), ("glb", "trimesh")])
def test_a_missing_reader_says_how_to_get_it(put, monkeypatch, suffix, library):
    path = put(f"a.{suffix}", l_trimesh().export(file_type=suffix))
    monkeypatch.setitem(sys.modules, library, None)
    with pytest.raises(InputError, match=rf'{library}, which is not installed. Run pip install "tackwright\[cli\]"'):
        read_mesh(path)


def test_obj_needs_no_reader_library(put, monkeypatch):
    for library in ("trimesh", "plyfile"):
        monkeypatch.setitem(sys.modules, library, None)
    assert read_mesh(put("l.obj", obj_text())).face_count == 8
