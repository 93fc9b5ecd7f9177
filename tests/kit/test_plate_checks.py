"""Findings about single plates, on plates made by hand. The limits are common practice, no source."""

import numpy as np
import pytest
from lone_plates import ODD, plate

from tackwright.core.kit.plate_checks import check_plates
from tackwright.core.shapes.outline import Circle, Contour


def rules(*args, **kwargs):
    return [(f.rule, f) for f in check_plates((plate(*args, **kwargs),), 0.1) if f.rule != "fits_more_than_one_way"]


@pytest.mark.parametrize(("diameter", "found"), [(2.9, True), (3.0, False), (8.0, False)])
def test_a_hole_smaller_than_the_sheet_is_thick(diameter, found):
    got = rules(ODD, [Circle(centre=(50.0, 40.0), diameter=diameter)])
    assert [r for r, _ in got] == (["hole_too_small"] if found else [])
    if found:
        assert got[0][1].at == pytest.approx((1050, 40, 3))
        assert f"{diameter:.2f} mm" in got[0][1].message and got[0][1].about == ("P01-1",)


def test_a_slot_shaped_hole_counts_by_its_width():
    slot = Contour(points=np.array([(50, 40), (50, 42), (90, 42), (90, 40)], dtype=float))
    assert [r for r, _ in rules(ODD, [slot])] == ["hole_too_small"]


@pytest.mark.parametrize(("gap", "found"), [(2.5, True), (3.5, False)])
def test_a_web_between_two_cuts(gap, found):
    holes = [Circle(centre=(50.0, 40.0), diameter=10.0), Circle(centre=(60.0 + gap, 40.0), diameter=10.0)]
    got = [r for r, _ in rules(ODD, holes)]
    assert ("web_too_small" in got) is found
    edge = rules(ODD, [Circle(centre=(60.0, 5.0 + gap), diameter=10.0)])
    assert ("web_too_small" in [r for r, _ in edge]) is found


def test_a_thin_finger_a_neck_and_a_narrow_slot_of_the_outline():
    finger = [(0, 0), (200, 0), (200, 50), (202, 50), (202, 60), (200, 60), (170, 100), (102, 97), (102, 110),
              (100, 110), (100, 97), (10, 90)]
    assert [r for r, _ in rules(finger)] == ["web_too_small"]
    neck = [(0, 0), (80, 0), (80, 30), (120, 30), (120, 0), (200, 0), (190, 90), (120, 90), (120, 32), (80, 32),
            (80, 80), (0, 70)]
    assert "web_too_small" in [r for r, _ in rules(neck)]
    slot = [(0, 0), (80, 0), (80, 30), (82, 30), (82, 0), (200, 0), (170, 100), (10, 90)]
    assert [r for r, _ in rules(slot)] == ["slot_too_small"]


def test_sharp_corners_are_no_findings():
    notched = [(0, 0), (300, 0), (300, 200), (290, 200), (280, 40), (10, 200), (0, 200)]
    for outer in ([(0, 0), (300, 0), (20, 60)], notched):
        assert rules(outer) == []


RECTANGLE = [(0, 0), (200, 0), (200, 100), (0, 100)]


@pytest.mark.parametrize(("outer", "at", "words"), [
    (RECTANGLE, None, ()),                            # whichever way it lies, nothing is elsewhere
    (RECTANGLE, (100, 50), ()),
    (RECTANGLE, (100, 30), ("turned (1 more way) and turned over",)),
    (RECTANGLE, (60, 30), ("turned (1 more way) and turned over",)),
    ([(0, 0), (200, 0), (150, 100), (50, 100)], (100, 30), ()),
    ([(0, 0), (200, 0), (150, 100), (50, 100)], (80, 30), ("place turned over, with",)),
    (ODD, (80, 30), ()),
])
def test_plates_that_fit_their_own_place_wrongly(outer, at, words):
    holes = [] if at is None else [Circle(centre=at, diameter=20.0)]
    found = [f for f in check_plates((plate(outer, holes),), 0.1) if f.rule == "fits_more_than_one_way"]
    assert bool(found) is bool(words)
    for word in words:
        assert word in found[0].message
