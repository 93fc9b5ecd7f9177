"""Faces selected in the editor, for its tests, and a box in metres."""

from __future__ import annotations

BOX = [(i * 0.3, j * 0.2, k * 0.1) for k in (0, 1) for i, j in ((0, 0), (1, 0), (1, 1), (0, 1))]
FACES = [(0, 3, 2, 1), (4, 5, 6, 7), (0, 1, 5, 4), (1, 2, 6, 5), (2, 3, 7, 6), (3, 0, 4, 7)]


def select_faces(blender, item, faces):
    """Go to edit mode with these faces selected and no other."""
    import bmesh

    blender.context.view_layer.objects.active = item
    if item.mode != "EDIT":
        blender.ops.object.mode_set(mode="EDIT")
    edited = bmesh.from_edit_mesh(item.data)
    edited.select_mode = {"FACE"}
    for face in edited.faces:
        face.select_set(False)
    edited.faces.ensure_lookup_table()
    for face in faces:
        edited.faces[face].select_set(True)
        edited.faces.active = edited.faces[face]
    edited.select_flush_mode()
    bmesh.update_edit_mesh(item.data)


def face_numbers(blender, item, name):
    """The numbers that a face attribute gives the faces, all 0 where there is none; leaves edit mode."""
    blender.context.view_layer.objects.active = item
    if item.mode == "EDIT":
        blender.ops.object.mode_set(mode="OBJECT")
    if name not in item.data.attributes:
        return [0] * len(item.data.polygons)
    return [value.value for value in item.data.attributes[name].data]


def box_with_shelf(draw, x=0.3, y=0.2, z=0.1, at=0.5):
    """A box like draw_box's, and face 6: a plate across it, its edges not those of the walls."""
    points = [(i * x, j * y, k * z) for k in (0, 1) for i, j in ((0, 0), (1, 0), (1, 1), (0, 1))]
    points += [(at * x, 0, 0), (at * x, y, 0), (at * x, y, z), (at * x, 0, z)]
    faces = [(0, 3, 2, 1), (4, 5, 6, 7), (0, 1, 5, 4), (1, 2, 6, 5), (2, 3, 7, 6), (3, 0, 4, 7), (8, 9, 10, 11)]
    return draw(points, faces)
