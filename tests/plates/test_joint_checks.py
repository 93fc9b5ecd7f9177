"""Findings about joints: each appears where it should, with figures and a cure, and not where it should not."""

import re

import numpy as np
import pytest
from plain_shapes import box, wedge
from strategies import prism

from tackwright.core.envelope.mesh import Mesh
from tackwright.core.envelope.read_envelope import read_envelope
from tackwright.core.make_kit import make_kit
from tackwright.core.plates.section import solve_section
from tackwright.core.terms.choices import Choices, JointChoice, PanelChoice, Settings


def findings(mesh, rule, *, panels=None, joints=None, **settings):
    kit = make_kit(mesh, Choices(settings=Settings(**settings), panels=panels or {}, joints=joints or {}))
    return kit, [f for f in kit.checks if f.rule == rule]


def test_closed_corners_in_6061_are_named_because_it_cracks_without_filler():
    """AWS filler tables: 6061 is never welded without filler; a closed corner leaves no room for it."""
    kit, found = findings(box(300, 200, 100), "cracks_without_filler", material="6061", corner="closed")
    assert len(found) == 12 and all(f.level == "warning" for f in found)
    assert "4043" in found[0].message and "open" in found[0].message
    assert findings(box(300, 200, 100), "cracks_without_filler", material="6061", corner="open")[1] == []
    assert findings(box(300, 200, 100), "cracks_without_filler", material="3003", corner="closed")[1] == []


def test_a_crevice_is_named_with_its_area():
    kit, found = findings(wedge(120.0), "crevice", corner="closed")
    assert len(found) == 1
    assert f"{solve_section(120.0, 3.0, 3.0, 1.0).notch.item():.2f} mm²" in found[0].message
    assert findings(box(300, 200, 100), "crevice", corner="closed")[1] == []
    assert findings(wedge(120.0), "crevice", corner="open")[1] == []


def test_an_acute_open_corner_names_the_overlap_that_cures_it():
    mesh = wedge(50.0)
    kit, found = findings(mesh, "thirsty_groove", corner="open", metal_side="outside")
    assert any(f.level == "warning" for f in found)
    sharp = next(j for j in kit.joints if abs(j.angle - 50) < 1e-6)
    finding = next(f for f in found if set(f.about) == set(sharp.plates))
    cure = float(re.search(r"overlap of (\d\.\d+)", finding.message).group(1))
    assert solve_section(50.0, 3.0, 3.0, cure).groove == pytest.approx(9.0, rel=0.02)
    names = {p.id: p.panel for plate in kit.plates for p in plate.placements}
    pair = tuple(sorted(names[p] for p in sharp.plates))
    cured, left = findings(mesh, "thirsty_groove", corner="open", metal_side="outside",
                           joints={pair: JointChoice(corner="half-open", overlap=cure)})
    assert not any(set(f.about) == set(sharp.plates) for f in left)


def test_thick_on_thin_at_an_obtuse_angle_stands_proud():
    """6 mm on 3 mm at 135 degrees: 1.24 mm (derived: t1 |cos| - t2)."""
    mesh = wedge(135.0)
    names = [p.name for p in read_envelope(mesh, Choices()).panels]
    thick = next(n for n in names if n.startswith(("right", "front")))
    kit, found = findings(mesh, "proud_end", metal_side="outside", panels={thick: PanelChoice(thickness=6.0)})
    assert [f for f in found if "1.24 mm" in f.message]
    assert findings(mesh, "proud_end", metal_side="outside")[1] == []


def test_a_groove_on_the_inside_is_named_at_a_re_entrant_edge():
    outline = np.array([[0, 0], [300, 0], [300, 100], [120, 100], [120, 260], [0, 260]], dtype=float)
    kit, found = findings(prism(outline, 200.0), "groove_inside", corner="open")
    assert len(found) == 1
    assert found[0].at == pytest.approx((120, 100, 100), abs=1.0)
    assert "270.0°" in found[0].message
    assert findings(prism(outline, 200.0), "groove_inside", corner="closed")[1] == []


def test_every_finding_names_plates_and_place():
    kit = make_kit(wedge(135.0), Choices(settings=Settings(material="6061", corner="closed")))
    ids = {p.id for plate in kit.plates for p in plate.placements}
    assert kit.checks
    for finding in kit.checks:
        assert finding.about and set(finding.about) <= ids
        assert finding.at is not None
        assert finding.message.endswith(".")


def test_a_corner_too_sharp_for_any_overlap_is_not_promised_a_cure():
    """At 25 degrees even a closed corner's groove is larger than a square corner's 9 mm2: the text says by how much."""
    _, found = findings(wedge(25.0), "thirsty_groove", corner="open", metal_side="outside")
    closed = solve_section(25.0, 3.0, 3.0, 1.0).groove.item()
    assert closed > 9.0
    assert any(f"a closed corner takes {closed:.1f} mm²" in f.message for f in found)
    assert not any("overlap of 1.00" in f.message for f in found)


def test_gaps_wider_than_half_the_sheet_are_warned_of():
    """Common practice, no source: the root gap of sheet stays under half its thickness."""
    mesh = box(300, 200, 150)
    assert len(findings(mesh, "root_gap_wide", root_gap=1.6)[1]) == 12
    assert findings(mesh, "root_gap_wide", root_gap=1.4)[1] == []
    assert len(findings(mesh, "fit_gap_wide", fit_gap=2.0)[1]) == 12
    assert findings(mesh, "fit_gap_wide", fit_gap=0.2)[1] == []


def test_an_edge_that_its_neighbours_swallow_is_named():
    """A hip roof with steep hips and a ridge of 2 mm: with 3 mm plates inside, no ridge is left."""
    low, high = 1 + 100 / np.tan(np.radians(80.0)), 1.0
    points = [(-low, -100, 0), (low, -100, 0), (low, 100, 0), (-low, 100, 0), (-high, 0, 100), (high, 0, 100)]
    mesh = Mesh.of(points, [(0, 3, 2, 1), (0, 1, 5, 4), (2, 3, 4, 5), (1, 2, 5), (3, 0, 4)])
    kit, found = findings(mesh, "edge_swallowed", corner="open", thickness=3.0)
    short = [j for j in kit.joints if j.length < 1e-6]
    assert len(short) == 1 and [set(f.about) for f in found] == [set(short[0].plates)]
    assert findings(mesh, "edge_swallowed", corner="open", thickness=1.0)[1] == []


def test_foil_is_doubted():
    kit, found = findings(box(300, 200, 150), "thickness_doubtful", thickness=0.1)
    assert len(found) == len(kit.plates) and "0.1 mm" in found[0].message
    assert findings(box(300, 200, 150), "thickness_doubtful", thickness=0.5)[1] == []
