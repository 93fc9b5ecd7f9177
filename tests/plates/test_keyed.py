"""Plates that can be welded in wrong, and cannot once they are keyed: tried on the written drawings, by every turn,
turned over or not, that lays a side of one outline along a side of another."""

import dataclasses
import json
import math

import numpy as np
import pytest
import shapely
from baffled import QUIET, upright, with_inner
from judges import worst_overlap
from plain_shapes import box
from strategies import prism
from written_solids import cut_rings

from tackwright.core.files.kit_json import kit_json
from tackwright.core.files.plate_dxf import plate_dxf
from tackwright.core.make_kit import make_kit
from tackwright.core.terms.choices import Choices, MarkedOpening, Settings

PLAY = 0.35      # mm by which two outlines may differ and one still goes where the other should: the gap, and rounding


def outlines(kit):
    """By mark: thickness, the outer contour and the shape with its holes, read from the DXF."""
    record = json.loads(kit_json(kit))
    out = {}
    for plate, row in zip(kit.plates, record["plates"], strict=True):
        text = plate_dxf(plate, dataclasses.replace(kit.settings, etch=False, note=False)).decode("cp1252")
        rings = sorted(cut_rings(text), key=lambda ring: -shapely.Polygon(ring).area)
        out[plate.mark] = (row["thickness"], shapely.Polygon(rings[0]), shapely.Polygon(rings[0], rings[1:]))
    return out


def motions(one, other):
    """(k, 6) as shapely's affine: turns by steps of a side's direction and mirrors, middles on each other."""
    def angles(shape):
        points = np.array(shape.convex_hull.exterior.coords)
        sides = np.diff(points, axis=0)
        return [math.atan2(y, x) for x, y in sides if math.hypot(x, y) > 20.0]

    found = set()
    for flip in (1.0, -1.0):
        for a in angles(one):
            for b in angles(other):
                turn = round(b - (a if flip > 0 else math.pi - a), 6)
                found |= {(flip, round((turn + extra) % (2 * math.pi), 6)) for extra in (0.0, math.pi)}
    for flip, turn in sorted(found):
        c, s = math.cos(turn), math.sin(turn)
        matrix = np.array([[c * flip, -s], [s * flip, c]])
        x, y = np.array(other.centroid.coords[0]) - matrix @ np.array(one.centroid.coords[0])
        yield [matrix[0, 0], matrix[0, 1], matrix[1, 0], matrix[1, 1], x, y]


def wrong_fits(kit):
    """Marks (own, place) of which the outline goes into the place and the holes do not lie as they should."""
    shapes = outlines(kit)
    out = set()
    for own, (thick, outer, whole) in shapes.items():
        for place, (other_thick, other, other_whole) in shapes.items():
            if thick != other_thick:
                continue
            for motion in motions(outer, other):
                moved = shapely.affinity.affine_transform(outer, motion)
                if not other.buffer(PLAY, join_style="mitre").covers(moved) or abs(moved.area - other.area) > 30.0:
                    continue
                placed = shapely.affinity.affine_transform(whole, motion)
                if shapely.symmetric_difference(placed, other_whole).area > 60.0:
                    out.add((own, place))
    return out


def ported(mesh, openings, **more):
    settings = Settings(sealed=True, corner="closed", material="steel A36", **more)
    return make_kit(mesh, Choices(settings=settings, openings=openings))


FILL = MarkedOpening(name="fill", at=(80.0, 60.0, 200.0), size=(40.0,))
FRONT = MarkedOpening(name="port", at=(100.0, 0.0, 70.0), size=(25.0,))


@pytest.mark.parametrize("openings", [(FILL,), (FRONT,), (FILL, FRONT)])
def test_a_box_goes_together_one_way_only_once_it_is_keyed(openings):
    mesh = box(300, 200, 200)
    plain, keyed = ported(mesh, openings), ported(mesh, openings, keyed=True)
    assert wrong_fits(plain)                                     # the judge sees what could be mistaken
    assert not wrong_fits(keyed)
    assert not [f for f in keyed.checks if f.rule == "fits_more_than_one_way"]
    assert worst_overlap(keyed) < 0.01 and len(keyed.joints) == len(plain.joints)


def test_a_hexagonal_drum_with_a_port():
    ring = np.array([(200 * math.cos(i * math.pi / 3), 200 * math.sin(i * math.pi / 3)) for i in range(6)])
    port = MarkedOpening(name="port", at=(60.0, 20.0, 150.0), size=(30.0,))
    plain, keyed = (ported(prism(ring, 150.0), (port,), keyed=wanted) for wanted in (False, True))
    assert wrong_fits(plain) and not wrong_fits(keyed)


def test_baffles_that_pass_for_each_other():
    rings = [upright(100.0), upright(200.0)]
    mesh, choices = with_inner(box(300, 200, 150), rings, QUIET)
    hole = MarkedOpening(name="way", at=(100.0, 60.0, 40.0), size=(30.0,), axis=(1.0, 0.0, 0.0))
    kits = [
        make_kit(mesh, dataclasses.replace(
            choices, openings=(hole,), settings=dataclasses.replace(QUIET, keyed=wanted))) for wanted in (False, True)]
    assert wrong_fits(kits[0])
    assert not wrong_fits(kits[1])


def test_nothing_moves_where_nothing_can_be_mistaken():
    mesh = box(300, 200, 150)
    plain, keyed = ported(mesh, ()), ported(mesh, (), keyed=True)
    assert kit_json(plain) == kit_json(dataclasses.replace(keyed, settings=plain.settings))
