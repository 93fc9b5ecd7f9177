"""Metal of single faces: set in Edit Mode, told to the core."""

from __future__ import annotations

import pytest
from editing import face_numbers, select_faces


@pytest.fixture
def set_metal(blender):
    return blender.ops.tackwright.set_face_metal


@pytest.mark.parametrize("scale", [1.0, 0.001, 0.0254])
def test_selected_faces_get_thickness_and_side(blender, draw_box, set_metal, scale):
    from tackwright.addon.gather.gather import read_drawing
    from tackwright.core.terms.choices import PanelChoice

    blender.context.scene.unit_settings.scale_length = scale
    tank = draw_box(0.3 / scale, 0.2 / scale, 0.1 / scale)
    select_faces(blender, tank, [1, 4])
    assert set_metal(thickness=0.0048 / scale, metal_side="CENTRED") == {"FINISHED"}
    blender.ops.object.mode_set(mode="OBJECT")
    chosen = PanelChoice(thickness=4.8, metal_side="centred")
    assert dict(read_drawing(blender.context, tank).choices.faces) == {1: chosen, 4: chosen}


@pytest.mark.parametrize(("side", "number"), [("AS_ENVELOPE", 0), ("OUTSIDE", 1), ("INSIDE", 2), ("CENTRED", 3)])
def test_the_number_that_a_mesh_keeps_for_a_side_never_changes(blender, draw_box, set_metal, side, number):
    tank = draw_box(0.3, 0.2, 0.1)
    select_faces(blender, tank, [2])
    set_metal(metal_side=side)
    assert face_numbers(blender, tank, "tackwright_metal_side") == [0, 0, number, 0, 0, 0]


def test_nothing_chosen_gives_the_faces_back_to_the_envelope(blender, draw_box, set_metal):
    from tackwright.addon.gather.gather import read_drawing

    tank = draw_box(0.3, 0.2, 0.1)
    select_faces(blender, tank, [1])
    set_metal(thickness=0.005, metal_side="OUTSIDE")
    set_metal(thickness=0.0, metal_side="AS_ENVELOPE")
    blender.ops.object.mode_set(mode="OBJECT")
    assert dict(read_drawing(blender.context, tank).choices.faces) == {}


def test_plates_have_the_thickness_of_their_faces(blender, draw_box, set_metal):
    tank = draw_box(0.3, 0.2, 0.1)
    select_faces(blender, tank, [0])
    set_metal(thickness=0.006)
    blender.ops.object.mode_set(mode="OBJECT")
    blender.ops.tackwright.make_plates()
    thick = [o for o in blender.data.objects if o.tackwright_plate.made_as and o.dimensions.z > 0.005]
    assert [pytest.approx(0.006)] == [o.dimensions.z for o in thick]


def test_undo_takes_the_metal_back(blender, draw_box):
    tank = draw_box(0.3, 0.2, 0.1)
    blender.ops.ed.undo_push(message="drawn")
    select_faces(blender, tank, [1])
    blender.ops.ed.undo_push(message="selected")
    blender.ops.tackwright.set_face_metal("EXEC_DEFAULT", True, thickness=0.005)
    blender.ops.ed.undo()
    assert face_numbers(blender, blender.data.objects["tank"], "tackwright_thickness") == [0] * 6


def test_setting_metal_says_what_it_needs(blender, draw_box, set_metal):
    tank = draw_box(0.3, 0.2, 0.1)
    with pytest.raises(RuntimeError, match="Go to Edit Mode and select faces"):
        set_metal()
    tank.data.attributes.new("tackwright_metal_side", "FLOAT", "FACE")
    select_faces(blender, tank, [0])
    with pytest.raises(RuntimeError, match="'tackwright_metal_side' of another kind"):
        set_metal(metal_side="INSIDE")
