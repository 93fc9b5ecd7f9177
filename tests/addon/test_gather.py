"""What the core is given of an object: evaluated, in mm, in the world, wound outward."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest


@pytest.fixture
def read(blender):
    from tackwright.addon.gather.gather import read_drawing

    return lambda item: read_drawing(blender.context, item)


def volume(mesh):
    """mm3, positive where the faces are wound outward (divergence theorem over fans)."""
    total = 0.0
    for i in range(mesh.face_count):
        points = mesh.points[mesh.face(i)]
        for b, c in itertools.pairwise(points[1:]):
            total += float(np.dot(points[0], np.cross(b, c))) / 6
    return total


@pytest.mark.parametrize(("scale", "mm"), [(1.0, 1000.0), (0.001, 1.0), (0.01, 10.0)])
def test_lengths_are_in_mm_by_the_scenes_unit_scale(blender, read, draw_box, scale, mm):
    blender.context.scene.unit_settings.scale_length = scale
    mesh = read(draw_box(3, 2, 1)).mesh
    assert mesh.points.dtype == np.float64
    assert np.ptp(mesh.points, axis=0) == pytest.approx([3 * mm, 2 * mm, mm])


def test_the_objects_transform_is_applied(blender, read, draw_box):
    item = draw_box(1, 2, 3)
    item.location, item.rotation_euler, item.scale = (5, 0, 0), (0, 0, math.pi / 2), (1, 2, 1)
    blender.context.view_layer.update()
    mesh = read(item).mesh
    assert mesh.points.min(axis=0) == pytest.approx([1000, 0, 0], abs=1e-3)  # y of 4 m turned to minus x
    assert mesh.points.max(axis=0) == pytest.approx([5000, 1000, 3000], abs=1e-3)


@pytest.mark.parametrize("scale", [(-1, 1, 1), (1, -2, 1), (-1, -1, -1)])
def test_faces_of_a_mirrored_object_still_look_outward(blender, read, draw_box, scale):
    item = draw_box(1, 1, 1)
    item.scale = scale
    blender.context.view_layer.update()
    drawing = read(item)
    assert volume(drawing.mesh) == pytest.approx(1e9 * abs(np.prod(scale)))
    assert drawing.as_drawn


def test_a_negative_scale_of_a_parent_counts_too(blender, read, draw_box):
    item, parent = draw_box(1, 1, 1), blender.data.objects.new("parent", None)
    blender.context.scene.collection.objects.link(parent)
    item.parent, parent.scale = parent, (1, 1, -1)
    blender.context.view_layer.update()
    assert volume(read(item).mesh) == pytest.approx(1e9)


def test_modifiers_are_applied_and_the_own_numbers_given_up(read, draw_box):
    item = draw_box(1, 1, 1)
    array = item.modifiers.new("array", "ARRAY")
    array.count, array.use_relative_offset, array.use_constant_offset = 3, False, True
    array.constant_offset_displace = (2, 0, 0)
    drawing = read(item)
    assert drawing.mesh.face_count == 18
    assert volume(drawing.mesh) == pytest.approx(3e9)
    assert not drawing.as_drawn


def test_a_mirror_modifier_closes_a_half(read, draw):
    half = draw(
        [(0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0), (0, 0, 1), (1, 0, 1), (1, 1, 1), (0, 1, 1)],
        [(0, 3, 2, 1), (4, 5, 6, 7), (0, 1, 5, 4), (1, 2, 6, 5), (2, 3, 7, 6)],
    )
    half.modifiers.new("mirror", "MIRROR")
    drawing = read(half)
    assert drawing.mesh.face_count == 10
    assert volume(drawing.mesh) == pytest.approx(2e9)


def test_a_modifier_that_only_moves_points_keeps_the_numbers(read, draw_box):
    item = draw_box(1, 1, 1)
    displace = item.modifiers.new("cast", "CAST")
    displace.factor = 0.0
    assert read(item).as_drawn


def test_in_edit_mode_faces_that_are_not_selected_are_left_out(blender, read, draw_box):
    import bmesh

    item = draw_box(1, 1, 1)
    blender.ops.object.mode_set(mode="EDIT")
    edited = bmesh.from_edit_mesh(item.data)
    for face in edited.faces:
        face.select_set(face.index in (0, 2, 3))
    bmesh.update_edit_mesh(item.data)
    drawing = read(item)
    assert drawing.mesh.face_count == 6
    assert [i for i in range(6) if not getattr(drawing.choices.faces.get(i), "left_out", False)] == [0, 2, 3]


def test_in_edit_mode_the_newest_points_are_read(blender, read, draw_box):
    import bmesh

    item = draw_box(1, 1, 1)
    blender.ops.object.mode_set(mode="EDIT")
    blender.ops.mesh.select_all(action="SELECT")
    bmesh.ops.translate(bmesh.from_edit_mesh(item.data), verts=bmesh.from_edit_mesh(item.data).verts[:], vec=(0, 0, 7))
    bmesh.update_edit_mesh(item.data)
    assert read(item).mesh.points[:, 2].min() == pytest.approx(7000)


def test_in_edit_mode_selection_follows_a_mirror_modifier(blender, read, draw_box):
    import bmesh

    item = draw_box(1, 1, 1)
    item.modifiers.new("mirror", "MIRROR").use_mirror_merge = False
    blender.ops.object.mode_set(mode="EDIT")
    for face in bmesh.from_edit_mesh(item.data).faces:
        face.select_set(face.index == 1)
    bmesh.update_edit_mesh(item.data)
    drawing = read(item)
    kept = [i for i in range(12) if i not in drawing.choices.faces]
    assert len(kept) == 2
    assert all(drawing.mesh.points[drawing.mesh.face(i), 2].min() == 1000 for i in kept)


def test_nothing_selected_is_refused(blender, read, draw_box):
    from tackwright.core.terms.errors import InputError

    item = draw_box(1, 1, 1)
    blender.ops.object.mode_set(mode="EDIT")
    blender.ops.mesh.select_all(action="DESELECT")
    with pytest.raises(InputError, match="No face is selected"):
        read(item)


def test_a_mesh_without_faces_is_refused(read, draw):
    from tackwright.core.terms.errors import InputError

    with pytest.raises(InputError, match="tank has no faces"):
        read(draw([(0, 0, 0), (1, 0, 0)], []))


def test_face_and_edge_attributes_are_choices_and_zero_chooses_nothing(read, draw_box):
    from tackwright.core.terms.choices import JointChoice, PanelChoice, TabRule

    item = draw_box(1, 1, 1)
    for name, kind, domain, values in [
        ("tackwright_thickness", "FLOAT", "FACE", [0, 6, 0, 0, 0, 0]),
        ("tackwright_metal_side", "INT", "FACE", [0, 0, 1, 2, 3, 0]),
        ("tackwright_left_out", "BOOLEAN", "FACE", [0, 0, 0, 0, 0, 1]),
        ("tackwright_corner", "INT", "EDGE", [3] + [0] * 11),
        ("tackwright_tabs", "INT", "EDGE", [0, 2] + [0] * 10),
    ]:
        item.data.attributes.new(name, kind, domain).data.foreach_set("value", values)
    choices = read(item).choices
    assert dict(choices.faces) == {
        1: PanelChoice(thickness=6.0),
        2: PanelChoice(metal_side="outside"),
        3: PanelChoice(metal_side="inside"),
        4: PanelChoice(metal_side="centred"),
        5: PanelChoice(left_out=True),
    }
    ends = [tuple(sorted(edge.vertices)) for edge in item.data.edges]
    assert dict(choices.edges) == {
        ends[0]: JointChoice(corner="closed"),
        ends[1]: JointChoice(tabs=TabRule(on=False)),
    }


def test_materials_name_the_faces_where_there_are_two(blender, read, draw_box):
    item = draw_box(1, 1, 1)
    for name in ("lid", "wall"):
        item.data.materials.append(blender.data.materials.new(name))
    assert read(item).mesh.face_names == ()
    item.data.polygons.foreach_set("material_index", [1, 0, 1, 1, 1, 1])
    item.data.update()
    assert read(item).mesh.face_names == ("wall", "lid", "wall", "wall", "wall", "wall")


def test_the_users_mesh_is_not_touched(read, draw_box):
    item = draw_box(1, 1, 1)
    item.scale = (-1, 1, 1)
    before = [tuple(p.vertices) for p in item.data.polygons], len(item.data.attributes)
    read(item)
    assert ([tuple(p.vertices) for p in item.data.polygons], len(item.data.attributes)) == before
