"""An envelope fitted out: openings where they were put, on the piece that is cut; cells that are shut or open."""

import dataclasses
import json

import numpy as np
import pytest
import shapely
from baffled import QUIET, boxed, inner_of, rules, shelf, upright, with_inner
from drawn_meshes import box, box_with_hole
from judges import placed_solids

from tackwright.core.envelope.mesh import Mesh
from tackwright.core.files.kit_json import kit_json
from tackwright.core.make_kit import make_kit
from tackwright.core.shapes.outline import Circle
from tackwright.core.terms.choices import Band, Choices, Field, MarkedOpening, PanelChoice, Settings
from tackwright.core.terms.errors import InputError

OPEN = dataclasses.replace(QUIET, sealed=False)
FILL = MarkedOpening(name="fill", at=(30.0, 100.0, 150.0), size=(40.0,))
DRAIN = MarkedOpening(name="drain", at=(40.0, 80.0, 0.0), size=(20.0,), purpose="drain")


def kit_of(rings, settings=OPEN, **more):
    mesh, choices = with_inner(box(300.0, 200.0, 150.0), rings, settings)
    return make_kit(mesh, dataclasses.replace(choices, **more))


def of_rule(kit, rule):
    return [f for f in kit.checks if f.rule == rule]


def test_an_opening_is_where_it_was_marked_through_file_and_placement():
    """The kit's coordinates, brought to their place by the matrix, are the marked point; and the cut is there."""
    marked = (FILL, DRAIN, MarkedOpening(name="slit", at=(100.0, 100.0, 70.0), shape="slot", size=(50.0, 12.0),
                                         across=(0.0, 1.0, 0.0)))
    kit = kit_of([upright(100.0), upright(200.0)], openings=marked)
    data = json.loads(kit_json(kit))
    plates = {p["id"]: (plate, np.array(p["matrix"])) for plate in data["plates"] for p in plate["placements"]}
    outlines = {p.id: plate.outline for plate in kit.plates for p in plate.placements}
    assert [o["name"] for o in data["openings"]] == ["fill", "drain", "slit"]
    for record, mark in zip(data["openings"], marked, strict=True):
        plate, matrix = plates[record["plate"]]
        found = matrix @ [*record["centre"], plate["thickness"] / 2, 1.0]
        off = found[:3] - mark.at
        assert np.linalg.norm(off) < 3.0                                   # half the wall and the way to the surface
        assert np.linalg.norm(off - (off @ matrix[:3, 2]) * matrix[:3, 2]) < 1e-6
        cuts = [h for h in outlines[record["plate"]].holes
                if shapely.Polygon(h.flatten()).contains(shapely.Point(record["centre"]))]
        assert len(cuts) == 1
        if record["shape"] == "round":
            assert isinstance(cuts[0], Circle) and cuts[0].diameter == record["size"][0]
            assert cuts[0].centre == pytest.approx(record["centre"], abs=1e-6)
        else:
            turn = np.radians(record["rotation"])
            way = matrix[:3, :3] @ [np.cos(turn), np.sin(turn), 0.0]
            assert abs(way[1]) == pytest.approx(1.0)                       # along y, as marked
    # the slit made one of two equal baffles another piece
    assert sorted(p.quantity for p in inner_of(kit)) == [1, 1]


def test_openings_take_metal_from_the_solids_and_the_mass():
    plain, cut = kit_of([]), kit_of([], openings=(FILL,))
    volume = [sum(s.volume() for s in placed_solids(kit).values()) for kit in (plain, cut)]
    assert volume[0] - volume[1] == pytest.approx(np.pi * 400.0 * 3.0, rel=2e-3)   # a polygon stands for the circle
    mass = [sum(p.mass * p.quantity for p in kit.plates) for kit in (plain, cut)]
    assert mass[0] - mass[1] == pytest.approx(np.pi * 400.0 * 3.0 * 2680e-9, rel=1e-9)
    assert cut.envelopes[0].capacity == pytest.approx(plain.envelopes[0].capacity)  # ports closed


def test_a_hole_drawn_in_a_wall_is_an_opening_and_the_body_is_closed():
    angles = np.linspace(0.0, 2 * np.pi, 24, endpoint=False)
    points = [(x, y, z) for x in (0.0, 300.0) for y in (0.0, 200.0) for z in (0.0, 100.0)]
    ring = [(150.0 + 25.4 * np.cos(a), 100.0 + 25.4 * np.sin(a), 100.0) for a in angles]
    near = [1, 5, *[8 + i for i in (0, *range(23, 11, -1))]]                # the lid in four faces round the hole
    far = [7, 3, *[8 + i for i in range(12, -1, -1)]]
    faces = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), near, far, (3, 1, 20), (5, 7, 8)]
    mesh = Mesh.of(np.array(points + ring), faces, name="tank")
    kit = make_kit(mesh, Choices(settings=Settings()))
    assert kit.envelopes[0].closed and kit.envelopes[0].capacity == pytest.approx(294.0 * 194.0 * 94.0)
    (opening,) = kit.openings
    assert (opening.shape, opening.purpose) == ("round", "port") and opening.size == pytest.approx((50.8,))
    (note,) = of_rule(kit, "drawn_circle")
    assert "24 corners" in note.message and "50.8" in note.message
    assert not of_rule(kit, "sealed_cell")


def test_a_body_with_a_shaft_through_it_is_no_drawn_hole():
    kit = make_kit(box_with_hole(), Choices(settings=Settings(sealed=True)))
    assert kit.openings == () and len(kit.plates) > 0 and kit.envelopes[0].closed


def test_every_cell_without_an_opening_is_an_error_with_its_place_and_volume():
    kit = kit_of([upright(100.0)])
    found = of_rule(kit, "sealed_cell")
    assert [f.level for f in found] == ["error", "error"]
    first, second = sorted(found, key=lambda f: f.at[0])
    assert first.at[0] < 98.5 < 101.5 < second.at[0] < 300.0
    assert "2.67 L" in first.message and "5.46 L" in second.message        # (98.5 - 3) and (297 - 101.5) x 194 x 144
    assert all(f.about for f in found)
    baffle = inner_of(kit)[0].placements[0].id
    assert baffle in first.about and baffle in second.about
    meant = kit_of([upright(100.0)], dataclasses.replace(OPEN, sealed=True))
    assert [f.level for f in of_rule(meant, "sealed_cell")] == ["warning", "warning"]


def test_an_opening_a_limber_hole_or_a_perforation_opens_a_cell():
    shut = kit_of([upright(150.0)], openings=(FILL, DRAIN))
    assert len(of_rule(shut, "sealed_cell")) == 1
    vent = MarkedOpening(name="vent", at=(220.0, 100.0, 150.0), size=(12.0,), purpose="vent")
    through = MarkedOpening(name="way", at=(150.0, 100.0, 60.0), size=(30.0,))
    for more, settings in (
        ({"openings": (FILL, DRAIN, vent)}, OPEN),
        ({"openings": (FILL, DRAIN, through)}, OPEN),
        ({"openings": (FILL, DRAIN)}, dataclasses.replace(OPEN, limber=15.0)),
        ({"openings": (FILL, DRAIN), "fields": (Field(panel=6, bands=(Band(code="R10T20"),)),)}, OPEN),
    ):
        assert not of_rule(kit_of([upright(150.0)], settings, **more), "sealed_cell")


def test_what_a_baffle_holds_back_is_told_with_its_volume():
    """A way 60 mm up in a baffle: what is behind it stays below the hole's lower edge, at 45 mm."""
    through = MarkedOpening(name="way", at=(150.0, 100.0, 60.0), size=(30.0,))
    kit = kit_of([upright(150.0)], openings=(FILL, DRAIN, through))
    (found,) = of_rule(kit, "cannot_drain")
    held = (297.0 - 151.5) * 194.0 * (45.0 - 3.0) / 1e6
    assert found.level == "warning" and f"{held:.3g} L" in found.message
    assert found.at[2] == pytest.approx(3.0, abs=1e-3) and found.at[0] > 151.0


def test_fields_are_cut_clear_of_tees_and_are_part_of_the_piece():
    field = Field(panel="front", bands=(Band(code="R8T14"),))
    mesh, choices = with_inner(box(300.0, 200.0, 150.0), [shelf(70.0)], QUIET)
    names = {i: PanelChoice(name=n) for i, n in enumerate(["left", "right", "front", "back", "bottom", "top"])}
    kit = make_kit(mesh, dataclasses.replace(
        choices, faces=names | {6: PanelChoice(inner=True)}, fields=(field,)))
    (opening,) = [o for o in kit.openings if o.purpose == "perforation"]
    plate = next(p for p in kit.plates if p.placements[0].panel == "front")
    (holes,) = plate.outline.fields
    assert opening.count == holes.count > 50 and opening.open_area == pytest.approx(holes.area())
    assert plate.pierces == plate.outline.pierces() == 1 + len(plate.outline.holes) + holes.count
    placed = plate.placements[0].matrix
    heights = (np.column_stack([holes.centres, np.zeros(holes.count), np.ones(holes.count)]) @ placed.T)[:, 2]
    # the shelf's lower face is at 68.5, its upper at 71.5: 4 mm of hole and twice the sheet away from both
    assert np.abs(heights - 70.0).min() >= 1.5 + 6.0 + 4.0 - 1e-6


@pytest.mark.parametrize(("panel", "said"), [("lid", "no panel is named 'lid'"), (99, "face 99 is no part of a plate")])
def test_a_field_on_nothing_is_refused(panel, said):
    with pytest.raises(InputError, match=said):
        kit_of([], fields=(Field(panel=panel, bands=(Band(code="R5T8"),)),))


def test_a_field_on_a_face_that_gives_no_plate_says_how_that_comes_and_what_to_do():
    with pytest.raises(InputError, match="^Perforation field 1: face 99 .* clear the perforation") as refused:
        kit_of([], fields=(Field(panel=99, bands=(Band(code="R5T8"),)),))
    assert refused.value.faces == (99,)


@pytest.mark.parametrize(("code", "said"), [
    ("R5T4", "overlap|pitch"), ("X5T8", "'X5T8' is no pattern"), ("R0T8", "0"), ("R-5T8", "R-5T8")])
def test_a_field_that_cannot_be_is_refused(code, said):
    with pytest.raises(InputError, match=said):
        kit_of([], fields=(Field(panel=0, bands=(Band(code=code),)),))


@pytest.mark.parametrize(("opening", "rule"), [
    (MarkedOpening(name="x", at=(150.0, 100.0, 75.0), size=(20.0,)), "opening_off_plate"),
    (MarkedOpening(name="x", at=(150.0, 4.0, 150.0), size=(20.0,)), "opening_over_edge"),
    (MarkedOpening(name="x", at=(150.0, 100.0, 150.0), size=(400.0,)), "opening_too_big"),
    (MarkedOpening(name="x", at=(35.0, 100.0, 150.0), size=(20.0,)), "opening_overlap"),
])
def test_an_opening_that_cannot_be_is_left_out_with_an_error(opening, rule):
    kit = kit_of([], openings=(FILL, opening))
    (found,) = of_rule(kit, rule)
    assert found.level == "error" and "'x'" in found.message
    assert [o.name for o in kit.openings] == ["fill"]


def test_an_opening_over_a_joint_of_a_shelf_moves_the_tabs_not_itself():
    port = MarkedOpening(name="port", at=(150.0, 0.0, 70.0), size=(30.0,))
    plain = boxed([shelf(70.0)])
    kit = kit_of([shelf(70.0)], QUIET, openings=(port,))
    assert [o.name for o in kit.openings] == ["port"] and not rules(kit, "error")
    assert "web_too_small" not in rules(kit)
    assert sum(len(j.tabs) for j in kit.joints) <= sum(len(j.tabs) for j in plain.joints)
