"""Plates laid flat for looking: nothing overlaps (shapely), like by like, near the model and on its ground."""

from __future__ import annotations

import dataclasses
import itertools

import numpy as np
import pytest
import shapely
from baffled import boxed, upright
from demo_kits import made
from hypothesis import given, settings
from judges import placed_solids
from kit_samples import corner_kit, plate, straight, turned
from strategies import envelopes

from tackwright.core.kit.kit import Placement
from tackwright.core.kit.laid_flat import lay_flat
from tackwright.core.make_kit import make_kit
from tackwright.core.terms.choices import Choices, Settings


def lying(kit, **more):
    """{id: (plate, polygon as it lies)}."""
    places = lay_flat(kit.plates, **more)
    return {placed.id: (p, shapely.transform(shapely.Polygon(p.outline.outer.flatten()), lambda c, at=at: c + at[:2]))
            for p in kit.plates for placed in p.placements for at in [places[placed.id]]}


def tidy(kit):
    lain = lying(kit)
    nearest = min((a.distance(b) for (_, a), (_, b) in itertools.combinations(lain.values(), 2)), default=np.inf)
    assert nearest >= 4.0 * max(p.thickness for p in kit.plates) - 1e-6
    solids = np.array([s.bounding_box() for s in placed_solids(kit).values()])
    places = lay_flat(kit.plates)
    assert np.ptp([at[2] for at in places.values()]) == 0.0
    assert next(iter(places.values()))[2] == pytest.approx(solids[:, 2].min(), abs=1e-4)
    left, front = (min(p.bounds[i] for _, p in lain.values()) for i in (0, 1))
    assert left > solids[:, 3].max(), "beside the model, not under it"
    assert front == pytest.approx(solids[:, 1].min(), abs=1e-4)
    return lain


@pytest.mark.parametrize("name", ["bow_tank", "hopper", "drill_upright"])
def test_the_demos_lie_tidily(name):
    kit = made(name)
    lain = tidy(kit)
    assert lain.keys() == set(placed_solids(kit))
    bounds = shapely.total_bounds([p for _, p in lain.values()])
    wide, deep = bounds[2] - bounds[0], bounds[3] - bounds[1]
    assert 0.75 < wide / deep < 3.0, "wanted: 1.5"


@given(envelopes())
@settings(max_examples=15)
def test_no_plates_overlap_whatever_the_envelope(mesh):
    tidy(make_kit(mesh, Choices(settings=Settings(thickness=3.0, sealed=True))))


def of(rows):
    """A kit of rectangles: (mark, width, height, thickness, copies)."""
    plates = tuple(
        plate(straight([(0, 0), (w, 0), (w, h), (0, h)]), mark=mark, thickness=t,
              placements=[Placement(id=f"{mark}-{i + 1}", panel=f"{mark} {i}", faces=(0,),
                                    matrix=turned(2, 0.0, (0, 0, 20.0 * i))) for i in range(copies)])
        for mark, w, h, t, copies in rows)
    return dataclasses.replace(corner_kit(), plates=plates, joints=(), corners=(), envelopes=(), checks=())


def rows_of(lain):
    """The ids in every row, front row first, from left to right."""
    rows: dict[float, list[tuple[float, str]]] = {}
    for name, (_, shape) in lain.items():
        rows.setdefault(round(shape.bounds[1], 6), []).append((shape.bounds[0], name))
    return [[name for _, name in sorted(row)] for _, row in sorted(rows.items())]


def test_a_thickness_begins_a_row_and_copies_follow_each_other():
    kit = of([("P01", 300, 200, 3.0, 1), ("P02", 200, 150, 5.0, 2), ("P03", 150, 80, 3.0, 3), ("P04", 60, 40, 5.0, 1)])
    rows = rows_of(lying(kit))
    order = [name for row in rows for name in row]
    assert order == ["P02-1", "P02-2", "P04-1", "P01-1", "P03-1", "P03-2", "P03-3"]
    assert any(row[0] == "P01-1" for row in rows)
    for row in rows:
        assert len({name[:3] in ("P02", "P04") for name in row}) == 1, "one thickness a row"


@pytest.mark.parametrize("aspect", [0.5, 1.0, 2.0, 4.0])
def test_many_like_plates_come_near_the_wanted_shape(aspect):
    lain = lying(of([("P01", 100, 60, 3.0, 60)]), aspect=aspect)
    bounds = shapely.total_bounds([p for _, p in lain.values()])
    assert (bounds[2] - bounds[0]) / (bounds[3] - bounds[1]) == pytest.approx(aspect, rel=0.2)


def test_marks_beyond_ninety_nine_keep_their_order():
    kit = boxed([upright(20 + 20 * i) for i in range(6)], size=(2100.0, 200.0, 150.0))
    renamed = dataclasses.replace(kit, plates=tuple(
        dataclasses.replace(p, mark=f"P{98 + i}") for i, p in enumerate(kit.plates)))
    order = [name for row in rows_of(lying(renamed)) for name in row]
    assert order == [placed.id for p in renamed.plates for placed in p.placements]


def test_one_plate_and_none():
    one = of([("P01", 100, 60, 3.0, 1)])
    assert lay_flat(one.plates).keys() == {"P01-1"}
    assert lay_flat(()) == {}


def test_the_same_kit_lies_the_same_to_the_last_bit():
    kit = made("bow_tank")
    one, two = lay_flat(kit.plates), lay_flat(kit.plates)
    assert all(np.array_equal(one[name], two[name]) for name in one)
