"""What is not fit to be made: a greyed button or a refusal says why, or the plates are right after all."""

from __future__ import annotations

import math

import numpy as np
import pytest
from editing import select_faces

OPERATORS = ("make_plates", "export_kit")


def why(blender, name="make_plates"):
    """Why the button is grey."""
    operator = getattr(blender.ops.tackwright, name)
    assert not operator.poll()
    with pytest.raises(RuntimeError) as caught:
        operator()
    return str(caught.value).split("poll() ")[1].strip()


def plates(blender):
    return [item for item in blender.data.objects if item.tackwright_plate.made_as]


def made_size(blender):
    """Sizes of the box round all plates, in units of the scene."""
    blender.context.view_layer.update()
    points = [item.matrix_world @ v.co for item in plates(blender) for v in item.data.vertices]
    return np.ptp(np.array(points), axis=0)


# Nothing, or the wrong thing


@pytest.mark.parametrize("name", OPERATORS)
def test_no_object(blender, name):
    assert "Select a mesh object" in why(blender, name)


@pytest.mark.parametrize(("add", "says"), [
    (lambda ops: ops.curve.primitive_bezier_circle_add(), "convert it first, in Object, Convert, Mesh"),
    (lambda ops: ops.surface.primitive_nurbs_surface_sphere_add(), "convert it first"),
    (lambda ops: ops.object.text_add(), "convert it first"),
    (lambda ops: ops.object.metaball_add(), "convert it first"),
    (lambda ops: ops.object.empty_add(), "Select a mesh object"),
    (lambda ops: ops.object.light_add(), "Select a mesh object"),
    (lambda ops: ops.object.armature_add(), "Select a mesh object"),
])  # fmt: skip
def test_the_wrong_type(blender, add, says):
    add(blender.ops)
    assert says in why(blender)


def test_an_instance_of_a_collection(blender, draw_box):
    item = draw_box(0.3, 0.2, 0.1)
    kept = blender.data.collections.new("kept")
    kept.objects.link(item)
    blender.context.scene.collection.objects.unlink(item)
    blender.ops.object.collection_instance_add(collection="kept")
    assert "Make Instances Real" in why(blender)


def test_a_converted_curve_is_no_longer_refused(blender):
    blender.ops.object.text_add()
    blender.ops.object.convert(target="MESH")
    assert blender.ops.tackwright.make_plates.poll()


@pytest.mark.parametrize("name", OPERATORS)
def test_an_empty_mesh(blender, draw, name):
    draw([], [])
    assert "Draw some faces first" in why(blender, name)
    blender.ops.object.mode_set(mode="EDIT")
    assert "Draw some faces first" in why(blender, name)


def test_a_mesh_that_its_modifiers_leave_without_faces(blender, draw):
    item = draw([(0, 0, 0), (1, 0, 0)], [])
    item.modifiers.new("nothing", "WEIGHTED_NORMAL")
    with pytest.raises(RuntimeError, match="tank has no faces"):
        blender.ops.tackwright.make_plates()


@pytest.mark.parametrize("mode", ["SCULPT", "VERTEX_PAINT", "WEIGHT_PAINT"])
def test_another_mode(blender, draw_box, mode):
    draw_box(0.3, 0.2, 0.1)
    blender.ops.object.mode_set(mode=mode)
    assert "Go to Object Mode or Edit Mode first" in why(blender)


def test_edit_mode_without_a_selected_face(blender, draw_box):
    item = draw_box(0.3, 0.2, 0.1)
    select_faces(blender, item, [])
    assert "Select the faces to make" in why(blender)


def test_a_plate_whose_envelope_is_gone(blender, draw_box):
    item = draw_box(0.3, 0.2, 0.1)
    blender.ops.tackwright.make_plates()
    blender.data.objects.remove(item)
    blender.context.view_layer.objects.active = plates(blender)[0]
    assert "The envelope of this plate" in why(blender)


# Hidden, disabled, locked


def test_an_envelope_that_the_eye_hides_is_made_modifiers_and_all(blender, draw_box):
    item = draw_box(0.3, 0.2, 0.1)
    item.tackwright.sealed = True
    mirror = item.modifiers.new("mirror", "MIRROR")
    blender.ops.tackwright.make_plates()
    item.hide_set(True)
    mirror.use_axis = (False, True, False)
    assert blender.ops.tackwright.make_plates() == {"FINISHED"}
    assert made_size(blender) == pytest.approx([0.3, 0.4, 0.1], abs=1e-5)


def test_an_envelope_disabled_in_viewports(blender, draw_box):
    item = draw_box(0.3, 0.2, 0.1)
    item.hide_viewport = True
    assert "disabled in viewports" in why(blender)


def test_an_envelope_in_a_collection_disabled_in_viewports(blender, draw_box):
    item = draw_box(0.3, 0.2, 0.1)
    outer, inner = (blender.data.collections.new(name) for name in ("outer", "inner"))
    blender.context.scene.collection.children.link(outer)
    outer.children.link(inner)
    inner.objects.link(item)
    blender.context.scene.collection.objects.unlink(item)
    blender.context.view_layer.objects.active = item
    inner.hide_viewport = True
    assert "disabled in viewports" in why(blender)
    inner.hide_viewport, outer.hide_viewport = False, True
    with pytest.raises(RuntimeError, match="disabled in viewports.*its collection"):
        blender.ops.tackwright.make_plates()


def test_locks_do_not_hinder(blender, draw_box):
    item = draw_box(0.3, 0.2, 0.1)
    item.lock_location = item.lock_rotation = item.lock_scale = (True, True, True)
    item.hide_select = True
    assert blender.ops.tackwright.make_plates() == {"FINISHED"}
    assert len(plates(blender)) == 6
    blender.ops.tackwright.add_opening()
    assert blender.context.object.tackwright_opening.envelope == item


# Scale, shear, size


@pytest.mark.parametrize("scale", [(2, 1, 1), (-1, 1, 1), (-2, -1, 3), (-1, -1, -1), (1, 1, -0.5)])
def test_scale_counts_and_a_mirrored_envelope_is_not_inside_out(blender, draw_box, scale):
    item = draw_box(0.3, 0.2, 0.1)
    item.scale, item.tackwright.sealed = scale, True
    blender.context.view_layer.update()
    assert blender.ops.tackwright.make_plates() == {"FINISHED"}
    # the metal lies inside: the plates fill just the box that is seen, their thickness unscaled
    assert made_size(blender) == pytest.approx(np.abs(np.multiply(scale, (0.3, 0.2, 0.1))), abs=1e-5)
    assert {round(min(p.dimensions), 6) for p in plates(blender)} == {0.003}


def test_scaled_to_nothing(blender, draw_box):
    item = draw_box(0.3, 0.2, 0.1)
    item.scale = (0, 0, 0)
    blender.context.view_layer.update()
    with pytest.raises(RuntimeError, match="No face of 'tank' is left"):
        blender.ops.tackwright.make_plates()


def test_a_parent_with_shear(blender, draw_box):
    """A box turned by 45 degrees under a parent that is twice as long: a prism over a rhombus."""
    parent = blender.data.objects.new("parent", None)
    blender.context.scene.collection.objects.link(parent)
    parent.scale = (2, 1, 1)
    item = draw_box(0.2, 0.2, 0.1)
    item.parent, item.rotation_euler, item.tackwright.sealed = parent, (0, 0, math.pi / 4), True
    blender.context.view_layer.update()
    assert blender.ops.tackwright.make_plates() == {"FINISHED"}
    diagonal = 0.2 * math.sqrt(2)
    made = made_size(blender)                             # open corners: the acute ones stay short of the drawing
    assert made[1:] == pytest.approx([diagonal, 0.1], abs=1e-5) and 2 * diagonal - 0.01 < made[0] < 2 * diagonal
    from tackwright.addon.gather.gather import read_drawing
    from tackwright.core.make_kit import make_kit

    drawing = read_drawing(blender.context, item)
    angles = {round(j.angle, 3) for j in make_kit(drawing.mesh, drawing.choices).joints}
    acute = math.degrees(2 * math.atan(0.5))              # of a rhombus with diagonals 2 : 1, derived
    assert angles == {90.0, round(acute, 3), round(180 - acute, 3)}


@pytest.mark.parametrize(("size", "said"), [
    (1e-5, "3 mm thick, but 'tank' is only 0.01 mm wide"),     # 0.01 mm
    (0.0, "No face of 'tank' is left"),
    (1000.0, "more than 100 m.*unit"),                         # a kilometre
])  # fmt: skip
def test_tiny_and_huge(blender, draw_box, size, said):
    draw_box(size, size, size)
    with pytest.raises(RuntimeError, match=said):
        blender.ops.tackwright.make_plates()


@pytest.mark.parametrize(("scale", "unit"), [(1e-6, 1e3), (1000.0, 1e-6)])
def test_a_scene_of_tiny_or_huge_units(blender, draw_box, scale, unit):
    """A unit of a micrometre, and of a kilometre: the same box of 300 x 200 x 100 mm."""
    blender.context.scene.unit_settings.scale_length = scale
    k = 1e-3 / scale
    item = draw_box(300 * k, 200 * k, 100 * k)
    item.tackwright.sealed = True
    assert blender.ops.tackwright.make_plates() == {"FINISHED"}
    assert made_size(blender) / k == pytest.approx([300, 200, 100], rel=1e-5)


def test_far_from_the_origin(blender, draw_box):
    """At ten kilometres single precision leaves a millimetre: that is refused, or said by how much it is off."""
    item = draw_box(0.3, 0.2, 0.1)
    item.location = (10.0, 20.0, 5.0)
    item.tackwright.sealed = True
    blender.context.view_layer.update()
    assert blender.ops.tackwright.make_plates() == {"FINISHED"}
    assert made_size(blender) == pytest.approx([0.3, 0.2, 0.1], abs=1e-5)


# Linked, and shared


@pytest.fixture
def library(blender, draw_box, tmp_path):
    """A file with a tank, to link from; nothing is open afterwards."""
    item = draw_box(0.3, 0.2, 0.1)
    item.tackwright.thickness_mm, item.tackwright.sealed = 4.0, True
    path = str(tmp_path / "library.blend")
    blender.ops.wm.save_as_mainfile(filepath=path)
    blender.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)
    return path


def link(blender, path):
    with blender.data.libraries.load(path, link=True) as (_, wanted):
        wanted.objects = ["tank"]
    item = wanted.objects[0]
    blender.context.scene.collection.objects.link(item)
    blender.context.view_layer.objects.active = item
    return item


@pytest.mark.parametrize("name", [*OPERATORS, "add_opening"])
def test_a_linked_envelope_is_read_only_and_says_so(blender, library, name):
    item = link(blender, library)
    assert "linked from another file" in why(blender, name) and "Library Override" in why(blender, name)
    assert item.tackwright.thickness_mm == 4.0


def test_an_override_of_a_linked_envelope_is_made_with_the_librarys_settings(blender, library):
    item = link(blender, library).override_create(remap_local_usages=True)
    blender.context.view_layer.objects.active = item
    item.location.x = 1.0
    blender.context.view_layer.update()
    assert blender.ops.tackwright.make_plates() == {"FINISHED"}
    assert {round(min(p.dimensions), 6) for p in plates(blender)} == {0.004}
    assert min(p.matrix_world.translation.x for p in plates(blender)) > 0.9


def test_an_override_keeps_settings_of_its_own(blender, library, tmp_path):
    item = link(blender, library).override_create(remap_local_usages=True)
    item.tackwright.thickness_mm = 6.0
    item.tackwright.corner = "CLOSED"
    blender.context.view_layer.objects.active = item
    assert blender.ops.tackwright.make_plates() == {"FINISHED"}
    path = str(tmp_path / "user.blend")
    blender.ops.wm.save_as_mainfile(filepath=path)
    blender.ops.wm.open_mainfile(filepath=path)
    again = next(o for o in blender.data.objects if o.name == "tank" and o.override_library)
    assert (again.tackwright.thickness_mm, again.tackwright.corner) == (6.0, "CLOSED")
    blender.context.view_layer.objects.active = again
    assert blender.ops.tackwright.make_plates() == {"FINISHED"}
    assert {round(min(p.dimensions), 6) for p in plates(blender)} == {0.006}
    assert len(plates(blender)) == 6


def test_a_linked_envelope_made_local(blender, library):
    item = link(blender, library)
    item.select_set(True)
    blender.ops.object.make_local(type="SELECT_OBDATA")
    blender.context.view_layer.objects.active = blender.data.objects["tank"]
    assert blender.ops.tackwright.make_plates() == {"FINISHED"}


def test_two_envelopes_that_share_a_mesh(blender, draw_box):
    """Settings live on the object, choices of faces on the mesh: each has plates of its own, at its place."""
    first = draw_box(0.3, 0.2, 0.1, "first")
    second = first.copy()
    second.name = "second"
    second.location.x = 1.0
    blender.context.scene.collection.objects.link(second)
    first.tackwright.sealed = second.tackwright.sealed = True
    second.tackwright.thickness_mm = 5.0
    select_faces(blender, first, [1])
    blender.ops.tackwright.set_face_metal(thickness=0.006)
    blender.ops.object.mode_set(mode="OBJECT")
    for item in (first, second):
        blender.context.view_layer.objects.active = item
        assert blender.ops.tackwright.make_plates() == {"FINISHED"}
    blender.context.view_layer.update()
    for item, low, thick in ((first, 0.0, 0.003), (second, 1.0, 0.005)):
        own = blender.data.collections[f"{item.name} Plates"].objects
        assert len(own) == 6
        points = np.array([p.matrix_world @ v.co for p in own for v in p.data.vertices])
        assert (points[:, 0].min(), np.ptp(points[:, 0])) == pytest.approx((low, 0.3), abs=1e-5)
        assert sorted(round(min(p.dimensions), 6) for p in own) == [thick] * 5 + [0.006]


def test_a_refusal_of_one_of_two_that_share_a_mesh_is_kept_by_that_one(blender, draw_box):
    first = draw_box(0.3, 0.2, 0.1, "first")
    second = first.copy()
    blender.context.scene.collection.objects.link(second)
    second.scale = (0.01, 0.01, 0.01)
    blender.context.view_layer.objects.active = second
    blender.context.view_layer.update()
    with pytest.raises(RuntimeError, match="thick, but"):
        blender.ops.tackwright.make_plates()
    assert len(second.tackwright.findings) and not len(first.tackwright.findings)


# Modifiers, views and scenes


def test_a_bevel_makes_plates_of_its_faces(blender, draw_box):
    item = draw_box(0.4, 0.3, 0.2)
    item.tackwright.sealed = True
    bevel = item.modifiers.new("bevel", "BEVEL")
    bevel.width, bevel.segments, bevel.affect = 0.05, 1, "EDGES"
    assert blender.ops.tackwright.make_plates() == {"FINISHED"}
    # 6 faces, 12 edges and 8 corners cut off: a face each
    assert len(plates(blender)) == 26


def test_an_array_makes_two_envelopes_in_one_kit(blender, draw_box):
    item = draw_box(0.3, 0.2, 0.1)
    item.tackwright.sealed = True
    array = item.modifiers.new("array", "ARRAY")
    array.count, array.relative_offset_displace = 2, (1.5, 0, 0)
    assert blender.ops.tackwright.make_plates() == {"FINISHED"}
    assert len(plates(blender)) == 12
    assert made_size(blender) == pytest.approx([0.75, 0.2, 0.1], abs=1e-5)


def test_in_a_second_scene_plates_go_where_the_envelope_is(blender, draw_box):
    item = draw_box(0.3, 0.2, 0.1)
    item.tackwright.sealed = True
    other = blender.data.scenes.new("other")
    kept = blender.data.collections.new("kept")
    other.collection.children.link(kept)
    kept.objects.link(item)
    with blender.context.temp_override(scene=other, view_layer=other.view_layers[0]):
        other.view_layers[0].objects.active = item
        assert blender.ops.tackwright.make_plates() == {"FINISHED"}
    assert "tank Plates" in kept.children
    assert "tank Plates" not in blender.context.scene.collection.children
    assert blender.ops.tackwright.make_plates() == {"FINISHED"}     # again from the first: shown there too, not twice
    assert len(plates(blender)) == 6


@pytest.mark.parametrize("made", ["make_plates", "add_opening", "new_envelope", "first_scene"])
def test_in_local_view_what_is_made_is_seen(blender, draw_box, made):
    blender.ops.wm.read_homefile(use_factory_startup=True)
    item = draw_box(0.3, 0.2, 0.1)
    item.tackwright.sealed = True
    window = blender.context.window_manager.windows[0]
    area = next(a for a in window.screen.areas if a.type == "VIEW_3D")
    region = next(r for r in area.regions if r.type == "WINDOW")
    before = set(blender.data.objects)
    with blender.context.temp_override(window=window, area=area, region=region):
        blender.ops.view3d.localview()
        space = area.spaces.active
        assert space.local_view is not None
        assert getattr(blender.ops.tackwright, made)() == {"FINISHED"}
        depsgraph = blender.context.evaluated_depsgraph_get()
        new = set(blender.data.objects) - before
        assert len(new) == {"make_plates": 6, "add_opening": 1, "new_envelope": 1, "first_scene": 6}[made]
        assert all(o.evaluated_get(depsgraph).local_view_get(space) for o in new)
        assert not blender.data.objects["Light"].evaluated_get(depsgraph).local_view_get(space)
