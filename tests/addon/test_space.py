"""The space in the editor: a scan is squared up and scaled, and the room in it is found."""

from __future__ import annotations

import numpy as np
import pytest
from scanned import BOX, pick, points_of, set_patches

"""m: of an envelope that fits into the niche, 100 mm from its sides and floor, 100 from the back."""


@pytest.mark.parametrize("degrees", [(0, 0, 0), (5, -8, 30), (-20, 12, -40)])
def test_a_scan_out_of_square_is_squared_up(blender, scanned, degrees):
    from mathutils import Euler, Matrix

    motion = Matrix.Translation((3, -2, 1)) @ Euler(np.radians(degrees)).to_matrix().to_4x4()
    envelope, scan = scanned(motion=motion)
    set_patches(blender, scan)
    blender.context.view_layer.objects.active = envelope
    assert blender.ops.tackwright.square_up() == {"FINISHED"}
    turn = np.array(scan.matrix_world)[:3, :3]
    assert turn @ [0, 0, 1] == pytest.approx([0, 0, 1], abs=1e-3)    # half a millimetre of noise over 400 mm
    assert np.abs(turn @ [0, 1, 0]).max() == pytest.approx(1.0, abs=1e-5)
    floor = points_of(scan)[np.abs(points_of(scan)[:, 2]) < 3] / 1000
    heights = (floor @ turn.T + np.array(scan.matrix_world.translation))[:, 2]
    assert np.median(heights) == pytest.approx(0.0, abs=2e-4)
    blender.ops.ed.undo_push(message="here")


def test_what_cannot_be_squared_up_is_refused_and_nothing_moves(blender, scanned):
    envelope, scan = scanned()
    at = points_of(scan)
    pick(blender, scan, np.abs(at[:, 2]) < 3)
    blender.ops.tackwright.set_patch(patch="FLOOR")
    blender.ops.tackwright.set_patch(patch="WALL")
    before = scan.matrix_world.copy()
    with pytest.raises(RuntimeError, match="the same way"):
        blender.ops.tackwright.square_up()
    assert scan.matrix_world == before
    pick(blender, scan, np.arange(len(at)) < 2)
    assert not blender.ops.tackwright.set_patch.poll()


def test_a_known_distance_scales_the_scan_about_the_first_point(blender, scanned):
    envelope, scan = scanned(noise=0.0)
    ends = [int(np.abs(points_of(scan) - corner).sum(axis=1).argmin()) for corner in ((0, 0, 0), (900, 0, 0))]
    pick(blender, scan, np.isin(np.arange(len(scan.data.vertices)), ends))
    assert blender.ops.tackwright.known_distance(distance=0.45) == {"FINISHED"}
    blender.ops.object.mode_set(mode="OBJECT")
    assert scan.matrix_world.to_scale()[:] == pytest.approx((0.5, 0.5, 0.5))
    first = scan.data.vertices[min(ends)].co
    assert (scan.matrix_world @ first)[:] == pytest.approx(first[:], abs=1e-6)
    pick(blender, scan, np.isin(np.arange(len(scan.data.vertices)), ends))
    with pytest.raises(RuntimeError, match="times"):
        blender.ops.tackwright.known_distance(distance=1e6)


def test_the_room_round_an_envelope_is_found(blender, scanned):
    envelope, scan = scanned(noise=0.0)
    assert blender.ops.tackwright.check_clearance() == {"FINISHED"}
    space = envelope.tackwright_space
    # the pipe's middle stands 45 mm from left and back: to the box's upright edge at (100, 500) mm
    pipe = np.hypot(100 - 45, 500 - 555) - 30.0
    assert space.least == pytest.approx(pipe, abs=0.5)        # the pipe is drawn by chords
    assert space.collisions == 0
    assert space.places[0].room == space.least
    assert np.array(space.places[0].at[:2]) == pytest.approx([100, 500], abs=0.5)
    assert not blender.ops.tackwright.select_collisions.poll()
    space.weld_room_mm = 50.0
    blender.ops.tackwright.check_clearance()
    assert space.least == pytest.approx(pipe - 50.0, abs=0.5)
    assert blender.ops.tackwright.show_tight_place(index=0) == {"FINISHED"}
    assert np.array(blender.context.scene.cursor.location) * 1000 == pytest.approx(np.array(space.places[0].at))


def test_what_is_in_the_way_is_selected_on_the_scan(blender, scanned):
    envelope, scan = scanned(noise=0.0)
    envelope.location.x = -0.15                               # through the left side, 150 mm deep
    blender.context.view_layer.update()
    blender.ops.tackwright.check_clearance()
    space = envelope.tackwright_space
    assert space.collisions > 0
    assert blender.ops.tackwright.select_collisions() == {"FINISHED"}
    assert blender.context.mode == "EDIT_MESH" and blender.context.object == scan
    blender.ops.object.mode_set(mode="OBJECT")
    chosen = np.array([face.select for face in scan.data.polygons])
    assert chosen.sum() == space.collisions
    at = points_of(scan)
    corners = np.array([face.vertices[:] for face in scan.data.polygons])[chosen]
    low, high = np.array([-150, 100, 100]), np.array([550, 500, 600])
    # every one comes into the box
    assert ((at[corners].min(axis=1) <= high + 1e-3) & (at[corners].max(axis=1) >= low - 1e-3)).all()


def test_plates_are_held_against_the_scan_where_they_belong(blender, scanned):
    envelope, scan = scanned(noise=0.0)
    envelope.tackwright.sealed = True
    with pytest.raises(RuntimeError, match="no plates yet"):
        blender.ops.tackwright.check_clearance(kind="PLATES")
    blender.context.view_layer.objects.active = envelope
    blender.ops.tackwright.make_plates()
    envelope.tackwright_view.view, envelope.tackwright_view.spread = "SPREAD", 1.0
    blender.ops.tackwright.check_clearance(kind="PLATES")
    space = envelope.tackwright_space
    pipe = np.hypot(100 - 45, 500 - 555) - 30.0
    assert pipe - 0.5 <= space.least <= pipe + 5.0            # the metal lies inside: the groove takes the edge away
    assert space.places[0].of in {item.name for item in blender.data.objects}


def test_the_room_follows_the_drawing_in_edit_mode(blender, scanned):
    import bmesh

    from tackwright.addon.space.clearance_work import refresh

    envelope, scan = scanned(noise=0.0)
    space = envelope.tackwright_space
    refresh(blender.context, envelope)
    assert not space.checked                                  # the scan is not read before it is asked for
    blender.ops.tackwright.check_clearance()
    before = space.least
    blender.ops.object.mode_set(mode="EDIT")
    edited = bmesh.from_edit_mesh(envelope.data)
    for vertex in edited.verts:
        vertex.co.x += 0.02 if vertex.co.x < 0.1 else 0.0     # away from the pipe
    bmesh.update_edit_mesh(envelope.data)
    refresh(blender.context, envelope)
    assert space.least == before                              # not asked to follow
    space.follow = True
    refresh(blender.context, envelope)
    assert space.least == pytest.approx(np.hypot(75, 55) - 30.0, abs=0.5)


def test_a_changed_or_deleted_scan_is_noticed(blender, scanned):
    envelope, scan = scanned(noise=0.0)
    blender.ops.tackwright.check_clearance()
    space = envelope.tackwright_space
    first = space.least
    scan.location.x -= 0.01
    blender.context.view_layer.update()
    blender.ops.tackwright.check_clearance()
    assert space.least == pytest.approx(np.hypot(65, 55) - 30.0, abs=0.5) != first
    blender.data.objects.remove(scan)
    assert not blender.ops.tackwright.check_clearance.poll()


def test_a_scan_of_loose_points_is_refused(blender, draw_box):
    envelope = draw_box(*BOX)
    mesh = blender.data.meshes.new("points")
    mesh.from_pydata([(0, 0, 0), (1, 0, 0)], [], [])
    scan = blender.data.objects.new("points", mesh)
    blender.context.scene.collection.objects.link(scan)
    envelope.tackwright_space.scan = scan
    with pytest.raises(RuntimeError, match="no triangles"):
        blender.ops.tackwright.check_clearance()


def test_use_as_scan_and_clear(blender, scanned):
    envelope, scan = scanned()
    assert blender.ops.tackwright.clear_scan() == {"FINISHED"}
    assert envelope.tackwright_space.scan is None
    scan.select_set(True)
    envelope.select_set(True)
    blender.context.view_layer.objects.active = envelope
    assert blender.ops.tackwright.use_scan() == {"FINISHED"}
    assert envelope.tackwright_space.scan == scan


def test_nothing_stays_in_memory_when_another_file_is_opened(blender, scanned):
    from tackwright.addon.space import clearance_work as clearance
    from tackwright.addon.space.sorted_scans import any_scan

    envelope, scan = scanned()
    blender.ops.tackwright.check_clearance()
    assert any_scan() and clearance._found
    blender.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)
    assert not (any_scan() or clearance._found or len(clearance.running))


def test_kinds_hatches_and_outlines():
    pytest.importorskip("bpy", reason="bpy is not installed")
    from tackwright.addon.screen.clearance_overlay import hatch, outlines, patch_kinds

    assert patch_kinds(np.array([-1.0, 0.0, 5.0, 10.0, np.inf]), 10.0).tolist() == [
        "in the way", "in the way", "tight", "room", "room"]
    patch = np.array([[(0, 0, 0), (4, 0, 0), (0, 4, 0.0)]])
    lines = hatch(patch)
    assert lines.shape == (5, 2, 3)
    lengths = np.linalg.norm(lines[:, 0] - lines[:, 1], axis=1)
    assert lengths == pytest.approx(4 * (1 - (np.arange(5) + 0.5) / 5))
    assert np.linalg.norm(np.diff(outlines(patch), axis=1), axis=2).ravel() == pytest.approx([4, 4 * 2**0.5, 4])


def test_what_is_asked_of_a_scan_is_asked_of_its_envelope(blender, scanned, drawn):
    from tackwright.addon.scene.active_envelope import envelope_of

    envelope, scan = scanned()
    blender.context.view_layer.objects.active = scan
    assert envelope_of(blender.context) == envelope
    envelope.tackwright.sealed = True
    blender.ops.tackwright.make_plates()
    assert len([o for o in blender.data.objects if o.tackwright_plate.made_as]) == 6
    envelope.select_set(False)                                # or both would be edited
    pick(blender, scan, np.ones(len(scan.data.vertices)))
    assert drawn("faces") is None                             # a scan's faces are no plates
    assert {"Set Floor", "Set Wall", "Square Up"} <= set(drawn("space"))
    assert not blender.ops.tackwright.make_plates.poll()
    blender.ops.object.mode_set(mode="OBJECT")
    envelope.tackwright_space.scan = None
    assert envelope_of(blender.context) == scan


def test_the_scan_is_not_taken_for_the_envelope(blender, scanned):
    """Selected in the wrong order: the scan last, and so active."""
    envelope, scan = scanned()
    envelope.tackwright_space.scan = None
    envelope.select_set(True)
    scan.select_set(True)
    blender.context.view_layer.objects.active = scan
    with pytest.raises(RuntimeError, match="The scan is active: select it first"):
        blender.ops.tackwright.use_scan()
    blender.context.view_layer.objects.active = envelope
    assert blender.ops.tackwright.use_scan() == {"FINISHED"}


def test_a_scan_of_two_envelopes_stays_the_others_when_one_lets_go(blender, scanned, draw_box):
    from tackwright.addon.scene.active_envelope import envelope_of, is_scan

    envelope, scan = scanned()
    other = draw_box(0.2, 0.2, 0.2, "other")
    other.tackwright_space.scan = scan
    blender.context.view_layer.objects.active = scan
    assert envelope_of(blender.context) == other
    other.tackwright_space.scan = None
    assert is_scan(scan) and envelope_of(blender.context) == envelope
    envelope.tackwright_space.scan = None
    assert not is_scan(scan) and envelope_of(blender.context) == scan


def test_a_tank_that_stands_in_anothers_way_stays_a_tank(blender, scanned, draw_box):
    from tackwright.addon.scene.active_envelope import envelope_of

    envelope, _ = scanned()
    neighbour = draw_box(0.2, 0.2, 0.2, "neighbour")
    blender.ops.tackwright.make_plates()
    envelope.tackwright_space.scan = neighbour
    blender.context.view_layer.objects.active = neighbour
    assert envelope_of(blender.context) == neighbour
    assert blender.ops.tackwright.make_plates() == {"FINISHED"}
    blender.context.view_layer.objects.active = envelope
    assert blender.ops.tackwright.check_clearance() == {"FINISHED"}
