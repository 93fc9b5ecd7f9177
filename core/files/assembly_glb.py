"""The assembly as a glTF 2.0 binary file: one mesh a plate, one node a placement, in glTF's metres and Y up.

Written from the specification (Khronos, glTF 2.0), which is short where no more than this is needed.
"""

from __future__ import annotations

import json
import struct
from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ..kit.kit import Kit, KitPlate, Placement
from ..plates.solids import plate_mesh
from ..terms.plain import Plain
from ..terms.version import __version__
from .numbers import DIRECTION, rounded_list

__all__ = ["assembly_glb"]

_MM: Final = 1e-3
_Y_UP: Final = np.array([[1.0, 0, 0, 0], [0, 0, 1.0, 0], [0, -1.0, 0, 0], [0, 0, 0, 1.0]])   # z to y, y to -z
_FLOAT, _UNSIGNED = 5126, 5125          # component types
_VERTICES, _INDICES = 34962, 34963      # buffer view targets
_METAL: Final = {"baseColorFactor": [0.6, 0.6, 0.6, 1.0], "metallicFactor": 0.3, "roughnessFactor": 0.6}


def assembly_glb(kit: Kit) -> bytes:
    """The file's bytes. Nodes are named by placement ids, meshes by piece marks.

    Points are single precision in the plate's own frame, so a kit far from the origin loses nothing; without
    normals a viewer shades each flat face flat.
    """
    meshes = [plate_mesh(plate.outline, plate.thickness) for plate in kit.plates]
    vertices = [(points * _MM).astype("<f4") for points, _ in meshes]
    indices = [triangles.astype("<u4") for _, triangles in meshes]
    materials = list(dict.fromkeys(plate.material for plate in kit.plates))
    document: Plain = {"asset": {"version": "2.0", "generator": f"tackwright {__version__}"}, "scene": 0}
    nodes = [node for mesh, plate in enumerate(kit.plates) for node in _nodes(plate.placements, mesh)]
    document["scenes"] = [{"name": kit.name, **({"nodes": list(range(len(nodes)))} if nodes else {})}]
    if meshes:
        document["nodes"] = nodes
        document["meshes"] = [_mesh(plate, i, materials) for i, plate in enumerate(kit.plates)]
        document["materials"] = [{"name": name, "pbrMetallicRoughness": _METAL} for name in materials]
        _describe_buffers(document, vertices, indices)
    return _container(document, b"".join(a.tobytes() for a in (*vertices, *indices)))


def _nodes(placements: Sequence[Placement], mesh: int) -> list[Plain]:
    matrices = _Y_UP @ np.array([p.matrix for p in placements]).reshape(-1, 4, 4)
    matrices[:, :3, 3] *= _MM
    columns = rounded_list(matrices.transpose(0, 2, 1).reshape(-1, 16), DIRECTION)
    return [
        {"name": placement.id, "mesh": mesh, "matrix": matrix}
        for placement, matrix in zip(placements, columns, strict=True)
    ]


def _mesh(plate: KitPlate, index: int, materials: list[str]) -> Plain:
    """Accessors come in pairs: a mesh's points, then its corners."""
    return {
        "name": plate.mark,
        "primitives": [{
            "attributes": {"POSITION": 2 * index}, "indices": 2 * index + 1,
            "material": materials.index(plate.material),
        }],
    }


def _describe_buffers(
    document: Plain, vertices: Sequence[NDArray[np.float32]], indices: Sequence[NDArray[np.uint32]]
) -> None:
    """Fill in accessors, bufferViews and buffers for one buffer: all points, then all corners."""
    split = sum(a.nbytes for a in vertices)
    total = split + sum(a.nbytes for a in indices)
    accessors: list[Plain] = []
    point_byte = index_byte = 0
    for points, corners in zip(vertices, indices, strict=True):
        accessors.append({
            "bufferView": 0, "byteOffset": point_byte, "componentType": _FLOAT, "count": len(points), "type": "VEC3",
            "min": points.min(axis=0).tolist(), "max": points.max(axis=0).tolist(),
        })
        accessors.append({
            "bufferView": 1, "byteOffset": index_byte, "componentType": _UNSIGNED, "count": corners.size,
            "type": "SCALAR",
        })
        point_byte += points.nbytes
        index_byte += corners.nbytes
    document["accessors"] = accessors
    document["bufferViews"] = [
        {"buffer": 0, "byteOffset": 0, "byteLength": split, "byteStride": 12, "target": _VERTICES},
        {"buffer": 0, "byteOffset": split, "byteLength": total - split, "target": _INDICES},
    ]
    document["buffers"] = [{"byteLength": total}]


def _container(document: Plain, buffer: bytes) -> bytes:
    """The binary container: a header, a JSON chunk padded with spaces, a chunk of data (a multiple of 4 long)."""
    text = json.dumps(document, ensure_ascii=False, allow_nan=False, separators=(",", ":")).encode(errors="replace")
    text += b" " * (-len(text) % 4)
    chunks = struct.pack("<I4s", len(text), b"JSON") + text
    if buffer:
        chunks += struct.pack("<I4s", len(buffer), b"BIN\0") + buffer
    return struct.pack("<4sII", b"glTF", 2, 12 + len(chunks)) + chunks
