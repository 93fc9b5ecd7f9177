"""True Faces in Blender: what it reads, moves, keeps and refuses."""

from __future__ import annotations

import math

import numpy as np
import pytest
from editing import box_with_shelf, select_faces

TOP = 1  # of the boxes drawn here
FLAT = 1e-3  # mm


@pytest.fixture
def flatten(blender):
    return blender.ops.tackwright.true_faces


@pytest.fixture
def freehand(draw_box):
    """freehand(size, seed): a box 300 x 200 x 100 mm, every corner off by about `size` mm."""

    def make(size=2.0, seed=0, name="tank", unit=1.0):
        item = draw_box(0.3 * unit, 0.2 * unit, 0.1 * unit, name)
        random = np.random.default_rng(seed)
        for vertex in item.data.vertices:
            vertex.co = np.array(vertex.co) + random.normal(0.0, size / 1000 * unit, 3)
        return item

    return make


def places(item, mm=1000.0):
    """(n, 3) the vertices in the world, mm, as stored."""
    co = np.empty(3 * len(item.data.vertices), dtype=np.float32)
    item.data.vertices.foreach_get("co", co)
    world = np.array(item.matrix_world)
    return (co.reshape(-1, 3).astype(float) @ world[:3, :3].T + world[:3, 3]) * mm


def off(item, mm=1000.0):
    """(f,) how far each face is out of flat, mm, by SVD."""
    points, out = places(item, mm), []
    for polygon in item.data.polygons:
        away = points[list(polygon.vertices)]
        away = away - away.mean(axis=0)
        out.append(np.abs(away @ np.linalg.svd(away)[2][2]).max())
    return np.array(out)


def test_a_freehand_box_comes_flat_in_object_mode(blender, freehand, flatten):
    item = freehand()
    before = places(item)
    assert off(item).max() > 0.5
    assert flatten() == {"FINISHED"}
    assert off(item).max() < FLAT
    assert 0.1 < np.linalg.norm(places(item) - before, axis=1).max() < 6.0
    item.tackwright.sealed = True
    assert blender.ops.tackwright.make_plates() == {"FINISHED"}


def test_make_plates_refuses_before_and_not_after(blender, freehand, flatten):
    item = freehand(size=6.0, seed=3)
    item.tackwright.sealed = True
    with pytest.raises(RuntimeError, match="warped"):
        blender.ops.tackwright.make_plates()
    flatten()
    assert blender.ops.tackwright.make_plates() == {"FINISHED"}


def test_the_largest_move_is_said_in_the_scenes_units(blender, freehand, flatten, capfd):
    freehand()
    flatten()
    said = capfd.readouterr().out
    assert "6 faces are flat now. The largest move is " in said and " mm" in said
    blender.context.object.data.vertices[6].co.z += 0.004
    blender.context.scene.unit_settings.system = "IMPERIAL"
    flatten()
    said = capfd.readouterr().out
    assert "The largest move is " in said and '"' in said
    flatten()
    assert "nothing had to move" in capfd.readouterr().out


@pytest.mark.parametrize("unit", [1.0, 1000.0])
def test_in_edit_mode_only_the_selected_faces_are_flattened(blender, freehand, flatten, unit):
    blender.context.scene.unit_settings.scale_length = 1.0 / unit
    item = freehand(unit=unit)
    before = places(item)
    select_faces(blender, item, [TOP])
    assert flatten() == {"FINISHED"}
    assert item.mode == "EDIT"
    blender.ops.object.mode_set(mode="OBJECT")
    assert off(item, 1000.0 / unit)[TOP] < FLAT
    moved = np.abs(places(item) - before).max(axis=1) > 1e-6
    assert set(np.flatnonzero(moved)) == {4, 5, 6, 7}


def test_selected_vertices_can_be_kept_and_all_faces_flattened(blender, freehand, flatten):
    import bmesh

    item = freehand()
    before = places(item)
    blender.ops.object.mode_set(mode="EDIT")
    edited = bmesh.from_edit_mesh(item.data)
    blender.context.tool_settings.mesh_select_mode = (True, False, False)
    edited.select_mode = {"VERT"}
    edited.verts.ensure_lookup_table()
    for vertex in edited.verts:
        vertex.select_set(vertex.index in (0, 6))
    edited.select_flush_mode()
    with pytest.raises(RuntimeError, match="No face is selected.*Keep Selected"):
        flatten()
    assert flatten(keep_selected=True) == {"FINISHED"}
    blender.ops.object.mode_set(mode="OBJECT")
    assert off(item).max() < FLAT
    assert np.abs(places(item) - before)[[0, 6]].max() == 0.0


def test_pinned_vertices_stay_through_saving_and_unpinning_frees_them(blender, freehand, flatten, tmp_path):
    import bmesh

    item = freehand()
    blender.ops.object.mode_set(mode="EDIT")
    edited = bmesh.from_edit_mesh(item.data)
    edited.select_mode = {"VERT"}
    edited.verts.ensure_lookup_table()
    for vertex in edited.verts:
        vertex.select_set(vertex.index in (1, 4))
    edited.select_flush_mode()
    assert blender.ops.tackwright.pin_vertices() == {"FINISHED"}
    blender.ops.object.mode_set(mode="OBJECT")
    assert [v.value for v in item.data.attributes["tackwright_pinned"].data] == [0, 1, 0, 0, 1, 0, 0, 0]
    blender.ops.wm.save_as_mainfile(filepath=str(tmp_path / "pinned.blend"))
    blender.ops.wm.open_mainfile(filepath=str(tmp_path / "pinned.blend"))
    item = blender.context.object
    before = places(item)
    flatten()
    assert np.abs(places(item) - before)[[1, 4]].max() == 0.0 and off(item).max() < FLAT
    blender.ops.object.mode_set(mode="EDIT")
    blender.ops.mesh.select_all(action="SELECT")
    assert blender.ops.tackwright.unpin_vertices() == {"FINISHED"}
    blender.ops.object.mode_set(mode="OBJECT")
    assert not any(v.value for v in item.data.attributes["tackwright_pinned"].data)


def test_pins_are_kept_in_edit_mode_too(blender, freehand, flatten):
    item = freehand()
    item.data.attributes.new("tackwright_pinned", "INT", "POINT").data.foreach_set("value", [0, 0, 0, 0, 1, 1, 0, 0])
    before = places(item)
    select_faces(blender, item, [TOP])
    flatten()
    blender.ops.object.mode_set(mode="OBJECT")
    assert np.abs(places(item) - before)[[4, 5]].max() == 0.0 and off(item)[TOP] < FLAT


def test_square_and_snap_follow_the_objects_own_axes_and_origin(blender, freehand, flatten):
    item = freehand(size=1.0)
    item.rotation_euler = (0.3, 0.2, 0.7)
    item.location = (0.1234, 0.2, 0.3)
    blender.context.view_layer.update()
    assert flatten(square=True, within=math.radians(5), snap="OFFSETS", grid="MM") == {"FINISHED"}
    own = np.array([v.co for v in item.data.vertices]) * 1000
    assert own == pytest.approx(np.round(own), abs=FLAT)
    assert np.ptp(own, axis=0) == pytest.approx([300, 200, 100], abs=3)


def test_sixteenths_of_an_inch(blender, freehand, flatten):
    item = freehand(size=0.5)
    flatten(square=True, snap="LENGTHS", grid="SIXTEENTH")
    steps = np.ptp(places(item), axis=0) / 1.5875
    assert steps == pytest.approx(np.round(steps), abs=1e-3)


def test_what_could_not_be_had_is_said(blender, freehand, flatten, capfd):
    item = freehand()
    item.data.attributes.new("tackwright_pinned", "INT", "POINT").data.foreach_set("value", [1, 1, 1, 0, 0, 0, 0, 0])
    flatten(square=True, within=math.radians(8))
    # the bottom's plane is given, and an edge each of the front and of the right side
    assert "What could not be had: 3 faces not square to an axis" in capfd.readouterr().out
    assert off(item).max() < FLAT


@pytest.mark.parametrize("scale", [(1.0, 1.0, 1.0), (2.0, 0.5, 1.5), (-1.0, 1.0, 1.0)])
def test_the_moves_are_least_in_the_world_whatever_the_objects_scale(blender, freehand, flatten, scale):
    plain = freehand(size=3.0)
    flatten()
    wanted = places(plain)
    item = freehand(size=3.0, name="scaled")
    for vertex in item.data.vertices:
        vertex.co = np.array(vertex.co) / scale
    item.scale = scale
    item.rotation_euler = (0.0, 0.0, 0.0)
    blender.context.view_layer.update()
    blender.context.view_layer.objects.active = item
    flatten()
    assert places(item) == pytest.approx(wanted, abs=FLAT)


def test_a_parent_with_shear_is_no_hindrance(blender, freehand, flatten):
    item = freehand()
    parent = blender.data.objects.new("bent", None)
    blender.context.scene.collection.objects.link(parent)
    parent.scale = (1.0, 1.5, 0.7)
    item.parent = parent
    item.rotation_euler = (0.0, 0.0, 0.6)
    blender.context.view_layer.update()
    assert flatten(square=True) == {"FINISHED"}
    assert off(item).max() < FLAT


@pytest.mark.parametrize(("wishes", "said"), [
    ({}, "select fewer of its 6 faces\n"),
    ({"square": True, "snap": "OFFSETS"}, "select fewer of its 6 faces, or turn off Square and Snap\n"),
])  # fmt: skip
def test_what_takes_too_long_is_given_up_and_nothing_moves(blender, freehand, flatten, monkeypatch, wishes, said):
    item = freehand()
    before = places(item)
    with monkeypatch.context() as hasty:
        hasty.setattr("tackwright.addon.edit.flatten._PATIENCE", 0.0)
        with pytest.raises(RuntimeError, match="tank is not flat after 0 s, and nothing has moved: " + said):
            flatten(**wishes)
    assert (places(item) == before).all()
    assert flatten(**wishes) == {"FINISHED"}


def test_undo_takes_it_back_in_one_step(blender, freehand):
    item = freehand()
    before = places(item)
    blender.ops.ed.undo_push(message="drawn")
    blender.ops.tackwright.true_faces("EXEC_DEFAULT", True)
    assert np.abs(places(blender.data.objects["tank"]) - before).max() > 0.1
    blender.ops.ed.undo()
    assert places(blender.data.objects["tank"]) == pytest.approx(before, abs=0.0)


def test_meshes_of_inner_plates_are_flattened_with_their_envelope(blender, draw, freehand, flatten):
    tank = freehand()
    shelf = draw([(0.15, 0.01, 0.01), (0.15, 0.19, 0.01), (0.152, 0.19, 0.09), (0.15, 0.01, 0.09)], [(0, 1, 2, 3)])
    shelf.tackwright_inner.envelope = tank
    blender.context.view_layer.objects.active = tank
    flatten()
    assert off(tank).max() < FLAT and off(shelf).max() < FLAT


def test_inner_faces_in_the_mesh_count(blender, draw, flatten):
    item = box_with_shelf(draw)
    item.data.vertices[8].co.x += 0.004
    flatten()
    assert off(item).max() < FLAT


def test_faces_left_out_are_left_alone(blender, freehand, flatten):
    item = freehand()
    item.data.attributes.new("tackwright_left_out", "BOOLEAN", "FACE").data.foreach_set(
        "value", [False, True, False, False, False, False])
    flatten()
    bent = off(item)
    assert np.delete(bent, TOP).max() < FLAT


# Refusals ------------------------------------------------------------------------------------------------


def selected(item):
    return [polygon.index for polygon in item.data.polygons if polygon.select]


def test_a_face_that_pins_hold_out_of_flat_is_selected_and_nothing_moves(blender, freehand, flatten):
    item = freehand()
    item.data.attributes.new("tackwright_pinned", "INT", "POINT").data.foreach_set("value", [0, 0, 0, 0, 1, 1, 1, 1])
    before = places(item)
    with pytest.raises(RuntimeError, match="Face 1 cannot be flat: 4 of its corners are pinned.*Unpin one"):
        flatten()
    assert places(item) == pytest.approx(before, abs=0.0)
    assert selected(item) == [TOP]


def test_when_one_mesh_is_refused_none_is_changed(blender, draw, freehand, flatten):
    tank = freehand()
    shelf = draw([(0.1, 0.01, 0.01), (0.1, 0.19, 0.01), (0.12, 0.19, 0.09), (0.1, 0.01, 0.09)], [(0, 1, 2, 3)])
    shelf.tackwright_inner.envelope = tank
    shelf.data.attributes.new("tackwright_pinned", "INT", "POINT").data.foreach_set("value", [1, 1, 1, 1])
    blender.context.view_layer.objects.active = tank
    before = places(tank)
    with pytest.raises(RuntimeError, match="Face 0 cannot be flat"):
        flatten()
    assert places(tank) == pytest.approx(before, abs=0.0)
    assert selected(shelf) == [0]


def test_shape_keys_are_refused_with_the_reason(blender, freehand, flatten):
    item = freehand()
    item.shape_key_add(name="Basis")
    with pytest.raises(RuntimeError, match="has shape keys: moving its vertices would leave the other keys"):
        flatten()


def test_a_scale_of_zero_is_refused(blender, freehand, flatten):
    item = freehand()
    item.scale = (1.0, 1.0, 0.0)
    blender.context.view_layer.update()
    with pytest.raises(RuntimeError, match="scale of zero"):
        flatten()


def test_a_mesh_of_two_objects_moves_both_and_it_is_said(blender, freehand, flatten, capfd):
    item = freehand()
    blender.context.scene.collection.objects.link(blender.data.objects.new("twin", item.data))
    flatten()
    assert "The mesh of tank is shared: 2 objects have the new faces" in capfd.readouterr().out
    assert off(blender.data.objects["twin"]).max() < FLAT


def test_a_linked_mesh_is_not_written_to(blender, freehand, flatten, tmp_path):
    freehand()
    blender.ops.wm.save_as_mainfile(filepath=str(tmp_path / "library.blend"))
    blender.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)
    with blender.data.libraries.load(str(tmp_path / "library.blend"), link=True) as (_, wanted):
        wanted.objects = ["tank"]
    item = blender.data.objects["tank"]
    blender.context.scene.collection.objects.link(item)
    blender.context.view_layer.objects.active = item
    with pytest.raises(RuntimeError, match="linked from another file"):
        flatten()


def test_grey_buttons_say_why(blender, draw, freehand, flatten):
    with pytest.raises(RuntimeError, match="Select a mesh object"):
        flatten()
    with pytest.raises(RuntimeError, match="Go to Edit Mode and select vertices first"):
        blender.ops.tackwright.pin_vertices()
    draw([(0, 0, 0)], [], "empty")
    with pytest.raises(RuntimeError, match="Draw some faces first"):
        flatten()
    freehand()
    blender.ops.object.mode_set(mode="EDIT")
    blender.ops.mesh.select_all(action="DESELECT")
    with pytest.raises(RuntimeError, match="Select the faces to flatten, or leave Edit Mode"):
        flatten()
    with pytest.raises(RuntimeError, match="Select vertices first"):
        blender.ops.tackwright.unpin_vertices()


def test_modifiers_are_said_to_come_afterwards(blender, freehand, flatten, capfd):
    item = freehand()
    item.modifiers.new("Mirror", "MIRROR")
    flatten()
    assert "Its modifiers are applied to tank afterwards" in capfd.readouterr().out
    assert off(item).max() < FLAT


def test_a_thousand_faces_take_no_time_to_speak_of(blender, draw, flatten):
    import time

    n = 32
    points = [(i * 0.05, j * 0.05, 0.2 * math.sin(i / n * 3) + 0.2 * math.cos(j / n * 2))
              for i in range(n + 1) for j in range(n + 1)]
    points = np.array(points) + np.random.default_rng(1).normal(0, 0.0005, (len(points), 3))
    faces = [(i * (n + 1) + j, (i + 1) * (n + 1) + j, (i + 1) * (n + 1) + j + 1, i * (n + 1) + j + 1)
             for i in range(n) for j in range(n)]
    item = draw(points, faces)
    begin = time.perf_counter()
    flatten()
    print(f"{n * n} faces in {time.perf_counter() - begin:.2f} s")  # a second on an idle machine
    assert off(item).max() < FLAT
