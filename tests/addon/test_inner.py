"""Inner plates: faces marked in the envelope's mesh, and mesh objects that are its inside."""

from __future__ import annotations

import numpy as np
import pytest
from editing import box_with_shelf, face_numbers, select_faces


@pytest.fixture
def read(blender):
    from tackwright.addon.gather.gather import read_drawing

    return lambda item: read_drawing(blender.context, item)


@pytest.fixture
def shelf(draw):
    """shelf(x, name): a plate across a box of 0.3 x 0.2 x 0.1, upright at x, short of the walls by 4 mm."""

    def drawn(x=0.1, name="shelf"):
        points = [(x, 0.004, 0.004), (x, 0.196, 0.004), (x, 0.196, 0.096), (x, 0.004, 0.096)]
        return draw(points, [(0, 1, 2, 3)], name)

    return drawn


def assign(blender, envelope, *inner):
    for item in blender.data.objects:
        item.select_set(item in inner or item == envelope)
    blender.context.view_layer.objects.active = envelope
    return blender.ops.tackwright.assign_inner()


# ---- marked faces


@pytest.mark.parametrize(("kind", "number", "inner"), [("INNER", 1, True), ("WALL", 2, False), ("AS_DRAWN", 0, None)])
def test_selected_faces_are_marked_and_gathered(blender, draw, read, kind, number, inner):
    item = box_with_shelf(draw)
    select_faces(blender, item, [6])
    assert blender.ops.tackwright.mark_faces(kind=kind) == {"FINISHED"}
    assert face_numbers(blender, item, "tackwright_inner") == [0] * 6 + [number]
    chosen = read(item).choices.faces
    assert {i: choice.inner for i, choice in chosen.items()} == ({6: inner} if number else {})


def test_a_mark_can_be_taken_back_and_leaves_other_faces_alone(blender, draw):
    item = box_with_shelf(draw)
    select_faces(blender, item, [5, 6])
    blender.ops.tackwright.mark_faces(kind="INNER")
    select_faces(blender, item, [5])
    blender.ops.tackwright.mark_faces(kind="AS_DRAWN")
    assert face_numbers(blender, item, "tackwright_inner") == [0] * 6 + [1]


def test_undo_takes_a_mark_back(blender, draw):
    item = box_with_shelf(draw)
    blender.ops.ed.undo_push(message="drawn")
    select_faces(blender, item, [6])
    blender.ops.ed.undo_push(message="selected")
    blender.ops.tackwright.mark_faces("EXEC_DEFAULT", True, kind="INNER")
    blender.ops.ed.undo()
    item = blender.data.objects["tank"]
    assert face_numbers(blender, item, "tackwright_inner") == [0] * 7


def test_marks_follow_their_faces_through_saving(blender, draw, read, tmp_path):
    item = box_with_shelf(draw)
    select_faces(blender, item, [6])
    blender.ops.tackwright.mark_faces(kind="INNER")
    blender.ops.object.mode_set(mode="OBJECT")
    path = str(tmp_path / "tank.blend")
    blender.ops.wm.save_as_mainfile(filepath=path)
    blender.ops.wm.open_mainfile(filepath=path)
    assert read(blender.data.objects["tank"]).choices.faces[6].inner is True


def test_marking_says_what_it_needs(blender, draw_box):
    item = draw_box(0.3, 0.2, 0.1)
    with pytest.raises(RuntimeError, match="Go to Edit Mode and select faces"):
        blender.ops.tackwright.mark_faces()
    select_faces(blender, item, [])
    with pytest.raises(RuntimeError, match="Select faces first"):
        blender.ops.tackwright.mark_faces()


def test_an_attribute_of_another_kind_is_left_alone_and_named(blender, draw_box):
    item = draw_box(0.3, 0.2, 0.1)
    item.data.attributes.new("tackwright_inner", "FLOAT", "FACE")
    select_faces(blender, item, [0])
    with pytest.raises(RuntimeError, match="'tackwright_inner' of another kind"):
        blender.ops.tackwright.mark_faces()
    blender.ops.object.mode_set(mode="OBJECT")
    assert [a.name for a in item.data.attributes if a.name.startswith("tackwright")] == ["tackwright_inner"]
    assert item.data.attributes["tackwright_inner"].data_type == "FLOAT"


# ---- objects of inner plates


def test_an_assigned_object_joins_the_envelopes_mesh_as_inner_faces(blender, draw_box, shelf, read):
    item, inner = draw_box(0.3, 0.2, 0.1), shelf()
    assert assign(blender, item, inner) == {"FINISHED"}
    drawing = read(item)
    assert drawing.mesh.face_count == 7
    assert {i: choice.inner for i, choice in drawing.choices.faces.items()} == {6: True}
    assert drawing.mesh.points[drawing.mesh.face(6)] == pytest.approx(
        np.array([(100, 4, 4), (100, 196, 4), (100, 196, 96), (100, 4, 96)]), abs=1e-3
    )
    assert [(part.name, part.faces, part.points) for part in drawing.parts] == [
        ("tank", range(6), range(8)),
        ("shelf", range(6, 7), range(8, 12)),
    ]


def test_inner_plates_are_read_in_the_scenes_units_modified_and_moved(blender, draw_box, draw, read):
    blender.context.scene.unit_settings.system = "IMPERIAL"
    blender.context.scene.unit_settings.scale_length = 0.0254  # a unit is an inch
    item = draw_box(12, 8, 4)
    inner = draw([(0, 0, 0), (0, 8, 0), (0, 8, 4), (0, 0, 4)], [(0, 1, 2, 3)], "shelf")
    inner.location, inner.scale = (3, 0, 0), (-1, 1, 1)
    array = inner.modifiers.new("array", "ARRAY")
    array.use_relative_offset, array.use_constant_offset = False, True
    array.constant_offset_displace = (-5, 0, 0)
    blender.context.view_layer.update()
    assign(blender, item, inner)
    drawing = read(item)
    assert drawing.mesh.face_count == 8
    assert drawing.mesh.points[8:, 0] == pytest.approx([76.2] * 4 + [203.2] * 4, abs=1e-3)
    assert [part.as_drawn for part in drawing.parts] == [True, False]


def test_choices_on_inner_faces_and_their_objects_metal_are_kept(blender, draw_box, draw, read):
    item = draw_box(0.3, 0.2, 0.1)
    inner = draw(
        [(x, y, z) for x in (0.1, 0.2) for y, z in ((0, 0), (0.2, 0), (0.2, 0.1), (0, 0.1))],
        [(0, 1, 2, 3), (4, 5, 6, 7)],
        "shelves",
    )
    inner.data.attributes.new("tackwright_thickness", "FLOAT", "FACE").data[1].value = 5.0
    inner.data.attributes.new("tackwright_tabs", "INT", "EDGE").data[0].value = 2
    inner.tackwright_inner.thickness_mm, inner.tackwright_inner.metal_side = 2.0, "CENTRED"
    assign(blender, item, inner)
    choices = read(item).choices
    assert [(c.inner, c.thickness, c.metal_side) for c in (choices.faces[6], choices.faces[7])] == [
        (True, 2.0, "centred"),
        (True, 5.0, "centred"),
    ]
    edge = tuple(sorted(8 + v for v in inner.data.edges[0].vertices))
    assert {ends: choice.tabs.on for ends, choice in choices.edges.items()} == {edge: False}


def test_assigned_objects_move_with_the_envelope_and_stay_where_they_are_when_unassigned(blender, draw_box, shelf):
    item, inner = draw_box(0.3, 0.2, 0.1), shelf()
    item.location, item.scale = (1, 0, 0), (2, 1, 1)
    blender.context.view_layer.update()
    before = inner.matrix_world.copy()
    assign(blender, item, inner)
    blender.context.view_layer.update()
    assert np.allclose(inner.matrix_world, before)
    item.location = (1, 5, 0)
    blender.context.view_layer.update()
    assert inner.matrix_world.translation[:] == pytest.approx((0, 5, 0))
    item.select_set(False)
    assert blender.ops.tackwright.unassign_inner() == {"FINISHED"}
    assert (inner.parent, inner.tackwright_inner.envelope) == (None, None)
    assert inner.matrix_world.translation[:] == pytest.approx((0, 5, 0))


def test_an_envelope_that_hangs_on_its_inner_plates_is_not_tied_in_a_ring(blender, draw_box, shelf, read):
    item, inner = draw_box(0.3, 0.2, 0.1), shelf()
    item.parent = inner
    assign(blender, item, inner)
    assert inner.parent is None
    assert read(item).mesh.face_count == 7


def test_assigning_anew_moves_inner_plates_to_another_envelope(blender, draw_box, shelf, read):
    first, second, inner = draw_box(0.3, 0.2, 0.1), draw_box(0.3, 0.2, 0.1, "second"), shelf()
    second.location = (0, 0, 0)
    assign(blender, first, inner)
    assign(blender, second, inner)
    blender.context.view_layer.update()
    assert inner.parent == second
    assert [read(item).mesh.face_count for item in (first, second)] == [6, 7]


def test_inner_plates_of_inner_plates_are_the_envelopes(blender, draw_box, shelf, read):
    from tackwright.addon.scene.active_envelope import envelope_of

    item, inner, rib = draw_box(0.3, 0.2, 0.1), shelf(), shelf(0.2, "rib")
    assign(blender, inner, rib)
    assign(blender, item, inner)
    assert read(item).mesh.face_count == 8
    blender.context.view_layer.objects.active = rib
    assert envelope_of(blender.context) == item


def test_two_objects_that_point_at_each_other_are_envelopes_still(blender, draw_box, shelf, read):
    item, inner = draw_box(0.3, 0.2, 0.1), shelf()
    item.tackwright_inner.envelope, inner.tackwright_inner.envelope = inner, item
    assert read(item).mesh.face_count in (6, 7)


def test_inner_plates_of_a_deleted_envelope_are_an_envelope_again(blender, draw_box, shelf):
    from tackwright.addon.scene.active_envelope import envelope_of

    item, inner = draw_box(0.3, 0.2, 0.1), shelf()
    assign(blender, item, inner)
    blender.context.scene.collection.objects.unlink(item)
    blender.context.view_layer.objects.active = inner
    assert envelope_of(blender.context) == inner


def test_hidden_inner_plates_count_and_those_disabled_in_viewports_do_not(blender, draw_box, shelf, read):
    item, inner = draw_box(0.3, 0.2, 0.1), shelf()
    assign(blender, item, inner)
    inner.hide_set(True)
    assert read(item).mesh.face_count == 7
    inner.hide_viewport = True
    assert read(item).mesh.face_count == 6


def test_in_edit_mode_inner_plates_that_are_not_selected_are_left_out(blender, draw_box, shelf, read):
    item, inner = draw_box(0.3, 0.2, 0.1), shelf()
    assign(blender, item, inner)
    inner.select_set(False)
    select_faces(blender, item, [0, 2])
    left_out = {i for i, choice in read(item).choices.faces.items() if choice.left_out}
    assert left_out == {1, 3, 4, 5, 6}
    blender.ops.object.mode_set(mode="OBJECT")
    inner.select_set(True)
    select_faces(blender, item, [0, 2])  # edits both objects, with the inner face selected in its own
    blender.ops.object.mode_set(mode="OBJECT")
    inner.data.polygons.foreach_set("select", [True])
    inner.data.edges.foreach_set("select", [True] * 4)
    inner.data.vertices.foreach_set("select", [True] * 4)
    blender.ops.object.mode_set(mode="EDIT")
    assert inner.mode == "EDIT"
    assert {i for i, choice in read(item).choices.faces.items() if choice.left_out} == {1, 3, 4, 5}


@pytest.mark.parametrize("operator", ["assign_inner", "unassign_inner"])
def test_a_grey_button_says_what_to_select(blender, draw_box, operator):
    press = getattr(blender.ops.tackwright, operator)
    item = draw_box(0.3, 0.2, 0.1)
    with pytest.raises(RuntimeError, match="Select "):
        press()
    select_faces(blender, item, [0])
    with pytest.raises(RuntimeError, match="Go to Object Mode"):
        press()


def test_undo_takes_an_assignment_back(blender, draw_box, shelf):
    item, inner = draw_box(0.3, 0.2, 0.1), shelf()
    item.select_set(True)
    blender.context.view_layer.objects.active = item
    blender.ops.ed.undo_push(message="drawn")
    assert inner.select_get()
    blender.ops.tackwright.assign_inner("EXEC_DEFAULT", True)
    assert blender.data.objects["shelf"].parent is not None
    blender.ops.ed.undo()
    again = blender.data.objects["shelf"]
    assert (again.parent, again.tackwright_inner.envelope) == (None, None)


def test_a_plate_that_was_made_is_no_inner_plate(blender, draw_box):
    item = draw_box(0.3, 0.2, 0.1)
    blender.ops.tackwright.make_plates()
    blender.data.objects["P01-1"].select_set(True)
    with pytest.raises(RuntimeError, match="Select the meshes of the inner plates"):
        blender.ops.tackwright.assign_inner()
    assert item == blender.context.object


# ---- findings about them


def test_a_finding_about_an_inner_plate_is_selected_on_its_own_object(blender, draw_box, shelf, read):
    from tackwright.addon.findings.shown_findings import keep_refusal
    from tackwright.core.terms.errors import InputError

    item, inner = draw_box(0.3, 0.2, 0.1), shelf()
    assign(blender, item, inner)
    error = InputError("They coincide", faces=[3, 6], edges=[(8, 9), (0, 1), (1, 8)])
    keep_refusal(item, error, read(item).parts)
    kept = item.tackwright.findings[0]
    assert (kept.faces, kept.edges) == ("3", "0 1")
    assert [(p.item, p.faces, p.edges) for p in kept.elsewhere] == [(inner, "0", "0 1")]
    assert blender.ops.tackwright.select_finding() == {"FINISHED"}
    assert (item.mode, inner.mode) == ("EDIT", "EDIT")
    blender.ops.object.mode_set(mode="OBJECT")
    assert [p.index for p in item.data.polygons if p.select] == [3]
    # the face of the shelf is at the edge that is shown, and would hide it
    assert [tuple(sorted(e.vertices)) for e in inner.data.edges if e.select] == [(0, 1)]


# ---- the whole way


def test_a_marked_face_becomes_a_plate_inside(blender, draw):
    item = box_with_shelf(draw)
    select_faces(blender, item, [6])
    blender.ops.tackwright.mark_faces(kind="INNER")
    blender.ops.object.mode_set(mode="OBJECT")
    item.tackwright.sealed = item.tackwright.tabs_flush = True
    assert blender.ops.tackwright.make_plates() == {"FINISHED"}
    plates = [o for o in blender.data.objects if o.tackwright_plate.made_as]
    assert len(plates) == 7
    assert not [f.message for f in item.tackwright.findings if f.level == "error"]
    (inner,) = [p for p in plates if abs(p.matrix_world.col[2].x) > 0.99 and 0.1 < p.matrix_world.translation.x < 0.2]
    # its tabs go through the walls: the plate is as large as the box outside
    assert sorted(inner.dimensions)[1:] == pytest.approx([0.1, 0.2], abs=1e-4)


def test_an_assigned_objects_face_becomes_a_plate_and_goes_when_unassigned(blender, draw_box, shelf):
    item, inner = draw_box(0.3, 0.2, 0.1), shelf()
    assign(blender, item, inner)
    blender.context.view_layer.objects.active = inner  # from the inner plates the envelope is made
    assert blender.ops.tackwright.make_plates() == {"FINISHED"}
    assert len([o for o in blender.data.objects if o.tackwright_plate.made_as]) == 7
    for other in blender.data.objects:
        other.select_set(other == inner)
    blender.ops.tackwright.unassign_inner()
    blender.context.view_layer.objects.active = item
    blender.ops.tackwright.make_plates()
    assert len([o for o in blender.data.objects if o.tackwright_plate.made_as]) == 6
