"""Shape keys: the drawing is the Basis whatever they are set to, and nothing of the user's is touched."""

from __future__ import annotations

import numpy as np
import pytest
from editing import select_faces
from followed import height


@pytest.fixture
def keyed(draw_box):
    """A box of 0.3 x 0.2 x 0.1 m with a key that makes it twice as high, set to `value`."""

    def make(value):
        item = draw_box(0.3, 0.2, 0.1)
        item.shape_key_add(name="Basis")
        tall = item.shape_key_add(name="tall")
        for point in tall.data:
            point.co.z *= 2
        tall.value = value
        return item

    return make


def points_of(blender, item):
    from tackwright.addon.gather.mesh_object import read_mesh_object

    return read_mesh_object(blender.context, item, selected_only=False).mesh.points


def sizes(blender, item):
    return np.ptp(points_of(blender, item), axis=0)


@pytest.mark.parametrize("value", [0.0, 0.5, 1.0])
@pytest.mark.parametrize("mirrored", [False, True])
def test_the_drawing_is_the_basis(blender, keyed, value, mirrored):
    item = keyed(value)
    if mirrored:                                   # about the plane x = 0: twice as long
        item.modifiers.new("mirror", "MIRROR")
    assert sizes(blender, item) == pytest.approx([600 if mirrored else 300, 200, 100], abs=1e-3)


@pytest.mark.parametrize("mirrored", [False, True])
def test_nothing_of_the_users_is_changed_and_nothing_stays_behind(blender, keyed, mirrored):
    item = keyed(0.75)
    if mirrored:
        item.modifiers.new("mirror", "MIRROR")
    blender.context.view_layer.update()

    def state():
        data = blender.data
        keys = [(k.name, k.value, k.mute) for k in item.data.shape_keys.key_blocks]
        kinds = (data.objects, data.meshes, data.scenes, data.shape_keys, data.collections, data.worlds)
        return keys, item.active_shape_key_index, item.show_only_shape_key, [sorted(i.name for i in k) for k in kinds]

    before, seen = state(), []

    def watch(scene, depsgraph):
        if scene == blender.context.scene:
            seen.extend(update.id.name for update in depsgraph.updates if update.is_updated_geometry)

    blender.app.handlers.depsgraph_update_post.append(watch)
    try:
        points_of(blender, item)
        blender.context.view_layer.update()
    finally:
        blender.app.handlers.depsgraph_update_post.remove(watch)
    assert state() == before
    assert "tank" not in seen                      # the user's object was not made anew


def test_a_key_that_is_the_only_one_shown_does_not_count(blender, keyed):
    item = keyed(0.0)
    item.active_shape_key_index, item.show_only_shape_key = 1, True
    assert sizes(blender, item) == pytest.approx([300, 200, 100], abs=1e-3)


def test_in_edit_mode_of_a_key_the_basis_is_made_of_the_selected_faces(blender, keyed):
    item = keyed(1.0)
    item.active_shape_key_index = 1
    select_faces(blender, item, range(6))
    assert sizes(blender, item) == pytest.approx([300, 200, 100], abs=1e-3)
    assert blender.ops.tackwright.make_plates() == {"FINISHED"}
    assert item.tackwright.summary.startswith("6 plates")


def test_a_parent_and_a_modifier_that_points_elsewhere_count_as_without_keys(blender, keyed):
    item = keyed(1.0)
    about = blender.data.objects.new("about", None)
    about.location = (0.3, 0, 0)
    blender.context.scene.collection.objects.link(about)
    item.parent, item.scale = about, (1, 1, 3)
    mirror = item.modifiers.new("mirror", "MIRROR")
    mirror.mirror_object = about
    with_keys = points_of(blender, item)
    item.shape_key_clear()
    blender.context.view_layer.update()
    plain = points_of(blender, item)
    # without keys the mesh is what its points are, which the Basis is a copy of
    assert with_keys == pytest.approx(plain, abs=1e-3)


def test_make_plates_is_one_step_of_undo_with_keys(blender, keyed):
    item = keyed(0.5)
    item.modifiers.new("mirror", "MIRROR")
    item.tackwright.sealed = True
    blender.ops.ed.undo_push(message="before")
    assert blender.ops.tackwright.make_plates("EXEC_DEFAULT", True) == {"FINISHED"}
    assert "~" not in blender.data.scenes and len(blender.data.scenes) == 1
    blender.ops.ed.undo()
    assert not [o for o in blender.data.objects if o.tackwright_plate.made_as]
    assert blender.data.objects["tank"].data.shape_keys.key_blocks["tall"].value == pytest.approx(0.5)


def test_that_keys_are_ignored_is_said(blender, keyed):
    item = keyed(0.5)
    blender.ops.tackwright.make_plates()
    (said,) = [f for f in item.tackwright.findings if f.rule == "shape_keys"]
    assert said.level == "note" and "Basis" in said.message
    item.shape_key_clear()
    blender.ops.tackwright.make_plates()
    assert not [f for f in item.tackwright.findings if f.rule == "shape_keys"]


@pytest.mark.parametrize("mirrored", [False, True])
def test_live_follows_the_basis_and_comes_to_rest(blender, keyed, settle, mirrored):
    item = keyed(1.0)
    item.tackwright.sealed = True
    if mirrored:
        item.modifiers.new("mirror", "MIRROR")
    item.tackwright.live = True
    settle()
    assert height(blender, item) == pytest.approx(100, abs=0.1)
    assert settle() == 0                           # reading the Basis does not set it off again
    for point in item.data.shape_keys.reference_key.data[4:]:
        point.co.z += 0.05
    item.data.update()
    settle()
    assert height(blender, item) == pytest.approx(150, abs=0.1)
    assert settle() == 0
