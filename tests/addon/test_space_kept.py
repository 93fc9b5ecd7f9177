"""What is kept of the space: told to be old when it is, let go when nobody needs it, and never left hanging."""

from __future__ import annotations

from importlib import import_module

import numpy as np
import pytest
from scanned import points_of

PIPE = float(np.hypot(100 - 45, 500 - 555) - 30.0)
"""mm between the box's upright edge and the pipe, see test_addon_space.py."""


def age(blender, envelope):
    from tackwright.addon.space.clearance_work import age_of

    blender.context.view_layer.update()
    return age_of(blender.context, envelope)


def test_a_weld_room_that_was_changed_since_is_told(blender, scanned, drawn):
    envelope, _ = scanned(noise=0.0)
    blender.ops.tackwright.check_clearance()
    assert age(blender, envelope) == ""
    envelope.tackwright_space.weld_room_mm = 50.0
    assert "weld room" in age(blender, envelope)
    assert "weld room" in " ".join(drawn("space"))
    blender.ops.tackwright.check_clearance()
    assert age(blender, envelope) == "" and envelope.tackwright_space.least == pytest.approx(PIPE - 50.0, abs=0.5)
    assert "Taken off for welding: 50 mm" in " ".join(drawn("space"))


def test_with_follow_a_changed_weld_room_counts_at_once(blender, scanned):
    envelope, _ = scanned(noise=0.0)
    space = envelope.tackwright_space
    blender.ops.tackwright.check_clearance()
    space.weld_room = 0.02
    assert space.least == pytest.approx(PIPE, abs=0.5)         # not asked to follow
    space.follow = True
    assert space.least == pytest.approx(PIPE - 20.0, abs=0.5) and age(blender, envelope) == ""
    space.weld_room = 0.03
    assert space.least == pytest.approx(PIPE - 30.0, abs=0.5) and age(blender, envelope) == ""


def test_a_drawing_that_was_changed_since_is_told_in_edit_mode_too(blender, scanned):
    import bmesh

    envelope, _ = scanned(noise=0.0)
    blender.ops.tackwright.check_clearance()
    blender.ops.object.mode_set(mode="EDIT")
    assert age(blender, envelope) == ""                        # as it was, only edited
    next(iter(bmesh.from_edit_mesh(envelope.data).verts)).co.x += 0.01
    assert "drawing" in age(blender, envelope)
    blender.ops.tackwright.check_clearance()
    assert age(blender, envelope) == ""
    blender.ops.object.mode_set(mode="OBJECT")
    assert age(blender, envelope) == ""
    envelope.location.x += 0.001
    assert "drawing" in age(blender, envelope)


def test_a_scan_that_was_changed_since_is_told(blender, scanned):
    envelope, scan = scanned(noise=0.0)
    blender.ops.tackwright.check_clearance()
    scan.location.z += 0.001
    assert "scan" in age(blender, envelope)


def test_plates_that_were_made_anew_are_told_and_spread_ones_are_the_same(blender, scanned):
    envelope, _ = scanned(noise=0.0)
    envelope.tackwright.sealed = True
    blender.context.view_layer.objects.active = envelope
    blender.ops.tackwright.make_plates()
    blender.ops.tackwright.check_clearance(kind="PLATES")
    envelope.tackwright_view.view, envelope.tackwright_view.spread = "SPREAD", 1.0
    assert age(blender, envelope) == ""
    envelope.tackwright_view.view = "SOLID"
    envelope.tackwright.thickness_mm = 5.0
    blender.ops.tackwright.make_plates()
    assert "plates" in age(blender, envelope)


def test_the_room_found_before_the_file_was_opened_is_told_to_be_so(blender, scanned, tmp_path):
    envelope, _ = scanned(noise=0.0)
    name = envelope.name
    blender.ops.tackwright.check_clearance()
    blender.ops.wm.save_as_mainfile(filepath=str(tmp_path / "kept.blend"))
    blender.ops.wm.open_mainfile(filepath=str(tmp_path / "kept.blend"))
    envelope = blender.data.objects[name]
    assert envelope.tackwright_space.least == pytest.approx(PIPE, abs=0.5)
    assert "before" in age(blender, envelope)


def test_more_room_than_is_measured_is_told_beyond_the_weld_room(blender, scanned, drawn):
    envelope, _ = scanned(noise=0.0)
    envelope.location = (5.0, 5.0, 5.0)
    envelope.tackwright_space.weld_room_mm = 60.0
    blender.context.view_layer.update()
    blender.ops.tackwright.check_clearance()
    assert not envelope.tackwright_space.places
    assert "More than 200 mm everywhere" in " ".join(drawn("space"))


@pytest.mark.parametrize("gone", ["scan", "envelope", "link"])
def test_a_sorted_scan_is_let_go_when_nobody_needs_it(blender, scanned, gone):
    from tackwright.addon.space.sorted_scans import any_scan, kept_scans

    envelope, scan = scanned()
    blender.ops.tackwright.check_clearance()
    assert list(kept_scans()) == [scan.session_uid]
    if gone == "link":
        assert blender.ops.tackwright.clear_scan() == {"FINISHED"}
    else:
        for item in (envelope, scan):
            item.select_set(item == {"scan": scan, "envelope": envelope}[gone])
        blender.ops.object.delete()                            # as the user does: pointers keep it in the file
        blender.context.view_layer.update()
    assert not any_scan()


@pytest.mark.parametrize(("module", "function", "said"), [
    ("scan_index", "index_scan", "could not be read: MemoryError"),
    ("clearance", "clearance", "Could not be worked out: MemoryError"),
])  # fmt: skip
def test_too_little_memory_is_told_and_nothing_is_left_waiting(
    blender, scanned, monkeypatch, module, function, said
):
    from tackwright.addon.space import clearance_work as work
    from tackwright.addon.space.sorted_scans import sorting

    def too_large(*_, **__):
        raise MemoryError

    envelope, scan = scanned()
    monkeypatch.setattr(import_module(f"tackwright.core.scan.{module}"), function, too_large)
    with pytest.raises(RuntimeError, match=said):
        blender.ops.tackwright.check_clearance()
    assert not len(work.running) and sorting(scan) is None
    monkeypatch.undo()
    assert blender.ops.tackwright.check_clearance() == {"FINISHED"}
    assert work.state_of(blender.context, envelope) == ""


def test_what_was_asked_in_a_scene_that_no_window_shows_waits_for_it(blender, scanned, monkeypatch):
    from tackwright.addon.space import clearance_work as work

    envelope, scan = scanned(noise=0.0)
    home, away = blender.context.scene.collection, blender.data.scenes.new("away").collection
    with monkeypatch.context() as later:
        later.setattr(work, "_step", lambda *_: False)         # asked, and no step taken yet
        blender.ops.tackwright.check_clearance()
    for item in (envelope, scan):
        away.objects.link(item)
        home.objects.unlink(item)
    blender.context.view_layer.update()
    assert work.running.tick() is not None
    assert envelope.session_uid in work.running and not envelope.tackwright_space.checked
    for item in (envelope, scan):
        home.objects.link(item)
    blender.context.view_layer.update()
    for _ in range(100):                                       # it reads, sorts, looks: some ten at most
        if work.running.tick() is None:
            break
    assert envelope.tackwright_space.least == pytest.approx(PIPE, abs=0.5)


@pytest.mark.parametrize("squares", [False, True])
def test_a_scan_is_read_as_blender_cuts_it_up(blender, scanned, squares):
    from tackwright.addon.gather.scan_mesh import read_scan

    _, scan = scanned()
    if squares:                                                # some faces of more corners, as after a clean-up
        mesh = blender.data.meshes.new("mixed")
        mesh.from_pydata([(0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0), (0, 0, 1)], [], [(0, 1, 2, 3), (0, 4, 1)])
        scan.data = mesh
    read = read_scan(blender.context, scan)
    scan.data.calc_loop_triangles()
    judge = [(*triangle.vertices, triangle.polygon_index) for triangle in scan.data.loop_triangles]
    assert np.column_stack([read.triangles, read.faces]).tolist() == [list(row) for row in judge]
    assert len(judge) == (3 if squares else len(scan.data.polygons))


@pytest.mark.parametrize("mode", ["OBJECT", "EDIT"])
def test_a_scans_modifiers_count(blender, scanned, mode):
    envelope, scan = scanned(noise=0.0)
    space = envelope.tackwright_space
    blender.ops.tackwright.check_clearance()
    least, own = space.least, len(scan.data.polygons)
    moved = scan.modifiers.new("moved", "DISPLACE")            # the pipe comes 20 mm nearer
    moved.direction, moved.strength, moved.mid_level = "Y", -0.02, 0.0
    assert "scan" in age(blender, envelope)
    if mode == "EDIT":
        scan.select_set(True)
        blender.context.view_layer.objects.active = scan
        blender.ops.object.mode_set(mode="EDIT")
    blender.ops.tackwright.check_clearance()
    assert least - space.least == pytest.approx(20.0 * 55.0 / np.hypot(55.0, 55.0), abs=2.0)
    assert age(blender, envelope) == ""
    moved.show_expanded = not moved.show_expanded
    assert age(blender, envelope) == "" and len(scan.data.polygons) == own
    moved.show_viewport = False
    assert "scan" in age(blender, envelope)
    blender.ops.tackwright.check_clearance()
    assert space.least == pytest.approx(least, abs=1e-6)


def test_what_modifiers_made_cannot_be_selected_and_says_so(blender, scanned):
    envelope, scan = scanned(noise=0.0)
    envelope.location.x = -0.15
    scan.modifiers.new("less", "TRIANGULATE")
    blender.context.view_layer.update()
    blender.ops.tackwright.check_clearance()
    assert envelope.tackwright_space.collisions > 0
    with pytest.raises(RuntimeError, match="Modifiers make the scan's faces: apply them"):
        blender.ops.tackwright.select_collisions()


def test_hidden_faces_in_the_way_are_shown_and_a_disabled_scan_is_told(blender, scanned):
    envelope, scan = scanned(noise=0.0)
    envelope.location.x = -0.15
    blender.context.view_layer.update()
    for face in scan.data.polygons:
        face.hide = True
    blender.ops.tackwright.check_clearance()
    scan.hide_viewport = True
    assert not blender.ops.tackwright.select_collisions.poll()
    scan.hide_viewport = False
    assert blender.ops.tackwright.select_collisions() == {"FINISHED"}
    blender.ops.object.mode_set(mode="OBJECT")
    chosen = [face for face in scan.data.polygons if face.select]
    assert len(chosen) == envelope.tackwright_space.collisions and not any(face.hide for face in chosen)
    assert len(points_of(scan)) and any(face.hide for face in scan.data.polygons)


def test_a_list_that_did_not_change_keeps_the_place_that_is_chosen(blender, scanned):
    envelope, _ = scanned(noise=0.0)
    space = envelope.tackwright_space
    blender.ops.tackwright.check_clearance()
    assert len(space.places) > 2
    blender.ops.tackwright.show_tight_place(index=2)
    blender.ops.tackwright.check_clearance()
    assert space.active_place == 2
    space.weld_room_mm = 1.0
    blender.ops.tackwright.check_clearance()
    assert space.active_place == 0


def test_what_was_asked_anew_meanwhile_is_asked_for_the_same_thing(blender, scanned, monkeypatch):
    from tackwright.addon.space import clearance_work as work

    envelope, _ = scanned(noise=0.0)
    envelope.tackwright.sealed = True
    blender.context.view_layer.objects.active = envelope
    blender.ops.tackwright.make_plates()
    blender.ops.tackwright.check_clearance()                   # the scan is sorted
    envelope.tackwright_space.follow = True
    with monkeypatch.context() as later:
        later.setattr(work, "_step", lambda *_: False)         # asked, and no step taken yet
        blender.ops.tackwright.check_clearance(kind="PLATES")
        envelope.tackwright_space.weld_room_mm = 20.0
        work.again(blender.context, envelope)
    while work._step(blender.context, envelope):
        pass
    found = work.found_of(envelope)
    assert (found.kind, found.weld_room) == ("PLATES", 20.0)


def test_an_undo_of_the_check_is_told(blender, scanned):
    envelope, _ = scanned(noise=0.0)
    blender.ops.tackwright.check_clearance("EXEC_DEFAULT", True)
    envelope.location.x += 0.005
    blender.context.view_layer.update()
    blender.ops.ed.undo_push(message="moved")
    blender.ops.tackwright.check_clearance("EXEC_DEFAULT", True)
    assert age(blender, envelope) == ""
    blender.ops.ed.undo()
    envelope = blender.data.objects["tank"]
    assert age(blender, envelope) == "Found for another drawing"


def test_a_scan_that_is_being_edited_is_looked_at_as_it_is(blender, scanned):
    import bmesh

    envelope, scan = scanned(noise=0.0)
    blender.ops.tackwright.check_clearance()
    least = envelope.tackwright_space.least
    blender.context.view_layer.objects.active = scan
    blender.ops.object.mode_set(mode="EDIT")
    mesh = bmesh.from_edit_mesh(scan.data)
    for vertex in mesh.verts:
        vertex.co.y -= 0.02                                    # the pipe comes nearer
    bmesh.update_edit_mesh(scan.data)
    assert "scan" in age(blender, envelope)
    blender.ops.tackwright.check_clearance()
    assert envelope.tackwright_space.least < least - 10.0 and age(blender, envelope) == ""


def test_what_follows_stays_of_the_plates(blender, scanned):
    from tackwright.addon.space.clearance_work import found_of, refresh

    envelope, _ = scanned(noise=0.0)
    envelope.tackwright.sealed = True
    blender.context.view_layer.objects.active = envelope
    blender.ops.tackwright.make_plates()
    envelope.tackwright_space.follow = True
    blender.ops.tackwright.check_clearance(kind="PLATES")
    refresh(blender.context, envelope)
    assert found_of(envelope).kind == "PLATES"


def test_a_scan_that_is_held_is_not_said_to_be_square(blender, scanned):
    from scanned import set_patches

    envelope, scan = scanned()
    set_patches(blender, scan)
    held = scan.constraints.new("COPY_ROTATION")
    held.target = blender.data.objects.new("turned", None)
    blender.context.scene.collection.objects.link(held.target)
    held.target.rotation_euler = (0.1, 0.2, 0.3)
    blender.context.view_layer.update()
    before = scan.matrix_basis.copy()
    with pytest.raises(RuntimeError, match="scan does not go where it should: a parent or constraint holds it"):
        blender.ops.tackwright.square_up()
    assert np.allclose(scan.matrix_basis.to_translation(), before.to_translation(), atol=1e-5)
    scan.constraints.remove(held)
    blender.context.view_layer.update()
    assert blender.ops.tackwright.square_up() == {"FINISHED"}
