"""Openings: empties that belong to an envelope, what the core is told of them, and the button that adds them."""

from __future__ import annotations

import math

import numpy as np
import pytest
from editing import select_faces
from hypothesis import given
from hypothesis import strategies as st


@pytest.fixture
def gathered(blender):
    """gathered(item): the marked openings of an envelope, by name."""
    from tackwright.addon.gather.gather import read_drawing

    return lambda item: {o.name: o for o in read_drawing(blender.context, item).choices.openings}


@pytest.fixture
def add(blender):
    """add(item, at): an opening at a place in the scene, in Object Mode; its empty."""

    def added(item, at, **chosen):
        blender.context.view_layer.objects.active = item
        blender.context.scene.cursor.location = at
        assert blender.ops.tackwright.add_opening(**chosen) == {"FINISHED"}
        blender.context.view_layer.update()
        return blender.context.object

    return added


def axes(item):
    return np.array(item.matrix_world.to_3x3()).T


# ---- adding


def test_in_object_mode_an_opening_is_added_at_the_cursor_looking_as_the_nearest_face(blender, draw_box, add):
    tank = draw_box(0.3, 0.2, 0.1)
    empty = add(tank, (0.1, 0.05, 0.102))
    assert (empty.type, empty.name, empty.parent, empty.tackwright_opening.envelope) == ("EMPTY", "Port", tank, tank)
    assert empty.matrix_world.translation[:] == pytest.approx((0.1, 0.05, 0.102))
    assert axes(empty) == pytest.approx(np.eye(3), abs=1e-6)  # the top looks up
    assert [o.name for o in blender.context.selected_objects] == ["Port"]
    front = add(tank, (0.1, -0.01, 0.05), purpose="DRAIN")
    assert front.name == "Drain"
    assert axes(front) == pytest.approx(np.array([(1, 0, 0), (0, 0, 1), (0, -1, 0)]), abs=1e-6)


@pytest.mark.parametrize("scale", [(1, 1, 1), (-1, 1, 1), (2, 1, 3), (-2, -1, -1)])
def test_in_edit_mode_an_opening_is_added_in_the_middle_of_the_face(blender, draw_box, scale):
    tank = draw_box(0.3, 0.2, 0.1)
    tank.location, tank.rotation_euler, tank.scale = (5, 0, 0), (0, 0, math.pi / 2), scale
    blender.context.view_layer.update()
    select_faces(blender, tank, [3])  # x = 0.3
    assert blender.ops.tackwright.add_opening() == {"FINISHED"}
    assert blender.context.object == tank
    assert tank.mode == "EDIT"
    blender.context.view_layer.update()
    empty = blender.data.objects["Port"]
    assert empty.matrix_world.translation[:] == pytest.approx(
        (5 - 0.1 * scale[1], 0.3 * scale[0], 0.05 * scale[2]), abs=1e-6
    )
    outward = (0, math.copysign(1, scale[0]), 0)
    assert axes(empty)[2] == pytest.approx(outward, abs=1e-6)
    assert axes(empty)[0][2] == pytest.approx(0, abs=1e-6)  # level
    assert np.linalg.det(axes(empty)) == pytest.approx(1)


def test_the_active_face_goes_before_other_selected_ones(blender, draw_box):
    import bmesh

    tank = draw_box(1, 1, 1)
    select_faces(blender, tank, [0, 1, 2])
    edited = bmesh.from_edit_mesh(tank.data)
    edited.faces.ensure_lookup_table()
    edited.faces.active = edited.faces[1]
    blender.ops.tackwright.add_opening()
    blender.context.view_layer.update()
    assert blender.data.objects["Port"].matrix_world.translation.z == pytest.approx(1)


@pytest.mark.parametrize("scale", [1.0, 0.001, 0.0254])
def test_the_size_on_the_button_is_a_length_of_the_scene(blender, draw_box, add, gathered, scale):
    blender.context.scene.unit_settings.scale_length = scale
    tank = draw_box(0.3 / scale, 0.2 / scale, 0.1 / scale)
    add(tank, (0.1 / scale, 0.1 / scale, 0.1 / scale), size_x=0.04 / scale)
    opening = gathered(tank)["Port"]
    assert opening.size == (40.0,)
    assert opening.at == pytest.approx((100, 100, 100), abs=1e-3)
    assert blender.data.objects["Port"].tackwright_opening.size_x == pytest.approx(0.04 / scale)


def test_an_opening_moves_with_its_envelope(blender, draw_box, add, gathered):
    tank = draw_box(0.3, 0.2, 0.1)
    tank.scale = (1, 1, -1)
    blender.context.view_layer.update()
    add(tank, (0.1, 0.1, 0))
    tank.location, tank.rotation_euler = (1, 0, 0), (0, 0, math.pi / 2)
    assert gathered(tank)["Port"].at == pytest.approx((900, 100, 0), abs=1e-3)


def test_an_opening_goes_where_its_envelope_is_and_names_are_told_apart(blender, draw_box, add, gathered):
    home = blender.data.collections.new("home")
    blender.context.scene.collection.children.link(home)
    tank = draw_box(0.3, 0.2, 0.1)
    home.objects.link(tank)
    blender.context.scene.collection.objects.unlink(tank)
    first, second = (add(tank, (x, 0.1, 0.1), purpose="VENT") for x in (0.1, 0.2))
    assert set(home.objects) == {tank, first, second}
    assert list(gathered(tank)) == ["Vent", "Vent.001"]


@pytest.mark.parametrize("mode", ["OBJECT", "EDIT"])
def test_undo_takes_an_opening_away(blender, draw_box, mode):
    tank = draw_box(0.3, 0.2, 0.1)
    blender.ops.ed.undo_push(message="drawn")
    if mode == "EDIT":
        select_faces(blender, tank, [1])
        blender.ops.ed.undo_push(message="selected")
    blender.ops.tackwright.add_opening("EXEC_DEFAULT", True)
    assert len(blender.data.objects) == 2
    blender.ops.ed.undo()
    assert [o.name for o in blender.data.objects] == ["tank"]


def test_adding_says_what_it_needs(blender, draw_box):
    with pytest.raises(RuntimeError, match="Select a mesh object"):
        blender.ops.tackwright.add_opening()
    tank = draw_box(0.3, 0.2, 0.1)
    select_faces(blender, tank, [])
    with pytest.raises(RuntimeError, match="Select the face"):
        blender.ops.tackwright.add_opening()
    blender.ops.object.mode_set(mode="SCULPT")
    with pytest.raises(RuntimeError, match="Object Mode or Edit Mode"):
        blender.ops.tackwright.add_opening()


def test_with_an_opening_active_another_is_added_to_the_same_envelope(blender, draw_box, add):
    tank = draw_box(0.3, 0.2, 0.1)
    empty = add(tank, (0.1, 0.1, 0.1))
    assert add(empty, (0.2, 0.1, 0.1)).tackwright_opening.envelope == tank


# ---- what the core is told


def test_an_untouched_opening_is_round_and_square_to_the_nearest_plate(draw_box, add, gathered):
    from tackwright.core.terms.choices import MarkedOpening

    tank = draw_box(0.3, 0.2, 0.1)
    add(tank, (0.1, 0.1, 0.1))
    opening = gathered(tank)["Port"]
    assert opening == MarkedOpening(name="Port", at=opening.at, size=(50.0,))
    assert opening.at == pytest.approx((100, 100, 100), abs=1e-3)


def test_slots_and_rectangles_lie_along_the_empties_own_x(draw_box, add, gathered):
    tank = draw_box(0.3, 0.2, 0.1)
    empty = add(tank, (0.1, 0.1, 0.1))
    empty.rotation_euler.z = math.radians(30)
    marked = empty.tackwright_opening
    marked.shape, marked.size_x_mm, marked.size_y_mm = "SLOT", 60.0, 12.0
    opening = gathered(tank)["Port"]
    assert (opening.shape, opening.size, opening.radius) == ("slot", (60.0, 12.0), 0.0)
    assert opening.across == pytest.approx((math.sqrt(0.75), 0.5, 0), abs=1e-6)
    marked.shape, marked.radius_mm = "RECTANGLE", 4.0
    opening = gathered(tank)["Port"]
    assert (opening.shape, opening.size, opening.radius) == ("rectangle", (60.0, 12.0), 4.0)


def test_the_axis_is_told_when_asked_for(draw_box, add, gathered):
    tank = draw_box(0.3, 0.2, 0.1)
    empty = add(tank, (0.1, 0.1, 0.1))
    empty.rotation_euler.x = math.radians(30)
    marked = empty.tackwright_opening
    marked.along_axis = True
    opening = gathered(tank)["Port"]
    assert opening.axis == pytest.approx((0, -0.5, math.sqrt(0.75)), abs=1e-6)
    assert not opening.all_along
    marked.along_axis, marked.all_along = False, True
    opening = gathered(tank)["Port"]
    assert (opening.all_along, opening.axis is not None) == (True, True)


def test_a_fitting_gives_the_size(draw_box, add, gathered):
    tank = draw_box(0.3, 0.2, 0.1)
    marked = add(tank, (0.1, 0.1, 0.1)).tackwright_opening
    marked.shape, marked.fitting, marked.purpose = "RECTANGLE", " G 1/2 ", "DRAIN"
    opening = gathered(tank)["Port"]
    assert (opening.shape, opening.size, opening.radius, opening.across) == ("round", None, 0.0, None)
    assert (opening.fitting, opening.purpose) == ("G 1/2", "drain")


def test_bolts_go_round_an_opening_from_the_empties_own_x(draw_box, add, gathered):
    from tackwright.core.terms.choices import Bolts

    tank = draw_box(0.3, 0.2, 0.1)
    marked = add(tank, (0.1, 0.1, 0.1)).tackwright_opening
    marked.bolts, marked.bolt_count, marked.bolt_circle_mm, marked.bolt_hole_mm = True, 8, 70.0, 6.6
    marked.bolt_turn = math.radians(22.5)
    opening = gathered(tank)["Port"]
    assert opening.bolts == Bolts(count=8, circle=70.0, hole=6.6, turn=22.5)
    assert opening.across == pytest.approx((1, 0, 0), abs=1e-6)


def test_own_fittings_are_read_from_the_file(blender, draw_box, tmp_path):
    from tackwright.addon.gather.gather import read_drawing
    from tackwright.core.terms.errors import InputError

    (tmp_path / "own.csv").write_text("name,hole\nmy bung,31mm\n", encoding="utf-8")
    tank = draw_box(0.3, 0.2, 0.1)
    blender.ops.wm.save_as_mainfile(filepath=str(tmp_path / "tank.blend"))
    tank.tackwright.fittings_file = "//own.csv"
    assert dict(read_drawing(blender.context, tank).choices.fittings) == {"my bung": 31.0}
    tank.tackwright.fittings_file = "//gone.csv"
    with pytest.raises(InputError, match=r"gone\.csv cannot be opened"):
        read_drawing(blender.context, tank)


def test_fittings_are_offered_while_typing_with_the_users_own(blender, draw_box, add, tmp_path):
    from tackwright.addon.scene.opening_objects import _known_fittings

    (tmp_path / "own.csv").write_text("name,hole\nnpt-like,31mm\n", encoding="utf-8")
    tank = draw_box(0.3, 0.2, 0.1)
    marked = add(tank, (0.1, 0.1, 0.1)).tackwright_opening
    tank.tackwright.fittings_file = str(tmp_path / "own.csv")
    offered = _known_fittings(marked, blender.context, "npt")
    assert "NPT 1/2" in offered
    assert offered[-1] == "npt-like"
    assert all("npt" in name.lower() for name in offered)
    tank.tackwright.fittings_file = str(tmp_path / "gone.csv")
    assert "NPT 1/2" in _known_fittings(marked, blender.context, "npt")


def test_switched_off_disabled_and_foreign_openings_do_not_count(blender, draw_box, add, gathered):
    tank, other = draw_box(0.3, 0.2, 0.1), draw_box(0.3, 0.2, 0.1, "other")
    for name in ("off", "disabled", "hidden"):
        add(tank, (0.1, 0.1, 0.1)).name = name
    add(other, (0.1, 0.1, 0.1)).name = "foreign"
    blender.data.objects["off"].tackwright_opening.enabled = False
    blender.data.objects["disabled"].hide_viewport = True
    blender.data.objects["hidden"].hide_set(True)
    assert list(gathered(tank)) == ["hidden"]


def test_in_edit_mode_openings_on_faces_that_are_not_selected_are_left_for_later(blender, draw_box, add, gathered):
    tank = draw_box(0.3, 0.2, 0.1)
    add(tank, (0.1, 0.1, 0.1)).name = "top"
    add(tank, (0.1, 0, 0.05)).name = "front"
    through = add(tank, (0.2, 0.1, 0.1))
    through.name, through.tackwright_opening.all_along = "through", True
    select_faces(blender, tank, [0, 2])
    assert list(gathered(tank)) == ["front", "through"]


def test_openings_are_kept_by_the_file_and_follow_a_copy(blender, draw_box, add, gathered, tmp_path):
    tank = draw_box(0.3, 0.2, 0.1)
    marked = add(tank, (0.1, 0.1, 0.1)).tackwright_opening
    marked.size_x_mm, marked.fitting = 33.0, ""
    before = gathered(tank)
    path = str(tmp_path / "tank.blend")
    blender.ops.wm.save_as_mainfile(filepath=path)
    blender.ops.wm.open_mainfile(filepath=path)
    tank = blender.data.objects["tank"]
    assert gathered(tank) == before
    for item in blender.data.objects:
        item.select_set(True)
    blender.ops.object.duplicate()
    copy = blender.data.objects["tank.001"]
    assert list(gathered(copy)) == ["Port.001"]
    assert list(gathered(tank)) == ["Port"]


def test_an_opening_without_its_envelope_says_so(blender, draw_box, add):
    tank = draw_box(0.3, 0.2, 0.1)
    empty = add(tank, (0.1, 0.1, 0.1))
    blender.context.scene.collection.objects.unlink(tank)
    blender.context.view_layer.objects.active = empty
    with pytest.raises(RuntimeError, match="belongs to no envelope"):
        blender.ops.tackwright.make_plates()


# ---- what is drawn in the view


def area(segments):
    """mm2 within closed loops of segments, counter-clockwise."""
    a, b = segments[:, 0], segments[:, 1]
    return float(np.sum(a[:, 0] * b[:, 1] - b[:, 0] * a[:, 1])) / 2


@pytest.mark.parametrize(
    ("shape", "size", "true", "extent"),
    [
        ("ROUND", (40, 7), math.pi * 20**2, (40, 40)),
        ("SLOT", (60, 20), 40 * 20 + math.pi * 10**2, (60, 20)),
        ("RECTANGLE", (60, 20), 60 * 20 - (4 - math.pi) * 5**2, (60, 20)),
    ],
)
def test_the_outline_in_the_view_is_as_large_as_the_hole(draw_box, add, shape, size, true, extent):
    from tackwright.addon.screen.opening_overlay import outline_of

    marked = add(draw_box(0.3, 0.2, 0.1), (0.1, 0.1, 0.1)).tackwright_opening
    marked.shape, marked.radius_mm = shape, 5.0
    marked.size_x_mm, marked.size_y_mm = size
    segments = outline_of(marked)
    assert np.ptp(segments.reshape(-1, 2), axis=0) == pytest.approx(extent, rel=0.01)
    assert area(segments) == pytest.approx(true, rel=0.01)
    marked.bolts, marked.bolt_count, marked.bolt_circle_mm, marked.bolt_hole_mm = True, 6, 90.0, 8.0
    assert area(outline_of(marked)) == pytest.approx(true + 6 * math.pi * 4**2, rel=0.01)
    assert np.ptp(outline_of(marked)[:, 0, 0]) == pytest.approx(98, rel=0.01)


def test_the_outline_of_a_fitting_is_its_hole_where_that_is_known(draw_box, add):
    from tackwright.addon.screen.opening_overlay import outline_of
    from tackwright.core.stock.fittings import find_fitting

    marked = add(draw_box(0.3, 0.2, 0.1), (0.1, 0.1, 0.1)).tackwright_opening
    marked.fitting = "G 1/2"
    hole = find_fitting("G 1/2", {}).hole
    assert np.ptp(outline_of(marked)[:, 0, 0]) == pytest.approx(hole, rel=0.01)
    marked.fitting = "no such thing"
    assert len(outline_of(marked)) == 0


# ---- the whole way


def test_an_opening_is_a_hole_in_the_plate_at_once(blender, draw_box, add):
    tank = draw_box(0.3, 0.2, 0.1)
    empty = add(tank, (0.1, 0.1, 0.1))
    empty.tackwright_opening.size_x_mm = 40.0
    assert blender.ops.tackwright.make_plates() == {"FINISHED"}  # with the opening active
    blender.context.view_layer.update()
    rims = []
    for plate in (o for o in blender.data.objects if o.tackwright_plate.made_as):
        points = np.array([tuple(plate.matrix_world @ v.co) for v in plate.data.vertices])
        away = np.hypot(points[:, 0] - 0.1, points[:, 1] - 0.1)
        if np.isclose(points[:, 2].max(), 0.1, atol=1e-6):
            rims.append(int(np.isclose(away, 0.02, atol=1e-5).sum()))
    assert max(rims) > 20
    assert not [f.message for f in tank.tackwright.findings if f.level == "error"]
    assert "1 opening" in tank.tackwright.summary


def test_an_opening_far_from_every_plate_is_an_error(blender, draw_box, add):
    tank = draw_box(0.3, 0.2, 0.1)
    add(tank, (2, 2, 2))
    blender.ops.tackwright.make_plates()
    assert "opening_off_plate" in [f.rule for f in tank.tackwright.findings if f.level == "error"]


def test_a_finding_about_an_opening_selects_its_empty(blender, draw_box, add):
    tank = draw_box(0.3, 0.2, 0.1)
    good = add(tank, (0.1, 0.05, 0.1))
    lost = add(tank, (0.15, 0.1, 0.05))
    blender.context.view_layer.objects.active = tank
    assert blender.ops.tackwright.make_plates() == {"FINISHED"}
    kept = tank.tackwright.findings[0]
    assert (kept.rule, kept.level, kept.openings) == ("opening_off_plate", "error", lost.name)
    blender.ops.object.select_all(action="DESELECT")
    assert blender.ops.tackwright.select_finding() == {"FINISHED"}
    assert [o.name for o in blender.context.selected_objects] == [lost.name]
    assert blender.context.object == lost and not good.select_get()
    blender.data.objects.remove(lost)
    blender.context.view_layer.objects.active = tank
    with pytest.raises(RuntimeError, match="no place"):
        blender.ops.tackwright.select_finding()


def test_an_opening_that_is_on_no_plate_is_told(blender, draw_box, capfd):
    item = draw_box(0.3, 0.2, 0.1)
    blender.context.scene.cursor.location = (0.15, 0.1, 0.16)
    blender.ops.tackwright.add_opening()
    assert "Port is not on a plate yet: the nearest face is 60 mm away" in capfd.readouterr().out
    blender.context.view_layer.objects.active = item
    blender.context.scene.cursor.location = (0.15, 0.1, 0.102)
    blender.ops.tackwright.add_opening()
    assert "not on a plate" not in capfd.readouterr().out
    blender.context.view_layer.objects.active = item
    item.hide_viewport = True                                  # nobody evaluates it then
    blender.context.view_layer.update()
    assert blender.ops.tackwright.add_opening() == {"FINISHED"}


# ---- picking


@given(st.integers(0, 10**6), st.booleans())
def test_a_click_meets_what_shapely_says_it_meets(add_on, seed, bolts):
    from shapely import LineString, MultiLineString, Point, Polygon

    from tackwright.addon.screen.pick_opening import meets

    random = np.random.default_rng(seed)
    turn = np.arange(24) / 24 * 2 * np.pi
    ring = np.column_stack([np.cos(turn), np.sin(turn)])
    slant = random.normal(0.0, 60.0, (2, 2))                 # a ring as it is seen from anywhere
    loops = [ring @ slant + 200.0]
    if bolts:
        loops += [(0.1 * ring + 1.4 * way) @ slant + 200.0 for way in ring[::6]]
    lines = np.concatenate([np.stack([loop, np.roll(loop, -1, axis=0)], axis=1) for loop in loops])
    area = Polygon(loops[0]).buffer(0)
    for loop in loops[1:]:
        area = area.symmetric_difference(Polygon(loop).buffer(0))
    drawn = MultiLineString([LineString(ends) for ends in lines.tolist()])
    for at in random.uniform(50.0, 350.0, (20, 2)):
        place = Point(at)
        hit, inside = meets(lines, tuple(at), 9.0)
        assert hit == (drawn.distance(place) <= 9.0)
        assert inside == area.contains(place)


def test_what_reaches_behind_the_viewer_is_not_met(blender):
    from mathutils import Matrix

    from tackwright.addon.screen.pick_opening import pixels_of

    view = np.array(Matrix(((1, 0, 0, 0), (0, 1, 0, 0), (0, 0, 1, 0), (0, 0, -1, 0))))    # along -z, a right angle wide
    lines = np.array([[(0, 0, -2), (1, 1, -2)], [(0, 0, -2), (0, 0, 2)]], dtype=float)
    assert pixels_of(lines, view, (400, 200)) == pytest.approx(np.array([[(200, 100), (300, 150)]]))


def test_clicking_on_goes_through_openings_that_lie_over_each_other_and_then_behind(blender, draw_box, add):
    from tackwright.addon.screen.pick_opening import next_one

    tank = draw_box(0.3, 0.2, 0.1)
    one, other = add(tank, (0.1, 0.1, 0.1)), add(tank, (0.1, 0.11, 0.1))
    assert next_one([one, other], tank) == one
    assert next_one([one, other], other) is None            # it is the last, selected and active
    other.select_set(False)
    assert next_one([one, other], other) == one
    one.select_set(True)
    assert next_one([one, other], one) == other
    assert next_one([], one) is None


def test_an_opening_is_selected_alone_or_beside_others_and_from_edit_mode(blender, draw_box, add):
    tank = draw_box(0.3, 0.2, 0.1)
    one, other = add(tank, (0.1, 0.1, 0.1)), add(tank, (0.2, 0.1, 0.1))
    select = blender.ops.tackwright.select_opening

    def selected():
        return {o.name for o in blender.context.selected_objects}, blender.context.object.name

    assert select(name=one.name) == {"FINISHED"} and selected() == ({one.name}, one.name)
    assert select(name=other.name, extend=True) == {"FINISHED"} and selected() == ({one.name, other.name}, other.name)
    assert select(name=other.name, extend=True) == {"FINISHED"} and selected()[0] == {one.name}
    blender.context.view_layer.objects.active = tank
    blender.ops.object.mode_set(mode="EDIT")
    other.hide_set(True)
    assert select(name=other.name) == {"FINISHED"} and selected() == ({other.name}, other.name)
    assert blender.context.mode == "OBJECT" and not other.hide_get()
    assert select(name="nothing") == {"CANCELLED"}
    for item in (one, other):
        blender.data.objects.remove(item)
    with pytest.raises(RuntimeError, match="There is no opening: add one"):
        select()
