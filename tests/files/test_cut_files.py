"""What is written to be cut, read from the files alone: every contour closed, one outside, holes inside and apart,
nothing too short for a beam. Over envelopes that ask much of an outline."""

from __future__ import annotations

import dataclasses
import json

import numpy as np
import pytest
import shapely
from cut_files import SHORTEST, kit_faults, metal, read, ring_of, scale_of
from cut_shapes import KINDS, drawn, some
from demo_kits import made
from drawn_meshes import extruded, faces_of, together
from hypothesis import given, settings
from hypothesis import strategies as st
from judges import placed_solids, worst_overlap
from manifold3d import Manifold
from strategies import envelopes
from written_solids import cut_rings, written_solids

from tackwright.core.envelope.mesh import Mesh
from tackwright.core.files.kit_folder import kit_files
from tackwright.core.files.kit_json import kit_json
from tackwright.core.files.plate_dxf import plate_dxf
from tackwright.core.make_kit import make_kit
from tackwright.core.shapes.followed_runs import followed, shortest_run
from tackwright.core.shapes.outline import Circle, Contour, Outline
from tackwright.core.terms.choices import Choices, Settings
from tackwright.core.terms.errors import InputError


def files_of(mesh, choices):
    """The kit and its files; None where the drawing is refused by name or cannot be built and says so."""
    try:
        kit = make_kit(mesh, choices)
    except InputError:
        return None
    return None if any(f.level == "error" for f in kit.checks) else (kit, list(kit_files(kit)))


def check(mesh, choices):
    made = files_of(mesh, choices)
    if made is None:
        return False
    kit, files = made
    assert kit_faults(files) == []
    assert worst_overlap(kit) <= 0.01
    return True


@pytest.mark.parametrize(("kind", "seed"), some(KINDS, 4))
def test_every_file_can_be_cut(kind, seed):
    check(*drawn(kind, seed))


@pytest.mark.slow
@pytest.mark.parametrize("kind", KINDS)
def test_every_file_of_a_long_sweep_can_be_cut(kind):
    assert sum(check(*drawn(kind, seed)) for seed in range(100, 200)) > 30


@settings(max_examples=15)
@given(envelopes(), st.sampled_from(["open", "half-open", "closed"]), st.sampled_from(["inside", "outside", "centred"]))
def test_every_file_of_an_envelope_can_be_cut(mesh, corner, side):
    check(mesh, Choices(settings=Settings(corner=corner, metal_side=side, sealed=True)))


@pytest.mark.parametrize("seed", [13, 26, 37])
def test_a_hole_that_touches_the_edge_of_its_plate_is_refused_by_name(seed):
    """A triangle missing from a face, with one point in its corner or on its edge, the metal outside."""
    mesh, choices = drawn("torn", seed)
    kit = make_kit(mesh, choices)
    error = next(f for f in kit.checks if f.rule == "opening_over_edge")
    assert error.level == "error" and "touches the edge" in error.message and error.edges
    assert kit_faults(kit_files(kit)) == []


def test_a_trim_that_all_but_reaches_the_edge_is_a_notch():
    """Three boxes made one: a trim ends 3e-9 mm from an edge, beside which a neighbour was trimmed before."""
    mesh, choices = drawn("boxes", 28)
    kit = make_kit(mesh, choices)
    assert "trimmed" in {f.rule for f in kit.checks} and not any(f.level == "error" for f in kit.checks)
    assert kit_faults(kit_files(kit)) == []


# Outlines by themselves ------------------------------------------------------------------------------------------


@st.composite
def spoiled_outlines(draw):
    """A random star with a random hole, and here and there a corner replaced by a few points close together."""
    random = np.random.default_rng(draw(st.integers(0, 10**9)))

    def ring(radius, count):
        turns = np.sort(random.uniform(0, 2 * np.pi, count))
        if np.diff(turns, append=turns[0] + 2 * np.pi).min() < 0.15:
            return ring(radius, count)
        points = np.column_stack([np.cos(turns), np.sin(turns)]) * random.uniform(0.5, 1, (count, 1)) * radius
        out = []
        for point in points:
            if random.random() < 0.5:
                out.append(point)
                continue
            size = 10.0 ** random.uniform(-6, -1.5)
            out += [point + size * random.normal(size=2) for _ in range(int(random.integers(1, 4)))]
        return np.array(out)

    outer, hole = ring(200.0, int(random.integers(4, 9))), ring(40.0, int(random.integers(3, 6)))
    if not (shapely.Polygon(outer).is_valid and shapely.Polygon(hole).is_valid):
        return draw(spoiled_outlines())
    return Outline(outer=Contour(points=outer), holes=(Contour(points=hole[::-1]),))


@given(spoiled_outlines())
def test_runs_too_short_go_and_no_metal_comes(outline):
    done = followed(outline)
    before, after = (shapely.Polygon(o.outer.points, [h.points for h in o.holes]) for o in (outline, done))
    assert shortest_run(done) >= SHORTEST
    assert after.is_valid or not before.is_valid
    if before.is_valid:
        assert shapely.difference(after, before).area < 1e-7
        assert shapely.hausdorff_distance(before.boundary, after.boundary, densify=0.01) < 0.1
    if shortest_run(outline) >= 1.01 * SHORTEST:
        assert done is outline


@pytest.mark.parametrize("corner", [(1, 1), (1, -1), (-1, 1), (-1, -1)], ids=str)
@pytest.mark.parametrize("size", [1e-7, 1e-4, 2e-3, 0.01])
def test_one_short_run_moves_the_contour_no_more_than_a_hundredth(size, corner):
    """A run that goes aside by up to 0.01 mm: chamfers, fillets and steps of a rectangle's edge, in or out."""
    a, b = np.array(corner) * size / 2
    ring = np.array([(0, 0), (100, 0), (100, 60), (50 - a, 60), (50 - a, 60 + b), (0, 60 + b)])
    ring = ring if shapely.LinearRing(ring).is_ccw else ring[::-1]
    done = followed(Outline(outer=Contour(points=ring)))
    before, after = shapely.Polygon(ring), shapely.Polygon(done.outer.points)
    assert shortest_run(done) >= SHORTEST and shapely.difference(after, before).area < 1e-9
    assert shapely.hausdorff_distance(before.boundary, after.boundary) <= 0.01 + 1e-9


def test_arcs_and_circles_stay_what_they_are():
    quarter = np.tan(np.pi / 8)
    ring = np.array([(0, 0), (90, 0), (100, 10), (100, 50), (100, 50.004), (0, 50)])
    outline = Outline(
        outer=Contour(points=ring, bulges=np.array([0, quarter, 0, 0, 0, 0])),
        holes=(Circle(centre=(50.0, 20.0), diameter=8.0),))
    done = followed(outline)
    assert done.holes == outline.holes
    assert quarter in done.outer.bulges and len(done.outer.points) == 5
    slot = Contour(points=np.array([(0, 0), (0, 0.01), (4, 0.01), (4, 0)])[::-1], bulges=np.array([0, -1.0, 0, -1.0]))
    slim = followed(Outline(outer=outline.outer, holes=(slot,)))
    assert len(slim.holes) == 1 and shortest_run(slim) >= SHORTEST


@pytest.mark.parametrize("lean", [91.0, 92.0, 94.0, 96.0])
@pytest.mark.parametrize("corner", ["open", "half-open"])
def test_low_steps_beside_tabs_are_merged_and_the_root_gap_is_told(corner, lean):
    """A prism whose corners are a little more than square: the notch for a tab's end is deeper than the edge by
    t cos(lean), 0.05 to 0.31 mm (derived)."""
    out = 200.0 / np.tan(np.radians(180 - lean))
    mesh = extruded(np.array([(0, 0), (300, 0), (300 + out, 200), (-out, 200)]), 150.0)
    chosen = Settings(corner=corner, metal_side="outside", thickness=3.0)
    step = 3.0 * np.cos(np.radians(180 - lean))
    low = {}
    for jog in (0.0, 0.3):
        kit = make_kit(mesh, Choices(settings=dataclasses.replace(chosen, jog=jog)))
        runs = [np.linalg.norm(np.roll(p.outline.outer.points, -1, axis=0) - p.outline.outer.points, axis=1)
                for p in kit.plates]
        low[jog] = sum(int((run < 0.3).sum()) for run in runs)
        assert worst_overlap(kit) <= 0.01
        if corner == "open":
            check_gaps(kit)
    assert low[0.0] > 0 or step >= 0.3
    assert low[0.3] == 0


def check_gaps(kit):
    """Between the tabs the plates of upright joints are as far apart as is told: manifold3d on a slice of them."""
    solids = placed_solids(kit)
    slice_ = Manifold.cube((2000, 2000, 1.0), True).translate((0, 0, 6.0))
    upright = [j for j in kit.joints if j.kind == "open_corner" and abs(j.line[1][2] - j.line[0][2]) > 100]
    assert len(upright) == 4
    for joint in upright:
        one, two = (solids[plate] ^ slice_ for plate in joint.plates)
        assert one.min_gap(two, 5.0) == pytest.approx(joint.root_gap, abs=2e-3)


def test_a_file_says_what_the_solids_are():
    kit, files = files_of(*drawn("hull", 3))
    areas = [metal(read(data)).area for name, data in files if name.startswith("plates/")]
    assert areas == pytest.approx([plate.area for plate in kit.plates], rel=1e-6)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_congruent_plates_share_a_mark_whatever_was_taken_out(seed):
    """One hull twice in a mesh, the second turned and set aside: every plate of it is one of the first's."""
    mesh, choices = drawn("hull", seed)
    c, s = np.cos(0.3), np.sin(0.3)
    twin = Mesh.of(mesh.points @ np.array([[c, s, 0], [-s, c, 0], [0, 0, 1]]) + [700.0, 90.0, 0.0], faces_of(mesh))
    outer = dataclasses.replace(choices.settings, metal_side="outside", corner="open")
    kit = make_kit(together(mesh, twin), Choices(settings=outer))
    assert [plate.mark for plate in kit.plates if plate.quantity % 2] == []
    assert kit_faults(kit_files(kit)) == []


@pytest.mark.parametrize(("name", "unit"), [("bow_tank", "mm"), ("drill_upright", "in"), ("hopper", "mm")])
def test_the_reader_of_the_judges_reads_what_ezdxf_reads(name, unit):
    """Rings of every cut, arcs and circles too, in the order of the file; to the chords that both make of arcs."""
    kit = made(name)
    for plate in kit.plates:
        data = plate_dxf(plate, dataclasses.replace(kit.settings, dxf_units=unit))
        document = read(data)
        theirs = [shapely.Polygon(ring_of(cut, scale_of(document)))
                  for cut in document.modelspace().query('*[layer=="CUT"]')]
        ours = [shapely.Polygon(ring) for ring in cut_rings(data.decode("cp1252"))]
        assert len(ours) == len(theirs) > 0
        for one, other in zip(ours, theirs, strict=True):
            assert one.is_valid and shapely.hausdorff_distance(one.exterior, other.exterior) < 0.05
            assert one.symmetric_difference(other).area < 0.003 * one.length


def test_the_judges_solids_have_what_kit_json_says_of_them():
    """The mass of every plate is its solid's volume times the density, perforations and all."""
    kit = made("bow_tank")
    solids = written_solids(kit)
    for plate in json.loads(kit_json(kit))["plates"]:
        for placement in plate["placements"]:
            mass = solids[placement["id"]].volume() * plate["density"] * 1e-9
            assert mass == pytest.approx(plate["mass"], rel=2e-4)
