"""Where marks are etched, whether, and what an inner plate's drawn face looks at: read from written DXF by ezdxf."""

import dataclasses
import io
import json

import ezdxf
import numpy as np
import pytest
import shapely
from baffled import QUIET, boxed, upright, with_inner
from demo_kits import made
from plain_shapes import box

from tackwright.core.files.job import read_job
from tackwright.core.files.kit_folder import kit_files
from tackwright.core.make_kit import make_kit
from tackwright.core.terms.choices import Choices, PanelChoice, Settings

SIZE = (300.0, 200.0, 150.0)


def drawings(kit):
    """By mark: the plate's record, its cuts as one shape, the strokes that are etched, the notes."""
    files = dict(kit_files(kit))
    out = {}
    for plate in json.loads(files["kit.json"])["plates"]:
        space = ezdxf.read(io.StringIO(files[plate["file"]].decode("cp1252"))).modelspace()
        rings = [[(x, y) for x, y, *_ in line.get_points()] for line in space.query("LWPOLYLINE[layer=='CUT']")]
        rings.sort(key=lambda ring: -shapely.Polygon(ring).area)
        shape = shapely.Polygon(rings[0], rings[1:])
        for circle in space.query("CIRCLE[layer=='CUT']"):
            middle = shapely.Point(circle.dxf.center.x, circle.dxf.center.y)
            shape = shape.difference(middle.buffer(circle.dxf.radius))
        strokes = [shapely.LineString([(x, y) for x, y, *_ in line.get_points()])
                   for line in space.query("LWPOLYLINE[layer=='ETCH']")]
        out[plate["mark"]] = (plate, shape, strokes, [text.dxf.text for text in space.query("TEXT")])
    return out


def panels(kit):
    return {p.panel: (plate.mark, p.matrix) for plate in kit.plates for p in plate.placements}


@pytest.mark.parametrize("name", ["bow_tank", "drill_upright", "hopper"])
def test_what_is_etched_lies_on_the_plate_clear_of_every_cut(name):
    for plate, shape, strokes, _ in drawings(made(name)).values():
        assert strokes
        marks = shapely.union_all(strokes)
        assert shape.covers(marks), plate["mark"]
        assert shape.boundary.distance(marks) >= min(plate["thickness"], 6.0) - 1e-6


@pytest.mark.parametrize("name", ["bow_tank", "drill_upright"])
def test_walls_are_etched_on_the_face_that_stays_in_sight(name):
    """The top of a drawing is the side of its placement's z axis: away from the middle of all plates beside it there is
    nothing, and a line outward meets no plate an odd number of times."""
    kit = made(name)
    record = json.loads(dict(kit_files(kit))["kit.json"])
    walls = [(plate, np.array(one["matrix"])) for plate in record["plates"] if plate["role"] == "wall"
             for one in plate["placements"]]
    shapes = {mark: shape for mark, (_, shape, *_) in drawings(kit).items()}
    for plate, matrix in walls:
        at = shapely.point_on_surface(shapes[plate["mark"]])
        start = (matrix @ [at.x, at.y, plate["thickness"], 1.0])[:3]
        crossed = 0
        for other, place in walls:
            back = np.linalg.inv(place)
            origin, way = (back @ [*start, 1.0])[:3], back[:3, :3] @ matrix[:3, 2]
            if place is matrix or abs(way[2]) < 1e-9:
                continue
            far = (other["thickness"] / 2 - origin[2]) / way[2]
            hit = origin + way * far
            filled = shapely.Polygon(shapes[other["mark"]].exterior)
            crossed += far > 0 and filled.covers(shapely.Point(hit[:2]))
        assert crossed % 2 == 0, plate["mark"]


def test_a_baffles_face_is_named_by_what_it_looks_at():
    kit = boxed([upright(100.0)], QUIET)
    found = drawings(kit)
    where = panels(kit)
    mark, matrix = where["inner 1"]
    ahead = matrix[:3, 2]
    assert abs(ahead[0]) == pytest.approx(1.0)
    facing = "right" if ahead[0] > 0 else "left"
    notes = found[mark][3]
    assert f"this face towards {where[facing][0]} {facing}" in notes and "outside face up" not in notes
    assert all("outside face up" in found[where[wall][0]][3] for wall in ("top", "bottom", "left"))


def test_the_mark_is_left_out_or_moved_for_one_plate_alone():
    plain, base = boxed([upright(100.0)], QUIET), drawings(boxed([upright(100.0)], QUIET))
    mesh, choices = with_inner(box(*SIZE), [upright(100.0)], QUIET)
    wanted = (60.0, 40.0, 150.0)
    moved = make_kit(mesh, dataclasses.replace(choices, panels={
        "top": PanelChoice(mark_at=wanted), "front": PanelChoice(mark=False)}))
    where, found = panels(moved), drawings(moved)
    mark, matrix = where["top"]
    _, shape, strokes, _ = found[mark]
    at = (np.linalg.inv(matrix) @ [*wanted, 1.0])[:2]
    near = [stroke for stroke in strokes if stroke.distance(shapely.Point(at)) < 15.0]
    boxes = shapely.box(*shapely.union_all(near).bounds)
    assert len(near) >= 3 and boxes.contains(shapely.Point(at)) and shape.contains(boxes)
    front = where["front"][0]
    assert len(found[front][2]) < len(base[panels(plain)["front"][0]][2])
    assert not [f for f in moved.checks if f.rule == "mark_misplaced"]


@pytest.mark.parametrize(("at", "why"), [((900.0, 40.0, 150.0), "off the plate"), ((5.0, 100.0, 150.0), "from a cut")])
def test_a_place_off_the_plate_or_over_a_cut_is_said_and_the_mark_stands_where_it_fits(at, why):
    kit = make_kit(box(*SIZE), Choices(settings=Settings(sealed=True), panels={"top": PanelChoice(mark_at=at)}))
    (found,) = [f for f in kit.checks if f.rule == "mark_misplaced"]
    assert found.level == "warning" and why in found.message and found.faces
    _, shape, strokes, _ = drawings(kit)[panels(kit)["top"][0]]
    assert strokes and shape.covers(shapely.union_all(strokes))


def test_a_job_says_both(tmp_path):
    path = tmp_path / "job.toml"
    path.write_text('mesh = "a.obj"\nunits = "in"\n[panels.lid]\nmark = false\n[panels.floor]\nmark_at = [1, 2, 0]\n')
    panels_of = read_job(path).choices.panels
    assert panels_of["lid"].mark is False and panels_of["floor"].mark_at == (25.4, 50.8, 0.0)
