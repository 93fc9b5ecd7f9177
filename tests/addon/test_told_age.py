"""What was said of a drawing is told to be old once the drawing, or what was chosen for it, is another one."""

from __future__ import annotations

import numpy as np
import pytest
from editing import select_faces

SAID = "Changed since: make plates again"


@pytest.fixture
def tank(blender, draw_box):
    item = draw_box(0.3, 0.2, 0.1)
    item.tackwright.corner = "CLOSED"
    blender.ops.tackwright.make_plates()
    return item


@pytest.fixture
def old(blender, drawn):
    def told():
        blender.context.view_layer.update()
        return SAID in drawn("plates"), SAID in (drawn("findings") or [])

    return told


def lift(item):
    item.data.vertices[6].co.z += 0.01
    item.data.update()


CHANGES = {
    "drawing": lift,
    "thickness": lambda item: setattr(item.tackwright, "thickness_mm", 4.0),
    "moved": lambda item: setattr(item, "location", (0.1, 0.0, 0.0)),
    "modifier": lambda item: item.modifiers.new("less", "TRIANGULATE"),
}


@pytest.mark.parametrize("change", CHANGES)
def test_a_changed_drawing_is_told_until_plates_are_made_again(blender, tank, old, change):
    assert old() == (False, False)
    CHANGES[change](tank)
    assert old() == (True, True)
    try:
        blender.ops.tackwright.make_plates()
    except RuntimeError:
        assert tank.tackwright.findings[0].rule == "refused"   # that is said of the drawing as it is
    assert old() == (False, False)


def test_openings_count_and_so_do_choices_on_edges(blender, tank, old):
    blender.ops.tackwright.add_opening()
    opening = blender.context.object
    blender.context.view_layer.objects.active = tank
    assert old() == (True, True)
    blender.data.objects.remove(opening)
    assert old() == (False, False)
    select_faces(blender, tank, [1])
    blender.ops.tackwright.set_face_metal(thickness=0.005)
    blender.ops.object.mode_set(mode="OBJECT")
    assert old() == (True, True)
    select_faces(blender, tank, [1])
    blender.ops.tackwright.clear_face()
    blender.ops.object.mode_set(mode="OBJECT")
    assert old() == (False, False)


def test_to_look_round_changes_nothing(blender, tank, old):
    select_faces(blender, tank, [1])
    assert old() == (False, False)
    blender.ops.object.mode_set(mode="OBJECT")
    tank.tackwright.active_finding = len(tank.tackwright.findings) - 1
    tank.tackwright_view.view = "SPREAD"
    assert old() == (False, False)


def test_an_undo_of_drawing_and_plates_together_is_no_change(blender, draw_box, old):
    item = draw_box(0.3, 0.2, 0.1)
    blender.ops.ed.undo_push(message="drawn")
    blender.ops.tackwright.make_plates("EXEC_DEFAULT", True)
    for vertex in item.data.vertices:
        vertex.co.z *= 2.0
    blender.ops.ed.undo_push(message="higher")
    blender.ops.tackwright.make_plates("EXEC_DEFAULT", True)
    assert old() == (False, False)
    blender.ops.ed.undo()
    assert old() == (True, True)                               # the higher drawing, the lower one's plates
    blender.ops.ed.undo()
    assert old() == (False, False)
    height = np.ptp([vertex.co.z for vertex in blender.data.objects["tank"].data.vertices])
    assert height == pytest.approx(0.1)


def test_of_what_was_said_before_the_file_was_opened_nothing_is_known(blender, tank, old, tmp_path):
    lift(tank)
    path = str(tmp_path / "tank.blend")
    blender.ops.wm.save_as_mainfile(filepath=path)
    blender.ops.wm.open_mainfile(filepath=path)
    assert old() == (False, False)


def test_an_export_tells_the_new_and_leaves_the_plates_old(blender, tank, old, tmp_path):
    tank.tackwright.sealed = True
    blender.ops.tackwright.make_plates()
    blender.ops.tackwright.export_kit(directory=str(tmp_path))
    assert old() == (False, False)
    for vertex in tank.data.vertices:
        vertex.co.z *= 1.5
    tank.data.update()
    assert old()[0]
    blender.ops.tackwright.export_kit(directory=str(tmp_path), replace=True)
    assert old()[0]                                            # the plates in view are still those of before
    blender.ops.tackwright.make_plates()
    assert old() == (False, False)


def test_after_a_remedy_later_changes_are_told(blender, draw_box, old):
    item = draw_box(0.3, 0.2, 0.1)
    blender.ops.tackwright.make_plates()
    item.tackwright.active_finding = next(i for i, one in enumerate(item.tackwright.findings) if one.remedy)
    assert blender.ops.tackwright.apply_remedy() == {"FINISHED"}
    assert old() == (False, False)
    item.tackwright.thickness_mm = 5.0
    assert old()[0]


def test_an_inner_mesh_has_settings_that_count_and_the_kits_name_does_not(blender, draw_box, draw, old):
    item = draw_box(0.3, 0.2, 0.1)
    shelf = draw([(0.15, 0, 0), (0.15, 0.2, 0), (0.15, 0.2, 0.1), (0.15, 0, 0.1)], [(0, 1, 2, 3)], "shelf")
    shelf.tackwright_inner.envelope = item
    blender.context.view_layer.objects.active = item
    blender.ops.tackwright.make_plates()
    item.tackwright.kit_name = "mine"
    assert old() == (False, False)
    shelf.tackwright_inner.thickness_mm = 5.0
    assert old()[0]


def test_plates_of_the_selected_faces_are_not_those_of_the_drawing(blender, tank, old):
    select_faces(blender, tank, [1])
    blender.ops.tackwright.make_plates()
    assert old() == (False, False)                             # the selected ones were asked for
    blender.ops.object.mode_set(mode="OBJECT")
    assert old()[0]
