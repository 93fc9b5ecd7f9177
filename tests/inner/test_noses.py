"""Points of inner plates are cut blunt: judged from the written drawing."""

import itertools
import math

import numpy as np
import pytest
import shapely
from open_sheets import Sheet, cut_plate, half

from tackwright.core.make_kit import make_kit
from tackwright.core.terms.choices import Choices, Settings

CORNER = Sheet(angle=90.0, side="outside", looks_in=False)


def tees(kit):
    return [joint for joint in kit.joints if joint.kind == "tee"]


def body(kit, sheet=CORNER):
    before = shapely.intersection_all([half(at, into) for at, into in sheet.grounds()])
    return shapely.intersection(cut_plate(kit), before, grid_size=1e-7)


def blunt(ring, height, at):
    """The triangle without its tips along x and y, each cut square to the side that stands there."""
    (x, y) = at
    slope = y / x
    return shapely.intersection(shapely.Polygon(ring), shapely.box(0, 0, x - height / slope, y - height * slope))


@pytest.mark.parametrize(("leg", "rise"), [(100.0, 100.0), (150.0, 90.0), (90.0, 150.0)])
@pytest.mark.parametrize("height", [None, 8.0])
def test_a_gussets_points_end_blunt_and_its_tees_with_them(leg, rise, height):
    """Common practice, no source: a point along a weld burns away; 1.5 t and 5 mm at least where nobody said."""
    ring = [(0, 0), (leg, 0), (0, rise)]
    kit = make_kit(*CORNER.drawing(ring, nose=height))
    wanted = blunt(ring, height or 5.0, (leg, rise))
    assert shapely.symmetric_difference(body(kit), wanted, grid_size=1e-7).area < 0.01
    lengths = sorted(joint.length for joint in tees(kit))
    high = height or 5.0
    assert lengths == pytest.approx(sorted([leg - high * leg / rise, rise - high * rise / leg]), abs=0.01)
    (note,) = [finding for finding in kit.checks if finding.rule == "nose_blunted"]
    assert note.level == "note" and "2 points" in note.message and f"{high:.1f} mm" in note.message


def test_none_is_cut_where_nobody_wants_it_or_the_end_is_blunt_already():
    ring = [(0, 0), (100, 0), (0, 100)]
    plain = make_kit(*CORNER.drawing(ring, nose=0.0))
    assert body(plain).area == pytest.approx(5000.0, abs=0.01)
    assert not [finding for finding in plain.checks if finding.rule == "nose_blunted"]
    for blunt_ring in ([(0, 0), (100, 0), (100, 8), (8, 100), (0, 100)], [(0, 0), (100, 0), (120, 60), (0, 60)]):
        kit = make_kit(*CORNER.drawing(blunt_ring, nose=None))
        assert not [finding for finding in kit.checks if finding.rule == "nose_blunted"]
        assert body(kit).area == pytest.approx(shapely.Polygon(blunt_ring).area, abs=0.01)


@pytest.mark.parametrize("angle", [20.0, 40.0, 60.0, 74.0])
def test_a_nose_is_as_high_as_asked_at_any_angle_whichever_way_it_is_wound(angle):
    rise = 100.0 * math.tan(math.radians(angle))
    ring = np.array([(0, 0), (100.0, 0), (0, rise)])
    seen = []
    for wound in (ring, ring[::-1]):
        shape = body(make_kit(*CORNER.drawing(wound, nose=6.0)))
        edge = np.array(shape.exterior.coords)
        upright = [abs(b[1] - a[1]) for a, b in itertools.pairwise(edge)
                   if abs(b[0] - a[0]) < 1e-6 and a[0] > 50]
        assert max(upright, default=0.0) == pytest.approx(6.0, abs=1e-4)
        seen.append(shape)
    assert shapely.symmetric_difference(*seen, grid_size=1e-7).area < 1e-3


def test_small_gussets_keep_most_of_their_sides():
    kit = make_kit(*CORNER.drawing([(0, 0), (30, 0), (0, 30)], nose=20.0, tabs=False))
    assert min(joint.length for joint in tees(kit)) >= 0.74 * 30
    assert Choices(settings=Settings()).settings.nose is None
