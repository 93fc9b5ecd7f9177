"""Live: plates that follow the drawing. There is no event loop here, so the tests take the timer's steps themselves."""

from __future__ import annotations

import threading
import time

import numpy as np
import pytest
from editing import box_with_shelf, select_faces
from followed import height, plates


def lift(item, by):
    """Move the points of the top, in Edit Mode or without, by so many metres."""
    import bmesh

    if item.mode == "EDIT":
        edited = bmesh.from_edit_mesh(item.data)
        top = max(v.co.z for v in edited.verts)
        for vertex in edited.verts:
            vertex.co.z += by if vertex.co.z > top - 1e-5 else 0.0
        bmesh.update_edit_mesh(item.data)
    else:
        top = max(v.co.z for v in item.data.vertices)
        for vertex in item.data.vertices:
            vertex.co.z += by if vertex.co.z > top - 1e-5 else 0.0
        item.data.update()


def test_turned_on_it_makes_the_plates_and_all_that_is_known_of_them(blender, tank, live):
    from tackwright.addon.kit.asked_kit import last_kit

    assert [p.name for p in plates(blender, tank)] == ["P01-1", "P01-2", "P02-1", "P02-2", "P03-1", "P03-2"]
    assert live.state_of(tank) == (live.FOLLOWING, "")
    assert "6 plates" in tank.tackwright.summary
    assert any(finding.rule == "sealed_cell" or finding.level == "error" for finding in tank.tackwright.findings)
    assert len(last_kit(tank).plates) == 3
    assert {"gather", "draft", "show", "complete", "whole", "work"} == set(live.timings(tank))


def test_every_plate_has_a_mesh_of_its_own_while_it_follows(blender, draw_box, settle):
    item = draw_box(0.3, 0.2, 0.1)
    assert blender.ops.tackwright.make_plates() == {"FINISHED"}
    assert len({p.data for p in plates(blender, item)}) == 3
    item.tackwright.live = True
    settle()
    assert len({p.data for p in plates(blender, item)}) == 6
    assert blender.ops.tackwright.make_plates() == {"FINISHED"}
    assert len({p.data for p in plates(blender, item)}) == 6


def test_all_faces_count_in_edit_mode_and_nothing_is_selected_or_left(blender, tank, settle):
    import bmesh

    select_faces(blender, tank, [2])
    lift(tank, 0.05)
    assert settle() == 1
    assert height(blender, tank) == pytest.approx(150.0, abs=1e-3)
    assert len(plates(blender, tank)) == 6
    assert tank.mode == "EDIT" and blender.context.object == tank
    assert [f.index for f in bmesh.from_edit_mesh(tank.data).faces if f.select] == [2]
    assert not any(p.select_get() for p in plates(blender, tank))


def test_objects_and_meshes_stay_the_same_ones(blender, tank, settle):
    before = {p.name: (p.session_uid, p.data.session_uid) for p in plates(blender, tank)}
    plates(blender, tank)[0].color = (1.0, 0.0, 0.0, 1.0)
    lift(tank, 0.02)
    settle()
    assert {p.name: (p.session_uid, p.data.session_uid) for p in plates(blender, tank)} == before
    assert tuple(plates(blender, tank)[0].color) == (1.0, 0.0, 0.0, 1.0)


def test_marks_are_dealt_out_anew_when_the_sizes_change_places(blender, tank, settle):
    """Marks go by size, the largest first: lifted to 0.4 m the two ends are no longer the smallest."""
    names = {p.tackwright_plate.panel: p.name for p in plates(blender, tank)}
    lift(tank, 0.3)
    settle()
    after = {p.tackwright_plate.panel: p.name for p in plates(blender, tank)}
    assert after.keys() == names.keys() and after != names
    assert sorted(after.values()) == sorted(names.values())


def test_a_refused_drawing_keeps_the_plates_and_says_why(blender, tank, settle, live, drawn):
    before = height(blender, tank)
    tank.data.vertices[6].co.z += 0.02
    tank.data.vertices[5].co.z -= 0.01
    tank.data.update()
    selected = [f.select for f in tank.data.polygons]
    assert settle() == 1
    state, why = live.state_of(tank)
    assert state == live.REFUSED and "warped" in why
    assert height(blender, tank) == pytest.approx(before)
    assert tank.tackwright.findings[0].rule == "refused" and "warped" in tank.tackwright.findings[0].message
    assert [f.select for f in tank.data.polygons] == selected
    tank.tackwright.thickness_mm = 2.0                    # looked at again, and refused again
    settle()
    assert live.state_of(tank) == (state, why)
    tank.tackwright.thickness_mm = 3.0
    settle()
    shown = " ".join(drawn("plates"))
    assert "Paused" in shown and "warped" in shown
    tank.data.vertices[6].co.z -= 0.02
    tank.data.vertices[5].co.z += 0.01
    tank.data.update()
    settle()
    assert live.state_of(tank) == (live.FOLLOWING, "")
    assert not any(f.rule == "refused" for f in tank.tackwright.findings) and "6 plates" in tank.tackwright.summary


def test_an_emptied_mesh_is_refused_and_not_an_error(blender, tank, settle, live):
    import bmesh

    blender.ops.object.mode_set(mode="EDIT")
    edited = bmesh.from_edit_mesh(tank.data)
    bmesh.ops.delete(edited, geom=edited.verts[:], context="VERTS")
    bmesh.update_edit_mesh(tank.data)
    settle()
    assert live.state_of(tank)[0] == live.REFUSED and "no faces" in live.state_of(tank)[1]
    assert settle() == 0
    corners = [(0, 3, 2, 1), (4, 5, 6, 7), (0, 1, 5, 4), (1, 2, 6, 5), (2, 3, 7, 6), (3, 0, 4, 7)]
    round_it = ((0, 0), (0.3, 0), (0.3, 0.2), (0, 0.2))
    points = [edited.verts.new((x, y, z)) for z in (0, 0.1) for x, y in round_it]
    for face in corners:
        edited.faces.new([points[i] for i in face])
    bmesh.update_edit_mesh(tank.data)
    settle()
    assert live.state_of(tank) == (live.FOLLOWING, "") and len(plates(blender, tank)) == 6


def test_settings_are_followed_though_blender_tells_nobody(blender, tank, settle):
    tank.tackwright.thickness_mm = 5.0
    assert settle() == 1
    assert {round(1000 * p.dimensions.z, 3) for p in plates(blender, tank)} == {5.0}
    tank.tackwright.active_finding = 1
    assert settle() == 0
    least = next(p.identifier for p in tank.tackwright.shop.bl_rna.properties if p.type == "FLOAT")
    setattr(tank.tackwright.shop, least, getattr(tank.tackwright.shop, least) + 0.25)
    assert settle() == 1


def test_openings_and_inner_plates_of_other_meshes_are_followed(blender, draw, draw_box, settle, live):
    from tackwright.addon.kit.asked_kit import last_kit

    shelf = draw([(0.15, 0, 0), (0.15, 0.2, 0), (0.15, 0.2, 0.1), (0.15, 0, 0.1)], [(0, 1, 2, 3)], "shelf")
    item = draw_box(0.3, 0.2, 0.1)
    shelf.tackwright_inner.envelope = item
    empty = blender.data.objects.new("fill", None)
    empty.tackwright_opening.enabled, empty.tackwright_opening.envelope = True, item
    empty.location = (0.05, 0.1, 0.1)
    blender.context.scene.collection.objects.link(empty)
    item.tackwright.live = True
    settle()
    assert len(plates(blender, item)) == 7
    where = [o.centre for o in last_kit(item).openings if o.name == "fill"] if last_kit(item).openings else []
    shelf.location.x = 0.05
    empty.location.x = 0.08
    assert settle() == 1
    assert len(plates(blender, item)) == 7
    assert [o.centre for o in last_kit(item).openings if o.name == "fill"] != where
    empty.tackwright_opening.diameter_mm = 30.0 if hasattr(empty.tackwright_opening, "diameter_mm") else None
    blender.data.objects.remove(shelf)
    settle()
    assert len(plates(blender, item)) == 6


def test_a_plate_that_comes_and_goes_leaves_the_others_alone(blender, draw, settle):
    item = box_with_shelf(draw)
    item.tackwright.live = True
    settle()
    assert len(plates(blender, item)) == 7
    import bmesh

    blender.ops.object.mode_set(mode="EDIT")
    edited = bmesh.from_edit_mesh(item.data)
    edited.faces.ensure_lookup_table()
    bmesh.ops.delete(edited, geom=[edited.faces[6]], context="FACES")
    bmesh.update_edit_mesh(item.data)
    settle()
    assert len(plates(blender, item)) == 6
    blender.ops.object.mode_set(mode="OBJECT")
    assert blender.ops.tackwright.make_plates() == {"FINISHED"}
    settle()
    from tackwright.addon.scene.plate_objects import plate_objects
    assert len(plate_objects(item)) == 6


def test_its_own_writing_starts_nothing(blender, tank, settle, live):
    for _ in range(3):
        blender.context.view_layer.update()
        blender.context.evaluated_depsgraph_get().update()
        assert settle() == 0
    plates(blender, tank)[0].location.x += 0.1           # a plate moved by hand is not the drawing
    assert settle() == 0


def test_what_is_too_large_is_left_to_make_plates(blender, draw_box, settle, live, drawn):
    item = draw_box(0.3, 0.2, 0.1)
    item.tackwright.live = True
    live.running.of(item).pace.most = 5
    assert settle() == 0
    assert live.state_of(item)[0] == live.TOO_LARGE
    assert plates(blender, item) == []
    assert "Too large: press Make Plates" in drawn("plates")
    assert blender.ops.tackwright.make_plates() == {"FINISHED"}
    assert len(plates(blender, item)) == 6
    lift(item, 0.05)
    assert settle() == 0 and height(blender, item) == pytest.approx(100.0, abs=1e-3)
    live.running.of(item).pace.most = 100                # as if faces had been taken away
    lift(item, 0.05)
    assert settle() == 1 and height(blender, item) == pytest.approx(200.0, abs=1e-3)


def test_what_took_too_long_is_shown_once_and_then_left(blender, draw_box, settle, live, monkeypatch):
    monkeypatch.setattr("tackwright.addon.kit.live_states.TOO_SLOW", 0.0)
    item = draw_box(0.3, 0.2, 0.1)
    item.tackwright.live = True
    settle()
    assert live.state_of(item)[0] == live.TOO_LARGE and len(plates(blender, item)) == 6
    lift(item, 0.05)
    assert settle() == 0 and height(blender, item) == pytest.approx(100.0, abs=1e-3)


def test_what_would_hold_the_window_too_long_is_left_after_the_second_time(blender, tank, settle, live, monkeypatch):
    monkeypatch.setattr("tackwright.addon.kit.live_states.TOO_LONG", 0.0)
    lift(tank, 0.05)
    assert settle() == 1 and live.state_of(tank)[0] == live.TOO_LARGE
    lift(tank, 0.05)
    assert settle() == 0 and height(blender, tank) == pytest.approx(150.0, abs=1e-3)


def test_make_plates_takes_the_kit_that_is_there(blender, tank, monkeypatch):
    from tackwright.core import make_kit

    monkeypatch.setattr(make_kit, "make_kit", None)
    assert blender.ops.tackwright.make_plates() == {"FINISHED"}
    tank.tackwright.thickness_mm = 2.0
    with pytest.raises(RuntimeError, match="NoneType"):
        blender.ops.tackwright.make_plates()


def test_turned_off_it_follows_no_more(blender, tank, settle, live):
    tank.tackwright.live = False
    lift(tank, 0.05)
    assert settle() == 0 and tank.session_uid not in live.running
    assert height(blender, tank) == pytest.approx(100.0, abs=1e-3)


def begun(item, live):
    """Begin work on a changed drawing and leave it under way."""
    from tackwright.addon.kit import live_states, live_watch

    lift(item, 0.05)
    live.mark(item, time.monotonic() - 1.0, anew=True)
    live_states.AT_ONCE, wait = -1.0, live_states.AT_ONCE
    try:
        live_watch.tick()
    finally:
        live_states.AT_ONCE = wait


def test_the_envelope_may_go_while_work_is_under_way(blender, tank, settle, live):
    begun(tank, live)
    blender.data.objects.remove(tank)
    settle()
    assert len(live.running) == 0


def test_another_file_ends_all_work(blender, tank, live):
    from tackwright.addon.kit.asked_kit import _kits

    begun(tank, live)
    blender.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)
    assert len(live.running) == 0 and _kits == {}


def test_disabled_in_the_middle_it_leaves_nothing(blender, tank, live):
    import tackwright
    from tackwright.addon.kit import live_watch

    begun(tank, live)
    tackwright.unregister()
    try:
        assert not [t for t in threading.enumerate() if t.name == "Tackwright"]
        assert not blender.app.timers.is_registered(live_watch.tick)
        lists = [getattr(blender.app.handlers, name) for name in dir(blender.app.handlers)]
        heard = [handler for one in lists if isinstance(one, list) for handler in one]
        assert not [handler for handler in heard if "live_watch" in getattr(handler, "__module__", "")]
    finally:
        tackwright.register()


def test_undo_brings_the_drawing_back_and_the_plates_follow(blender, draw, settle, live):
    """Blender keeps what two undo steps have alike where it is, pointers and all: nothing that Live made in between may
    be pointed at. The memory is stirred, so that a stale pointer would not go unseen."""

    def stir():
        for _ in range(300):
            blender.data.meshes.new("stirred")
            blender.data.objects.new("stirred", None)
        for items in (blender.data.meshes, blender.data.objects):
            for one in [one for one in items if one.name.startswith("stirred")]:
                items.remove(one)

    item = box_with_shelf(draw)
    blender.ops.ed.undo_push(message="drawn")
    item.tackwright.live = True
    blender.ops.ed.undo_push(message="Live")
    settle()                                             # plates made after the step
    for number in range(4):
        lift(item, 0.05)
        blender.ops.ed.undo_push(message=f"lift {number}")
        settle()
        if number == 1:                                  # a plate goes, another one comes
            item.data.polygons[6].vertices[:]
    assert height(blender, item) == pytest.approx(300.0, abs=1e-3)
    for tall in (250.0, 200.0, 150.0, 100.0):
        blender.ops.ed.undo()
        stir()
        item = blender.data.objects["tank"]
        settle()
        assert height(blender, item) == pytest.approx(tall, abs=1e-3)
        assert len(plates(blender, item)) == 7
        assert all(p.users_collection and p.data is not None for p in plates(blender, item))
    for tall in (150.0, 200.0, 250.0):
        blender.ops.ed.redo()
        stir()
        item = blender.data.objects["tank"]
        settle()
        assert height(blender, item) == pytest.approx(tall, abs=1e-3)
    names = [p.name for p in plates(blender, item)]
    assert len(names) == len(set(names)) == 7 and not any("." in name for name in names)


def lifted(blender, item, settle, times=3):
    """Undo steps, each with the box another 50 mm higher and all made; by height the figures and findings then."""
    blender.ops.ed.undo_push(message="Live")
    told = {}
    for number in range(times):
        lift(item, 0.05)
        blender.ops.ed.undo_push(message=f"lift {number}")
        settle()
        told[100.0 + 50.0 * (number + 1)] = told_of(item)
    return told


def told_of(item):
    settings = item.tackwright
    return settings.summary, settings.figures, [(f.rule, f.message) for f in settings.findings]


def drawn_height(item):
    return 1000 * (max(v.co.z for v in item.data.vertices) - min(v.co.z for v in item.data.vertices))


def in_place(blender, item):
    """Whether every plate lies within the drawing: none stands where an earlier drawing had it."""
    points = np.array([tuple(p.matrix_world @ v.co) for p in plates(blender, item) for v in p.data.vertices])
    drawn = np.array([tuple(v.co) for v in item.data.vertices])
    return bool((points >= drawn.min(axis=0) - 1e-6).all() and (points <= drawn.max(axis=0) + 1e-6).all())


def test_right_after_undo_and_redo_all_is_of_the_drawing(blender, tank, settle, live):
    """Before anything is drawn again: nobody has taken a step of the timer."""
    told = lifted(blender, tank, settle)
    for way, tall in (("undo", 250.0), ("undo", 200.0), ("undo", 150.0), ("redo", 200.0), ("redo", 250.0)):
        if way == "undo" and tall == 250.0:
            continue                                     # that is where it is
        getattr(blender.ops.ed, way)()
        item = blender.data.objects["tank"]
        assert drawn_height(item) == pytest.approx(tall, abs=1e-3)
        assert height(blender, item) == pytest.approx(tall, abs=1e-3) and in_place(blender, item)
        assert len(plates(blender, item)) == 6
        assert told_of(item) == told[tall] and live.state_of(item) == (live.FOLLOWING, "")
        assert settle() == 0


def test_two_undos_at_once_are_one_as_far_as_live_is_concerned(blender, tank, settle, live):
    told = lifted(blender, tank, settle)
    blender.ops.ed.undo()
    blender.ops.ed.undo()
    item = blender.data.objects["tank"]
    assert height(blender, item) == pytest.approx(150.0, abs=1e-3) and told_of(item) == told[150.0]


def test_what_is_not_known_any_more_is_not_shown_until_it_is_made(blender, tank, settle, live, drawn, monkeypatch):
    from tackwright.addon.kit.asked_kit import forget_kits

    told = lifted(blender, tank, settle)
    forget_kits()
    monkeypatch.setattr("tackwright.addon.kit.live_states.AT_ONCE", -1.0)      # as if it took long
    assert "Following" in drawn("plates") and "Catching up" not in drawn("figures")
    blender.ops.ed.undo()
    item = blender.data.objects["tank"]
    assert plates(blender, item) == [] and live.state_of(item) == (live.CATCHING_UP, "")
    assert "Catching up" in drawn("plates")
    assert drawn("figures") == drawn("findings") == ["Catching up"]
    settle()
    assert height(blender, item) == pytest.approx(200.0, abs=1e-3) and in_place(blender, item)
    assert told_of(item) == told[200.0] and live.state_of(item) == (live.FOLLOWING, "")
    assert "Catching up" not in drawn("plates") and "Catching up" not in drawn("figures")


def test_undo_to_a_refused_drawing_shows_no_mixture(blender, tank, settle, live):
    def looks(item):
        return [(p.name, [tuple(p.matrix_world @ v.co) for v in p.data.vertices]) for p in plates(blender, item)]

    lifted(blender, tank, settle, times=1)
    whole = [looks(tank)]
    tank.data.vertices[6].co.z += 0.02
    tank.data.vertices[5].co.z -= 0.01
    tank.data.update()
    blender.ops.ed.undo_push(message="warped")
    settle()
    assert live.state_of(tank)[0] == live.REFUSED and looks(tank) == whole[0]
    tank.data.vertices[6].co.z -= 0.02
    tank.data.vertices[5].co.z += 0.01
    tank.location.x = 1.0
    lift(tank, 0.3)
    blender.ops.ed.undo_push(message="mended, moved and lifted")
    settle()
    whole.append(looks(tank))
    assert len(whole[1]) == 6 and whole[1] != whole[0]
    blender.ops.ed.undo()
    item = blender.data.objects["tank"]
    assert looks(item) in ([], *whole)
    settle()
    assert live.state_of(item)[0] == live.REFUSED and looks(item) in ([], *whole)
    item.data.vertices[6].co.z -= 0.02
    item.data.vertices[5].co.z += 0.01
    item.data.update()
    settle()
    assert live.state_of(item) == (live.FOLLOWING, "") and in_place(blender, item)
    assert len(plates(blender, item)) == 6 and height(blender, item) == pytest.approx(150.0, abs=1e-3)


def test_as_many_kits_are_kept_as_are_said_and_the_last_in_any_case(blender, tank, settle, live, monkeypatch):
    from tackwright.addon.kit import asked_kit

    monkeypatch.setattr(asked_kit, "KEPT", 3)
    for _ in range(4):
        lift(tank, 0.01)
        settle()
    assert len(asked_kit._kits[tank.session_uid]) == 3
    monkeypatch.setattr(asked_kit, "MOST_PLATES", 1)
    lift(tank, 0.01)
    settle()
    (kept,) = asked_kit._kits[tank.session_uid]
    assert kept.kit is asked_kit.last_kit(tank)


def test_an_open_drawing_is_said_in_edit_mode_too(blender, tank, settle):
    import bmesh

    select_faces(blender, tank, [1])
    edited = bmesh.from_edit_mesh(tank.data)
    bmesh.ops.delete(edited, geom=[face for face in edited.faces if face.select], context="FACES_ONLY")
    bmesh.update_edit_mesh(tank.data)
    settle()
    assert "free_edges" in {finding.rule for finding in tank.tackwright.findings}


def test_make_plates_of_what_is_followed_makes_all_of_it(blender, tank, settle):
    select_faces(blender, tank, [1])
    assert blender.ops.tackwright.make_plates() == {"FINISHED"}
    assert len(plates(blender, tank)) == 6
    settle()
    blender.ops.object.mode_set(mode="OBJECT")
    settle()
    assert len(plates(blender, tank)) == 6


def test_a_plate_takes_the_name_of_one_that_is_gone(blender, draw, settle):
    import bmesh

    item = box_with_shelf(draw)
    item.tackwright.live = True
    settle()
    select_faces(blender, item, [6])
    mesh = bmesh.from_edit_mesh(item.data)
    bmesh.ops.delete(mesh, geom=[mesh.faces[6]], context="FACES_ONLY")
    bmesh.update_edit_mesh(item.data)
    settle()
    blender.ops.object.mode_set(mode="OBJECT")
    settle()
    followed = sorted(plate.name for plate in plates(blender, item))
    assert len(followed) == 6 and not any("." in name for name in followed)
    assert blender.ops.tackwright.make_plates() == {"FINISHED"}
    assert sorted(plate.name for plate in plates(blender, item)) == followed
    assert not [one for one in blender.data.objects if one.name.startswith("Gone")]


def test_objects_that_share_a_mesh_both_follow_it(blender, tank, settle):
    import bmesh

    other = blender.data.objects.new("other", tank.data)
    blender.context.scene.collection.objects.link(other)
    other.location.x = 1.0
    other.tackwright.live = True
    settle()
    select_faces(blender, other, [1])
    mesh = bmesh.from_edit_mesh(other.data)
    for vertex in mesh.verts:
        vertex.co.z *= 1.5
    bmesh.update_edit_mesh(other.data)
    settle()
    assert [height(blender, item) for item in (tank, other)] == pytest.approx([150.0, 150.0], abs=1e-3)


def test_a_drawing_whose_room_alone_is_followed_comes_to_rest(blender, tank, live, settle, monkeypatch):
    """Beside one whose plates are followed, and whose settings are looked at ever again."""
    from made_scans import niche

    points, faces = niche(1500)
    mesh = blender.data.meshes.new("scan")
    mesh.from_pydata((points / 1000).tolist(), [], faces.tolist())
    scan = blender.data.objects.new("scan", mesh)
    other = blender.data.objects.new("other", tank.data.copy())
    for item in (scan, other):
        blender.context.scene.collection.objects.link(item)
    other.tackwright_space.scan, other.tackwright_space.follow = scan, True
    settle()
    from tackwright.addon.kit import live_states, live_watch

    looks = []
    look = live_states.look
    monkeypatch.setattr(live_states, "look", lambda place: looks.append(place.envelope) or look(place))

    for _ in range(5):
        live_watch.tick()
        time.sleep(0.02)
    assert looks == []


def test_an_undo_of_something_else_leaves_what_is_told_of_the_drawing(blender, tank, settle):
    """The file's findings go back with the undo, to what they were before they followed."""
    blender.ops.ed.undo_push(message="live")
    lift(tank, 0.1)
    blender.ops.ed.undo_push(message="raised")                 # before the kit is complete, as a hand does
    settle()
    raised = tank.tackwright.summary
    blender.ops.object.select_all(action="DESELECT")
    blender.ops.ed.undo_push(message="deselected")
    settle()
    blender.ops.ed.undo()
    settle()
    item = blender.data.objects["tank"]
    assert height(blender, item) == pytest.approx(200.0, abs=1e-3) and item.tackwright.summary == raised


@pytest.mark.parametrize("active", ["tank", "P02-1"])
def test_nothing_follows_while_a_plate_is_edited_too_and_all_does_after(blender, tank, live, settle, active):
    import bmesh

    for name in ("tank", "P02-1"):
        blender.data.objects[name].select_set(True)
    blender.context.view_layer.objects.active = blender.data.objects[active]
    blender.ops.object.mode_set(mode="EDIT")
    from tackwright.addon.kit import live_watch

    live_watch.tick()
    mesh = bmesh.from_edit_mesh(tank.data)
    for vertex in mesh.verts:
        vertex.co.z *= 1.5
    bmesh.update_edit_mesh(tank.data)
    for _ in range(5):
        live_watch.tick()
        time.sleep(0.02)
    assert live.state_of(tank)[0] == live.REFUSED and "A plate is in Edit Mode" in live.state_of(tank)[1]
    with pytest.raises(RuntimeError, match="A plate is in Edit Mode, and would be made anew"):
        blender.ops.tackwright.make_plates()
    blender.ops.object.mode_set(mode="OBJECT")
    settle()
    assert live.state_of(tank)[0] == live.FOLLOWING
    assert height(blender, tank) == pytest.approx(150.0, abs=1e-3)
    assert sorted(plate.name for plate in plates(blender, tank)) == [
        plate.id for one in last_kit(tank).plates for plate in one.placements]


def last_kit(item):
    from tackwright.addon.kit.asked_kit import last_kit as last

    return last(item)
