"""Everything of a file that an operator of the add-on may change, as plain values to compare."""

from __future__ import annotations

import numpy as np

OURS = ("tackwright", "tackwright_inner", "tackwright_opening", "tackwright_plate", "tackwright_view")


def state(bpy):
    """The file as it is now: objects, their meshes, choices and settings, collections, selection and mode."""
    bpy.context.view_layer.update()
    layer = bpy.context.view_layer
    for item in bpy.data.objects:
        if item.mode == "EDIT":
            item.update_from_editmode()
    return {
        "mode": bpy.context.mode,
        "active": layer.objects.active.name if layer.objects.active else None,
        "objects": {item.name: _object(item, layer) for item in bpy.data.objects},
        "meshes": {mesh.name: _mesh(mesh) for mesh in bpy.data.meshes},
        "collections": {c.name: (sorted(c.objects.keys()), sorted(c.children.keys()), _ours(c, ("tackwright_plates",)))
                        for c in bpy.data.collections},
        "scenes": {s.name: (sorted(s.collection.objects.keys()), sorted(s.collection.children.keys()), _ours(s, None))
                   for s in bpy.data.scenes},
    }  # fmt: skip


def _object(item, layer):
    seen = layer.objects.get(item.name) == item
    return (
        item.type,
        [round(v, 6) for row in item.matrix_world for v in row],
        item.parent.name if item.parent else None,
        item.data.name if item.data else None,
        item.display_type,
        seen and item.select_get(),
        seen and item.hide_get(),
        _ours(item, None),
    )


def _mesh(mesh):
    return _edited_mesh(mesh) if mesh.is_editmode else _stored_mesh(mesh)


def _edited_mesh(mesh):
    """In edit mode the attributes of the mesh itself are empty."""
    import bmesh

    edited = bmesh.from_edit_mesh(mesh)
    marks = {}
    for items in (edited.verts, edited.edges, edited.faces):
        for kind in ("int", "float", "bool"):
            layers = getattr(items.layers, kind, None)       # Blender 4.2 has none of bool
            for layer in layers.values() if layers is not None else ():
                if layer.name.startswith("tackwright") and any(item[layer] for item in items):
                    marks[layer.name] = [item[layer] for item in items]
    chosen = [[item.select for item in items] for items in (edited.verts, edited.edges, edited.faces)]
    faces = [tuple(vert.index for vert in face.verts) for face in edited.faces]
    return [round(c, 6) for vert in edited.verts for c in vert.co], faces, marks, chosen


def _stored_mesh(mesh):
    points = np.empty(3 * len(mesh.vertices), dtype=np.float32)
    mesh.vertices.foreach_get("co", points)
    marks = {}
    for layer in mesh.attributes:
        # edges are left out: in Blender 5.0 a script's mesh has their selection of the wrong type until it is read anew
        ours = layer.name.startswith("tackwright") or layer.name in {".select_vert", ".select_poly", ".hide_poly"}
        if ours and layer.data_type in {"BOOLEAN", "INT", "INT8", "FLOAT"} and len(layer.data):
            values = [value.value for value in layer.data]
            if any(values):
                marks[layer.name] = values
    return points.round(6).tolist(), [tuple(face.vertices) for face in mesh.polygons], marks


def _ours(owner, names):
    names = names or [p.identifier for p in owner.bl_rna.properties if p.identifier.startswith("tackwright")]
    return {name: plain(getattr(owner, name)) for name in names if hasattr(owner, name)}


def plain(value, depth=0):
    """A property's value without the editor's own types; pointers to data by name."""
    if hasattr(value, "bl_rna"):
        if hasattr(value, "library"):
            return value.name
        kept = [p for p in value.bl_rna.properties if p.identifier != "rna_type"]
        return {p.identifier: plain(getattr(value, p.identifier), depth + 1) for p in kept} if depth < 6 else "..."
    if isinstance(value, float):
        return round(value, 6)
    if isinstance(value, str | int | bool) or value is None:
        return value
    if hasattr(value, "__iter__"):
        return [plain(item, depth + 1) for item in value]
    return repr(value)
