"""Plate files, read back by ezdxf and by GDAL."""

from __future__ import annotations

import dataclasses
import io
import itertools
import math
import random
import re

import ezdxf
import numpy as np
import pyogrio
import pytest
import shapely
from cut_files import faults
from hypothesis import given
from hypothesis import strategies as st
from kit_samples import LID, LID_AREA, SIDE_AREA, SLOT, corner_kit, plate, straight

from tackwright.core.envelope.choice_checks import check_numbers
from tackwright.core.files.plate_dxf import plate_dxf, plate_files
from tackwright.core.shapes.outline import Circle, Contour, Outline
from tackwright.core.terms.choices import Choices, Settings
from tackwright.core.terms.errors import InputError

MM, INCH = Settings(), Settings(dxf_units="in")
LID_PLATE, SIDE_PLATE = corner_kit().plates


def read(data):
    return ezdxf.read(io.StringIO(data.decode("cp1252")))


def on_layer(document, layer):
    return document.modelspace().query(f'*[layer=="{layer}"]')


def gdal_rings(data, path):
    """The CUT rings as GDAL sees them, the largest first."""
    path.write_bytes(data)
    frame = pyogrio.raw.read(path, columns=["Layer"])
    layers = frame[3][0]
    shapes = shapely.from_wkb(frame[2])[layers == "CUT"]
    assert all(shape.is_closed for shape in shapes)
    rings = [shapely.Polygon(shapely.force_2d(shape)) for shape in shapes]
    return sorted(rings, key=lambda ring: -ring.area)


@pytest.mark.parametrize("settings", [MM, INCH], ids=["mm", "in"])
@pytest.mark.parametrize("piece", [LID_PLATE, SIDE_PLATE], ids=["lid", "side"])
def test_ezdxf_finds_no_fault(piece, settings):
    document = read(plate_dxf(piece, settings))
    auditor = document.audit()
    assert (auditor.errors, auditor.fixes) == ([], [])
    assert document.dxfversion == "AC1015"
    used = {e.dxf.layer for e in document.modelspace()}
    assert used == {"CUT", "ETCH", "NOTE"}
    assert {layer.dxf.name for layer in document.layers} == used | {"0", "Defpoints"}     # those every drawing has
    seed = int(document.header["$HANDSEED"], 16)
    handles = [int(e.dxf.handle, 16) for e in document.entitydb.values()]
    assert max(handles) < seed and len(set(handles)) == len(handles)


# $INSUNITS 4 millimetres and 1 inches, $MEASUREMENT 1 metric and 0 English: the DXF reference.
@pytest.mark.parametrize(("settings", "insunits", "measurement", "scale"), [(MM, 4, 1, 1.0), (INCH, 1, 0, 1 / 25.4)])
def test_units_and_numbers_agree(settings, insunits, measurement, scale):
    document = read(plate_dxf(LID_PLATE, settings))
    assert document.header["$INSUNITS"] == insunits
    assert document.header["$MEASUREMENT"] == measurement
    outer = on_layer(document, "CUT")[0]
    assert np.allclose(np.array(outer.get_points("xy")), LID * scale, atol=1e-7)


@pytest.mark.parametrize("piece", [LID_PLATE, SIDE_PLATE], ids=["lid", "side"])
def test_every_cut_is_one_closed_entity(piece):
    cuts = on_layer(read(plate_dxf(piece, MM)), "CUT")
    assert len(cuts) == 1 + len(piece.outline.holes)
    for cut in cuts:
        assert cut.dxftype() == "CIRCLE" or (cut.dxftype() == "LWPOLYLINE" and cut.closed)


def test_round_holes_stay_circles_and_arcs_stay_bulges():
    outer, hole = on_layer(read(plate_dxf(SIDE_PLATE, MM)), "CUT")
    assert hole.dxftype() == "CIRCLE"
    assert tuple(hole.dxf.center)[:2] == (40.0, 25.0) and hole.dxf.radius == 10.0
    bulges = [p[0] for p in outer.get_points("b")]
    assert bulges == pytest.approx([0, math.tan(math.pi / 8), 0, 0, 0, math.tan(math.pi / 8)], abs=1e-11)


@pytest.mark.parametrize(("piece", "area"), [(LID_PLATE, LID_AREA), (SIDE_PLATE, SIDE_AREA)], ids=["lid", "side"])
@pytest.mark.parametrize(("settings", "scale"), [(MM, 1.0), (INCH, 1 / 25.4)], ids=["mm", "in"])
def test_gdal_reads_the_same_shape(piece, area, settings, scale, tmp_path):
    outer, *holes = gdal_rings(plate_dxf(piece, settings), tmp_path / "plate.dxf")
    assert outer.bounds == pytest.approx([0, 0, piece.size[0] * scale, piece.size[1] * scale], abs=1e-6)
    assert all(outer.contains(hole) for hole in holes)
    assert outer.area - sum(h.area for h in holes) == pytest.approx(area * scale**2, rel=2e-4)   # GDAL's chords
    for hole, drawn in zip(holes, piece.outline.holes, strict=True):
        centre = shapely.Polygon(drawn.flatten()).centroid
        assert hole.centroid.distance(shapely.Point(centre.x * scale, centre.y * scale)) < 1e-3


def test_gdal_puts_arcs_where_they_are(tmp_path):
    outer, _ = gdal_rings(plate_dxf(SIDE_PLATE, MM), tmp_path / "plate.dxf")
    ours = shapely.Polygon(SIDE_PLATE.outline.outer.flatten(0.001))
    assert outer.symmetric_difference(ours).area < 0.15      # GDAL's chords of 4 degrees leave 0.06 at each arc
    middle_of_arc = shapely.Point(70 + 10 * math.sin(math.pi / 4), 10 - 10 * math.cos(math.pi / 4))
    assert outer.exterior.distance(middle_of_arc) < 0.02


def test_gdal_reads_the_layers(tmp_path):
    path = tmp_path / "plate.dxf"
    path.write_bytes(plate_dxf(LID_PLATE, MM))
    layers = pyogrio.raw.read(path, columns=["Layer"])[3][0]
    assert set(layers) == {"CUT", "ETCH", "NOTE"}


def test_etching_stays_on_the_metal_and_can_be_switched_off():
    document = read(plate_dxf(LID_PLATE, MM))
    outer, hole = LID_PLATE.outline.rings()
    metal = shapely.Polygon(outer, [hole])
    runs = [shapely.LineString(e.get_points("xy")) for e in on_layer(document, "ETCH")]
    assert len(runs) > 6 and all(metal.contains(run) for run in runs)
    assert not on_layer(read(plate_dxf(LID_PLATE, Settings(etch=False))), "ETCH")


def test_the_note_says_what_the_piece_is_and_stays_off_it():
    notes = on_layer(read(plate_dxf(SIDE_PLATE, INCH)), "NOTE")
    text = "\n".join(note.dxf.text for note in notes)
    for word in ("P02", "left/side: Ö", "steel S235", "0.1181 in (3 mm)", "quantity 2", "outside face up"):
        assert word in text
    assert all(note.dxf.insert.y + note.dxf.height < 0 for note in notes)


@pytest.mark.parametrize(
    ("name", "shown"),
    [
        ("a^Jb", "a^Jb"), ("50%%d", "50% %d"), ("%%%", "% % %"), (r"\U+0041", r"\ U+0041"), (r"\M+1A", r"\ M+1A"),
        ("a'\"b", "a'\"b"), ("50 %", "50 %"), (r"C:\Users", r"C:\Users"), ("Ößé", "Ößé"),
    ],
)
def test_gdal_shows_the_letters_of_a_name(name, shown, tmp_path):
    path = tmp_path / "plate.dxf"
    path.write_bytes(plate_dxf(plate(straight(LID), name=name), Settings(etch=False)))
    text = pyogrio.raw.read(path, columns=["Text"])[3][0]
    assert text[1] == f"P01  {shown}"


# The DXF reference: \U+ and four hexadecimal digits; letters above FFFF are two halves in UTF-16.
@pytest.mark.parametrize(("name", "written"), [("水", r"\U+6C34"), ("€", r"\U+20AC"), ("😀", r"\U+D83D\U+DE00")])
def test_letters_outside_the_code_page_go_by_number(name, written):
    assert f"P01  {written}\n".encode("ascii") in plate_dxf(plate(straight(LID), name=name), MM)


@pytest.mark.parametrize("name", ["a\nb", "a\r\n  0\nEOF", "\x00\x07", "\u2028", "\ud800"])
def test_a_name_cannot_break_the_file(name):
    document = read(plate_dxf(plate(straight(LID), name=name), MM))
    assert not document.audit().errors
    assert len(on_layer(document, "NOTE")) == 4


def test_the_bytes_do_not_depend_on_what_was_written_before():
    pieces = [LID_PLATE, SIDE_PLATE, plate(straight(LID), mark="P03", name="Ö水")]
    alone = [plate_dxf(piece, MM) for piece in pieces]
    order = list(range(3)) * 3
    random.Random(1).shuffle(order)
    assert all(plate_dxf(pieces[i], settings) == (alone[i] if settings is MM else plate_dxf(pieces[i], INCH))
               for i, settings in itertools.product(order, (MM, INCH)))


def test_no_carriage_returns_no_clock_and_the_option_is_given_back():
    from tackwright.core.files.dxf_page import blank_page

    for state in (False, True):
        ezdxf.options.write_fixed_meta_data_for_testing = state
        blank_page.cache_clear()
        data = plate_dxf(LID_PLATE, MM)
        assert ezdxf.options.write_fixed_meta_data_for_testing is state
        assert b"\r" not in data and data.endswith(b"EOF\n")
    ezdxf.options.write_fixed_meta_data_for_testing = False
    blank_page.cache_clear()
    assert plate_dxf(LID_PLATE, MM) == data


def test_numbers_have_no_exponent_and_no_noise():
    points = LID + np.array([1e-5, 0.0])
    points[0] = (-1e-9, 2e-6)
    bulges = np.zeros(len(points))
    bulges[6] = 3e-7
    hole = Circle(centre=(15.0, 9.0), diameter=4.2)
    piece = plate(Outline(outer=Contour(points=points, bulges=bulges), holes=(SLOT, hole)))
    text = plate_dxf(dataclasses.replace(piece, borders=()), Settings(etch=False)).decode()
    entities = text.partition("ENTITIES")[2].partition("ENDSEC")[0]
    assert "e-" not in entities and "-0.0\n" not in entities
    assert " 42\n0.0000003\n" in entities and " 20\n0.000002\n" in entities


def test_files_are_named_by_mark_and_name():
    assert plate_files(corner_kit().plates, MM) == ("plates/P01_lid.dxf", "plates/P02_left_side_O.dxf")


@pytest.mark.parametrize("units", ["mm", "in"])
@pytest.mark.parametrize(("note", "etch"), [(True, True), (False, True), (False, False)])
@pytest.mark.parametrize("piece", [LID_PLATE, SIDE_PLATE], ids=["lid", "side"])
def test_the_extents_are_those_of_what_is_drawn_and_no_layer_is_empty(piece, note, etch, units):
    document = read(plate_dxf(piece, Settings(note=note, etch=etch, dxf_units=units)))
    assert faults(document) == []
    layers = {layer.dxf.name for layer in document.layers} - {"0", "Defpoints"}
    assert layers == {e.dxf.layer for e in document.modelspace()}
    assert layers == {"CUT"} | ({"NOTE"} if note else set()) | ({"ETCH"} if etch else set())


# POSIX, the portable filename character set
PORTABLE = re.compile(r"plates/[A-Za-z0-9_][A-Za-z0-9._-]*\.dxf")


@given(st.lists(st.text(max_size=30), min_size=1, max_size=6), st.sampled_from(
    ["{mark}_{name}", "{name}", "{quantity}x{thickness}+{material}", "{mark} ({quantity})", "{{{mark}}}"]))
def test_file_names_hold_only_what_every_service_takes_and_no_two_are_alike(names, pattern):
    pieces = [plate(straight(LID), name=name) for name in names]
    files = plate_files(pieces, Settings(file_names=pattern))
    assert all(PORTABLE.fullmatch(file) for file in files)
    assert len({file.casefold() for file in files}) == len(files)


def test_a_pattern_names_the_files():
    files = plate_files(corner_kit().plates, Settings(file_names="{thickness}_{quantity}x_{mark}"))
    assert files == ("plates/3mm_1x_P01.dxf", "plates/3mm_2x_P02.dxf")
    files = plate_files(corner_kit().plates, Settings(file_names="{mark}-{thickness}", dxf_units="in"))
    assert files[0] == "plates/P01-0.1181in.dxf"             # 3 / 25.4


@pytest.mark.parametrize("pattern", ["{marks}", "{}", "{mark", "{mark.upper}", "{mark:9}", "{mark!r}"])
def test_a_pattern_that_means_nothing_is_refused(pattern):
    with pytest.raises(InputError, match="File names as"):
        check_numbers(Choices(settings=Settings(file_names=pattern)))
