"""Laws for every operator: it is one step of undo, its values can be changed in the redo panel, and called where it
does not belong it says so instead of failing."""

from __future__ import annotations

import tempfile
from pathlib import Path

import pytest
from drawn_panels import Layout
from editing import select_faces
from editor_state import state
from operator_scenes import RECIPES, TRIED_BY_THEMSELVES, WITH_PREFERENCES, WITHOUT_REDO_PANEL, WITHOUT_UNDO


def names(blender):
    return sorted(dir(blender.ops.tackwright))


def kind_of(blender, name):
    return getattr(blender.types, f"TACKWRIGHT_OT_{name}")


def options(blender, name):
    return getattr(kind_of(blender, name), "bl_options", set())


@pytest.fixture
def prepared(request, blender, draw_box, tmp_path):
    """prepared(name): the operator's scene, set up; its values."""

    def prepare(name):
        if name in WITH_PREFERENCES:
            request.getfixturevalue("kept")
        return _prepared(blender, draw_box, tmp_path, name)

    return prepare


def _prepared(blender, draw_box, tmp_path, name):
    scene, values = RECIPES[name]
    scene(blender, draw_box, tmp_path)
    return values(tmp_path) if callable(values) else values


def test_every_operator_has_a_scene_to_be_tried_in(blender):
    assert sorted({**RECIPES, **TRIED_BY_THEMSELVES}) == names(blender), "add it to operator_scenes.py"
    for name, why in TRIED_BY_THEMSELVES.items():
        assert f".{name}(" in (Path(__file__).parent / why.split()[-1]).read_text(encoding="utf-8"), name
    assert set(WITHOUT_UNDO) | set(WITHOUT_REDO_PANEL) <= set(RECIPES)


@pytest.mark.parametrize("name", sorted(set(RECIPES) - set(WITHOUT_UNDO)))
def test_it_is_one_step_of_undo(blender, prepared, name):
    values = prepared(name)
    assert "UNDO" in options(blender, name)
    blender.ops.ed.undo_push(message="before")
    before = state(blender)
    assert getattr(blender.ops.tackwright, name)("EXEC_DEFAULT", True, **values) == {"FINISHED"}
    after = state(blender)
    assert after != before, "it did nothing that would show"
    blender.ops.ed.undo()
    assert state(blender) == before
    blender.ops.ed.redo()
    assert state(blender) == after


@pytest.mark.parametrize("name", sorted(WITHOUT_UNDO))
def test_what_has_no_undo_changes_nothing_in_the_file(blender, prepared, name):
    values = prepared(name)
    before = state(blender)
    getattr(blender.ops.tackwright, name)("EXEC_DEFAULT", **values)
    assert state(blender) == before
    assert "UNDO" not in options(blender, name)


@pytest.mark.parametrize("name", sorted(RECIPES))
def test_its_values_can_be_changed_in_the_redo_panel(blender, prepared, name):
    prepared(name)
    kind = kind_of(blender, name)
    assert ("REGISTER" in options(blender, name)) != (name in WITHOUT_REDO_PANEL)
    values = [p for p in getattr(blender.ops.tackwright, name).get_rna_type().properties if p.identifier != "rna_type"]
    shown = [value for value in values if not value.is_hidden]
    for value in shown:
        assert value.name and value.description, value.identifier
    # without a draw() of its own Blender shows them all; with one it shows some of them in this scene
    if "draw" in vars(kind) and "REGISTER" in options(blender, name) and shown:
        operator = _Filled(kind, shown, values, layout=Layout(blender, notes := []))
        kind.draw(operator, blender.context)
        assert set(notes) & {value.name for value in shown} or operator.read, "nothing of its values is shown"


class _Filled:
    """An operator as draw() sees it: its values, and their descriptions."""

    def __init__(self, kind, shown, values, layout):
        self.layout, self.read = layout, set()
        self.bl_rna = type("Rna", (), {"properties": {value.identifier: value for value in shown}})
        self._defaults = {
            v.identifier: getattr(v, "default_flag", None) or getattr(v, "default", None) for v in values
        }
        for method, function in vars(kind).items():
            if callable(function) and not method.startswith(("__", "bl_")) and method not in self._defaults:
                setattr(self, method, function.__get__(self))

    def __getattr__(self, name):
        try:
            return self.__dict__["_defaults"][name]
        except KeyError:
            raise AttributeError(name) from None


# Contexts in which most operators have no business


def _active(blender, item):
    blender.context.view_layer.objects.active = item
    item.select_set(True)


def _plates(blender, draw_box):
    draw_box(0.3, 0.2, 0.1)
    blender.ops.tackwright.make_plates()
    _active(blender, next(o for o in blender.data.objects if o.tackwright_plate.made_as))


def _opening_of_nothing(blender, draw_box):
    draw_box(0.3, 0.2, 0.1)
    blender.ops.tackwright.add_opening()
    blender.context.object.tackwright_opening.envelope = None


def _edited(faces):
    def scene(blender, draw_box):
        select_faces(blender, draw_box(0.3, 0.2, 0.1), faces)

    return scene


def _empty_edited(blender, draw_box):
    item = draw_box(0.3, 0.2, 0.1)
    item.data.clear_geometry()
    blender.ops.object.mode_set(mode="EDIT")


def _mode(mode):
    def scene(blender, draw_box):
        draw_box(0.3, 0.2, 0.1)
        blender.ops.object.mode_set(mode=mode)

    return scene


def _disabled(blender, draw_box):
    draw_box(0.3, 0.2, 0.1).hide_viewport = True


def _open_surface(blender, draw_box):
    item = draw_box(0.3, 0.2, 0.1)
    item.data.vertices[6].co.z += 0.05                   # no longer flat


def _from_library(wanted, override=False):
    """An envelope from another file, made there and with findings; with one face selected in its mesh."""

    def scene(blender, draw_box):
        item = draw_box(0.3, 0.2, 0.1)
        blender.ops.tackwright.make_plates()
        kept = item.tackwright.findings.add()
        kept.level, kept.rule, kept.message, kept.faces = "warning", "some", "Some faces", "0 1"
        item.tackwright.active_finding = len(item.tackwright.findings) - 1
        with tempfile.TemporaryDirectory() as folder:
            path = f"{folder}/library.blend"
            blender.data.libraries.write(path, {item})
            blender.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)
            with blender.data.libraries.load(path, link=True) as (_, names):
                setattr(names, wanted, ["tank"])
            found = getattr(names, wanted)[0]
        if wanted == "meshes":
            found = blender.data.objects.new("own", found)
            kept = found.tackwright.findings.add()
            kept.level, kept.rule, kept.message, kept.faces = "warning", "some", "Some faces", "0 1"
        blender.context.scene.collection.objects.link(found)
        if override:
            found = found.override_create(remap_local_usages=True)
        _active(blender, found)

    return scene


CONTEXTS = {
    "an empty file": lambda blender, draw_box: None,
    "a camera": lambda blender, draw_box: blender.ops.object.camera_add(),
    "a curve": lambda blender, draw_box: blender.ops.curve.primitive_bezier_circle_add(),
    "a curve in edit mode": lambda blender, draw_box: (
        blender.ops.curve.primitive_bezier_circle_add(), blender.ops.object.mode_set(mode="EDIT")),
    "an empty": lambda blender, draw_box: blender.ops.object.empty_add(),
    "a mesh": lambda blender, draw_box: draw_box(0.3, 0.2, 0.1),
    "a mesh without faces": lambda blender, draw_box: draw_box(0.3, 0.2, 0.1).data.clear_geometry(),
    "a mesh without faces in edit mode": _empty_edited,
    "a mesh that is not flat": _open_surface,
    "a mesh disabled in viewports": _disabled,
    "edit mode with nothing selected": _edited(()),
    "edit mode with a face selected": _edited((1,)),
    "sculpt mode": _mode("SCULPT"),
    "weight paint": _mode("WEIGHT_PAINT"),
    "a plate": _plates,
    "a linked envelope": _from_library("objects"),
    "an override of a linked envelope": _from_library("objects", override=True),
    "an envelope with a linked mesh": _from_library("meshes"),
    "an opening of nothing": _opening_of_nothing,
}  # fmt: skip


@pytest.mark.parametrize("where", CONTEXTS)
def test_called_where_it_does_not_belong_it_says_so(blender, draw_box, capfd, where):
    failed = []
    for name in names(blender):
        blender.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)
        CONTEXTS[where](blender, draw_box)
        capfd.readouterr()
        try:
            getattr(blender.ops.tackwright, name)("EXEC_DEFAULT")
        except RuntimeError as error:
            text = str(error).strip()
            if "Traceback" in text or text.endswith("failed, context is incorrect"):
                failed.append(f"{name}: {text.splitlines()[-2:]}")     # a grey button must say why
        said = "".join(capfd.readouterr())
        if "Traceback" in said:
            failed.append(f"{name} printed: {said.strip().splitlines()[-1]}")
    assert not failed, "\n".join(failed)
