"""Findings in the editor: a click shows their place, a button cures them, and the list keeps what was chosen in it."""

from __future__ import annotations

import ast
import contextlib
import dataclasses
import json
import math
import re
import time

import numpy as np
import pytest
from editing import BOX, FACES, box_with_shelf, select_faces
from repo_paths import ROOT

CORE = ROOT / "core"
MAKERS = {"Finding", "Note", "_finding", "_error", "_note"}
"""Functions of the modules that say something: their arguments hold the rule."""


def found(item, rule):
    return [f for f in item.tackwright.findings if f.rule == rule]


def choose(item, rule):
    """Make the first finding of a rule the chosen one; the finding."""
    number = next(i for i, f in enumerate(item.tackwright.findings) if f.rule == rule)
    item.tackwright.active_finding = number
    return item.tackwright.findings[number]


def check(blender, item):
    """Have the drawing checked, refused or not."""
    blender.context.view_layer.objects.active = item
    try:
        blender.ops.tackwright.make_plates()
    except RuntimeError:
        assert found(item, "refused")


@pytest.fixture
def quiet_box(blender, draw_box):
    """A box in which 6061 is joined without a groove: twelve findings alike."""
    item = draw_box(0.3, 0.2, 0.1)
    item.tackwright.sealed, item.tackwright.material, item.tackwright.corner = True, "aluminium 6061-T6", "CLOSED"
    check(blender, item)
    return item


# ---- the list


def _rules_in(path):
    """The names that a module gives to findings: in calls that make them, and in tuples that it yields for them."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        given = []
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") in MAKERS:
            given = [*node.args, *(word.value for word in node.keywords if word.arg == "rule")]
        elif isinstance(node, ast.Yield) and isinstance(node.value, ast.Tuple):
            given = node.value.elts[:2]
        given = [way for one in given for way in ((one.body, one.orelse) if isinstance(one, ast.IfExp) else (one,))]
        names = [one.value for one in given if isinstance(one, ast.Constant) and isinstance(one.value, str)]
        yield from (name for name in names if re.fullmatch(r"[a-z]+(_[a-z]+)+|clash|crevice|trimmed", name))


def test_every_rule_has_a_short_title(blender):
    from tackwright.addon.findings.finding_titles import TITLES

    modules = [*CORE.rglob("*.py"), *(CORE.parent / "addon").rglob("*.py")]
    rules = {rule for path in modules for rule in _rules_in(path)}
    assert len(rules) > 45
    assert rules - {"dxf_units"} == set(TITLES)
    of_openings = {rule for rule in TITLES if rule.startswith(("opening", "drawn", "fitting"))}
    of_drawing = {"face_twice", "face_without_area", "faces_turned_over", "found_inside", "shape_keys", "free_edges"}
    assert max(len(TITLES[rule]) for rule in set(TITLES) - of_openings - of_drawing) <= 14
    assert max(map(len, TITLES.values())) <= 20


def test_a_row_is_cut_at_its_end_and_never_in_the_middle(blender):
    from types import SimpleNamespace

    import blf

    from tackwright.addon.host.row_text import fitted, left_aligned

    assert fitted("Inner plate cut back", 12, len) == "Inner plate…"
    assert fitted("Crevice", 12, len) == "Crevice     "
    context = SimpleNamespace(region=SimpleNamespace(width=280), preferences=blender.context.preferences)
    rows = [left_aligned(context, text, 126.0) for text in ("Crevice: P01-1, P02-1", "Wrong unit?", 9 * "Much filler ")]
    wide = [blf.dimensions(0, row + ".")[0] for row in rows]
    assert max(wide) - min(wide) < 4.0                  # pixels: within a space


def test_where_a_finding_is_is_said_in_a_few_letters(quiet_box):
    from tackwright.addon.findings.finding_titles import title_of, where_of

    kept = choose(quiet_box, "cracks_without_filler")
    assert title_of(kept) == "Will crack"
    assert where_of(kept) == kept.about
    kept.about = "P01-1 P02-1 P03-1 P04-1"
    assert where_of(kept) == "P01-1 +3"
    kept.openings = "fill\nvent"
    assert where_of(kept) == "fill +1"
    kept.about = kept.openings = ""
    assert where_of(kept) == "1 edge"
    kept.faces = "0 1"
    assert where_of(kept) == "2 faces"


def test_findings_that_would_read_the_same_are_numbered(blender, draw_box):
    from tackwright.addon.findings.finding_titles import row_of

    kept = draw_box(0.3, 0.2, 0.1).tackwright.findings
    for about in ("P01-1 P02-1", "P03-1", "P01-1 P02-1", "P01-1 P02-1"):
        one = kept.add()
        one.rule, one.about = "sealed_cell", about
    assert [row_of(kept, i) for i in range(4)] == [
        "Closed space: P01-1 P02-1", "Closed space: P03-1", "Closed space: P01-1 P02-1 (2)",
        "Closed space: P01-1 P02-1 (3)"]


def test_the_list_is_searched_and_sorted_by_blenders_own_means(blender, quiet_box):
    from types import SimpleNamespace

    kind = blender.types.TACKWRIGHT_UL_findings
    rows = SimpleNamespace(bitflag_filter_item=1 << 30, filter_name="Welding HEATS", use_filter_sort_alpha=False)
    shown, order = kind.filter_items(rows, blender.context, quiet_box.tackwright, "findings")
    rules = [f.rule for f in quiet_box.tackwright.findings]
    assert [bool(s) for s in shown] == [rule == "sealed_cell" for rule in rules] and order == []
    rows.filter_name, rows.use_filter_sort_alpha = "", True
    shown, order = kind.filter_items(rows, blender.context, quiet_box.tackwright, "findings")
    assert all(shown) and sorted(order) == list(range(len(rules)))
    assert order[rules.index("sealed_cell")] < order[rules.index("cracks_without_filler")]    # C, W


def test_the_panel_says_all_about_the_chosen_finding(blender, quiet_box, drawn):
    choose(quiet_box, "cracks_without_filler")
    notes = drawn("findings")
    assert "Warning" in notes and "Open the Corner" in notes
    said = " ".join(note for note in notes if not note.startswith("list: "))
    assert "0.00 mm²" in said and "mm2" not in said
    blender.context.scene.unit_settings.system = "IMPERIAL"
    assert "in²" in " ".join(drawn("findings"))
    choose(quiet_box, "sealed_cell")
    assert "Open the Corner" not in drawn("findings") and "Select in Edit Mode" in drawn("findings")


# ---- keeping


def test_the_chosen_finding_stays_chosen_when_the_list_is_made_anew(blender, quiet_box):
    kept = choose(quiet_box, "sealed_cell")
    rule, message, faces = kept.rule, kept.message, kept.faces
    quiet_box.tackwright.corner = "OPEN"                 # twelve findings before it go
    check(blender, quiet_box)
    chosen = quiet_box.tackwright.findings[quiet_box.tackwright.active_finding]
    assert (chosen.rule, chosen.message, chosen.faces) == (rule, message, faces)


def test_when_the_chosen_finding_is_gone_the_next_of_its_kind_is(blender, quiet_box):
    from tackwright.addon.findings import kept_findings
    from tackwright.addon.kit.asked_kit import alone
    from tackwright.core.terms.errors import InputError

    faults = [InputError(f"fault {n}", faces=[n]) for n in range(3)]
    kept_findings.keep_refusal(quiet_box, InputError.several(faults), (alone(quiet_box),))
    quiet_box.tackwright.active_finding = 1
    kept_findings.keep_refusal(quiet_box, InputError.several([faults[0], faults[2]]), (alone(quiet_box),))
    assert quiet_box.tackwright.active_finding == 0
    quiet_box.tackwright.active_finding = 1
    kept_findings.keep_refusal(quiet_box, InputError.several(faults), (alone(quiet_box),))
    assert quiet_box.tackwright.active_finding == 2      # the same one, wherever it is now


def test_nothing_is_written_when_nothing_is_new(blender, quiet_box, monkeypatch):
    from tackwright.addon.findings import kept_findings

    written = []
    monkeypatch.setattr(kept_findings, "_write", lambda *a: written.append(a))
    check(blender, quiet_box)
    assert written == []
    quiet_box.tackwright.corner = "OPEN"
    check(blender, quiet_box)
    assert written


def test_each_line_of_a_refusal_has_its_own_place(blender, draw):
    points = [(i * 0.3, j * 0.2, k * 0.1) for k in (0, 1) for i, j in ((0, 0), (1, 0), (1, 1), (0, 1))]
    points[6] = (0.31, 0.2, 0.14)
    item = draw(points, FACES)
    check(blender, item)
    kept = found(item, "refused")
    assert len(kept) > 1 and len({f.faces for f in kept}) == len(kept)
    assert all(f"Face {f.faces} is warped" in f.message for f in kept)


def test_a_refused_opening_can_be_selected(blender, draw_box):
    item = draw_box(0.3, 0.2, 0.1)
    blender.context.scene.cursor.location = (0.1, 0.1, 0.0)
    blender.ops.tackwright.add_opening(shape="SLOT", size_x=0.01, size_y=0.03)
    opening = blender.context.object
    check(blender, item)
    assert item.tackwright.findings[0].openings == opening.name
    blender.ops.tackwright.show_finding(index=0)
    assert blender.context.selected_objects == [opening]


def test_findings_and_remedies_survive_the_file(blender, quiet_box, tmp_path):
    choose(quiet_box, "cracks_without_filler")
    before = [(f.rule, f.message, f.at, f.edges, f.remedy, len(f.remedy_places)) for f in quiet_box.tackwright.findings]
    path = str(tmp_path / "tank.blend")
    blender.ops.wm.save_as_mainfile(filepath=path)
    blender.ops.wm.open_mainfile(filepath=path)
    item = blender.data.objects["tank"]
    assert [
        (f.rule, f.message, f.at, f.edges, f.remedy, len(f.remedy_places)) for f in item.tackwright.findings] == before
    choose(item, "cracks_without_filler")
    assert blender.ops.tackwright.apply_remedy.poll()


def test_findings_of_an_earlier_version_have_no_remedy_and_no_point(blender, draw_box, drawn):
    item = draw_box(0.3, 0.2, 0.1)
    kept = item.tackwright.findings.add()
    kept.level, kept.rule, kept.message, kept.about = "warning", "crevice", "A crevice of 2 mm2", "P01-1"
    assert "A crevice of 2 mm²" in drawn("findings")
    assert not blender.ops.tackwright.apply_remedy.poll()
    assert blender.ops.tackwright.show_finding(index=0) == {"FINISHED"}


# ---- a click


def test_a_click_in_object_mode_stays_there_and_tab_finds_the_place_selected(blender, quiet_box):
    """No plate is selected: Edit Mode would take it along."""
    kept = choose(quiet_box, "cracks_without_filler")
    blender.data.objects["P01-1"].select_set(True)
    assert blender.ops.tackwright.show_finding(index=quiet_box.tackwright.active_finding) == {"FINISHED"}
    assert blender.context.mode == "OBJECT" and blender.context.selected_objects == [quiet_box]
    blender.ops.object.mode_set(mode="EDIT")
    blender.ops.object.mode_set(mode="OBJECT")
    edges = [tuple(sorted(e.vertices)) for e in quiet_box.data.edges if e.select]
    assert edges == [tuple(map(int, kept.edges.split()))]


def test_a_click_in_edit_mode_selects_edges_and_stays_there(blender, quiet_box):
    select_faces(blender, quiet_box, [])
    rows = [i for i, f in enumerate(quiet_box.tackwright.findings) if f.rule == "cracks_without_filler"]
    for index in rows[:2]:
        blender.ops.tackwright.show_finding(index=index)
        assert quiet_box.tackwright.active_finding == index and blender.context.mode == "EDIT_MESH"
        quiet_box.update_from_editmode()
        edges = [tuple(sorted(e.vertices)) for e in quiet_box.data.edges if e.select]
        a, b = quiet_box.tackwright.findings[index].edges.split()
        assert edges == [(int(a), int(b))]


def test_without_plates_a_click_goes_to_the_drawing(blender, quiet_box):
    from tackwright.addon.scene.plate_objects import plate_objects

    for plate in plate_objects(quiet_box):
        blender.data.objects.remove(plate)
    choose(quiet_box, "cracks_without_filler")
    blender.ops.tackwright.show_finding(index=quiet_box.tackwright.active_finding)
    assert blender.context.mode == "EDIT_MESH"


@pytest.mark.parametrize("mode", ["OBJECT", "EDIT"])
def test_a_click_is_one_step_of_undo(blender, quiet_box, mode):
    name = quiet_box.name
    blender.ops.object.mode_set(mode=mode)
    blender.ops.ed.undo_push(message="before")
    index = next(i for i, f in enumerate(quiet_box.tackwright.findings) if f.rule == "cracks_without_filler") + 3
    blender.ops.tackwright.show_finding("EXEC_DEFAULT", True, index=index)
    assert blender.data.objects[name].tackwright.active_finding == index
    blender.ops.ed.undo()
    item = blender.data.objects[name]
    assert item.tackwright.active_finding == 0 and item.mode == mode


def test_a_finding_about_the_whole_drawing_says_so(blender, draw_box, capfd):
    item = draw_box(0.3, 0.2, 0.1)
    kept = item.tackwright.findings.add()
    kept.rule, kept.message = "several_shells", "The drawing has 2 separate shells"
    assert blender.ops.tackwright.show_finding(index=0) == {"FINISHED"}
    assert "about the whole drawing" in capfd.readouterr().out
    assert blender.ops.tackwright.show_finding(index=5) == {"CANCELLED"}


def test_a_view_stands_off_far_enough_for_what_it_is_to_show(blender):
    """Derived: at distance d a lens of f mm on a 72 mm picture sees d 72 / f of the longer side."""
    from tackwright.addon.host.framing import FILL, distance_for

    distance = distance_for(0.1, 50.0, 1600, 900)
    seen = distance * 72.0 / 50.0 * 900 / 1600
    assert 0.2 / seen == pytest.approx(FILL)
    assert distance_for(0.1, 50.0, 900, 1600) == pytest.approx(distance)


def test_the_place_of_a_clicked_finding_is_drawn_for_a_while(blender, quiet_box):
    from tackwright.addon.findings import place_overlay

    def shown(later=0.0):
        return place_overlay.pointed_out(quiet_box, time.monotonic() + later) is not None

    place_overlay.register()                             # whatever was shown before is forgotten
    choose(quiet_box, "cracks_without_filler")
    assert not shown()
    blender.ops.tackwright.show_finding(index=quiet_box.tackwright.active_finding)
    assert shown() and not shown(later=60.0)
    quiet_box.tackwright_view.view = "SPREAD"
    assert not shown()
    quiet_box.tackwright_view.view = "SOLID"
    quiet_box.tackwright.active_finding += 1
    assert not shown()


def test_a_place_is_drawn_by_its_edges_else_round_its_faces(blender, quiet_box):
    from tackwright.addon.findings.place_overlay import place_lines

    quiet_box.location.x = 2.0
    blender.context.view_layer.update()
    kept = choose(quiet_box, "cracks_without_filler")
    ends = [quiet_box.data.vertices[int(i)].co + quiet_box.location for i in kept.edges.split()]
    assert np.allclose(place_lines(quiet_box, kept), [ends])
    kept.edges, kept.faces = "", "1 99"
    lines = place_lines(quiet_box, kept)
    assert len(lines) == 4 and np.allclose(lines[..., 2], 0.1)       # all of the top
    blender.ops.object.mode_set(mode="EDIT")
    assert np.array_equal(place_lines(quiet_box, kept), lines)
    blender.ops.object.mode_set(mode="OBJECT")
    kept.edges = "0 99"
    assert len(place_lines(quiet_box, kept)) == 0


def test_the_mark_is_as_large_on_the_screen_wherever_it_is(blender):
    """Derived: with the picture's plane at 1 the view is 2 / m wide at depth 1, m the first of the window matrix."""
    from mathutils import Matrix, Vector

    from tackwright.addon.findings.place_overlay import mark_lines, pixel_at

    near, far, m = 0.1, 100.0, 1.5
    window = Matrix(((m, 0, 0, 0), (0, m, 0, 0), (0, 0, -(far + near) / (far - near), -2 * far * near / (far - near)),
                     (0, 0, -1, 0)))
    for depth in (1.0, 7.0):
        assert pixel_at(Vector((0.3, 0.2, -depth)), window, window, 1000) == pytest.approx(2 * depth / m / 1000)
    assert pixel_at(Vector((0, 0, 5.0)), window, window, 1000) < 0    # behind the viewer: not drawn
    lines = mark_lines(Vector((1, 2, 3)), Vector((0, 1, 0)), Vector((0, 0, 1)), 0.5)
    assert np.allclose(np.linalg.norm(lines[:32] - (1, 2, 3), axis=2), 0.5)
    assert np.allclose(lines[..., 0], 1.0)


# ---- remedies


def apply(blender, item, rule):
    """Apply the remedy of the first finding of a rule; what it was about."""
    kept = choose(item, rule)
    about = (kept.rule, kept.message, kept.edges)
    assert blender.ops.tackwright.apply_remedy() == {"FINISHED"}
    assert about not in [(f.rule, f.message, f.edges) for f in item.tackwright.findings]
    return about


def test_a_vent_is_marked_where_the_check_proposes_it(blender, draw_box):
    item = draw_box(0.3, 0.2, 0.1)
    check(blender, item)
    apply(blender, item, "sealed_cell")
    (vent,) = [o for o in blender.data.objects if o.type == "EMPTY"]
    assert vent.name == "Vent" and vent.parent == item
    assert vent.tackwright_opening.purpose == "VENT" and vent.tackwright_opening.size_x_mm == 3.0
    assert np.allclose(vent.matrix_world.translation, (0.15, 0.1, 0.0985), atol=1e-5)
    assert np.allclose(vent.matrix_world.col[2][:3], (0, 0, 1), atol=1e-5)
    assert not [f for f in item.tackwright.findings if f.level == "error"]
    assert any(len(p.data.polygons) > 0 for p in blender.data.collections["tank Plates"].objects)


@pytest.mark.parametrize("scale", [1.0, 0.001])
def test_an_opening_is_moved_and_widened_in_any_unit(blender, draw_box, scale):
    blender.context.scene.unit_settings.scale_length = scale
    one = 1.0 / scale
    item = draw_box(0.3 * one, 0.2 * one, 0.1 * one)
    item.tackwright.sealed = True
    item.rotation_euler = (0.3, 0.2, 0.1)
    item.scale = (1.0, 1.0, 1.0)
    blender.context.view_layer.update()
    place = item.matrix_world @ type(item.location)((0.29 * one, 0.1 * one, 0.1 * one))
    blender.context.scene.cursor.location = place
    blender.ops.tackwright.add_opening(size_x=0.03 * one)
    opening = blender.context.object
    check(blender, item)
    apply(blender, item, "opening_over_edge")
    moved = (opening.matrix_world.translation - place) * scale
    assert 0.01 < moved.length < 0.03
    opening.tackwright_opening.size_x_mm = 2.0
    check(blender, item)
    apply(blender, item, "hole_too_small")
    assert opening.tackwright_opening.size_x_mm == pytest.approx(3.0)


def test_an_axis_along_the_plate_is_given_up(blender, draw_box):
    item = draw_box(0.3, 0.2, 0.1)
    item.tackwright.sealed = True
    blender.context.scene.cursor.location = (0.15, 0.1, 0.1)
    blender.ops.tackwright.add_opening()
    opening = blender.context.object
    opening.rotation_euler, opening.tackwright_opening.along_axis = (0.0, math.pi / 2, 0.0), True
    check(blender, item)
    apply(blender, item, "opening_along_plate")
    assert not opening.tackwright_opening.along_axis


def test_the_fit_gap_and_limber_holes_are_set_for_the_whole_envelope(blender, draw):
    item = box_with_shelf(draw)
    item.tackwright.sealed, item.tackwright.fit_gap_mm = True, 2.0
    for place, purpose in (((0.08, 0.1, 0.0), "PORT"), ((0.22, 0.1, 0.1), "VENT")):
        blender.context.view_layer.objects.active = item
        blender.context.scene.cursor.location = place
        blender.ops.tackwright.add_opening(purpose=purpose, size_x=0.02)
    check(blender, item)
    apply(blender, item, "fit_gap_wide")
    assert item.tackwright.fit_gap_mm == pytest.approx(0.2)       # 0.1 a side
    apply(blender, item, "cannot_drain")
    assert item.tackwright.limber_mm == 9.0 and not found(item, "cannot_drain")


def test_a_perforations_margin_is_widened(blender, draw_box):
    item = draw_box(0.3, 0.2, 0.1)
    item.tackwright.sealed = True
    select_faces(blender, item, [3])
    blender.ops.tackwright.perforate_faces(code="R5T12")
    item.tackwright.fields[0].margin_mm = 1.0
    blender.ops.object.mode_set(mode="OBJECT")
    check(blender, item)
    apply(blender, item, "web_too_small")
    assert item.tackwright.fields[0].margin_mm == 3.0


@pytest.mark.parametrize("mode", ["OBJECT", "EDIT"])
def test_the_drawing_itself_is_mended(blender, draw, mode):
    """An open box with a face drawn twice and two that look inward, and one out of true."""
    points = [list(p) for p in BOX]
    points[1][2] += 0.0006
    item = draw(points, [FACES[0], *FACES[2:4], FACES[4][::-1], FACES[5], FACES[2]])
    item.tackwright.sealed = True
    check(blender, item)
    for rule in ("face_twice", "faces_turned_over", "warped_face_mended", "free_edges"):
        assert found(item, rule), [f.rule for f in item.tackwright.findings]
    blender.ops.object.mode_set(mode=mode)
    for rule in ("face_twice", "faces_turned_over", "warped_face_mended"):
        apply(blender, item, rule)
    blender.ops.object.mode_set(mode="OBJECT")
    check(blender, item)
    apply(blender, item, "free_edges")
    assert len(item.data.polygons) == 6
    rules = {f.rule for f in item.tackwright.findings}
    assert not rules & {"face_twice", "faces_turned_over", "warped_face_mended", "free_edges"}
    centre = np.mean([v.co for v in item.data.vertices], axis=0)
    assert all(np.dot(p.normal, np.array(p.center) - centre) > 0 for p in item.data.polygons)


def test_a_refused_drawing_is_flattened(blender, draw):
    points = [list(p) for p in BOX]
    points[6][2] += 0.004
    item = draw(points, FACES)
    item.tackwright.sealed = True
    check(blender, item)
    apply(blender, item, "refused")
    assert not found(item, "refused")


@pytest.mark.parametrize("system", ["METRIC", "IMPERIAL"])
def test_a_dragged_corner_goes_back_alone_and_how_far_is_told(blender, draw, drawn, capfd, system):
    blender.context.scene.unit_settings.system = system
    points = np.array(BOX, dtype=float)
    points[6] += (0.02, 0.015, 0.03)
    item = draw(points, FACES)
    item.tackwright.sealed = True
    check(blender, item)
    assert [kept.message for kept in found(item, "refused")] and found(item, "refused")[0].remedy
    capfd.readouterr()
    apply(blender, item, "refused")
    assert not found(item, "refused")
    now = np.array([vertex.co for vertex in item.data.vertices])
    assert (np.delete(now, 6, axis=0) == np.delete(points, 6, axis=0).astype(np.float32)).all()
    assert now[6] == pytest.approx(BOX[6], abs=1e-6)
    # sqrt(20^2 + 15^2 + 30^2) = 39.05
    far = {"METRIC": "The largest move is 39.1 mm, of vertex 6, now at (300, 200, 100) mm. 1 vertex moved",
           "IMPERIAL": 'The largest move is 1.537", of vertex 6, now at (11.811, 7.874, 3.937) in. 1 vertex moved'}
    assert far[system] in capfd.readouterr().out
    assert far[system] in " ".join(drawn("plates"))
    item.data.vertices[6].co.z += 0.001
    assert "largest move" not in " ".join(drawn("plates"))


def test_rims_that_are_not_joined_are_not_to_be_filled(blender, draw):
    """The points of one side lie on those of another, unmerged: the solver welds them, the fill could not."""
    points = [*BOX, BOX[4], BOX[5]]
    item = draw(points, [FACES[0], (0, 1, 9, 8), *FACES[3:]])
    item.tackwright.sealed = True
    check(blender, item)
    assert [kept.remedy for kept in found(item, "free_edges")] == [""]


@pytest.mark.parametrize("mode", ["OBJECT", "EDIT"])
def test_corners_are_opened_one_after_another(blender, quiet_box, mode):
    blender.ops.object.mode_set(mode=mode)
    for left in (11, 10, 9):
        apply(blender, quiet_box, "cracks_without_filler")
        assert len(found(quiet_box, "cracks_without_filler")) == left
        chosen = quiet_box.tackwright.findings[quiet_box.tackwright.active_finding]
        assert chosen.rule == "cracks_without_filler"    # so that the button can be pressed again


def test_an_inner_plate_without_room_is_left_out(blender, draw):
    item = draw([*BOX, (0.002, 0, 0.05), (0.008, 0, 0.05), (0.008, 0.2, 0.05), (0.002, 0.2, 0.05)],
                [*FACES, (8, 9, 10, 11)])
    item.tackwright.sealed, item.tackwright.root_gap_mm = True, 6.0
    check(blender, item)
    apply(blender, item, "refused")
    assert not found(item, "refused")


@pytest.mark.parametrize("mode", ["OBJECT", "EDIT"])
def test_a_gusset_is_made_an_inner_plate_and_the_sheet_turned(blender, draw, mode):
    """An angle of two flanges, its normals into the corner, with a triangle in the middle that is joined to nothing."""
    points = [(0, 0, 0), (0.2, 0, 0), (0.2, 0.12, 0), (0, 0.12, 0), (0, 0, 0.2), (0, 0.12, 0.2),
              (0, 0.06, 0), (0.1, 0.06, 0), (0, 0.06, 0.1)]
    item = draw(points, [(0, 1, 2, 3), (0, 3, 5, 4), (6, 7, 8)])
    with contextlib.suppress(RuntimeError):
        blender.ops.tackwright.make_plates()
    assert len(found(item, "refused")) == 2
    blender.ops.object.mode_set(mode=mode)
    apply(blender, item, "refused")
    assert not found(item, "refused") and not found(item, "tee_on_edge")
    assert [kept.level for kept in found(item, "inside_out")] == ["warning"]
    apply(blender, item, "inside_out")
    assert not found(item, "inside_out") and not found(item, "refused")
    blender.ops.object.mode_set(mode="OBJECT")
    assert item.data.polygons[0].normal.z == pytest.approx(-1.0)
    check(blender, item)
    assert len(blender.data.collections["tank Plates"].objects) == 3


@pytest.mark.parametrize("mode", ["OBJECT", "EDIT"])
def test_a_remedy_is_one_step_of_undo(blender, draw, mode):
    item = draw(BOX, FACES[:1] + FACES[2:])
    item.tackwright.sealed = True
    check(blender, item)
    choose(item, "free_edges")
    before = [(f.rule, f.message) for f in item.tackwright.findings]
    blender.ops.object.mode_set(mode=mode)
    blender.ops.ed.undo_push(message="before")
    blender.ops.tackwright.apply_remedy("EXEC_DEFAULT", True)
    item = blender.data.objects["tank"]
    assert not found(item, "free_edges")
    blender.ops.ed.undo()
    item = blender.data.objects["tank"]
    assert item.mode == mode
    assert [(f.rule, f.message) for f in item.tackwright.findings] == before
    blender.ops.object.mode_set(mode="OBJECT")
    assert len(item.data.polygons) == 5


def test_the_plates_follow_a_remedy(blender, draw):
    item = draw(BOX, FACES[:1] + FACES[2:])
    item.tackwright.sealed = True
    check(blender, item)
    assert len(blender.data.collections["tank Plates"].objects) == 5
    apply(blender, item, "free_edges")
    assert len(blender.data.collections["tank Plates"].objects) == 6


def test_a_remedy_is_grey_and_says_why(blender, quiet_box):
    choose(quiet_box, "sealed_cell")
    with pytest.raises(RuntimeError, match="No single remedy is right"):
        blender.ops.tackwright.apply_remedy()
    kept = choose(quiet_box, "cracks_without_filler")
    quiet_box.data.vertices.add(1)
    with pytest.raises(RuntimeError, match=r"drawing has changed since: make the plates again"):
        blender.ops.tackwright.apply_remedy()
    data = json.loads(kept.remedy)
    data["changes"][0]["kind"] = "bend"
    kept.remedy = json.dumps(data)
    with pytest.raises(RuntimeError, match="of a later version"):
        blender.ops.tackwright.apply_remedy()
    quiet_box.tackwright.findings.clear()
    with pytest.raises(RuntimeError, match="No finding to cure"):
        blender.ops.tackwright.apply_remedy()


def test_a_remedy_has_no_place_where_a_modifier_renumbers_the_drawing(blender, draw_box):
    item = draw_box(0.3, 0.2, 0.1)
    item.tackwright.sealed, item.tackwright.material, item.tackwright.corner = True, "aluminium 6061-T6", "CLOSED"
    item.modifiers.new("array", "ARRAY").relative_offset_displace = (3, 0, 0)
    check(blender, item)
    assert found(item, "cracks_without_filler") and not any(f.remedy for f in found(item, "cracks_without_filler"))


def test_a_remedy_on_inner_plates_of_another_object_is_kept_with_that_object(blender, draw_box, draw):
    """Renamed in between, it is still found."""
    tank = draw_box(0.3, 0.2, 0.1)
    tank.tackwright.sealed = True
    ring = [(0.15, 0, 0), (0.15, 0.2, 0), (0.15, 0.2, 0.1), (0.15, 0, 0.1)]
    shelf = draw(ring, [(0, 1, 2, 3), (0, 1, 2, 3)], "shelf")
    shelf.tackwright_inner.envelope = tank
    check(blender, tank)
    kept = choose(tank, "face_twice")
    assert [(p.item, p.faces) for p in kept.remedy_places] == [(shelf, "1")]
    shelf.name = "aft baffle"
    blender.context.view_layer.objects.active = tank
    apply(blender, tank, "face_twice")
    assert len(shelf.data.polygons) == 1


def test_what_is_kept_of_a_remedy_gives_the_same_changes_again(blender, quiet_box):
    from tackwright.addon.findings.kept_findings import places_in
    from tackwright.addon.findings.kept_remedies import placed_changes, remedy_as_kept
    from tackwright.addon.gather.gather import read_drawing
    from tackwright.core.terms.choices import JointChoice, PanelChoice, TabRule
    from tackwright.core.terms.remedies import ChangedJoints, ChangedPanels, ChangedSetting, Remedy

    changes = (
        ChangedJoints(edges=((0, 1), (4, 5)), choice=JointChoice(overlap=0.0, tabs=TabRule(on=False))),
        ChangedSetting(name="limber", value=9.0),
        ChangedPanels(faces=(3,), choice=PanelChoice(left_out=True)),
    )
    parts = read_drawing(blender.context, quiet_box).parts
    text, places = remedy_as_kept(Remedy(label="All", changes=changes), parts, places_in)
    kept = quiet_box.tackwright.findings.add()
    kept.remedy = text
    for place in places:
        place.write(kept.remedy_places.add())
    assert placed_changes(kept) == [(quiet_box, changes[0]), (None, changes[1]), (quiet_box, changes[2])]
    far = dataclasses.replace(changes[2], faces=(3, 99))
    assert remedy_as_kept(Remedy(label="Far", changes=(far,)), parts, places_in) == ("", ())


# ---- what cannot be reached


@pytest.mark.parametrize("name", ["select_finding", "show_finding"])
def test_the_place_on_an_envelope_that_is_disabled_stays_selected_for_later(blender, draw_box, name):
    item = draw_box(0.3, 0.2, 0.1)
    check(blender, item)
    item.tackwright_view.view = "BARE"
    number = next(i for i, one in enumerate(item.tackwright.findings) if one.faces)
    item.tackwright.active_finding = number
    item.hide_viewport = True
    given = {"index": number} if name == "show_finding" else {}
    assert getattr(blender.ops.tackwright, name)("EXEC_DEFAULT", True, **given) == {"FINISHED"}
    assert blender.context.mode == "OBJECT" and any(face.select for face in item.data.polygons)


def test_a_lone_face_is_not_offered_to_be_filled_again(blender, draw):
    lone = draw(BOX[:4], [(0, 1, 2, 3)], "lone")
    check(blender, lone)
    assert [kept.remedy for kept in found(lone, "free_edges")] == [""]
    tray = draw(BOX, [FACES[0], *FACES[2:]], "tray")
    check(blender, tray)
    assert found(tray, "free_edges")[0].remedy
