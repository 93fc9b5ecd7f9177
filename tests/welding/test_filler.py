"""Filler, on solids rebuilt from the written files: what the grooves and fillets of kit.json leave room for.

The judge builds the space to fill from kit.json's joints alone (directions from the plates' placements), takes the
solids away and compares volumes. No formula of a section is used for grooves: the space lies between the root and where
the two far faces cross.
"""

import csv
import dataclasses
import io
import json
import math

import numpy as np
import pytest
from baffled import QUIET, boxed, upright, with_inner
from demo_kits import made
from manifold3d import CrossSection, Manifold
from plain_shapes import box
from strategies import prism
from written_solids import written_solids

from tackwright.core.files.kit_folder import kit_files
from tackwright.core.files.kit_json import kit_json
from tackwright.core.make_kit import make_kit
from tackwright.core.terms.choices import Choices, Settings, TabRule, WeldRule

POUND_PER_FOOT = 0.45359237 / 304.8      # kg/mm, by definition
INCH = 25.4
STEEL = 0.283 * 0.45359237 / INCH**3     # kg/mm3, as the handbook has it: 0.283 lb/in3
BACK = 0.35                              # of the thickness: how far an end stands back where the corner is blunt


def records(kit):
    record = json.loads(kit_json(kit))
    plates = {one["id"]: (plate, np.array(one["matrix"])) for plate in record["plates"] for one in plate["placements"]}
    return record, plates


def swept(origin, along, across, up, ring, length):
    frame = np.column_stack([across, up, along, origin])
    return Manifold.extrude(CrossSection([ring]), length).transform(frame)


def groove_space(joint, plates):
    """Between the two plates' far faces and beyond the root, as far as both faces cross; in the section square to the
    line. Rebuilt from the placements: the root, each plate's normal and thickness."""
    line = np.array(joint["line"])
    along = (line[1] - line[0]) / joint["length"]
    sign = 1.0 if joint["groove"]["side"] == "outside" else -1.0
    (one, first), (two, second) = (plates[name] for name in joint["plates"])
    n1, n2 = sign * first[:3, 2], sign * second[:3, 2]
    x = (n1 + n2) / np.linalg.norm(n1 + n2)
    y = np.cross(along, x)
    a, b = (np.array([n @ x, n @ y]) for n in (n1, n2))
    t1, t2 = one["thickness"], two["thickness"]
    # the far faces are the lines a.p = t1 and b.p = t2; the near ones go through the root, and a little way along the
    # plates, since the end of the one that is covered stands back where the corner is blunt
    far = np.linalg.solve([a, b], [t1, t2])
    d, e = (turn if turn[0] < 0 else -turn for turn in (np.array([-a[1], a[0]]), np.array([-b[1], b[0]])))
    blunt = min(1.0, max(0.0, (min(joint["angle"], 360.0 - joint["angle"]) - 90.0) / 20.0))
    back = BACK * max(t1, t2) * blunt if joint["root_gap"] == 0.0 else 0.0       # the gap itself is no groove
    ring = [
        (0.0, 0.0), tuple(back * d), tuple(back * d + t1 * a), tuple(far), tuple(back * e + t2 * b), tuple(back * e)]
    area = sum(p[0] * q[1] - q[0] * p[1] for p, q in zip(ring, ring[1:] + ring[:1], strict=True))
    ring = ring if area > 0 else ring[::-1]
    return swept(line[0], along, x, y, ring, joint["length"])


def crevices(joint, plates):
    """mm3 on the root side that no bead reaches, handbook 1.2: half of e squared times sin w times -cos w, with e the
    overlap's share of (t2 + t1 cos w) / sin w; over fingers the overlap is whole."""
    w = math.radians(min(joint["angle"], 360.0 - joint["angle"]))

    def notch(through, under, overlap):
        e = overlap * max(0.0, min((under + through * math.cos(w)) / math.sin(w), under / math.sin(w)))
        return 0.5 * e * e * math.sin(w) * max(0.0, -math.cos(w))

    one, two = (plates[name][0]["thickness"] for name in joint["plates"])
    plain = notch(one, two, joint["overlap"])
    volume = plain * joint["length"]
    for tab in joint["tabs"]:
        own, other = (one, two) if tab["on"] == joint["plates"][0] else (two, one)
        volume += tab["width"] * (notch(own, other, 1.0) - plain) + 2 * tab["flank"] * (notch(other, own, 1.0) - plain)
    return volume


def left_to_fill(kit):
    """By joint: the volume of its groove that no plate of it stands in, and what kit.json says."""
    record, plates = records(kit)
    solids = written_solids(kit)
    out = {}
    for joint in record["joints"]:
        if joint["kind"] not in ("open_corner", "half_open_corner", "closed_corner"):
            continue
        space = groove_space(joint, plates)
        for name in joint["plates"]:
            space -= solids[name]
        out[joint["id"]] = (space.volume() - crevices(joint, plates), joint["filler"], joint)
    return out


@pytest.mark.parametrize("name", ["bow_tank", "hopper"])
def test_the_demos_filler_is_what_the_solids_leave(name):
    found = left_to_fill(made(name))
    assert len(found) >= 4
    ours, theirs = (sum(row[i] for row in found.values()) for i in (1, 0))
    assert ours == pytest.approx(theirs, rel=0.01)
    for key, (space, filler, _) in found.items():
        assert filler == pytest.approx(space, rel=0.04), key     # the gaps beside tabs go deeper


@pytest.mark.parametrize("corner", ["open", "half-open"])
@pytest.mark.parametrize("angle", [35.0, 50.0, 70.5288, 90.0, 109.4712, 120.0, 150.0])
def test_every_corner_from_sharp_to_blunt(angle, corner):
    """A wedge-shaped prism with that dihedral along one edge, tabs and all."""
    a = math.radians(angle)
    far = 450.0 * np.array([math.cos(a / 2), math.sin(a / 2)])
    ring = [(0.0, 0.0), (300.0, 0.0), far, (300.0 * math.cos(a), 300.0 * math.sin(a))]
    kit = make_kit(prism(np.array(ring), 300.0), Choices(settings=Settings(
        corner=corner, metal_side="outside", sealed=True, thickness=3.0)))
    rows = [row for row in left_to_fill(kit).values() if row[2]["angle"] == pytest.approx(angle, abs=0.01)]
    assert rows
    for space, filler, joint in rows:
        assert filler == pytest.approx(space, rel=0.03 if joint["tabs"] else 1e-6)


@pytest.mark.parametrize("angle", [225.0, 240.0, 270.0, 300.0])
def test_re_entrant_corners_open_to_the_inside(angle):
    a = math.radians(360.0 - angle)
    wide = 60.0 * math.tan(a / 2)
    notch = [(0.0, 0.0), (400.0, 0.0), (400.0, 200.0), (200.0 + wide, 200.0), (200.0, 140.0), (200.0 - wide, 200.0),
             (0.0, 200.0)]
    kit = make_kit(prism(np.array(notch), 200.0), Choices(settings=Settings(
        corner="open", metal_side="outside", sealed=True, thickness=3.0, tabs=TabRule(on=False))))
    rows = [row for row in left_to_fill(kit).values() if row[2]["angle"] == pytest.approx(angle, abs=0.01)]
    assert rows and all(row[2]["groove"]["side"] == "inside" for row in rows)
    for space, filler, _ in rows:
        assert filler == pytest.approx(space, rel=1e-6)


def test_a_whole_vessel_is_plates_grooves_and_corners():
    """Handbook 1.3: V(1 + t/r)^3 - V = plates + grooves + voids; for a cube of 300, t 3: 1 620 000, 32 400, 216."""
    kit = make_kit(box(300, 300, 300), Choices(settings=Settings(
        corner="open", metal_side="outside", sealed=True, thickness=3.0, tabs=TabRule(on=False))))
    record, _ = records(kit)
    assert sum(joint["filler"] for joint in record["joints"]) == pytest.approx(32_400, rel=1e-9)
    assert sum(corner["void"] for corner in record["corners"]) == pytest.approx(216, rel=1e-9)
    metal = sum(solid.volume() for solid in written_solids(kit).values())
    assert metal + 32_400 + 216 == pytest.approx(300.0**3 * ((1 + 3 / 150) ** 3 - 1), rel=1e-6)


def test_a_tee_has_two_fillets_whose_triangles_are_free_of_metal():
    kit = boxed([upright(150.0, lean=60.0)], QUIET)
    record, plates = records(kit)
    rows = list(csv.DictReader(io.StringIO(dict(kit_files(kit))["weld_list.csv"].decode())))
    solids = written_solids(kit)
    tees = [joint for joint in record["joints"] if joint["kind"] == "tee"]
    assert len(tees) == 4
    for joint in tees:
        sides = [row for row in rows if row["id"] in (joint["id"] + "a", joint["id"] + "b")]
        assert [row["kind"] for row in sides] == ["tee", "tee"] and sum(float(r["angle_deg"]) for r in sides) == (
            pytest.approx(180.0, abs=0.02))
        line = np.array(joint["line"])
        along = (line[1] - line[0]) / joint["length"]
        wall, plate = (plates[name] for name in joint["plates"])
        normal = plate[1][:3, 2]
        up = np.cross(along, normal)
        middle = np.array(plate[1] @ [*(np.array(plate[0]["size"]) / 2), 0.0, 1.0])[:3]
        up = up if up @ (middle - line[0]) > 0 else -up
        acute = up - (up @ wall[1][:3, 2]) * wall[1][:3, 2]
        leg = float(sides[0]["size_mm"])
        acute = acute / np.linalg.norm(acute) if np.linalg.norm(acute) > 1e-6 else None
        if acute is None:
            continue
        y = np.cross(along, acute)
        corner = (up @ acute * leg, up @ y * leg)
        ring = [(0.0, 0.0), (leg, 0.0), corner]
        ring = ring if corner[1] > 0 else ring[::-1]
        space = swept(line[0] + 0.01 * acute + 0.01 * (up - acute), along, acute, y, ring, joint["length"])
        free = space - solids[joint["plates"][0]] - solids[joint["plates"][1]]
        assert free.volume() == pytest.approx(space.volume(), rel=0.02)
        share = float(sides[0]["welded_mm"]) / float(sides[0]["length_mm"])
        assert float(sides[0]["filler_cm3"]) * 1e3 == pytest.approx(share * space.volume(), abs=6.0)


@pytest.mark.parametrize(("inches", "printed"), [
    # an electrode maker's handbook, equal legs, steel at 0.283 lb/in3, lb/ft (handbook 7)
    (1 / 8, 0.027), (3 / 16, 0.060), (1 / 4, 0.106), (5 / 16, 0.166), (3 / 8, 0.239), (1 / 2, 0.425), (1.0, 1.698)])
def test_fillets_weigh_what_the_handbook_prints(inches, printed):
    leg = inches * INCH
    settings = Settings(
        material="steel A36", corner="closed", metal_side="outside", sealed=True, thickness=30.0,
        tabs=TabRule(on=False), weld=WeldRule(leg=leg))
    kit = make_kit(box(600, 600, 600), Choices(settings=settings))
    record, _ = records(kit)
    volume = sum(joint["filler"] for joint in record["joints"])
    length = sum(joint["length"] for joint in record["joints"])
    assert {joint["weld_size"] for joint in record["joints"]} == {round(leg, 6)}
    assert volume / length * STEEL / POUND_PER_FOOT == pytest.approx(printed, abs=0.0006)


def test_an_acute_closed_corner_is_counted_once():
    """Handbook 1.3: 3 on 3 at 60 degrees, closed: an inner V of 5.196 mm2 and nothing beside it."""
    ring = [(0.0, 0.0), (300.0, 0.0), (150.0, 300.0 * math.sin(math.radians(60.0)))]
    kit = make_kit(prism(np.array(ring), 200.0), Choices(settings=Settings(
        corner="closed", metal_side="outside", sealed=True, thickness=3.0, tabs=TabRule(on=False))))
    record, _ = records(kit)
    sharp = [joint for joint in record["joints"] if joint["angle"] == pytest.approx(60.0)]
    assert len(sharp) == 3
    for joint in sharp:
        assert joint["filler"] == pytest.approx(5.196 * joint["length"], rel=1e-3) and joint["weld_size"] == 0.0


def test_a_bulkhead_is_welded_tight_and_a_baffle_with_a_way_past_it_in_stitches():
    """Liquid needs the one and not the other: read from the list of welds."""
    for limber, tight, run in ((0.0, "yes", "full"), (16.0, "no", "stitch")):
        mesh, choices = with_inner(box(300, 200, 150), [upright(150.0)], dataclasses.replace(QUIET, limber=limber))
        rows = list(csv.DictReader(io.StringIO(dict(kit_files(make_kit(mesh, choices)))["weld_list.csv"].decode())))
        tees = [row for row in rows if row["kind"] == "tee"]
        assert len(tees) == 8 and {row["tight"] for row in tees} == {tight} and {row["run"] for row in tees} == {run}
        for row in tees:
            share = float(row["welded_mm"]) / float(row["length_mm"])
            assert share == 1.0 if tight == "yes" else 0.3 < share < 0.6
        corners = [row for row in rows if row["kind"] in ("corner", "plug")]
        assert {row["tight"] for row in corners} == {"yes"} and {row["run"] for row in corners} == {"full"}


@pytest.mark.parametrize("name", ["bow_tank", "drill_upright"])
def test_each_slot_in_a_wall_is_on_the_weld_list(name):
    """Counted by a program that reads only DXF and kit.json: closed cuts of a wall that are no opening's."""
    kit = made(name)
    files = dict(kit_files(kit))
    record = json.loads(files["kit.json"])
    slots = 0
    for plate in record["plates"]:
        if plate["role"] == "wall":
            text = files[plate["file"]].decode("cp1252")
            cuts = text.count("AcDbPolyline") + text.count("AcDbCircle") if "AcDbPolyline" in text else None
            assert cuts is not None
            ids = {one["id"] for one in plate["placements"]}
            holes = sum(1 + len(o.get("bolts", ())) for o in record["openings"] if o["plate"] in ids)
            slots += (plate["pierces"] - 1 - holes) * plate["quantity"]
    rows = list(csv.DictReader(io.StringIO(files["weld_list.csv"].decode())))
    through = [row for row in rows if row["kind"] in ("slot", "plug")]
    assert len(through) == slots > 5
    assert all(row["tight"] == "yes" and float(row["length_mm"]) > 20 for row in through)
    assert all(float(row["filler_cm3"]) > 0 for row in through)
