"""Plates in place, spread, flat and away: their places, the envelope's looks, and what survives."""

from __future__ import annotations

import numpy as np
import pytest
from spread import moved_along

from tackwright.core.kit.laid_flat import lay_flat
from tackwright.core.kit.ways_out import ways_out
from tackwright.core.make_kit import make_kit


@pytest.fixture
def make(blender):
    """make(item): press Make Plates with the item active; its plates by name."""

    def made(item):
        blender.context.view_layer.objects.active = item
        assert blender.ops.tackwright.make_plates() == {"FINISHED"}
        return plates_of(blender, item)

    return made


@pytest.fixture
def kit_of(blender):
    """kit_of(item): the kit as the core makes it."""
    from tackwright.addon.gather.gather import read_drawing

    def made(item):
        drawing = read_drawing(blender.context, item)
        return make_kit(drawing.mesh, drawing.choices)

    return made


def plates_of(blender, item):
    blender.context.view_layer.update()
    collection = next(c for c in blender.data.collections if c.tackwright_plates.envelope == item)
    return {plate.name: plate for plate in collection.objects}


def matrices(blender, items):
    blender.context.view_layer.update()
    return {name: np.array(item.matrix_world) for name, item in items.items()}


def in_metres(matrix):
    out = np.array(matrix)
    out[:3, 3] /= 1000.0
    return out


def homes(kit):
    return {placed.id: in_metres(placed.matrix) for plate in kit.plates for placed in plate.placements}


def assert_same(found, wanted, off=1e-6):
    assert found.keys() == wanted.keys()
    for name, matrix in wanted.items():
        assert found[name] == pytest.approx(matrix, abs=off), name


def test_each_view_has_the_plates_where_the_core_says(blender, draw_box, make, kit_of):
    item = draw_box(0.3, 0.2, 0.1)
    plates, kit = make(item), kit_of(item)
    home, ways, flat = homes(kit), ways_out(kit), lay_flat(kit.plates)
    assert_same(matrices(blender, plates), home)

    item.tackwright_view.view = "SPREAD"
    for spread in (0.1, 0.6, 1.0, 2.0):
        item.tackwright_view.spread = spread
        wanted = {name: np.array(matrix) for name, matrix in home.items()}
        for name, matrix in wanted.items():
            matrix[:3, 3] += moved_along(ways[name], spread) / 1000.0
        assert_same(matrices(blender, plates), wanted)

    item.tackwright_view.view = "FLAT"
    wanted = {name: np.eye(4) for name in home}
    for name, matrix in wanted.items():
        matrix[:3, 3] = flat[name] / 1000.0
    assert_same(matrices(blender, plates), wanted)

    for view in ("BARE", "SOLID"):
        item.tackwright_view.view = view
        assert_same(matrices(blender, plates), home)


@pytest.mark.parametrize("scale", [0.001, 0.0254])
def test_places_are_in_the_scenes_units_also_after_they_change(blender, draw_box, make, kit_of, scale):
    blender.context.scene.unit_settings.scale_length = scale
    item = draw_box(0.3 / scale, 0.2 / scale, 0.1 / scale)
    plates, flat = make(item), lay_flat(kit_of(item).plates)
    item.tackwright_view.view = "FLAT"
    for mm in (1000 * scale, 500 * scale):
        blender.context.scene.unit_settings.scale_length = mm / 1000
        item.tackwright_view.spread = item.tackwright_view.spread  # a view is brought about by any change
        for name, matrix in matrices(blender, plates).items():
            assert matrix[:3, 3] * mm == pytest.approx(flat[name], rel=1e-5, abs=1e-3)


@pytest.mark.parametrize("view", ["SPREAD", "FLAT", "BARE"])
def test_where_a_plate_stands_in_the_assembly_is_known_in_every_view(blender, draw_box, make, kit_of, view):
    from tackwright.addon.scene.views import home_matrix

    item = draw_box(0.3, 0.2, 0.1)
    plates, home = make(item), homes(kit_of(item))
    item.tackwright_view.view = view
    assert_same({name: np.array(home_matrix(plate)) for name, plate in plates.items()}, home)
    blender.context.view_layer.update()
    assert np.array(home_matrix(item)) == pytest.approx(np.array(item.matrix_world))


@pytest.mark.parametrize("view", ["SOLID", "SPREAD", "FLAT", "BARE"])
def test_making_again_keeps_the_view(blender, draw_box, make, kit_of, view):
    item = draw_box(0.3, 0.2, 0.1)
    before = matrices(blender, make(item))
    item.tackwright_view.view = view
    item.data.vertices.foreach_set("co", np.array([v.co * 2 for v in item.data.vertices], np.float32).ravel())
    plates, kit = make(item), kit_of(item)
    assert item.tackwright_view.view == view
    item.tackwright_view.view = "SOLID"
    assert_same(matrices(blender, plates), homes(kit))
    assert any(not np.allclose(before[name], matrix) for name, matrix in homes(kit).items())
    item.tackwright_view.view = view
    found = matrices(blender, plates)
    make(item)
    assert_same(matrices(blender, plates), found)


def test_bare_hides_the_plates_and_gives_the_envelope_its_faces(blender, draw_box, make):
    item = draw_box(0.3, 0.2, 0.1)
    plates = make(item)
    assert item.display_type == "WIRE"
    item.tackwright_view.view = "BARE"
    assert item.display_type == "TEXTURED"
    assert item.visible_get()
    assert not any(plate.visible_get() for plate in plates.values())
    assert all(plate.name in plates for plate in make(item).values())
    assert not any(plate.visible_get() for plate in plates.values())
    item.tackwright_view.view = "SOLID"
    assert item.display_type == "WIRE"
    assert all(plate.visible_get() for plate in plates.values())


@pytest.mark.parametrize("own", ["TEXTURED", "SOLID", "WIRE", "BOUNDS"])
def test_the_users_own_way_to_draw_the_envelope_comes_back(draw_box, make, own):
    item = draw_box(0.3, 0.2, 0.1)
    item.display_type = own
    make(item)
    assert item.display_type == ("BOUNDS" if own == "BOUNDS" else "WIRE")
    for view in ("SPREAD", "FLAT", "SOLID", "BARE", "SPREAD", "BARE"):
        item.tackwright_view.view = view
    assert item.display_type == own


def test_what_the_user_sets_meanwhile_stays(draw_box, make):
    item = draw_box(0.3, 0.2, 0.1)
    make(item)
    item.display_type = "BOUNDS"
    make(item)
    item.tackwright_view.view = "SPREAD"
    item.tackwright_view.view = "BARE"
    assert item.display_type == "BOUNDS"


def test_beside_flat_plates_the_envelope_has_its_faces(draw_box, make):
    item = draw_box(0.3, 0.2, 0.1)
    make(item)
    item.tackwright_view.view = "FLAT"
    assert item.display_type == "TEXTURED"
    item.tackwright_view.view = "SOLID"
    assert item.display_type == "WIRE"


def test_what_the_user_hid_stays_hidden_and_what_he_shows_is_shown(blender, draw_box, make):
    item = draw_box(0.3, 0.2, 0.1)
    plates = make(item)
    layer = next(c for c in blender.context.view_layer.layer_collection.children if c.name == "tank Plates")
    plates["P01-1"].hide_set(True)
    for view in ("BARE", "SPREAD", "SOLID"):
        item.tackwright_view.view = view
    assert plates["P01-1"].hide_get()
    assert not plates["P01-2"].hide_get()
    item.tackwright_view.view = "BARE"
    layer.hide_viewport = False
    make(item)
    assert plates["P01-2"].visible_get(), "the user has them both in view"
    item.tackwright_view.view = "SOLID"
    layer.hide_viewport = True
    make(item)
    item.tackwright_view.view = "SPREAD"
    assert layer.hide_viewport


def test_views_work_on_a_reopened_file_without_solving(blender, draw_box, make, kit_of, tmp_path, monkeypatch):
    from tackwright.core import make_kit as road

    item = draw_box(0.3, 0.2, 0.1)
    make(item)
    home, flat = homes(kit_of(item)), lay_flat(kit_of(item).plates)
    item.tackwright_view.view = "BARE"
    path = str(tmp_path / "tank.blend")
    blender.ops.wm.save_as_mainfile(filepath=path)
    blender.ops.wm.open_mainfile(filepath=path)
    monkeypatch.setattr(road, "make_kit", lambda *a, **k: pytest.fail("solved"))
    item = blender.data.objects["tank"]
    plates = plates_of(blender, item)
    assert item.tackwright_view.view == "BARE"
    assert not any(plate.visible_get() for plate in plates.values())
    item.tackwright_view.view = "FLAT"
    assert all(plate.visible_get() for plate in plates.values())
    for name, matrix in matrices(blender, plates).items():
        assert matrix[:3, 3] == pytest.approx(flat[name] / 1000, abs=1e-6)
    item.tackwright_view.view = "SOLID"
    assert_same(matrices(blender, plates), home)


def test_a_view_is_one_step_of_undo(blender, draw_box, make):
    item = draw_box(0.3, 0.2, 0.1)
    before = matrices(blender, make(item))
    blender.ops.ed.undo_push(message="made")
    item.tackwright_view.view = "FLAT"
    blender.ops.ed.undo_push(message="flat")
    item = blender.data.objects["tank"]
    item.tackwright_view.view = "BARE"
    blender.ops.ed.undo_push(message="bare")
    blender.ops.ed.undo()
    blender.ops.ed.undo()
    item = blender.data.objects["tank"]
    plates = plates_of(blender, item)
    assert (item.tackwright_view.view, item.display_type) == ("SOLID", "WIRE")
    assert_same(matrices(blender, plates), before)
    assert all(plate.visible_get() for plate in plates.values())
    blender.ops.ed.redo()
    assert blender.data.objects["tank"].tackwright_view.view == "FLAT"
    assert matrices(blender, plates_of(blender, blender.data.objects["tank"]))["P01-1"][:3, :3] == pytest.approx(
        np.eye(3))


def test_plates_of_an_earlier_version_stay_where_they_are(blender, draw_box, make):
    item = draw_box(0.3, 0.2, 0.1)
    plates = make(item)
    for plate in plates.values():  # as they were kept before there were views
        for name in ("envelope", "placed", "home", "way", "begin", "end", "flat"):
            plate.tackwright_plate.property_unset(name)
    item.tackwright_view.property_unset("drawn_as")
    before = matrices(blender, plates)
    for view in ("SPREAD", "FLAT", "BARE", "SOLID"):
        item.tackwright_view.view = view
    assert_same(matrices(blender, plates), before)
    item.tackwright_view.view = "BARE"
    assert item.display_type == "TEXTURED"
    item.tackwright_view.view = "FLAT"
    make(item)
    assert matrices(blender, plates)["P01-1"][:3, :3] == pytest.approx(np.eye(3))
    assert len(blender.data.objects) == 7


def test_the_users_own_objects_are_not_moved(blender, draw_box, make):
    item = draw_box(0.3, 0.2, 0.1)
    plates = make(item)
    plates["P01-1"].name = "my lid"
    copy = plates["P02-1"].copy()
    blender.context.scene.collection.objects.link(copy)
    own = {"my lid": plates["P01-1"], copy.name: copy}
    before = matrices(blender, own)
    for view in ("SPREAD", "FLAT"):
        item.tackwright_view.view = view
        assert_same(matrices(blender, own), before)


def test_two_envelopes_have_views_of_their_own(blender, draw_box, make):
    one = draw_box(0.3, 0.2, 0.1)
    make(one)
    two = one.copy()  # the same mesh
    blender.context.scene.collection.objects.link(two)
    two.location = (1, 0, 0)
    blender.context.view_layer.update()
    others = make(two)
    before = matrices(blender, others)
    one.tackwright_view.view = "FLAT"
    assert_same(matrices(blender, others), before)
    two.tackwright_view.view = "BARE"
    assert not any(plate.visible_get() for plate in others.values())
    assert all(plate.visible_get() for plate in plates_of(blender, one).values())


def test_an_envelope_without_plates_stays_as_it_is_drawn(draw_box):
    item = draw_box(0.3, 0.2, 0.1)
    for view in ("SPREAD", "FLAT", "BARE", "SOLID"):
        item.tackwright_view.view = view
        assert item.display_type == "TEXTURED"


def test_a_plate_with_a_parent_of_the_users_is_where_the_view_has_it(blender, draw_box, make):
    item = draw_box(0.3, 0.2, 0.1)
    plates = make(item)
    before = matrices(blender, plates)
    frame = blender.data.objects.new("frame", None)
    blender.context.scene.collection.objects.link(frame)
    frame.location, frame.rotation_euler = (1, 2, 3), (0.3, 0.2, 0.1)
    blender.context.view_layer.update()
    plates["P01-1"].parent = frame
    item.tackwright_view.view = "FLAT"
    item.tackwright_view.view = "SOLID"
    assert_same(matrices(blender, plates), before, off=1e-5)


def test_plates_excluded_by_the_user_are_made_and_seen_again_when_he_likes(blender, draw_box, make):
    item = draw_box(0.3, 0.2, 0.1)
    make(item)
    layer = next(c for c in blender.context.view_layer.layer_collection.children if c.name == "tank Plates")
    layer.exclude = True
    item.tackwright.thickness_mm = 5.0
    for view in ("BARE", "SPREAD", "SOLID"):
        item.tackwright_view.view = view
        plates = make(item)
        assert len(plates) == 6
        assert layer.exclude
    layer.exclude = False
    blender.context.view_layer.update()
    assert all(plate.visible_get() for plate in plates.values())
    assert len(blender.data.objects) == 7


# ---- the panel


def test_the_panel_offers_views_once_there_are_plates(blender, draw_box, make, drawn):
    item = draw_box(0.3, 0.2, 0.1)
    assert "Spread" not in drawn("plates")
    make(item)
    assert drawn("plates")[-4:] == ["Solid (pressed)", "Spread", "Flat", "Bare"]
    item.tackwright_view.view = "SPREAD"
    assert drawn("plates")[-6:] == ["Solid", "Spread (pressed)", "Flat", "Bare", "Spread", "Marks"]
    item.tackwright_view.view = "FLAT"
    assert drawn("plates")[-5:] == ["Solid", "Spread", "Flat (pressed)", "Bare", "Marks"]
    item.tackwright_view.view = "BARE"
    assert drawn("plates")[-4:] == ["Solid", "Spread", "Flat", "Bare (pressed)"]


def test_the_panel_says_when_plates_are_out_of_sight(blender, draw_box, make, drawn):
    make(draw_box(0.3, 0.2, 0.1))
    layer = next(c for c in blender.context.view_layer.layer_collection.children if c.name == "tank Plates")
    layer.hide_viewport = True
    assert drawn("plates")[-1] == "Plates are hidden in the Outliner"
    layer.hide_viewport, layer.exclude = False, True
    assert drawn("plates")[-1] == "Plates are hidden in the Outliner"


@pytest.mark.parametrize("alone", [True, False])
def test_the_panel_says_when_a_local_view_is_without_plates(blender, draw_box, make, drawn, alone):
    item = draw_box(0.3, 0.2, 0.1)
    for plate in make(item).values():
        plate.select_set(not alone)
    (window,) = blender.context.window_manager.windows
    area = next(area for area in window.screen.areas if area.type == "VIEW_3D")
    region = next(region for region in area.regions if region.type == "WINDOW")
    with blender.context.temp_override(window=window, area=area, region=region):
        assert blender.ops.view3d.localview() == {"FINISHED"}
        blender.context.view_layer.update()
        assert ("Plates are outside this local view" in drawn("plates")) == alone


def test_the_panel_says_what_plates_of_an_earlier_version_need(draw_box, make, drawn):
    item = draw_box(0.3, 0.2, 0.1)
    for plate in make(item).values():
        plate.tackwright_plate.property_unset("placed")
    item.tackwright_view.view = "SPREAD"
    assert drawn("plates")[-1] == "Make Plates again to move them"


# ---- marks in the view


def test_marks_are_written_on_the_plates_that_are_apart(blender, draw_box, make):
    from tackwright.addon.screen.plate_marks import marked_plates

    item = draw_box(0.3, 0.2, 0.1)
    plates = make(item)
    plates["P03-2"].hide_set(True)

    def marks():
        blender.context.view_layer.update()
        return sorted(mark for _, mark in marked_plates(blender.context))

    assert marks() == []
    for view in ("SPREAD", "FLAT"):
        item.tackwright_view.view = view
        assert marks() == ["P01", "P01", "P02", "P02", "P03"]
    item.tackwright_view.marks = False
    assert marks() == []
    item.tackwright_view.marks, item.tackwright_view.view = True, "BARE"
    assert marks() == []


def test_of_labels_in_one_place_the_nearest_is_written(add_on):
    from tackwright.addon.screen.plate_marks import Label, labels_without_overlap

    def label(text, x, depth):
        return Label(text=text, centre=(x, 50.0), size=(30.0, 12.0), depth=depth)

    kept = labels_without_overlap([label("far", 100.0, 9.0), label("near", 110.0, 2.0), label("beside", 160.0, 5.0)])
    assert {one.text for one in kept} == {"near", "beside"}
    assert labels_without_overlap([]) == []


def seen_from(blender, plates, eye):
    from mathutils import Vector

    from tackwright.addon.screen.in_sight import places_in_sight

    blender.context.view_layer.update()
    depsgraph = blender.context.evaluated_depsgraph_get()
    found = places_in_sight(list(plates.values()), depsgraph, lambda place: Vector(eye))
    return {p.tackwright_plate.panel: at for p, at in zip(plates.values(), found, strict=True)}


def test_marks_are_written_where_the_viewer_sees_the_plate(blender, draw_box, make):
    item = draw_box(0.3, 0.2, 0.1)
    plates = make(item)
    seen = seen_from(blender, plates, (5.0, -4.0, 3.0))
    assert {panel for panel, at in seen.items() if at is not None} == {"top", "front", "right"}
    assert tuple(seen["top"]) == pytest.approx((0.15, 0.1, 0.1), abs=1e-6)
    item.tackwright_view.view, item.tackwright_view.spread = "SPREAD", 1.0
    above = seen_from(blender, plates, (0.15, 0.1, 9.0))
    assert above["bottom"] is None, "behind the top"
    only = {name: plate for name, plate in plates.items() if plate.tackwright_plate.panel == "bottom"}
    at = seen_from(blender, only, (0.15, 0.1, 9.0))["bottom"]
    lowest = min((plate.matrix_world @ v.co).z for plate in only.values() for v in plate.data.vertices)
    assert at.z == pytest.approx(lowest + 0.003, abs=1e-6), "on the inner face, which is turned to the viewer"
    item.tackwright_view.view = "FLAT"
    assert None not in seen_from(blender, plates, (0.5, -1.0, 2.0)).values()


def test_marks_keep_off_holes(blender, draw_box, make):
    item = draw_box(0.3, 0.2, 0.1)
    hole = blender.data.objects.new("hand hole", None)
    blender.context.scene.collection.objects.link(hole)
    hole.location = (0.15, 0.1, 0.1)
    hole.tackwright_opening.enabled, hole.tackwright_opening.envelope = True, item
    hole.tackwright_opening.size_x_mm = 60.0
    plates = make(item)
    top = seen_from(blender, plates, (0.15, 0.1, 9.0))["top"]
    assert np.hypot(top.x - 0.15, top.y - 0.1) > 0.03
    assert top.z == pytest.approx(0.1, abs=1e-6)


def test_a_plate_that_is_being_edited_is_no_obstacle(blender, draw_box, make):
    item = draw_box(0.3, 0.2, 0.1)
    plates = make(item)
    blender.context.view_layer.objects.active = plates["P01-1"]
    blender.ops.object.mode_set(mode="EDIT")
    assert sum(at is not None for at in seen_from(blender, plates, (5.0, -4.0, 3.0)).values()) >= 2
