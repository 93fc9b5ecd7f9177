"""Tees against worked cases, and against polygons of the section cut with shapely."""

import dataclasses
import math

import numpy as np
import pytest
import shapely
from baffled import inner_of, upright, with_inner
from drawn_meshes import box
from hypothesis import given
from strategies import numbers

from tackwright.core.inner.tee_section import slot_span, tab_reach, tee_wedge
from tackwright.core.make_kit import make_kit
from tackwright.core.terms.choices import Settings, TabRule

# thickness, wall, angle: setback on the middle plane, on the obtuse face, slot of a tab that goes right through,
# slot of a tab that ends flush, wedge. Derived by hand from the section.
WORKED = [
    (3, 3, 90, 0.0, 0.0, 3.000, 3.000, 0.0),
    (3, 3, 75, 0.4019, 0.8038, 3.910, 3.702, 1.206),
    (3, 3, 60, 0.8660, 1.732, 5.196, 4.330, 2.598),
    (3, 3, 45, 1.500, 3.000, 7.243, 5.121, 4.500),
    (3, 3, 30, 2.598, 5.196, 11.196, 6.696, 7.794),
    (2, 4, 60, 0.5774, 1.155, 4.619, 4.041, 1.155),
    (6, 3, 45, 3.000, 6.000, 11.485, 6.000, 18.000),
    (1.6, 1.6, 60, 0.4619, 0.9238, 2.771, 2.309, 0.739),
]


@pytest.mark.parametrize(("t", "wall", "angle", "middle", "obtuse"), [row[:5] for row in WORKED])
def test_a_plate_between_floor_and_lid_is_short_by_its_setbacks(t, wall, angle, middle, obtuse):
    """Cut square, it touches each with its nearer corner: on its middle plane it ends `middle` before."""
    clear = 150.0 - 2 * wall
    lean = 150.0 / math.tan(math.radians(angle))
    settings = Settings(thickness=wall, sealed=True, tabs=TabRule(on=False), metal_side="inside")
    mesh, choices = with_inner(box(400.0, 200.0, 150.0), [upright(20.0, lean=lean)], settings)
    own = {face: dataclasses.replace(choice, thickness=float(t), metal_side="centred")
           for face, choice in choices.faces.items()}
    (plate,) = inner_of(make_kit(mesh, dataclasses.replace(choices, faces=own)))
    long = clear / math.sin(math.radians(angle)) - 2 * middle
    across = 200.0 - 2 * wall
    assert sorted(plate.size) == pytest.approx(sorted((long, across)), abs=2e-3)
    assert obtuse == pytest.approx(2 * middle, abs=1e-3)


@pytest.mark.parametrize(("t", "wall", "angle", "middle", "obtuse", "through", "flush", "wedge"), WORKED)
def test_worked_tees(t, wall, angle, middle, obtuse, through, flush, wedge):
    assert float(tee_wedge(t, angle)) == pytest.approx(wedge, abs=6e-4)
    start, end = slot_span(t, wall, angle, 1000.0)
    assert (start, end - start) == pytest.approx((0.0, through), abs=6e-4)
    start, end = slot_span(t, wall, angle, tab_reach(wall, angle))
    assert (start, end - start) == pytest.approx((0.0, flush), abs=6e-4)


def test_a_right_angle_is_exact():
    assert slot_span(3.0, 4.0, 90.0, 4.0, 0.05) == (pytest.approx(-0.05), pytest.approx(3.05))
    assert float(tab_reach(4.0, 90.0, 1.5)) == 2.5


def test_a_tab_short_of_the_surface_is_short_square_to_it():
    assert float(tab_reach(3.0, 30.0, 1.0)) * math.sin(math.radians(30.0)) == pytest.approx(2.0)
    assert float(tab_reach(3.0, 30.0, 5.0)) == 0.0


@given(numbers(0.8, 8), numbers(0.8, 8), numbers(20, 90), numbers(0, 1), numbers(0, 0.3))
def test_the_slot_is_what_the_tab_takes_up(t, wall, angle, share, clear):
    """The section drawn as polygons: the slot spans exactly the part of the tab that is inside the wall."""
    reach = float(tab_reach(wall, angle, share * wall * 0.9))
    a = math.radians(angle)
    out, across = np.array([math.cos(a), math.sin(a)]), np.array([math.sin(a), -math.cos(a)])
    far = 50.0
    tab = shapely.Polygon([b * across + s * out for s, b in ((-far, 0), (reach, 0), (reach, t), (-far, t))])
    inside = shapely.intersection(tab, shapely.box(-1000, 0, 1000, wall))
    start, end = slot_span(t, wall, angle, reach)
    assert inside.bounds[0] == pytest.approx(float(start), abs=1e-9)
    assert inside.bounds[2] == pytest.approx(float(end), abs=1e-9)
    low, high = slot_span(t, wall, angle, reach, clear)
    assert (float(start - low), float(high - end)) == pytest.approx((clear / math.sin(a),) * 2)
    # the plate's nearer corner touches the wall and nothing of the plate is in it
    body = shapely.Polygon([b * across + s * out for s, b in ((-far, 0), (0, 0), (0, t), (-far, t))])
    assert shapely.intersection(body, shapely.box(-1000, 0, 1000, wall)).area < 1e-12
    assert body.bounds[3] == pytest.approx(0.0, abs=1e-12)
    # what is open between its square end and the wall, up to the obtuse face extended
    wedge = shapely.Polygon([(0, 0), t * across, t * across + out * t / math.tan(a)])
    assert wedge.area == pytest.approx(float(tee_wedge(t, angle)), abs=1e-9)
