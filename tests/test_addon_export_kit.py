"""Export Kit: where the folder goes, what is refused, and that nothing is replaced unasked."""

from __future__ import annotations

import json
from dataclasses import replace

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
    with pytest.raises(RuntimeError, match=r"1 error \(sealed cell\)"):
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
    from tackwright.core.findings import Finding

    solved = make_kit.make_kit
    clash = Finding(rule="clash", level="error", message="P01-1 stands in P02-1 by 12 mm3")

    def clashing(*given, **named):
        kit = solved(*given, **named)
        return replace(kit, checks=(*kit.checks, clash))

    monkeypatch.setattr(make_kit, "make_kit", clashing)
    item = draw_box(0.3, 0.2, 0.1)
    with pytest.raises(RuntimeError, match=r"1 error \(clash\)"):
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
    from tackwright.addon.gather import read_drawing
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
    from tackwright.addon.export_kit import _kit_folder

    item = draw_box(0.3, 0.2, 0.1)
    item.tackwright.kit_name = name
    export(directory=str(tmp_path))
    assert list(tmp_path.iterdir()) == [_kit_folder(tmp_path, item)]
