"""What there is to begin with: the demo tank, a job file and a plain box as scenes, and the Start panel."""

from __future__ import annotations

import pytest
from demo_kits import cut_by_panel, made, openings_of
from repo_paths import DEMOS, ROOT

SCENES = DEMOS


def kit_of(blender, envelope):
    from tackwright.addon.gather.gather import read_drawing
    from tackwright.core.make_kit import make_kit

    drawing = read_drawing(blender.context, envelope)
    return make_kit(drawing.mesh, drawing.choices, name=envelope.name)


def same_as_job(blender, envelope, name):
    """The envelope's kit is cut as the job's is, panel by panel."""
    drawn, wanted = kit_of(blender, envelope), made(name)
    assert openings_of(drawn) == openings_of(wanted)
    ours, theirs = cut_by_panel(drawn), cut_by_panel(wanted)
    assert ours.keys() == theirs.keys()
    for panel, numbers in ours.items():
        assert numbers == pytest.approx(theirs[panel], rel=1e-5), panel


def test_the_package_has_the_demo_as_it_is_among_the_scenes():
    data = ROOT / "addon" / "edit" / "data"
    for name in ("bow_tank.toml", "bow_tank.obj"):
        assert (data / name).read_bytes() == (SCENES / name).read_bytes()


@pytest.mark.parametrize(("system", "scale"), [
    ("METRIC", 1.0), ("METRIC", 0.001), ("IMPERIAL", 0.3048), ("NONE", 1.0),
])  # fmt: skip
def test_the_demo_tank_is_the_job_in_any_units(blender, system, scale):
    units = blender.context.scene.unit_settings
    units.system, units.scale_length = system, scale
    assert blender.ops.tackwright.first_scene() == {"FINISHED"}
    tank = blender.context.object
    assert tank.name == "Bow tank" and tank.select_get()
    assert [c.name for c in tank.users_collection] == ["Bow tank"]
    same_as_job(blender, tank, "bow_tank")
    assert blender.ops.tackwright.make_plates() == {"FINISHED"}
    assert tank.tackwright.summary.startswith("11 plates, 11 distinct, ")


def test_a_second_demo_tank_has_names_of_its_own_and_is_the_same(blender):
    blender.ops.tackwright.first_scene()
    first = blender.context.object
    blender.ops.tackwright.make_plates()
    blender.ops.object.select_all(action="DESELECT")
    assert blender.ops.tackwright.first_scene() == {"FINISHED"}
    second = blender.context.object
    assert (second.name, second.users_collection[0].name) == ("Bow tank.001", "Bow tank.001")
    assert second != first and {item.tackwright_opening.envelope for item in second.children} == {second}
    panels = {placement.panel for plate in kit_of(blender, second).plates for placement in plate.placements}
    assert {"aft_baffle", "bulkhead"} <= panels           # not bulkhead.001: the panels go by their materials
    blender.ops.tackwright.make_plates()
    assert second.tackwright.summary == first.tackwright.summary


def test_the_demo_tank_is_one_step_of_undo(blender):
    blender.ops.mesh.primitive_cube_add()
    blender.ops.ed.undo_push(message="cube")
    before = {item.name for item in blender.data.objects}
    blender.ops.tackwright.first_scene("EXEC_DEFAULT", True)
    assert len(blender.data.objects) == len(before) + 6   # the tank and its openings
    blender.ops.ed.undo()
    assert {item.name for item in blender.data.objects} == before
    assert [c.name for c in blender.context.scene.collection.children] == []
    blender.ops.ed.redo()
    assert "Bow tank" in blender.data.objects


def test_the_views_show_the_whole_of_what_was_added(blender):
    from tackwright.addon.edit.first_scene import look_at

    blender.ops.wm.read_homefile(use_factory_startup=True)
    blender.context.scene.unit_settings.scale_length = 0.001
    blender.ops.tackwright.first_scene()
    look_at(blender.data.screens, blender.context.object)
    spaces = [area.spaces.active for screen in blender.data.screens for area in screen.areas if area.type == "VIEW_3D"]
    assert spaces
    for space in spaces:
        seen = space.region_3d
        assert tuple(seen.view_location) == pytest.approx((330, 0, 180))   # the middle of its box
        assert seen.view_distance > 660 and space.clip_end > 10 * seen.view_distance
        assert space.clip_start < seen.view_distance / 10


@pytest.mark.parametrize("name", ["bow_tank", "drill_upright", "hopper"])
def test_a_job_file_becomes_a_scene(blender, name):
    assert blender.ops.tackwright.open_job(filepath=str(SCENES / f"{name}.toml")) == {"FINISHED"}
    envelope = blender.context.object
    assert (envelope.name, envelope.tackwright.kit_name) == (name, name)
    same_as_job(blender, envelope, name)


def test_what_the_editor_has_no_place_for_is_said(blender):
    from tackwright.addon.gather.job_scene import add_job
    from tackwright.core.files.job import job_from_table

    table = {
        "mesh": "bow_tank.obj", "tabs": {"spacing": 160, "flank": 12},
        "panels": {"bottom": {"limber": 5}, "lid": {"thickness": 4}},
        "joints": [{"between": ["bottom", "port"], "corner": "closed", "tab_on": "port"}],
        "perforations": [{"panel": "aft_baffle", "code": "R5T8"}, {"panel": "aft_baffle", "code": "R10T16"}],
    }  # fmt: skip
    opened = add_job(blender.context, job_from_table(table, folder=SCENES), blender.context.scene.collection)
    assert {"tabs.flank", "panels.bottom.limber", "panels.lid", "perforations on aft_baffle",
            "joints bottom + port: tab_on"} <= set(opened.left_behind)
    assert "tabs.spacing" not in opened.left_behind and "joints bottom + port: corner" not in opened.left_behind


@pytest.mark.parametrize(("text", "said"), [
    (None, "cannot be opened"), ("mesh = ", "is not TOML"), ('mesh = "nothing.obj"', "nothing.obj"),
])  # fmt: skip
def test_a_job_that_cannot_be_opened_leaves_the_scene_as_it_was(blender, tmp_path, text, said):
    path = tmp_path / "some.toml"
    if text is not None:
        path.write_text(text)
    with pytest.raises(RuntimeError, match=said):
        blender.ops.tackwright.open_job(filepath=str(path))
    assert not blender.data.collections and not blender.data.objects and not blender.data.meshes


def test_a_mesh_of_inner_plates_and_own_fittings_come_with_the_job(blender, tmp_path):
    (tmp_path / "own.csv").write_text("name,hole\nmy spout,33\n")
    (tmp_path / "box.obj").write_text(_obj(300, 200, 100))
    (tmp_path / "shelf.obj").write_text("v 5 5 50\nv 295 5 50\nv 295 195 50\nv 5 195 50\nf 1 2 3 4\n")
    (tmp_path / "box.toml").write_text(
        'mesh = "box.obj"\nfittings = "own.csv"\n[[inner]]\nmesh = "shelf.obj"\n'
        '[[openings]]\nname = "spout"\nat = [60, 50, 100]\nfitting = "my spout"\n'
        '[[openings]]\nname = "slot"\nat = [200, 50, 100]\nshape = "slot"\nsize = [60, 20]\nacross = [0, 1, 0]\n')
    assert blender.ops.tackwright.open_job(filepath=str(tmp_path / "box.toml")) == {"FINISHED"}
    box = blender.context.object
    assert blender.data.objects["shelf"].tackwright_inner.envelope == box
    kit = kit_of(blender, box)
    assert sum(plate.role == "inner" for plate in kit.plates) == 1
    spout = next(o for o in kit.openings if o.name == "spout")
    assert spout.size == (33.0,)
    slot = blender.data.objects["slot"].matrix_world
    assert tuple(slot.col[0].to_3d()) == pytest.approx((0, 1, 0), abs=1e-6) and slot.col[2].z == pytest.approx(1)


def _obj(x, y, z):
    points = [(i * x, j * y, k * z) for k in (0, 1) for i, j in ((0, 0), (1, 0), (1, 1), (0, 1))]
    faces = ["1 4 3 2", "5 6 7 8", "1 2 6 5", "2 3 7 6", "3 4 8 7", "4 1 5 8"]
    return "\n".join(["v {} {} {}".format(*p) for p in points] + [f"f {face}" for face in faces]) + "\n"


@pytest.mark.parametrize(("scale", "unit"), [(1.0, 1000.0), (0.001, 1.0)])
def test_a_new_envelope_stands_on_the_cursor_and_can_be_made(blender, scale, unit):
    scene = blender.context.scene
    scene.unit_settings.scale_length = scale
    scene.cursor.location = (1.0, 2.0, 3.0)
    assert blender.ops.tackwright.new_envelope() == {"FINISHED"}
    item = blender.context.object
    assert [side * unit for side in item.dimensions] == pytest.approx([400, 300, 250])
    low = [min(corner[i] for corner in item.bound_box) for i in range(3)]
    assert tuple(item.matrix_world.translation) == pytest.approx((1, 2, 3)) and low[2] == pytest.approx(0)
    item.tackwright.sealed = True
    assert blender.ops.tackwright.make_plates() == {"FINISHED"}
    assert item.tackwright.summary.startswith("6 plates")
    assert not [f for f in item.tackwright.findings if f.level == "error"]


def test_a_new_envelope_has_the_sizes_asked_for(blender):
    blender.ops.tackwright.new_envelope(length=0.5, height=0.1)
    assert tuple(blender.context.object.dimensions) == pytest.approx((0.5, 0.3, 0.1))


@pytest.mark.parametrize("name", ["first_scene", "new_envelope", "open_job"])
def test_nothing_is_begun_in_edit_mode(blender, draw_box, name):
    draw_box(1, 1, 1)
    blender.ops.object.mode_set(mode="EDIT")
    with pytest.raises(RuntimeError, match="Go to Object Mode first"):
        getattr(blender.ops.tackwright, name)()


def test_the_start_panel_shows_until_there_are_plates_and_says_what_to_do(blender, draw_box, drawn):
    buttons = ["Demo Tank", "New Envelope", "Open Job..."]
    empty = drawn("start")
    assert empty[-3:] == buttons and "Draw the outside" in empty[0]
    blender.ops.object.camera_add()
    assert drawn("start")[0].startswith("Select a mesh object")
    blender.ops.curve.primitive_bezier_circle_add()
    assert "convert it" in " ".join(drawn("start"))
    draw_box(0.3, 0.2, 0.1)
    assert drawn("start")[-3:] == buttons and not [text for text in drawn("start") if "Draw the outside" in text]
    blender.ops.tackwright.make_plates()
    assert drawn("start") is None
