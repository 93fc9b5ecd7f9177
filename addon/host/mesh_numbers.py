"""Whole numbers that faces and vertices of a mesh carry, read in any mode: in Edit Mode the mesh's own attributes are
empty and a bmesh has them."""

from __future__ import annotations

from typing import Any

import bmesh
import bpy
import numpy as np
from numpy.typing import NDArray

__all__ = ["column", "numbers_of", "states_of"]

_KINDS: dict[str, type[np.generic]] = {"INT": np.int32, "INT8": np.int32, "BOOLEAN": np.bool_}


def numbers_of(mesh: bpy.types.Mesh, name: str, domain: str) -> NDArray[np.int64]:
    """(n,) the numbers of an attribute of faces (FACE) or vertices (POINT), 0 where there is none of the name."""
    if mesh.is_editmode:
        edited = bmesh.from_edit_mesh(mesh)
        items = edited.faces if domain == "FACE" else edited.verts
        kinds = (getattr(items.layers, kind, {}) for kind in ("int", "bool"))  # older Blenders show no bool layers
        layer = next(filter(None, (layers.get(name) for layers in kinds)), None)
        if layer is None:
            return np.zeros(len(items), dtype=np.int64)
        return np.fromiter((item[layer] for item in items), dtype=np.int64, count=len(items))
    layer = mesh.attributes.get(name)
    if layer is None or layer.domain != domain or layer.data_type not in _KINDS:
        return np.zeros(len(mesh.polygons if domain == "FACE" else mesh.vertices), dtype=np.int64)
    return column(layer.data, "value", _KINDS[layer.data_type]).astype(np.int64)


def states_of(mesh: bpy.types.Mesh, domain: str, state: str) -> NDArray[np.bool_]:
    """(n,) which faces (FACE) or vertices (POINT) of a mesh in Edit Mode have a state, select or hide."""
    edited = bmesh.from_edit_mesh(mesh)
    items = edited.faces if domain == "FACE" else edited.verts
    return np.fromiter((getattr(item, state) for item in items), dtype=np.bool_, count=len(items))


def column(
    items: bpy.types.bpy_prop_collection[Any], name: str, kind: type[np.generic], width: int = 1
) -> NDArray[Any]:
    """One property of every item, end to end."""
    out = np.empty(len(items) * width, dtype=kind)
    items.foreach_get(name, out)
    return out
