"""Perforations: put on selected faces, kept in a list on the envelope, and told to the core once for each panel."""

from __future__ import annotations

import math

import numpy as np
import pytest
from editing import face_numbers, select_faces


@pytest.fixture
def gathered(blender):
    from tackwright.addon.gather.gather import read_drawing

    return lambda item: read_drawing(blender.context, item).choices.fields


@pytest.fixture
def draw_strip(draw):
    """draw_strip(n): n square faces of 0.1 in a row, level."""

    def drawn(n):
        points = [(0.1 * i, 0.1 * j, 0) for i in range(n + 1) for j in (0, 1)]
        return draw(points, [(2 * i, 2 * i + 2, 2 * i + 3, 2 * i + 1) for i in range(n)], "strip")

    return drawn


def perforate(blender, item, faces, **chosen):
    select_faces(blender, item, faces)
    return blender.ops.tackwright.perforate_faces(**chosen)


# ---- the list and the faces


def test_selected_faces_get_a_new_perforation_of_the_envelope(blender, draw_box):
    tank = draw_box(0.3, 0.2, 0.1)
    assert perforate(blender, tank, [1], code="R10T15") == {"FINISHED"}
    assert perforate(blender, tank, [2, 4]) == {"FINISHED"}
    fields = tank.tackwright.fields
    assert [(f.number, f.name, [b.code for b in f.bands]) for f in fields] == [
        (1, "Perforation 1", ["R10T15"]),
        (2, "Perforation 2", ["R5T8"]),
    ]
    assert tank.tackwright.active_field == 1
    assert face_numbers(blender, tank, "tackwright_field") == [0, 1, 2, 0, 2, 0]


def test_faces_join_the_perforation_chosen_in_the_list(blender, draw_box):
    tank = draw_box(0.3, 0.2, 0.1)
    perforate(blender, tank, [1])
    perforate(blender, tank, [2])
    tank.tackwright.active_field = 0
    assert perforate(blender, tank, [3], chosen=True) == {"FINISHED"}
    assert len(tank.tackwright.fields) == 2
    assert face_numbers(blender, tank, "tackwright_field") == [0, 1, 2, 1, 0, 0]


def test_faces_are_cleared(blender, draw_box, gathered):
    tank = draw_box(0.3, 0.2, 0.1)
    perforate(blender, tank, [1, 2])
    select_faces(blender, tank, [2])
    assert blender.ops.tackwright.clear_perforation() == {"FINISHED"}
    assert face_numbers(blender, tank, "tackwright_field") == [0, 1, 0, 0, 0, 0]
    assert [field.panel for field in gathered(tank)] == [1]


@pytest.mark.parametrize("mode", ["OBJECT", "EDIT"])
def test_a_removed_perforation_leaves_no_face_and_its_number_is_not_dealt_out_again(blender, draw_box, gathered, mode):
    tank = draw_box(0.3, 0.2, 0.1)
    perforate(blender, tank, [1])
    perforate(blender, tank, [2])
    blender.ops.object.mode_set(mode=mode)
    assert blender.ops.tackwright.remove_perforation() == {"FINISHED"}
    assert face_numbers(blender, tank, "tackwright_field") == [0, 1, 0, 0, 0, 0]
    perforate(blender, tank, [3])
    assert [f.number for f in tank.tackwright.fields] == [1, 3]
    blender.ops.object.mode_set(mode="OBJECT")
    assert [field.panel for field in gathered(tank)] == [1, 3]


def test_patterns_are_added_and_removed_but_for_the_last(blender, draw_box, gathered):
    from tackwright.core.terms.choices import Band, Field

    tank = draw_box(0.3, 0.2, 0.1)
    perforate(blender, tank, [1], code="R10T15")
    blender.ops.object.mode_set(mode="OBJECT")
    field = tank.tackwright.fields[0]
    blender.ops.tackwright.add_band()
    field.bands[1].code, field.bands[1].depth_mm = " LZ5x20 ", 40.0
    field.gap_mm, field.margin_mm, field.turn = 12.0, 15.0, math.radians(30)
    bands = (Band(code="R10T15"), Band(code="LZ5x20", depth=40.0))
    assert gathered(tank) == (Field(panel=1, bands=bands, margin=15.0, gap=12.0, turn=30.0),)
    blender.ops.tackwright.remove_band()
    assert [band.code for band in field.bands] == ["R10T15"]
    with pytest.raises(RuntimeError, match="one pattern at least"):
        blender.ops.tackwright.remove_band()


def test_an_untouched_perforation_leaves_margin_and_depth_to_the_core(blender, draw_box, gathered):
    from tackwright.core.terms.choices import Band, Field

    tank = draw_box(0.3, 0.2, 0.1)
    perforate(blender, tank, [1])
    blender.ops.object.mode_set(mode="OBJECT")
    assert gathered(tank) == (Field(panel=1, bands=(Band(code="R5T8"),)),)


def test_grey_buttons_say_why(blender, draw_box):
    tank = draw_box(0.3, 0.2, 0.1)
    for name in ("perforate_faces", "clear_perforation"):
        with pytest.raises(RuntimeError, match="Go to Edit Mode and select faces"):
            getattr(blender.ops.tackwright, name)()
    for name in ("remove_perforation", "add_band", "remove_band"):
        with pytest.raises(RuntimeError, match="no perforation in the list"):
            getattr(blender.ops.tackwright, name)()
    with pytest.raises(RuntimeError, match="no perforation to choose"):
        perforate(blender, tank, [1], chosen=True)


def test_an_attribute_of_another_kind_is_named_and_no_perforation_is_listed(blender, draw_box):
    tank = draw_box(0.3, 0.2, 0.1)
    tank.data.attributes.new("tackwright_field", "FLOAT", "FACE")
    with pytest.raises(RuntimeError, match="'tackwright_field' of another kind"):
        perforate(blender, tank, [1])
    assert len(tank.tackwright.fields) == 0


def test_undo_takes_a_perforation_back(blender, draw_box):
    tank = draw_box(0.3, 0.2, 0.1)
    blender.ops.ed.undo_push(message="drawn")
    select_faces(blender, tank, [1])
    blender.ops.ed.undo_push(message="selected")
    blender.ops.tackwright.perforate_faces("EXEC_DEFAULT", True)
    blender.ops.ed.undo()
    tank = blender.data.objects["tank"]
    assert face_numbers(blender, tank, "tackwright_field") == [0] * 6


def test_a_perforation_on_an_inner_plates_object_is_the_envelopes(blender, draw_box, draw, gathered):
    tank = draw_box(0.3, 0.2, 0.1)
    shelf = draw([(0.1, 0, 0), (0.1, 0.2, 0), (0.1, 0.2, 0.1), (0.1, 0, 0.1)], [(0, 1, 2, 3)], "shelf")
    shelf.tackwright_inner.envelope = tank
    tank.select_set(False)
    assert perforate(blender, shelf, [0]) == {"FINISHED"}
    blender.ops.object.mode_set(mode="OBJECT")
    assert (len(shelf.tackwright.fields), len(tank.tackwright.fields)) == (0, 1)
    assert [field.panel for field in gathered(tank)] == [6]


# ---- one field for each panel


def test_a_panel_of_several_faces_is_perforated_once(blender, draw_strip, gathered):
    strip = draw_strip(4)
    perforate(blender, strip, [0, 1, 2, 3])
    blender.ops.object.mode_set(mode="OBJECT")
    assert [(field.panel, field.region) for field in gathered(strip)] == [(0, None)]


def test_a_part_of_a_panel_is_a_region(blender, draw_strip, gathered):
    strip = draw_strip(4)
    strip.location = (1, 0, 0)
    blender.context.view_layer.update()
    perforate(blender, strip, [1, 2])
    blender.ops.object.mode_set(mode="OBJECT")
    (field,) = gathered(strip)
    assert field.panel == 1
    region = np.array(field.region)
    assert region.min(axis=0) == pytest.approx([1100, 0, 0], abs=1e-3)
    assert region.max(axis=0) == pytest.approx([1300, 100, 0], abs=1e-3)
    x, y = region[:, 0], region[:, 1]
    assert abs(np.dot(x, np.roll(y, 1)) - np.dot(y, np.roll(x, 1))) / 2 == pytest.approx(200 * 100, rel=1e-6)


def test_two_parts_of_a_panel_are_two_fields(blender, draw_strip, gathered):
    strip = draw_strip(4)
    perforate(blender, strip, [3, 0])
    blender.ops.object.mode_set(mode="OBJECT")
    assert [(field.panel, field.region is None) for field in gathered(strip)] == [(0, False), (3, False)]


def test_panels_at_a_corner_are_perforated_each(blender, draw_box, gathered):
    tank = draw_box(0.3, 0.2, 0.1)
    perforate(blender, tank, [5, 1, 2])
    blender.ops.object.mode_set(mode="OBJECT")
    assert [(field.panel, field.region) for field in gathered(tank)] == [(1, None), (2, None), (5, None)]


def test_faces_that_are_one_plane_but_two_panels_are_perforated_each(blender, draw_strip, gathered):
    strip = draw_strip(2)
    strip.data.attributes.new("tackwright_thickness", "FLOAT", "FACE").data[1].value = 6.0
    perforate(blender, strip, [0, 1])
    blender.ops.object.mode_set(mode="OBJECT")
    assert [(field.panel, field.region) for field in gathered(strip)] == [(0, None), (1, None)]


def test_a_mirrored_half_is_perforated_once(blender, draw_strip, gathered):
    strip = draw_strip(2)
    strip.modifiers.new("mirror", "MIRROR")
    perforate(blender, strip, [0, 1])
    blender.ops.object.mode_set(mode="OBJECT")
    assert [(field.panel, field.region) for field in gathered(strip)] == [(0, None)]


def test_faces_that_are_left_out_carry_no_perforation(blender, draw_box, gathered):
    tank = draw_box(0.3, 0.2, 0.1)
    perforate(blender, tank, [1, 2])
    select_faces(blender, tank, [2, 3])
    assert [field.panel for field in gathered(tank)] == [2]


def test_a_perforation_round_other_faces_is_refused_by_name(blender, draw):
    from tackwright.addon.gather.gather import read_drawing
    from tackwright.core.terms.errors import InputError

    points = [(0.1 * i, 0.1 * j, 0) for j in range(4) for i in range(4)]
    faces = [(4 * j + i, 4 * j + i + 1, 4 * j + i + 5, 4 * j + i + 4) for j in range(3) for i in range(3)]
    grid = draw(points, faces)
    perforate(blender, grid, [0, 1, 2, 3, 5, 6, 7, 8])
    blender.ops.object.mode_set(mode="OBJECT")
    with pytest.raises(InputError, match="goes round faces that do not have it") as refused:
        read_drawing(blender.context, grid)
    assert refused.value.faces == (0, 1, 2, 3, 5, 6, 7, 8)


def test_two_flat_walls_either_side_of_an_inner_plate_are_one_panel(add_on):
    from tackwright.addon.gather.perforated_regions import perforated_regions
    from tackwright.core.envelope.mesh import Mesh

    points = [(i * 100, j * 100, 0) for i in range(3) for j in (0, 1)] + [(100, 0, 80), (100, 100, 80)]
    mesh = Mesh.of(points, [(0, 2, 3, 1), (2, 6, 7, 3), (2, 4, 5, 3)])
    found = perforated_regions(mesh, np.array([1, 0, 1]), np.zeros(3, dtype=np.int64))
    assert [(region.face, region.corners) for region in found] == [(0, None)]


def test_settings_of_perforations_are_kept_by_the_file(blender, draw_box, gathered, tmp_path):
    tank = draw_box(0.3, 0.2, 0.1)
    perforate(blender, tank, [1], code="R8U12")
    blender.ops.object.mode_set(mode="OBJECT")
    before = gathered(tank)
    path = str(tmp_path / "tank.blend")
    blender.ops.wm.save_as_mainfile(filepath=path)
    blender.ops.wm.open_mainfile(filepath=path)
    assert gathered(blender.data.objects["tank"]) == before
    assert before[0].bands[0].code == "R8U12"


# ---- the whole way


def test_perforated_faces_show_their_holes_at_once(blender, draw_box):
    tank = draw_box(0.3, 0.2, 0.1)
    perforate(blender, tank, [1], code="R10T20")
    blender.ops.object.mode_set(mode="OBJECT")
    assert blender.ops.tackwright.make_plates() == {"FINISHED"}
    most = max(len(o.data.vertices) for o in blender.data.objects if o.tackwright_plate.made_as)
    # 300 x 200 mm hold about 150 holes at a pitch of 20 mm, of more than 12 corners each, on two faces
    assert most > 100 * 12 * 2
    assert "perforation" in tank.tackwright.summary
    assert not [f.message for f in tank.tackwright.findings if f.level == "error"]


def test_an_unknown_pattern_is_refused_by_name(blender, draw_box):
    tank = draw_box(0.3, 0.2, 0.1)
    perforate(blender, tank, [1], code="Q5")
    blender.ops.object.mode_set(mode="OBJECT")
    with pytest.raises(RuntimeError, match="Q5"):
        blender.ops.tackwright.make_plates()
