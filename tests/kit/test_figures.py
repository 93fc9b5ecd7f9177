"""Figures of a kit, against the handbook's worked values and boxes by hand."""

from __future__ import annotations

import dataclasses
import math

import pytest
from baffled import upright, with_inner
from drawn_meshes import box, extruded, without

from tackwright.core.kit.figures import Figures, figure_rows, figures_from_text, figures_of, figures_text
from tackwright.core.kit.report import kit_data
from tackwright.core.make_kit import make_kit
from tackwright.core.terms.choices import Band, Choices, Field, MarkedOpening, Settings, TabRule

STEEL = 7850.0  # kg/m3, EN 10365 and common practice
NO_TABS = TabRule(on=False)


def figures(mesh, **settings) -> Figures:
    return figures_of(make_kit(mesh, Choices(settings=Settings(
        material="steel S235JR", sealed=True, tabs=NO_TABS, **settings))))


def test_an_open_cornered_cube_of_the_handbook():
    # handbook 1.3: cube a = 300, t = 3, plates outside, all corners full-open: plates 1 620 000, grooves 32 400,
    # three-way voids 216 mm3. The root lies on the drawing, so every joint is 300 long
    found = figures(box(300, 300, 300), thickness=3.0, metal_side="outside", corner="open")
    assert found.filler_volume == pytest.approx(32_400 + 216, rel=1e-9)
    assert found.filler_mass == pytest.approx(32_616e-9 * STEEL, rel=1e-9)
    assert found.mass == pytest.approx(1_620_000e-9 * STEEL, rel=1e-9)
    assert found.weld_length == pytest.approx(12 * 300)
    assert found.capacities == (("box", pytest.approx(27e6)),)
    assert (found.plates, found.distinct, found.corners) == (6, 1, 8)
    assert found.joints == {"open_corner": 12}
    assert found.cut_length == pytest.approx(6 * 4 * 300)
    assert found.pierces == 6 and found.free_edges == 0 and found.thicknesses == (3.0,)


def test_a_box_by_hand_with_the_metal_inside():
    # the root lines are the edges of the space inside: 294 x 194 x 94; grooves of 9 mm2 (handbook 1.3, 3, 3, 90, in)
    found = figures(box(), thickness=3.0, metal_side="inside", corner="open")
    assert found.capacities[0][1] == pytest.approx(294 * 194 * 94)
    assert found.weld_length == pytest.approx(4 * (294 + 194 + 94))
    assert found.filler_volume == pytest.approx(9 * 4 * (294 + 194 + 94) + 8 * 27)
    metal = 2 * 3 * (294 * 194 + 294 * 94 + 194 * 94)
    assert found.mass == pytest.approx(metal * 1e-9 * STEEL)


@pytest.mark.parametrize(("corner", "groove"), [("closed", 0.5 * 3.0**2), ("half-open", 4.5), ("open", 9.0)])
def test_the_corner_decides_the_filler(corner, groove):
    # handbook 1.3, t = 3, 90 degrees, outside: 0, 4.500 and 9.000 mm2; corners' voids stay below a cube of 3 mm each.
    # a closed one has no groove and a bead as of a fillet of 3 mm (handbook 7: half a leg squared)
    found = figures(box(), thickness=3.0, metal_side="outside", corner=corner)
    runs = groove * 4 * (300 + 200 + 100)
    assert runs <= found.filler_volume + 1e-6 and found.filler_volume <= runs + 8 * 27 + 1e-6
    assert found.joints == {f"{corner.replace('-', '_')}_corner": 12}


def test_an_obtuse_corner_of_the_handbook():
    # handbook 1.3: 3 on 3 at 120 degrees, full-open: 5.196 mm2 = t2 cot 60; a hexagonal prism has six
    # such edges and twelve of 90
    outline = [(200 * math.cos(i * math.pi / 3), 200 * math.sin(i * math.pi / 3)) for i in range(6)]
    found = figures(extruded(outline, 100), thickness=3.0, metal_side="outside", corner="open")
    runs = 6 * 100 * math.sqrt(27) + 12 * 200 * 9.0
    voids = found.filler_volume - runs
    assert found.weld_length == pytest.approx(6 * 100 + 12 * 200)
    # derived: at each of twelve corners the groove's kite of t2 cot 60 goes on for the thickness of the lid
    assert voids == pytest.approx(12 * 3 * 9 / math.tan(math.radians(60)), rel=1e-6)


def test_free_edges_are_not_welded():
    open_top = figures(without(box(), 5), thickness=3.0, metal_side="outside", corner="open")
    assert open_top.weld_length == pytest.approx(4 * 100 + 2 * 300 + 2 * 200)
    assert open_top.free_edges == 4 and sum(open_top.joints.values()) == 8
    assert open_top.capacities == (("box", None),)


def test_every_placement_counts():
    one = figures(box(), thickness=3.0)
    kit = make_kit(box(), Choices(settings=Settings(material="steel S235JR", sealed=True, tabs=NO_TABS, thickness=3.0)))
    assert (one.plates, one.distinct) == (6, 3)
    assert one.cut_length == pytest.approx(sum(p.cut_length for p in kit.plates for _ in p.placements))
    assert one.mass == pytest.approx(sum(p.mass * p.quantity for p in kit.plates))


def test_openings_limber_holes_and_fields_are_told_apart():
    hole = MarkedOpening(name="fill", at=(150.0, 100.0, 100.0), size=(40.0,), purpose="port")
    field = Field(panel="front", bands=(Band(code="R10T16"),))
    plain = make_kit(box(), Choices(settings=Settings(sealed=True)))
    front = next(p.placements[0].panel for p in plain.plates if p.outline is not None and p.size[0] > 250)
    kit = make_kit(box(), Choices(
        settings=Settings(sealed=True), openings=(hole,), fields=(dataclasses.replace(field, panel=front),)))
    found = figures_of(kit)
    assert (found.openings, found.limber, found.perforations) == (1, 0, 1)
    assert found.holes == sum(o.count for o in kit.openings if o.purpose == "perforation") > 20
    assert found.pierces == plain_pierces(plain) + 1 + found.holes


def plain_pierces(kit) -> int:
    return sum(p.pierces * p.quantity for p in kit.plates)


def test_the_report_has_the_same_figures():
    kit = make_kit(box(), Choices(settings=Settings(sealed=True)))
    found, data = figures_of(kit), kit_data(kit)
    assert data["mass"] == found.mass and data["placements"] == found.plates and data["plates"] == found.distinct
    assert data["weld_length"] == found.weld_length and data["filler_volume"] == found.filler_volume
    assert data["joints"] == sum(found.joints.values()) and data["cut_length"] == found.cut_length


def test_figures_survive_being_kept():
    found = figures(box(), thickness=3.0)
    assert figures_from_text(figures_text(found)) == found


@pytest.mark.parametrize("text", ["", "6 plates", "[]", "{", "3", '{"mass":"x","capacities":5}'])
def test_what_is_no_figures_is_none(text):
    assert figures_from_text(text) is None


def test_figures_of_another_version_are_read_as_far_as_they_go():
    assert figures_from_text('{"mass":2.5,"bends":7}') == Figures(mass=2.5)


SAMPLE = Figures(
    capacities=(("tank", 5.361e6),), mass=12.345, plates=11, distinct=9, thicknesses=(3.0, 4.7625),
    joints={"open_corner": 12, "tee": 1}, free_edges=2, weld_length=2328.0, filler_volume=21_168.0, filler_mass=0.166,
    cut_length=12_345.0, pierces=14, openings=3, perforations=1, holes=120,
)


def test_what_must_be_tight_is_told_from_what_need_only_hold():
    """Added up from the list of welds, for a tank with a baffle that liquid passes."""
    mesh, choices = with_inner(box(300, 200, 150), [upright(150.0)], Settings(limber=16.0, sealed=True))
    kit = make_kit(mesh, choices)
    found, runs = figures_of(kit), [seam for seam in kit.seams if seam.kind != "corner_fill"]
    assert found.tight == sum(seam.tight for seam in runs) == 12 + found.plugs
    assert found.hold == 8 and found.slots == 0 and found.plugs == sum(len(joint.tabs) for joint in kit.joints[12:])
    assert found.tight_length + found.hold_length == pytest.approx(found.weld_length)
    rows = [value for _, value in figure_rows(found, "mm")]
    assert f"{found.tight_length / 1000:.3g} m tight, {found.tight} runs" in rows
    assert f"{found.hold_length / 1000:.3g} m to hold, 8 runs" in rows


def test_rows_in_millimetres():
    assert figure_rows(SAMPLE, "mm") == (
        ("Capacity", "5.361 L (1.416 US gal)"), ("Weight", "12.35 kg"), ("Plates", "11, 9 distinct"),
        ("Thickness", "3 mm, 4.763 mm"), ("Joints", "13"), ("", "12 open corners"), ("", "1 tee"), ("Free Edges", "2"),
        ("Weld Length", "2.33 m"), ("Filler", "21.2 cm³"), ("", "0.17 kg"), ("Cut Length", "12.3 m"),
        ("Pierces", "14"), ("Openings", "3"), ("Perforations", "1 of 120 holes"),
    )  # fmt: skip


def test_rows_in_inches_with_both_weights():
    # 1 lb = 0.45359237 kg, 1 US gal = 231 in3, exact (handbook, exact conversions)
    told = figure_rows(SAMPLE, "in")
    rows = dict(told)
    assert rows["Capacity"] == "1.416 US gal (5.361 L)"
    assert rows["Weight"] == "27.22 lb (12.35 kg)"
    assert rows["Thickness"] == '0.118", 3/16"'
    assert rows["Weld Length"] == "7.64 ft" and rows["Filler"] == "1.29 in³"
    assert told[told.index(("Filler", "1.29 in³")) + 1] == ("", "0.37 lb (0.17 kg)")


def test_several_shells_have_a_row_each_and_nothing_has_none():
    rows = figure_rows(dataclasses.replace(SAMPLE, capacities=(("a", 1e6), ("b", None), ("c", 2e6))), "mm")
    assert rows[:2] == (("Capacity of a", "1 L (0.2642 US gal)"), ("Capacity of c", "2 L (0.5283 US gal)"))
    names = [name for name, _ in figure_rows(Figures(), "mm")]
    assert names == ["Weight", "Plates", "Cut Length", "Pierces"]


@pytest.mark.parametrize(("panel", "sieve"), [(0, True), (6, False)])
def test_what_a_perforated_wall_holds_is_told_with_its_holes_shut(panel, sieve):
    """A perforated baffle inside lets nothing out."""
    mesh, choices = with_inner(box(300.0, 200.0, 150.0), [upright(150.0)])
    field = Field(panel=panel, bands=(Band(code="R5T8"),))
    figures = figures_of(make_kit(mesh, dataclasses.replace(choices, fields=(field,))))
    assert figures.perforations == 1 and figures.sieve is sieve
    assert (("", "with its holes shut") in figure_rows(figures, "mm")) is sieve
    assert figures_from_text(figures_text(figures)) == figures
