"""Mesh files into a mesh: OBJ and PLY with their polygons whole, STL and glTF (GLB) as triangles."""

from __future__ import annotations

import importlib
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from types import MappingProxyType
from typing import Any, Final, Literal

import numpy as np
from numpy.typing import NDArray

from ..envelope.mesh import Mesh
from ..stock.units import INCH
from ..terms.errors import InputError
from .face_names import telling
from .obj_file import parse_obj

__all__ = ["MESH_SUFFIXES", "FileUnit", "read_mesh"]

FileUnit = Literal["mm", "in", "m"]
_SCALE: Final[Mapping[FileUnit, float]] = MappingProxyType({"mm": 1.0, "in": INCH, "m": 1000.0})

# glTF has y up and z towards the viewer (glTF 2.0, 3.4); here z is up.
_Z_UP: Final = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, -1.0], [0.0, 1.0, 0.0]])


def read_mesh(path: Path | str, *, unit: FileUnit = "mm") -> Mesh:
    """The mesh in a file, in mm, named after the file.

    path: *.obj, *.ply, *.stl, *.glb or *.gltf. unit: what the file's numbers are; no format is trusted to
    know. Faces of any number of corners stay whole where the format has them. glTF is turned to z up and
    its nodes' transforms are applied. Raises InputError, naming the place where it can, for a file that is
    missing, empty, cut short, not of its format, or holds a coordinate that is not finite.

    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     path = Path(folder, "lid.obj")
    ...     _ = path.write_text("v 0 0 0\\nv 1 0 0\\nv 1 2 0\\nf 1 2 3\\n")
    ...     mesh = read_mesh(path, unit="in")
    >>> mesh.name, mesh.face_count, mesh.points[2].tolist()
    ('lid', 1, [25.4, 50.8, 0.0])
    """
    path = Path(path)
    reader = _READERS.get(path.suffix.casefold())
    if reader is None:
        raise InputError(f"{path} is no mesh file that can be read", do=f"Use one of {', '.join(MESH_SUFFIXES)}")
    try:
        data = path.read_bytes()
    except OSError as error:
        raise InputError(f"{path} cannot be opened: {error.strerror or error}", do="Check the path") from error
    if not data.strip():
        raise InputError(f"{path} is empty", do="Export it again")
    try:
        with np.errstate(all="ignore"):     # points that are not finite are named at the end
            return replace(reader(path, data, _SCALE[unit]), unit_from="--units, or a job's `units`")
    except InputError as error:
        raise InputError(f"{path}: {error.what.raw}", where=error.where, by=error.by, do=error.do) from error


def _read_obj(path: Path, data: bytes, scale: float) -> Mesh:
    if b"\0" in data:
        raise InputError("this is no OBJ text", where=f"byte {data.index(0)}", do="Export it again as OBJ")
    return parse_obj(data.decode("utf-8-sig", errors="replace"), name=path.stem, scale=scale)


def _read_ply(path: Path, data: bytes, scale: float) -> Mesh:
    plyfile = _library("plyfile")
    if not data.startswith(b"ply"):
        raise InputError("this is no PLY file", where="its first line", do="Export it again as PLY")
    ply = _parsed("PLY", lambda: plyfile.PlyData.read(str(path)))
    elements = {element.name: element for element in ply.elements}
    corners = "vertex_indices"
    if "face" in elements and "vertex_index" in (p.name for p in elements["face"].properties):
        corners = "vertex_index"
    try:
        points = np.column_stack([np.asarray(elements["vertex"][axis], dtype=np.float64) for axis in "xyz"])
        faces = [tuple(int(i) for i in face) for face in elements["face"][corners]]
    except (KeyError, ValueError) as error:
        raise InputError(
            "the PLY file lacks vertex x, y, z or face vertex_indices", do="Export points and polygons"
        ) from error
    for index, face in enumerate(faces):
        if len(face) < 3 or min(face) < 0 or max(face) >= len(points):
            raise InputError(
                f"face {index} is {list(face)[:8]} in a file of {len(points)} points",
                do="A face needs at least 3 corners, each a point of the file",
            )
    return _mesh(path, points, faces, (), scale)


def _read_stl(path: Path, data: bytes, scale: float) -> Mesh:
    _refuse_cut_stl(data)
    scene = _scene(path, "STL")
    return _joined(path, [(n, scene.geometry[n], np.eye(4), "") for n in scene.geometry], scale)


def _read_gltf(path: Path, data: bytes, scale: float) -> Mesh:
    scene = _scene(path, "glTF")
    parents = scene.graph.transforms.parents
    order = {name: place for place, name in enumerate(scene.geometry)}
    parts = []
    for node in scene.graph.nodes_geometry:
        matrix, geometry = scene.graph[node]
        solid = scene.geometry[geometry]
        if not hasattr(solid, "faces"):
            continue                                    # lines and points
        # A node of several primitives is split by trimesh into nodes with random names.
        called = parents[node] if solid.metadata.get("from_gltf_primitive") else node
        material = getattr(getattr(solid.visual, "material", None), "name", None) or ""
        parts.append((str(called), order[geometry], solid, matrix, material))
    parts.sort(key=lambda part: part[:2])
    turn = np.eye(4)
    turn[:3, :3] = _Z_UP
    return _joined(path, [(called, solid, turn @ m, material) for called, _, solid, m, material in parts], scale)


_Part = tuple[str, Any, NDArray[np.float64], str]       # name, trimesh, (4, 4) transform, material


def _joined(path: Path, parts: list[_Part], scale: float) -> Mesh:
    """One mesh of several parts, each moved by its transform."""
    points, faces, names, materials = [], [], [], []
    start = 0
    for name, solid, matrix, material in parts:
        own = np.asarray(solid.faces, dtype=np.int64) + start
        mirrored = np.linalg.det(matrix[:3, :3]) < 0    # keeps outward faces outward
        faces.append(own[:, ::-1] if mirrored else own)
        points.append(np.asarray(solid.vertices, dtype=np.float64) @ matrix[:3, :3].T + matrix[:3, 3])
        start += len(points[-1])
        names += [name] * len(own)
        materials += [material] * len(own)
    all_points = np.concatenate([np.empty((0, 3)), *points])
    all_faces = np.concatenate([np.empty((0, 3), dtype=np.int64), *faces])
    return _mesh(path, all_points, all_faces, telling(names, materials), scale)


def _mesh(path: Path, points: NDArray[np.float64], faces: Any, names: tuple[str, ...], scale: float) -> Mesh:
    if len(faces) == 0:
        raise InputError("the file holds no faces", do="See that it is whole, and export a mesh")
    bad = np.flatnonzero(~np.isfinite(points).all(axis=1))
    if len(bad):
        raise InputError(
            f"{len(bad)} of {len(points)} points are not finite", where=f"point {bad[0]}, {points[bad[0]].tolist()}",
            do="Mend those points in the drawing",
        )
    return Mesh.of(points, faces, face_names=names, name=path.stem, scale=scale)


def _refuse_cut_stl(data: bytes) -> None:
    """trimesh reads what is left of a file that was cut short; a tank without its last faces is no tank."""
    declared = int.from_bytes(data[80:84], "little")
    if len(data) >= 84 and len(data) == 84 + 50 * declared:
        return                                          # binary: an 80-byte header, a count, 50 bytes a facet
    if not data.lstrip().startswith(b"solid"):
        raise InputError(
            "this is no whole STL file", by=f"{len(data)} bytes where {84 + 50 * declared} are declared",
            do="It may be cut short: export it again",
        )
    opened, closed = data.count(b"outer loop"), data.count(b"endfacet")
    if opened != closed or b"endsolid" not in data:
        last = len(data.splitlines())
        raise InputError("the STL text is cut short", where=f"facet {closed + 1}, line {last}", do="Export it again")


def _scene(path: Path, kind: str) -> Any:
    trimesh = _library("trimesh")
    return _parsed(kind, lambda: trimesh.load_scene(str(path), process=False))


def _parsed(kind: str, parse: Callable[[], Any]) -> Any:
    """What a reader library makes of a file. On a bad file they raise whatever went wrong inside them
    (struct, json, index, key errors), so all of it is taken as the file's fault and kept as the cause."""
    try:
        return parse()
    except Exception as error:
        raise InputError(
            f"the file cannot be read as {kind}: {error or type(error).__name__}",
            do="It may be damaged or cut short: export it again",
        ) from error


def _library(name: str) -> Any:
    try:
        return importlib.import_module(name)
    except ImportError as error:
        raise InputError(
            f"this kind of file is read with {name}, which is not installed",
            do='Run pip install "tackwright[cli]", or export the envelope as OBJ',
        ) from error


_READERS: Final[Mapping[str, Callable[[Path, bytes, float], Mesh]]] = MappingProxyType(
    {".obj": _read_obj, ".ply": _read_ply, ".stl": _read_stl, ".glb": _read_gltf, ".gltf": _read_gltf}
)
MESH_SUFFIXES: Final = tuple(_READERS)
