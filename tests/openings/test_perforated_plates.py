"""Perforation fields on plates: where the holes go, what is reported, what is said."""

from __future__ import annotations

import math
import re

import numpy as np
import pytest
import shapely
from hypothesis import assume, given
from hypothesis import strategies as st
from strategies import numbers, rigid_motions, star_polygons

from tackwright.core.openings.perforated_plates import MARGIN, perforate_plates
from tackwright.core.plates.plates import Plate
from tackwright.core.shapes.frame import Frame
from tackwright.core.shapes.outline import Circle, Contour, Outline
from tackwright.core.terms.choices import Band, Field
from tackwright.core.terms.errors import InputError

PORT = Circle(centre=(300.0, 80.0), diameter=60.0)
CORNERS = [(0, 0), (400, 0), (400, 180), (300, 300), (0, 300)]


def plate(corners=CORNERS, holes=(PORT,), thickness=3.0, name="baffle", panel=0, motion=None):
    motion = np.eye(4) if motion is None else motion
    frame = Frame(origin=motion[:3, 3], axes=motion[:3, :3].T)
    outline = Outline(outer=Contour(points=np.asarray(corners, dtype=float)), holes=tuple(holes))
    return Plate(name=name, number=panel, outline=outline, frame=frame, thickness=thickness, low=0.0)


def field(*codes, panel="baffle", **options):
    return Field(panel=panel, bands=tuple(Band(code=code) for code in codes), **options)


def perforate(fields, plates=None, keep_clear=None):
    plates = plates or [plate()]

    def find(name):
        found = [i for i, p in enumerate(plates) if name in (p.name, p.number)]
        if not found:
            raise InputError(f"No panel is called {name!r}. There are {', '.join(p.name for p in plates)}")
        return found

    return perforate_plates(plates, fields, find, keep_clear or {})


def metal(outline, chord=0.005):
    return shapely.Polygon(outline.outer.flatten(chord), [hole.flatten(chord) for hole in outline.holes])


def drawn(outline, chord=0.005):
    return np.concatenate([shapely.polygons(f.rings(chord)) for f in outline.fields])


def rules(made):
    return [finding.rule for finding in made.findings]


@given(star_polygons(radius=(100.0, 180.0)), st.sampled_from(["R5T8", "C6U10", "LR4x14Z8x18", "LR4x12 random 15"]),
       numbers(0, 12).map(lambda margin: round(margin, 3)), numbers(-180, 180))
def test_every_hole_keeps_the_margin_from_every_cut(points, code, margin, turn):
    holes = [Circle(centre=(10.0, -5.0), diameter=30.0)]
    assume(shapely.Polygon(points).contains(shapely.Point(10.0, -5.0).buffer(16.0)))
    made = perforate([field(code, margin=margin, turn=turn)], [plate(points, holes)])
    outline = made.plates[0].outline
    apart = shapely.distance(metal(outline).boundary, drawn(outline))
    assert apart.min(initial=np.inf) >= margin - 0.03            # the port's circle is flattened within 0.02
    assert shapely.contains(shapely.buffer(metal(outline), 0.03), drawn(outline)).all()


def test_the_margin_is_a_multiple_of_the_thickness_where_none_is_chosen():
    for thickness in (1.0, 3.0, 6.0):
        outline = perforate([field("R8T12")], [plate(thickness=thickness)]).plates[0].outline
        apart = shapely.distance(metal(outline).boundary, drawn(outline)).min()
        assert MARGIN * thickness - 0.03 <= apart < MARGIN * thickness + 6


def test_what_is_to_be_kept_clear_is_kept_clear():
    slot = shapely.box(180, 0, 200, 60)
    made = perforate([field("R5T8", margin=7.0)], keep_clear={0: slot, 5: shapely.box(0, 0, 400, 300)})
    outline = made.plates[0].outline
    assert shapely.distance(slot, drawn(outline)).min() >= 7.0 - 0.03


@given(rigid_motions())
def test_a_region_is_drawn_in_space_and_lands_on_the_plates_plane(motion):
    """Up to its line: the margin is of the metal's edges. Off the plane it counts as seen square to it."""
    flat = [(40, 40), (200, 40), (200, 160), (40, 160)]
    points = np.array([(x, y, z, 1) for (x, y), z in zip(flat, (0, 5, -5, 2), strict=True)]) @ motion[:3].T
    region = tuple(map(tuple, points.tolist()))
    made = perforate([field("R5U10", region=region)], [plate(motion=motion)])
    centres = made.plates[0].outline.fields[0].centres
    assert len(centres) == 16 * 12
    assert np.allclose([centres.min(axis=0), centres.max(axis=0)], [(45, 45), (195, 155)], atol=1e-6)


def test_a_name_may_stand_for_several_plates_and_a_face_for_one():
    plates = [plate(), plate(name="lid", panel=1), plate(panel=2)]
    made = perforate([field("R5T8"), field("C5U8", panel=1)], plates)
    assert [len(p.outline.fields) for p in made.plates] == [1, 1, 1]
    assert [o.plate for o in made.openings] == [0, 2, 1]
    assert [o.pattern for o in made.openings] == ["R5T8", "R5T8", "C5U8"]
    assert [len(p.outline.fields) for p in plates] == [0, 0, 0]            # what came in is untouched


def test_what_is_reported_of_a_field():
    square = plate([(0, 0), (112, 0), (112, 92), (0, 92)], holes=())
    (opening,) = (made := perforate([field("R5U10", margin=6.0)], [square])).openings
    assert (opening.purpose, opening.shape, opening.size, opening.cuts) == ("perforation", "polygon", (), ())
    assert opening.count == 10 * 8 == made.plates[0].outline.fields[0].count
    assert opening.open_area == pytest.approx(80 * math.pi * 6.25)
    assert opening.open_share == pytest.approx(80 * math.pi * 6.25 / (100 * 80))
    assert opening.standard_share == pytest.approx(math.pi * 25 / 4 / 100)  # ISO 7806: 78.54 w2/t2, in percent
    assert opening.centre == pytest.approx((56, 46))
    hull = shapely.Polygon(opening.points)
    assert hull.exterior.is_ccw
    assert hull.bounds == pytest.approx((8.5, 8.5, 103.5, 83.5))
    before, after = square.outline, made.plates[0].outline
    assert after.area() == pytest.approx(before.area() - opening.open_area)
    assert after.cut_length() == pytest.approx(before.cut_length() + 80 * math.pi * 5)
    assert after.pierces() == before.pierces() + 80


@given(star_polygons(radius=(100.0, 180.0)), st.sampled_from(["R5T8", "LR4x14Z8x18", "R5T8 + C6U10"]),
       numbers(0.0, 8.0), numbers(-180, 180))
def test_a_field_says_where_it_is_and_of_what_it_is_a_share(points, codes, margin, turn):
    made = perforate([field(*codes.split(" + "), margin=margin, turn=turn)], [plate(points, ())])
    assume(made.openings)
    (opening,) = made.openings
    whole = shapely.Polygon(points)
    region = shapely.Polygon(opening.points)
    assert region.is_valid and shapely.covers(whole.buffer(1e-6), region)
    holes = drawn(made.plates[0].outline)
    assert shapely.covers(region.buffer(0.1), holes).all()                 # drawn coarsely for that
    ground = shapely.MultiPolygon([(rings[0], rings[1:]) for rings in opening.ground])
    assert ground.is_valid and shapely.covers(whole.buffer(1e-6), ground)
    # an offset is exact to its chords and a hundredth of itself: so much GEOS simplifies first (its source)
    assert shapely.distance(whole.exterior, ground) >= margin - 0.02 - margin / 100
    assert shapely.covers(ground.buffer(0.02), holes).all()
    assert opening.open_share == pytest.approx(opening.open_area / ground.area)


def test_a_field_in_the_two_arms_of_a_plate_goes_round_by_its_foot():
    arms = [(0, 0), (300, 0), (300, 200), (200, 200), (200, 60), (100, 60), (100, 200), (0, 200)]
    region = ((0.0, 90.0, 0.0), (300.0, 90.0, 0.0), (300.0, 200.0, 0.0), (0.0, 200.0, 0.0))
    (opening,) = perforate([field("R5T8", region=region)], [plate(arms, ())]).openings
    assert len(opening.ground) == 2
    assert shapely.equals(shapely.Polygon(opening.points), shapely.Polygon(arms))


def test_the_share_of_a_large_field_comes_near_the_standards():
    large = plate([(0, 0), (1300, 0), (1300, 1000), (0, 1000)], holes=())
    for code in ("R5T8", "LR5x20Z9x24", "C10U15"):
        (opening,) = perforate([field(code)], [large]).openings
        assert opening.open_share == pytest.approx(opening.standard_share, rel=0.015)


def test_bands_count_together():
    (opening,) = (made := perforate([field("R8T12", "LR5x20Z9x24", gap=8.0)])).openings
    assert len(made.plates[0].outline.fields) == 2
    assert opening.pattern == "R8T12 + LR5x20Z9x24"
    assert opening.count == sum(f.count for f in made.plates[0].outline.fields)
    round_, slot = 0.9069 * 64 / 144, (100 - 0.2146 * 25) / 216
    assert min(round_, slot) < opening.standard_share < max(round_, slot)


def test_random_angles_have_no_share_by_the_standard():
    (opening,) = perforate([field("R8T12", "LR4x20 random 26")]).openings
    assert opening.standard_share is None and opening.open_share > 0.1


def test_a_later_field_leaves_the_earlier_ones_ground_alone():
    region = ((30.0, 40.0, 0.0), (160.0, 60.0, 0.0), (120.0, 260.0, 0.0))
    made = perforate([field("H6T9", region=region), field("C5Z8", margin=9.0)])
    first, second = (shapely.polygons(f.rings(0.005)) for f in made.plates[0].outline.fields)
    ground = shapely.Polygon([p[:2] for p in region])
    assert shapely.distance(ground, second).min() >= 9.0 - 0.03
    assert shapely.distance(shapely.MultiPolygon(list(first)), second).min() >= 9.0 - 0.03
    (note,) = [f for f in made.findings if f.rule == "fields_overlap"]
    assert note.level == "note" and "field 2" in note.message and "9 mm" in note.message


def test_fields_that_lie_apart_are_not_said_to_overlap():
    regions = [tuple((x + dx, y, 0.0) for x, y in [(20, 20), (80, 20), (80, 80), (20, 80)]) for dx in (0, 100)]
    assert rules(perforate([field("R5T8", region=region) for region in regions])) == []


def test_sound_fields_have_no_findings():
    assert rules(perforate([field("R5T8", "LR5x20Z9x24")])) == []


@pytest.mark.parametrize(("code", "thickness", "rule", "words"), [
    ("R2.5T8", 3.0, "hole_too_small", r"R2.5T8: \d+ holes 2.5 mm wide in 3 mm plate; most lasers cut 3 mm"),
    ("R0.8T4", 0.5, "hole_too_small", "cut 1 mm or more"),
    ("R5T7.5", 3.0, "web_too_small", "2.50 mm of metal between holes in 3 mm plate; keep 3 mm"),
])
def test_narrow_holes_and_bars_are_said_once_a_band(code, thickness, rule, words):
    made = perforate([field(code)], [plate(thickness=thickness)])
    (found,) = made.findings
    assert (found.rule, found.level, found.panels) == (rule, "warning", (0,))
    assert "'baffle': perforation field 1" in found.message
    assert re.search(words, found.message)


def test_a_margin_thinner_than_the_sheet_is_said():
    (found,) = perforate([field("R5T8", margin=1.0)]).findings
    assert found.rule == "web_too_small" and "margin of 1 mm in 3 mm plate" in found.message


def test_a_findings_place_is_on_the_field():
    motion = np.array([[0, 0, 1, 10], [1, 0, 0, 20], [0, 1, 0, 30], [0, 0, 0, 1]], dtype=float)
    (found,) = perforate([field("R2T8")], [plate(motion=motion)]).findings
    x, y, z = found.at
    assert x == pytest.approx(10)
    assert metal(plate().outline).contains(shapely.Point(y - 20, z - 30))


@pytest.mark.parametrize(("field_", "words"), [
    (field("R5T8", margin=200.0), "no room: the plate is 287.5 mm wide at its widest, and a margin of 200 mm"),
    (field("R90U100", region=((10.0, 10.0, 0.0), (60.0, 10.0, 0.0), (60.0, 60.0, 0.0))),
     "no whole hole fits: it is 90 mm"),
    (field("R5T8", region=((1000.0, 0.0, 0.0), (1100.0, 0.0, 0.0), (1100.0, 90.0, 0.0))),
     "leaves nothing of it in the region"),
])
def test_a_field_with_no_hole_is_a_warning_with_sizes(field_, words):
    made = perforate([field_])
    (found,) = made.findings
    assert (found.rule, found.level) == ("perforation_empty", "warning")
    assert re.search(words, found.message)
    assert made.openings == () and made.plates[0].outline.fields == ()


def test_one_band_without_room_leaves_the_others():
    made = perforate([Field(panel="baffle", bands=(Band(code="R5T8"), Band(code="R40U60", depth=20.0)))])
    assert rules(made) == ["perforation_empty"] and "band 2, R40U60" in made.findings[0].message
    assert made.openings[0].count == made.plates[0].outline.fields[0].count


@pytest.mark.parametrize(("field_", "words"), [
    (field("R5T8", panel="wall"), "No panel is called 'wall'. There are baffle"),
    (field("R9T8"), "field 1, on panel 'baffle': Pattern 'R9T8' has holes that would overlap, by 1.00 mm"),
    (field("R0T8"), "size of zero or less"), (field("Z5T8"), "no pattern that is known"), (field(), "has no pattern"),
    (field("R5T8", margin=-1.0), "margin of -1 mm"), (field("R5T8", margin=math.nan), "margin of nan"),
    (field("R5T8", gap=-1.0), "gap of -1 mm"),
    (field("R5T8", region=((0.0, 0.0, 0.0), (9.0, 0.0, 0.0))), "region has 2 corners"),
    (field("R5T8", region=((0.0, 0.0, 0.0), (9.0, 0.0, 0.0), (math.inf, 0.0, 0.0))), "nowhere"),
    (field("R5T8", region=((0.0, 0.0, 0.0), (50.0, 50.0, 0.0), (50.0, 0.0, 0.0), (0.0, 50.0, 0.0))), "crosses itself"),
    (field("R5T8", region=((0.0, 0.0, 0.0), (50.0, 0.0, 0.0), (20.0, 0.0, 70.0))), "no area seen square to the panel"),
    (Field(panel="baffle", bands=(Band(code="R5T8", depth=900.0),)), "height of 288.00 mm, by 612.00 mm"),
])
def test_bad_input_is_named(field_, words):
    with pytest.raises(InputError, match=words):
        perforate([field_])


def test_the_same_choices_give_the_same_holes():
    fields = [field("R8T12", "LR4x20 random 26", turn=11.0)]
    one, two = (perforate(fields).plates[0].outline.fields for _ in range(2))
    assert all(a.centres.tobytes() == b.centres.tobytes() and a.angles.tobytes() == b.angles.tobytes()
               for a, b in zip(one, two, strict=True))
