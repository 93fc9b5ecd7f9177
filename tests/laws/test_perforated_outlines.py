"""What becomes of an outline with perforation fields: its marks, its DXF file, its etched texts, its mesh.

Outside judges: ezdxf and GDAL read the files, shapely measures, trimesh looks at the meshes.
"""

from __future__ import annotations

import io
import time
from dataclasses import replace

import ezdxf
import numpy as np
import pyogrio
import pytest
import shapely
import trimesh
from hypothesis import assume, given
from hypothesis import strategies as st
from kit_samples import border, plate
from outline_shapes import motion, piece
from strategies import numbers, plane_motions, star_polygons

from tackwright.core.files.assembly_glb import assembly_glb
from tackwright.core.files.etch import etch_strokes, etch_texts
from tackwright.core.files.plate_dxf import plate_dxf
from tackwright.core.kit.kit import Kit
from tackwright.core.kit.plate_checks import check_plates
from tackwright.core.openings.perforation_bands import fill_bands
from tackwright.core.plates.solids import plate_mesh
from tackwright.core.shapes.congruence import congruence_groups
from tackwright.core.shapes.drawing_frame import drawing_frame
from tackwright.core.shapes.fit_ways import ways_to_fit
from tackwright.core.shapes.outline import Circle, HoleField
from tackwright.core.terms.choices import Band, Settings

CODES = ["R5T8", "C5U8", "H6T8", "LR4x15Z8x19", "LC4x15U8x19", "LR4x12 random 15"]
BOX = [(0, 0), (220, 0), (220, 130), (0, 130)]


def perforated(points, *codes, margin=6.0, turn=0.0, holes=()):
    """A piece with a band of every code."""
    outline = piece(points, *holes)
    bands = fill_bands(metal(outline).buffer(-margin), [Band(code=code) for code in codes], turn=turn)
    return replace(outline, fields=tuple(band.holes for band in bands if band.holes.count))


def metal(outline, chord=0.02):
    return shapely.Polygon(outline.outer.flatten(chord), [hole.flatten(chord) for hole in outline.holes])


def drawn(outline, chord=0.02):
    return np.concatenate([shapely.polygons(field.rings(chord)) for field in outline.fields])


def changed(outline, row, **options):
    """The outline with one hole of its first field changed by `by`, a complex number."""
    first, *rest = outline.fields
    centres, angles = first.centres.copy(), first.angles.copy()
    centres[row] += options.get("by", (0, 0))
    angles[row] += options.get("turn", 0.0)
    return replace(outline, fields=(replace(first, centres=centres, angles=angles), *rest))


def shuffled(outline, seed=3):
    """The same holes in another order, every field in two parts."""
    rng = np.random.default_rng(seed)
    fields = []
    for field in outline.fields:
        order = rng.permutation(field.count)
        for rows in np.array_split(order, 2):
            fields.append(replace(field, centres=field.centres[rows], angles=field.angles[rows]))
    return replace(outline, fields=tuple(fields[::-1]))


def members(outlines):
    return [[i for i, _ in group.members] for group in congruence_groups(outlines, [None] * len(outlines))]


# Marks ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("codes", [(code,) for code in CODES] + [("R5T8", "LR4x12 random 15")])
@given(move=plane_motions(2000.0))
def test_equal_fields_share_a_mark_wherever_they_lie(codes, move):
    outline = perforated(BOX, *codes)
    assert members([outline, shuffled(outline).moved(move)]) == [[0, 1]]


@pytest.mark.parametrize("code", CODES)
def test_unequal_fields_do_not(code):
    outline = perforated(BOX, code)
    field = outline.fields[0]
    less = replace(outline, fields=(replace(field, centres=field.centres[1:], angles=field.angles[1:]),))
    others = [changed(outline, 5, by=(0.05, 0.0)), less, replace(outline, fields=())]
    if not isinstance(field.shape, Circle):
        others.append(changed(outline, 5, turn=np.radians(7.0)))
    assert members([outline, *others]) == [[i] for i in range(1 + len(others))]


def test_another_hole_on_the_same_lattice_is_another_piece():
    outlines = [perforated(BOX, code) for code in ("R5U9", "R4U9", "C5U9")]
    centres = outlines[0].fields[0].centres
    same = [replace(o, fields=(HoleField(shape=o.fields[0].shape, centres=centres, angles=np.zeros(len(centres))),))
            for o in outlines]
    assert members(same) == [[0], [1], [2]]


def test_the_field_decides_which_way_a_symmetric_piece_lies():
    """A plain rectangle fits itself two ways; perforated at one end it fits one way."""
    outline = piece(BOX)
    (band,) = fill_bands(shapely.box(10, 10, 80, 100), [Band(code="R5T8")])
    ported = replace(outline, fields=(band.holes,))
    assert ways_to_fit(outline, 0.1).turns == 2
    assert ways_to_fit(ported, 0.1).turns == 1
    move = motion(180, 220, 130)
    (group,) = congruence_groups([ported, shuffled(ported).moved(move)], [0, 0])
    assert np.allclose(group.members[1][1], move, atol=1e-9)


@given(move=plane_motions(500.0))
def test_the_drawing_does_not_depend_on_how_the_piece_came(move):
    outline = perforated([(0, 0), (130, 0), (130, 130), (0, 130)], "LR4x12 random 15")
    there = shuffled(outline).moved(move)
    one, two = (o.moved(drawing_frame(o)) for o in (outline, there))
    tree = shapely.STRtree(shapely.points(np.concatenate([f.centres for f in two.fields])))
    assert (tree.query_nearest(shapely.points(one.fields[0].centres), return_distance=True)[1] < 1e-6).all()


# DXF -----------------------------------------------------------------------------------------------------


def cut_rings(data, chord=0.005):
    """Everything on CUT as ezdxf reads it: shapely polygons, the outer contour first. Each must be closed."""
    out = []
    for entity in ezdxf.read(io.StringIO(data.decode("cp1252"))).modelspace().query('*[layer=="CUT"]'):
        assert entity.dxftype() == "CIRCLE" or (entity.dxftype() == "LWPOLYLINE" and entity.closed)
        path = ezdxf.path.make_path(entity)
        out.append(shapely.Polygon([(p.x, p.y) for p in path.flattening(chord)]))
    return np.array(out)


@pytest.mark.parametrize("codes", [("R5T8",), ("LR4x15Z8x19", "C5U8"), ("H6T8", "LR4x12 random 15")])
def test_ezdxf_reads_every_hole_closed_once_and_apart(codes):
    outline = perforated(BOX, *codes, holes=(Circle(centre=(160.0, 60.0), diameter=40.0),))
    outer, *holes = cut_rings(plate_dxf(plate(outline), Settings()))
    count = 1 + sum(field.count for field in outline.fields)
    assert len(holes) == count > 100
    assert shapely.is_valid(holes).all() and shapely.contains_properly(outer, holes).all()
    a, b = shapely.STRtree(holes).query(holes, predicate="intersects")
    assert (a == b).all()                                        # none crosses, touches or repeats another
    expected = sum(field.area() for field in outline.fields) + np.pi * 400
    assert shapely.area(holes).sum() == pytest.approx(expected, rel=2e-3)
    there = shapely.STRtree(drawn(outline, 0.005))
    found = there.query_nearest(holes[1:], all_matches=False)[1]
    assert sorted(found) == list(range(count - 1))


@pytest.mark.parametrize("units", ["mm", "in"])
@pytest.mark.parametrize("code", CODES)
def test_the_file_is_what_it_would_be_with_every_hole_by_itself(code, units):
    outline = perforated(BOX, code, turn=13.0)
    loose = replace(outline, fields=(), holes=tuple(outline.fields[0].holes()))
    settings = Settings(dxf_units=units, etch=False)
    assert plate_dxf(plate(outline), settings) == plate_dxf(plate(loose), settings)


def test_ezdxf_and_gdal_find_no_fault(tmp_path):
    outline = perforated(BOX, "R5T8", "LR4x15Z8x19")
    data = plate_dxf(plate(outline), Settings())
    auditor = ezdxf.read(io.StringIO(data.decode("cp1252"))).audit()
    assert (auditor.errors, auditor.fixes) == ([], [])
    (tmp_path / "plate.dxf").write_bytes(data)
    layers = pyogrio.raw.read(tmp_path / "plate.dxf", columns=["Layer"])[3][0]
    assert np.count_nonzero(layers == "CUT") == 1 + sum(field.count for field in outline.fields)


# Etched texts --------------------------------------------------------------------------------------------


@pytest.mark.parametrize("code", CODES)
def test_texts_keep_clear_of_perforations(code):
    outline = piece(BOX)
    (band,) = fill_bands(shapely.box(20, 25, 200, 95), [Band(code=code)])
    outline = replace(outline, fields=(band.holes,))
    borders = [border(p, q, "P02") for p, q in zip(BOX, BOX[1:] + BOX[:1], strict=True)]
    piece_ = plate(outline, borders=borders)
    texts = etch_texts(piece_)
    assert [t.text for t in texts] == ["P01"] + ["P02"] * 4
    runs = shapely.MultiLineString([run.tolist() for text in texts for run in etch_strokes(text)])
    assert shapely.distance(runs, drawn(outline)).min() >= 3.0 - 0.15
    assert metal(outline).exterior.distance(runs) >= 3.0 - 0.15


def test_the_mark_is_left_out_where_perforations_leave_no_room():
    assert etch_texts(plate(perforated(BOX, "R5T8"))) == ()


# Meshes --------------------------------------------------------------------------------------------------


def solid_of(outline, thickness=3.0, **options):
    points, triangles = plate_mesh(outline, thickness, **options)
    return trimesh.Trimesh(points, triangles, process=False)


@given(star_polygons(radius=(60.0, 140.0)), st.sampled_from(CODES), numbers(-180, 180), st.booleans())
def test_the_mesh_is_one_closed_solid_with_every_hole(points, code, turn, holed):
    holes = (Circle(centre=(5.0, 8.0), diameter=20.0),) if holed else ()
    assume(not holed or shapely.Polygon(points).contains(shapely.Point(5.0, 8.0).buffer(11.0)))
    outline = perforated(points, code, turn=turn, holes=holes)
    count = sum(field.count for field in outline.fields)
    mesh = solid_of(outline)
    assert mesh.is_watertight and mesh.is_winding_consistent
    assert mesh.euler_number == 2 - 2 * (count + len(holes))
    hole = abs(outline.fields[0].shape.area()) if count else 0.0
    assert mesh.volume / 3.0 == pytest.approx(metal(outline).area - count * hole, rel=1e-9)


def test_points_of_the_mesh_lie_on_the_two_faces_and_walls_on_the_contours():
    outline = perforated(BOX, "LR4x12 random 15")
    points, triangles = plate_mesh(outline, 3.0)
    count = len(points) // 2
    assert (points[:count, 2] == 0).all() and (points[count:, 2] == 3).all()
    assert (points[:count, :2] == points[count:, :2]).all()
    upright = np.ptp(points[triangles][:, :, 2], axis=1) > 0
    edges = shapely.union_all([metal(outline).boundary, *(p.boundary for p in drawn(outline, 0.001))])
    assert shapely.distance(edges, shapely.points(points[np.unique(triangles[upright]), :2])).max() < 0.1


def test_bars_thinner_than_the_mesh_is_coarse_stay_whole():
    outline = perforated(BOX, "R5T5.05")
    mesh = solid_of(outline)
    assert mesh.is_watertight and mesh.euler_number == 2 - 2 * outline.fields[0].count


def test_the_fields_can_be_left_out_of_the_mesh():
    outline = perforated(BOX, "R5T8")
    assert solid_of(outline, fields=False).volume == pytest.approx(220 * 130 * 3)


def test_a_field_of_one_hole_and_a_field_of_none():
    one = HoleField(shape=Circle(centre=(0.0, 0.0), diameter=8.0), centres=np.array([[50.0, 50.0]]), angles=np.zeros(1))
    none = replace(one, centres=np.zeros((0, 2)), angles=np.zeros(0))
    assert solid_of(replace(piece(BOX), fields=(none,))).volume == pytest.approx(220 * 130 * 3)
    mesh = solid_of(replace(piece(BOX), fields=(none, one)))
    assert mesh.is_watertight and mesh.euler_number == 0


def test_the_glb_node_of_a_perforated_plate_is_watertight():
    outline = perforated(BOX, "R5T8", "LR4x12 random 15")
    kit = Kit(
        name="field", settings=Settings(), plates=(plate(outline),), joints=(), corners=(), envelopes=(), checks=())
    scene = trimesh.load(io.BytesIO(assembly_glb(kit)), file_type="glb")
    mesh = scene.geometry["P01"]
    assert mesh.is_watertight
    assert mesh.euler_number == 2 - 2 * sum(field.count for field in outline.fields)


# Time ----------------------------------------------------------------------------------------------------


def test_ten_thousand_holes_stay_workable():
    side = 900.0
    outline = perforated([(0, 0), (side, 0), (side, side), (0, side)], "R5T8")
    assert outline.fields[0].count > 10_000
    seconds = {}

    def timed(what, work):
        begin = time.perf_counter()
        work()
        seconds[what] = time.perf_counter() - begin

    timed("mark", lambda: congruence_groups([outline, shuffled(outline).moved(motion(33, 5, 6))], [0, 0]))
    timed("drawing", lambda: drawing_frame(outline))
    timed("dxf", lambda: plate_dxf(plate(outline), Settings()))
    timed("mesh", lambda: plate_mesh(outline, 3.0))
    timed("checks", lambda: check_plates((plate(outline),), 0.1))
    print(seconds)                                                     # by a square law minutes; see tests/bench
