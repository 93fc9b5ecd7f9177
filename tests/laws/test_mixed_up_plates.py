"""Plates that can be welded in wrong because their outlines agree and their holes do not: told, and nothing else is.

The judge reads the files of the kit alone: every outline laid on every other with shapely, turned and turned over.
"""

from __future__ import annotations

import json
import math
from itertools import combinations

import ezdxf
import ezdxf.path
import numpy as np
import pytest
import shapely
from baffled import upright, with_inner
from drawn_meshes import box, extruded
from hypothesis import given, settings
from hypothesis import strategies as st
from outline_shapes import drilled_stars, mirrored, piece, restarted
from shapely import affinity
from strategies import numbers, plane_motions

from tackwright.core.files.kit_folder import write_kit
from tackwright.core.make_kit import make_kit
from tackwright.core.shapes.fit_ways import Ways, ways_to_fit, wrong_ways
from tackwright.core.shapes.outline import Circle
from tackwright.core.terms.choices import Choices, MarkedOpening, PanelChoice, Settings

RULE = "fits_more_than_one_way"
GAP = 0.1


# ---- the judge

def drawn(path):
    """The outer contour of a DXF and the metal within it."""
    cuts = ezdxf.readfile(path).modelspace().query("*[layer=='CUT']")
    rings = [shapely.Polygon([(p.x, p.y) for p in ezdxf.path.make_path(cut).flattening(0.01)]) for cut in cuts]
    outer = max(rings, key=lambda ring: ring.area)
    return outer, outer.difference(shapely.union_all([ring for ring in rings if ring is not outer]))


def laid_on(one, other):
    """Every motion about the centroids that brings one ring onto the other, as (turned over, angle)."""
    found = []
    for over in (False, True):
        ring = affinity.scale(one, -1, 1, origin=one.centroid) if over else one
        a = shapely.get_coordinates(ring.simplify(0.01))[:-1] - shapely.get_coordinates(ring.centroid)
        b = shapely.get_coordinates(other.simplify(0.01))[:-1] - shapely.get_coordinates(other.centroid)
        for x, y in b[np.abs(np.hypot(*b.T) - np.hypot(*a[0])) < 2 * GAP]:
            angle = math.degrees(math.atan2(y, x) - math.atan2(a[0][1], a[0][0]))
            turned = brought(one, other, one, (over, angle))
            if turned.exterior.hausdorff_distance(other.exterior) < GAP:
                found.append((over, angle))
    return found


def brought(shape, other, one, way):
    over, angle = way
    shape = affinity.scale(shape, -1, 1, origin=one.centroid) if over else shape
    shape = affinity.rotate(shape, angle, origin=one.centroid)
    return affinity.translate(shape, other.centroid.x - one.centroid.x, other.centroid.y - one.centroid.y)


def judged(folder):
    """Which marks fit the place of which with holes elsewhere: sets of one mark or two."""
    kit = json.loads((folder / "kit.json").read_text(encoding="utf-8"))
    plates = [(plate["mark"], plate["thickness"], *drawn(folder / plate["file"])) for plate in kit["plates"]]
    pairs = [(p, p) for p in plates] + list(combinations(plates, 2))
    wrong = set()
    for (mark, t, outer, metal), (place, u, ring, there) in pairs:
        if t != u or abs(outer.area - ring.area) > 1e-3 * ring.area:
            continue
        ways = laid_on(outer, ring)
        apart = [brought(metal, ring, outer, way).symmetric_difference(there).area for way in ways]
        if any(area > 20.0 for area in apart):                # twice the fit gap round a contour is less
            wrong.add(frozenset((mark, place)))
    return kit, wrong


def agrees_with_the_judge(kit, tmp_path):
    record, wrong = judged(write_kit(kit, tmp_path, replace=True))
    told = [frozenset(about.split("-")[0] for about in check["about"])
            for check in record["checks"] if check["rule"] == RULE]
    assert {marks for marks in told if len(marks) == 1} == {marks for marks in wrong if len(marks) == 1}
    for pair in wrong:
        assert any(pair <= marks for marks in told), (pair, told)
    for marks in told:
        # whoever is told of with others has its match among them
        assert len(marks) == 1 or all(any(mark in pair <= marks and len(pair) == 2 for pair in wrong) for mark in marks)
    assert len(told) == len(set(told))
    return wrong


def hole(name, at, size=20.0):
    return MarkedOpening(name=name, at=at, size=(size,))


# ---- kits

def drum(sides, height=80.0):
    turn = 2 * np.pi * np.arange(sides) / sides
    return extruded(90 * np.column_stack([np.cos(turn), np.sin(turn)]), height)


QUIET = {"thickness": 2.0, "sealed": True}


@pytest.mark.parametrize("corner", ["open", "closed"])
@pytest.mark.parametrize(("mesh", "openings", "count"), [
    (box(), (), 0), (drum(8), (), 0),
    (box(), (hole("fill", (150.0, 100.0, 100.0)),), 1),                 # in the middle: top and bottom alone
    (box(), (hole("fill", (80.0, 60.0, 100.0)),), 2),                   # the top turned round as well
    (drum(12), (hole("port", (0.0, 0.0, 80.0)),), 1),
    (drum(12), (hole("port", (30.0, 0.0, 80.0)), hole("vent", (0.0, 0.0, 0.0))), None),
    (extruded([(0, 0), (300, 0), (200, 170), (40, 120)], 90), (hole("fill", (120.0, 70.0, 90.0)),), None),
])
def test_ends_of_which_one_has_the_port(mesh, openings, count, corner, tmp_path):
    wrong = agrees_with_the_judge(
        make_kit(mesh, Choices(settings=Settings(corner=corner, **QUIET), openings=openings)), tmp_path)
    assert count is None or len(wrong) == count


def test_what_is_told_says_which_and_what_to_do():
    kit = make_kit(drum(12), Choices(settings=Settings(**QUIET), openings=(hole("port", (30.0, 0.0, 80.0)),)))
    ends = {plate.mark: plate for plate in kit.plates if plate.name in ("top", "bottom")}
    told = {tuple(f.about): f.message for f in kit.checks if f.rule == RULE}
    own = next(p for p in ends.values() if p.name == "top")
    assert set(told) == {(f"{own.mark}-1",), tuple(sorted(f"{mark}-1" for mark in ends))}
    assert "11 more ways" in told[(f"{own.mark}-1",)] and "check" in told[(f"{own.mark}-1",)]
    both = told[tuple(sorted(f"{mark}-1" for mark in ends))]
    assert all(f"{plate.mark} '{plate.name}'" in both for plate in ends.values())


def test_other_thickness_is_another_outline(tmp_path):
    mesh = box()
    choices = Choices(settings=Settings(corner="closed", **QUIET), openings=(hole("fill", (150.0, 100.0, 100.0)),),
                      faces={5: PanelChoice(thickness=3.0)})
    assert not agrees_with_the_judge(make_kit(mesh, choices), tmp_path)


def test_inner_plates_alike_but_for_a_hole(tmp_path):
    mesh, choices = with_inner(box(), [upright(x, z=(0.0, 100.0)) for x in (100.0, 200.0)], Settings(**QUIET))
    assert not [w for w in agrees_with_the_judge(make_kit(mesh, choices), tmp_path) if len(w) == 2]
    choices = Choices(settings=choices.settings, faces=choices.faces, openings=(hole("way", (100.0, 90.0, 40.0)),))
    kit = make_kit(mesh, choices)
    inner = frozenset(plate.mark for plate in kit.plates if plate.role == "inner")
    assert inner in agrees_with_the_judge(kit, tmp_path)


@settings(max_examples=15, deadline=None)
@given(st.integers(3, 8), st.booleans(), st.sampled_from(["open", "half-open", "closed"]), st.data())
def test_random_prisms_with_random_ports(tmp_path_factory, sides, regular, corner, data):
    turn = 2 * np.pi * np.arange(sides) / sides
    radii = np.full(sides, 100.0) if regular else np.array([data.draw(numbers(85, 115)) for _ in range(sides)])
    mesh = extruded(radii[:, None] * np.column_stack([np.cos(turn), np.sin(turn)]), 90)
    spots = st.sampled_from([(0.0, 0.0), (15.0, 0.0), (0.0, 15.0), (-15.0, -5.0)])
    ends = data.draw(st.lists(st.tuples(st.sampled_from([0.0, 90.0]), spots), max_size=2, unique_by=lambda e: e[0]))
    openings = tuple(hole(f"port {z:g}", (*spot, z), data.draw(st.sampled_from([10.0, 16.0]))) for z, spot in ends)
    kit = make_kit(mesh, Choices(settings=Settings(corner=corner, **QUIET), openings=openings))
    agrees_with_the_judge(kit, tmp_path_factory.mktemp("kit"))


# ---- outlines

@given(drilled_stars(), plane_motions(), st.integers(0, 9))
@settings(deadline=None)
def test_a_piece_in_the_place_of_its_copy_is_wrong_as_often_as_in_its_own(outline, move, by):
    """And turned over in its mirror twin's: there it is right once at least."""
    bare, whole = ways_to_fit(piece(outline.outer.points), GAP), ways_to_fit(outline, GAP)
    wrong = Ways(bare.turns - whole.turns, bare.turned_over - whole.turned_over)
    assert wrong_ways(outline, outline, GAP) == wrong
    assert wrong_ways(outline, restarted(outline.moved(move), by), GAP) == wrong
    twin = wrong_ways(outline, mirrored(outline), GAP)
    assert (twin.turns, twin.turned_over) == (wrong.turned_over, wrong.turns)


@given(drilled_stars(), plane_motions())
@settings(deadline=None)
def test_a_piece_without_a_hole_is_wrong_wherever_there_is_one(outline, move):
    bare = piece(outline.outer.points)
    expected = ways_to_fit(bare, GAP) if outline.holes else Ways(0, 0)
    assert wrong_ways(bare, outline.moved(move), GAP) == expected
    assert wrong_ways(outline.moved(move), bare, GAP) == expected


def test_a_hole_less_than_the_gap_off_is_no_other():
    square = [(0, 0), (100, 0), (100, 100), (0, 100)]
    for off, wrong in ((0.02, Ways(0, 0)), (0.2, Ways(4, 4))):
        one, two = (piece(square, Circle(centre=(50 + x, 50), diameter=20)) for x in (0.0, off))
        assert wrong_ways(one, two, GAP) == wrong
    assert wrong_ways(piece(square), piece([(0, 0), (101, 0), (101, 100), (0, 100)]), GAP) == Ways(0, 0)
    assert wrong_ways(piece(square), piece(square[:3]), GAP) == Ways(0, 0)
