"""Export Kit: where the folder goes, what is refused, and that nothing is replaced unasked."""

from __future__ import annotations

import json
from dataclasses import replace
from itertools import pairwise

import pytest


@pytest.fixture
def export(blender):
    return blender.ops.tackwright.export_kit


@pytest.fixture
def draw_box(draw_box):
    """A box that is closed on purpose: else its trapped air is an error, and nothing would be exported."""

    def drawn(x, y, z):
        item = draw_box(x, y, z)
        item.tackwright.sealed = True
        return item

    return drawn


def test_a_box_that_traps_air_is_not_exported_unless_that_is_meant(draw_box, export, tmp_path):
    item = draw_box(0.3, 0.2, 0.1)
    item.tackwright.sealed = False
    with pytest.raises(RuntimeError, match=r"1 error \(Closed space\)"):
        export(directory=str(tmp_path))
    assert list(tmp_path.iterdir()) == []
    item.tackwright.sealed = True
    assert export(directory=str(tmp_path)) == {"FINISHED"}


def test_the_kit_is_written_into_the_given_folder(draw_box, export, tmp_path):
    item = draw_box(0.3, 0.2, 0.1)
    assert export(directory=str(tmp_path)) == {"FINISHED"}
    kit = json.loads((tmp_path / "tank_kit" / "kit.json").read_text(encoding="utf-8"))
    assert kit["name"] == "tank"
    assert sum(plate["quantity"] for plate in kit["plates"]) == 6
    assert item.tackwright.folder == str(tmp_path)
    assert [p.name for p in tmp_path.iterdir()] == ["tank_kit"]


def test_the_settings_of_the_object_reach_the_files(draw_box, export, tmp_path):
    item = draw_box(0.3, 0.2, 0.1)
    item.tackwright.folder, item.tackwright.kit_name = str(tmp_path), "bow/tank"
    item.tackwright.material, item.tackwright.thickness_mm = "steel A36", 4.0
    item.tackwright.dxf_units = "IN"
    assert export() == {"FINISHED"}
    kit = json.loads((tmp_path / "bow_tank_kit" / "kit.json").read_text(encoding="utf-8"))
    assert {(p["material"], p["thickness"]) for p in kit["plates"]} == {("steel A36", 4.0)}
    import ezdxf

    for path in sorted((tmp_path / "bow_tank_kit" / "plates").glob("*.dxf")):
        assert ezdxf.readfile(path).header["$INSUNITS"] == 1


def test_a_folder_beside_the_file_works_once_the_file_is_saved(blender, draw_box, export, tmp_path):
    draw_box(0.3, 0.2, 0.1).tackwright.folder = "//cut"
    with pytest.raises(RuntimeError, match="save the file"):
        export()
    blender.ops.wm.save_as_mainfile(filepath=str(tmp_path / "tank.blend"))
    (tmp_path / "cut").mkdir()
    assert export() == {"FINISHED"}
    assert (tmp_path / "cut" / "tank_kit" / "kit.json").exists()


def test_without_a_folder_it_is_asked_for(draw_box, export):
    draw_box(0.3, 0.2, 0.1)
    with pytest.raises(RuntimeError, match="Choose one"):
        export()


def test_a_kit_that_is_there_is_replaced_only_when_told(draw_box, export, tmp_path):
    item = draw_box(0.3, 0.2, 0.1)
    export(directory=str(tmp_path))
    before = (tmp_path / "tank_kit" / "kit.json").read_bytes()
    item.tackwright.thickness_mm = 5.0
    with pytest.raises(RuntimeError, match="tank_kit"):
        export()
    assert (tmp_path / "tank_kit" / "kit.json").read_bytes() == before
    assert export(replace=True) == {"FINISHED"}
    assert (tmp_path / "tank_kit" / "kit.json").read_bytes() != before
    with pytest.raises(RuntimeError):  # the last answer is not kept for the next time
        export()


def test_a_kit_that_cannot_be_built_is_written_only_even_so(draw_box, export, tmp_path, monkeypatch):
    from tackwright.core import make_kit
    from tackwright.core.terms.findings import Finding

    solved = make_kit.make_kit
    clash = Finding(rule="clash", level="error", message="P01-1 stands in P02-1 by 12 mm3")

    def clashing(*given, **named):
        kit = solved(*given, **named)
        return replace(kit, checks=(*kit.checks, clash))

    monkeypatch.setattr(make_kit, "make_kit", clashing)
    item = draw_box(0.3, 0.2, 0.1)
    with pytest.raises(RuntimeError, match=r"1 error \(Clash\)"):
        export(directory=str(tmp_path))
    assert list(tmp_path.iterdir()) == []
    assert item.tackwright.findings[0].rule == "clash"  # the worst comes first
    assert item.tackwright.findings[0].message == "P01-1 stands in P02-1 by 12 mm3"  # and says all of it
    assert export(directory=str(tmp_path), even_so=True) == {"FINISHED"}
    assert (tmp_path / "tank_kit" / "kit.json").exists()


def test_a_folder_that_cannot_be_written_is_named(draw_box, export, tmp_path):
    draw_box(0.3, 0.2, 0.1)
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(RuntimeError, match="file"):
        export(directory=str(tmp_path / "file"))
    assert (tmp_path / "file").read_text() == "in the way"


def test_a_refused_drawing_writes_nothing(draw_box, export, tmp_path):
    item = draw_box(0.3, 0.2, 0.1)
    item.data.vertices[6].co.z += 0.05
    with pytest.raises(RuntimeError, match="Face 1 is warped"):
        export(directory=str(tmp_path))
    assert list(tmp_path.iterdir()) == []


def test_export_and_the_core_alone_write_the_same_bytes(blender, draw_box, export, tmp_path):
    from tackwright.addon.gather.gather import read_drawing
    from tackwright.core.files.kit_folder import write_kit
    from tackwright.core.make_kit import make_kit

    item = draw_box(0.3, 0.2, 0.1)
    export(directory=str(tmp_path))
    drawing = read_drawing(blender.context, item)
    alone = write_kit(make_kit(drawing.mesh, drawing.choices, name="tank"), tmp_path / "alone")
    written = {p.relative_to(alone): p.read_bytes() for p in alone.rglob("*") if p.is_file()}
    assert len(written) > 5
    assert written == {
        p.relative_to(tmp_path / "tank_kit"): p.read_bytes() for p in (tmp_path / "tank_kit").rglob("*") if p.is_file()
    }


@pytest.mark.parametrize("name", ["tank", "bow/tank: 2", "CON", "Wassertank für Ö"])
def test_the_folder_that_is_asked_about_is_the_one_that_is_written(blender, draw_box, export, tmp_path, name):
    from tackwright.addon.kit.kit_paths import folder_of_kit

    item = draw_box(0.3, 0.2, 0.1)
    item.tackwright.kit_name = name
    export(directory=str(tmp_path))
    assert list(tmp_path.iterdir()) == [folder_of_kit(tmp_path, item)]


# ---- in the window: solved and written beside it. There is no window here: the steps are taken by hand


@pytest.fixture
def begin(blender, tmp_path):
    """begin(item): an export of it, as the window's operator freezes it; ended after the test."""
    from tackwright.addon.gather.gather import read_drawing
    from tackwright.addon.kit import export_job

    def make(item, **more):
        chosen = {"replace": False, "even_so": False} | more
        export = export_job.Export(
            uid=item.session_uid, drawing=read_drawing(blender.context, item), name=item.name, parent=tmp_path,
            chosen=str(tmp_path), **chosen)
        export_job.begin(export)
        return export

    yield make
    export_job.stop()


def settled(export):
    """What the export's work came to."""
    while (state := export.step()) == "working":
        export.work.wait()
    return state


def hold(monkeypatch):
    """Hold the writing of files until told: (reached, go)."""
    import threading

    from tackwright.core.files import kit_folder

    reached, go, written = threading.Event(), threading.Event(), kit_folder.kit_files

    def held(kit):
        for number, file in enumerate(written(kit)):
            if number == 2:
                reached.set()
                assert go.wait(30)
            yield file

    monkeypatch.setattr(kit_folder, "kit_files", held)
    return reached, go


def test_an_export_in_the_background_writes_what_a_script_writes(draw_box, export, begin, tmp_path):
    from tackwright.addon.kit import export_job

    item = draw_box(0.3, 0.2, 0.1)
    under_way = begin(item)
    under_way.solve()
    item.tackwright.thickness_mm = 6.0  # drawn on meanwhile: it is the earlier drawing that was frozen
    assert settled(under_way) == "solved"
    assert not under_way.refused and not under_way.must_ask
    under_way.write()
    assert settled(under_way) == "written"
    assert under_way.written == tmp_path / "tank_kit" == under_way.folder
    item.tackwright.thickness_mm = 3.0
    export_job.stop()
    export(directory=str(tmp_path / "again"))
    alone = tmp_path / "again" / "tank_kit"
    written = {p.relative_to(alone): p.read_bytes() for p in alone.rglob("*") if p.is_file()}
    assert len(written) > 5
    assert {path: (under_way.folder / path).read_bytes() for path in written} == written


def test_the_kit_is_solved_before_anything_is_asked(draw_box, begin, tmp_path):
    item = draw_box(0.3, 0.2, 0.1)
    item.tackwright.sealed = False
    (tmp_path / "tank_kit").mkdir()
    under_way = begin(item)
    under_way.solve()
    assert settled(under_way) == "solved"
    assert under_way.refused  # the trapped air: so nobody is asked about the folder
    fit = begin(item, even_so=True, replace=False)
    fit.solve()
    assert settled(fit) == "solved"
    assert not fit.refused and fit.must_ask
    fit.replace = True
    assert not fit.must_ask


def test_what_is_said_and_how_far_it_is_only_goes_forward(draw_box, begin):
    from tackwright.addon.kit.export_job import SAID, SPANS

    under_way = begin(draw_box(0.3, 0.2, 0.1))
    assert (under_way.said, under_way.share) == ("Starting", 0.0)
    under_way.solve()
    seen = []
    while not under_way.work.done:
        seen.append(under_way.share)
    assert seen == sorted(seen) and all(0.0 <= share <= 1.0 for share in seen)
    assert set(SAID) == set(SPANS)
    ends = [SPANS[stage] for stage in SPANS]
    assert all(a[1] <= b[0] for a, b in pairwise(ends)) and ends[-1][1] == 1.0


def test_every_stage_that_the_core_tells_has_words(blender, draw_box):
    from tackwright.addon.gather.gather import read_drawing
    from tackwright.addon.kit.export_job import SAID
    from tackwright.core.make_kit import make_kit

    drawing = read_drawing(blender.context, draw_box(0.3, 0.2, 0.1))
    told = set()
    make_kit(drawing.mesh, drawing.choices, progress=lambda stage, done, total: told.add(stage))
    assert told <= set(SAID) and len(told) > 5


def test_a_cancelled_export_leaves_the_old_kit_and_nothing_else(draw_box, export, begin, tmp_path, monkeypatch):
    item = draw_box(0.3, 0.2, 0.1)
    export(directory=str(tmp_path))
    before = {p: p.read_bytes() for p in tmp_path.rglob("*") if p.is_file()}
    item.tackwright.thickness_mm = 5.0
    under_way = begin(item, replace=True)
    under_way.solve()
    assert settled(under_way) == "solved"
    reached, go = hold(monkeypatch)
    under_way.write()
    assert reached.wait(30)
    assert len(list(tmp_path.iterdir())) == 2  # the new kit is begun beside the old one
    under_way.cancel()
    assert under_way.said == "Stopping"
    go.set()
    assert settled(under_way) == "stopped"
    assert {p: p.read_bytes() for p in tmp_path.rglob("*") if p.is_file()} == before
    assert [p.name for p in tmp_path.iterdir()] == ["tank_kit"]


def test_a_kit_that_was_solved_in_the_moment_of_cancelling_is_not_written(draw_box, begin):
    under_way = begin(draw_box(0.3, 0.2, 0.1))
    under_way.solve()
    under_way.work.wait()
    under_way.cancel()
    assert settled(under_way) == "stopped"


def test_a_second_export_is_refused_while_one_is_under_way(blender, draw_box, export, begin, drawn, tmp_path):
    begin(draw_box(0.3, 0.2, 0.1)).solve()
    with pytest.raises(RuntimeError, match="An export is under way"):
        export(directory=str(tmp_path))
    assert drawn("kit")[-1] == "Cancel Export" and "Export Kit" not in drawn("kit")
    blender.ops.tackwright.cancel_export()
    with pytest.raises(RuntimeError, match="stopping already"):
        blender.ops.tackwright.cancel_export()


def test_opening_another_file_stops_the_export(blender, draw_box, begin, tmp_path, monkeypatch):
    from tackwright.addon.kit import export_job

    under_way = begin(draw_box(0.3, 0.2, 0.1))
    under_way.solve()
    assert settled(under_way) == "solved"
    reached, go = hold(monkeypatch)
    under_way.write()
    assert reached.wait(30)
    go.set()
    under_way.cancel()
    blender.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)
    assert not export_job.busy()
    assert list(tmp_path.iterdir()) == []


def test_the_extension_can_be_disabled_in_the_middle(add_on, draw_box, begin, tmp_path, monkeypatch):
    import sys

    from tackwright.addon.kit import export_job, export_kit

    turn = sys.getswitchinterval()
    under_way = begin(draw_box(0.3, 0.2, 0.1))
    assert sys.getswitchinterval() < turn
    under_way.solve()
    assert settled(under_way) == "solved"
    reached, go = hold(monkeypatch)
    under_way.write()
    assert reached.wait(30)
    under_way.cancel()
    go.set()
    export_kit.unregister()
    try:
        assert not export_job.busy() and list(tmp_path.iterdir()) == []
        assert sys.getswitchinterval() == turn
    finally:
        export_kit.register()


def test_a_refused_drawing_is_told_by_the_background_too(draw_box, begin):
    item = draw_box(0.3, 0.2, 0.1)
    item.data.vertices[6].co.z += 0.05
    under_way = begin(item)
    under_way.solve()
    assert settled(under_way) == "refused"
    assert "Face 1 is warped" in str(under_way.error)


def test_the_folder_can_be_opened_once_it_is_there(blender, draw_box, export, drawn, tmp_path, monkeypatch):
    import shutil

    item = draw_box(0.3, 0.2, 0.1)
    assert drawn("kit")[-1] == "Export Kit"
    with pytest.raises(RuntimeError, match="Export the kit first"):
        blender.ops.tackwright.open_kit()
    export(directory=str(tmp_path))
    assert drawn("kit")[-1] == "Open Folder"
    assert blender.ops.tackwright.open_kit.poll()
    shutil.rmtree(tmp_path / "tank_kit")
    with pytest.raises(RuntimeError, match="The kit is not in its folder"):
        blender.ops.tackwright.open_kit()
    item.tackwright.folder = ""
    assert "Open Folder" not in drawn("kit")


def test_the_work_rests_while_the_window_is_drawn(blender, draw_box, begin):
    import time

    from tackwright.addon.host.background import Work

    steps = []

    def count(progress):
        for number in range(2000):
            progress("write", number, 2000)
            steps.append(number)
            time.sleep(0.001)

    work = Work(count)
    work.give_way(10.0)
    time.sleep(0.1)
    before = len(steps)
    time.sleep(0.2)
    assert len(steps) - before <= 1
    work.give_way(0.0)
    time.sleep(0.2)
    assert len(steps) > before + 5
    work.give_way(10.0)
    work.cancel()
    assert work.wait(2.0), "cancelling does not wait for the rest to be over"


def test_in_edit_mode_the_selected_faces_are_exported_though_live_is_on(blender, draw_box, export, tmp_path):
    from editing import select_faces

    item = draw_box(0.3, 0.2, 0.1)
    item.tackwright.live = True
    select_faces(blender, item, [1])
    export(directory=str(tmp_path))
    assert len(list(tmp_path.rglob("*.dxf"))) == 1
