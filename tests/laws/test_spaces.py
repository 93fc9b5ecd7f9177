"""The closed spaces that a kit is told to have, against voxels of what was written: random partitions of boxes, their
edges drawn short, long, crossing and free, and leaning ones."""

import re
import tempfile
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from baffled import with_inner
from drawn_meshes import box
from judges import placed_solids
from voxel_spaces import spaces

from tackwright.core.files.kit_folder import write_kit
from tackwright.core.make_kit import make_kit
from tackwright.core.terms.choices import MarkedOpening, PanelChoice, Settings
from tackwright.core.terms.errors import InputError

SIZE = (300.0, 240.0, 200.0)
SEALED = re.compile(r"A closed space of ([\d.]+ m?L)")
STAYS = re.compile(r"^([\d.]+ m?L) in the space of .* cannot run to '(\w+)'")
SMALL = 30e3
"""mm3: voxels are too coarse for less."""


def litres(text):
    number, unit = text.split()
    return float(number) * (1.0 if unit == "L" else 1e-3)


def told(kit):
    """Litres of every closed space that the kit's checks tell, the largest first."""
    return sorted((litres(SEALED.search(f.message)[1]) for f in kit.checks if f.rule == "sealed_cell"), reverse=True)


def partition(seed):
    """A box with one to four plates in it, each across one of its sides, with every edge drawn a few mm short of the
    wall or beyond it, or ending freely."""
    random = np.random.default_rng(seed)
    size, rings, limber = np.array(SIZE), [], []
    places = random.permutation([(axis, share) for axis in range(3) for share in (0.2, 0.4, 0.6, 0.8)])
    for axis, share in places[: int(random.integers(1, 5))]:
        axis = int(axis)
        others = [a for a in range(3) if a != axis]
        ends = np.zeros((3, 2))
        ends[axis] = random.uniform(share - 0.04, share + 0.04) * size[axis]
        for other in others:
            near = random.uniform(-9.0, 9.0, 2)
            ends[other] = near[0], size[other] - near[1]
            if random.random() < 0.15:                         # a way round it
                side = int(random.integers(2))
                ends[other, side] += (1 - 2 * side) * random.uniform(0.15, 0.3) * size[other]
        lean = random.choice([0.0, 0.0, 0.0, random.uniform(-25.0, 25.0)])
        a, b = others
        corners = [(0, 0), (1, 0), (1, 1), (0, 1)]
        ring = np.zeros((4, 3))
        for row, (i, j) in enumerate(corners):
            ring[row, a], ring[row, b] = ends[a, i], ends[b, j]
            ring[row, axis] = ends[axis, 0] + (lean * (ring[row, b] / size[b] - 0.5))
        rings.append(ring if random.random() < 0.5 else ring[::-1])
        limber.append(float(random.choice([0.0, 0.0, 0.0, 24.0])))
    settings = Settings(
        thickness=3.0, metal_side="inside", corner="closed", sealed=True,
        root_gap=float(random.choice([0.0, 0.0, 0.8])), tab_short=float(random.choice([0.0, 1.0])),
        slot_relief=float(random.choice([0.0, 0.5])), fit_gap=float(random.choice([0.1, 0.4])))
    at = [(random.uniform(0.1, 0.9) * SIZE[0], random.uniform(0.1, 0.9) * SIZE[1], SIZE[2] * k) for k in (0, 1)]
    openings = tuple(
        MarkedOpening(name=name, at=place, size=(20.0,), purpose="drain")
        for name, place in zip(("low", "high"), at, strict=True) if random.random() < 0.7)
    mesh, choices = with_inner(box(*SIZE), rings, settings, openings=openings)
    first = mesh.face_count - len(rings)
    faces = {first + row: PanelChoice(inner=True, limber=own) for row, own in enumerate(limber)}
    return mesh, replace(choices, faces=faces)


def judged(kit):
    with tempfile.TemporaryDirectory() as folder:
        return spaces(write_kit(kit, Path(folder)))


def shelved(edge):
    """A box with a baffle across and a shelf whose front edge is drawn at y = `edge`, vented above the shelf only."""
    baffle = [(140, 0, 0), (140, 240, 0), (140, 240, 200), (140, 0, 200)]
    shelf = [(0, edge, 90), (300, edge, 90), (300, 240, 90), (0, 240, 90)]
    holes = tuple(
        MarkedOpening(name=f"vent {x}", at=(x, 120.0, 200.0), size=(20.0,), purpose="vent") for x in (70.0, 220.0))
    mesh, choices = with_inner(
        box(*SIZE), [baffle, shelf], Settings(thickness=3.0, metal_side="inside"), openings=holes)
    return make_kit(mesh, choices)


@pytest.mark.parametrize("edge", [-9.0, -1.65, -0.5, 0.0, 1.2, 2.9, 3.0, 3.4, 9.0])
def test_spaces_below_a_shelf_are_told_however_its_edge_was_drawn(edge):
    kit = shelved(edge)
    assert told(kit) == [3.11, 2.71]
    assert [s.volume / 1e6 for s in judged(kit) if not s.outlets] == pytest.approx([3.11, 2.71], rel=0.04)


def test_the_same_solids_have_the_same_spaces():
    kits = [shelved(edge) for edge in (-1.65, -0.5, 1.2)]
    for kit in kits[1:]:
        for solid, other in zip(placed_solids(kits[0]).values(), placed_solids(kit).values(), strict=True):
            assert (solid - other).volume() + (other - solid).volume() < 1e-3
        assert [f.message for f in kit.checks if "space of" in f.message] == [
            f.message for f in kits[0].checks if "space of" in f.message]


def against_voxels(seed):
    """Compare what is told of one random partition with its voxels; whether there was anything to compare."""
    mesh, choices = partition(seed)
    try:
        kit = make_kit(mesh, choices)
    except InputError:                                         # three plates meet, or two too sharply
        return False
    # an opening over a plate, or a cut 3 mm wide, is as open as one likes to call it
    if {f.rule for f in kit.checks} & {"opening_at_joint", "cut_stays_open"}:
        return False
    found = judged(kit)
    closed, said = [s for s in found if not s.outlets and s.volume > SMALL], [v for v in told(kit) if v > SMALL / 1e6]
    assert len(said) == len(closed), seed
    for volume, space in zip(said, closed, strict=True):
        assert volume == pytest.approx(space.volume / 1e6, rel=0.01, abs=1.5 * space.give / 1e6), seed
    stays = {m[2]: litres(m[1]) for f in kit.checks if (m := STAYS.match(f.message))}
    for space in found:
        if space.volume > SMALL and space.outlets:
            # the voxels' outlets lie up to 5 mm within the walls
            near = pytest.approx(space.stays / 1e6, abs=5e-6 * space.area + space.give / 1e6)
            assert max((stays[name] for name in stays if name in space.outlets), default=0.0) == near, seed
    return True


def test_what_is_told_of_random_partitions_is_what_voxels_find():
    assert sum(against_voxels(seed) for seed in range(16)) > 8


@pytest.mark.slow
@pytest.mark.parametrize("block", range(8))
def test_what_is_told_of_many_random_partitions_is_what_voxels_find(block):
    assert sum(against_voxels(seed) for seed in range(100 + 40 * block, 140 + 40 * block)) > 15


def test_a_plate_that_ends_within_another_is_slotted_from_its_own_end():
    """The other way round, the cut in the shelf would run on to the wall and stay open."""
    shelf = [(0, 0, 90), (300, 0, 90), (300, 240, 90), (0, 240, 90)]
    short = [(0, 120, 0), (200, 120, 0), (200, 120, 200), (0, 120, 200)]
    mesh, choices = with_inner(box(*SIZE), [shelf, short], Settings(thickness=3.0, metal_side="inside", sealed=True))
    kit = make_kit(mesh, choices)
    assert len(told(kit)) == 2
    assert not any(f.rule == "cut_stays_open" for f in kit.checks)
    assert [s.volume / 1e6 for s in judged(kit)] == pytest.approx(told(kit), rel=0.04)


def test_a_cut_that_stays_open_is_told_with_its_length_and_width():
    """A plate between two free ends is nowhere at an edge of the shelf: one of the cuts runs on."""
    shelf = [(0, 0, 90), (300, 0, 90), (300, 240, 90), (0, 240, 90)]
    short = [(100, 120, 0), (200, 120, 0), (200, 120, 200), (100, 120, 200)]
    mesh, choices = with_inner(box(*SIZE), [shelf, short], Settings(thickness=3.0, metal_side="inside", sealed=True))
    kit = make_kit(mesh, choices)
    found = [f.message for f in kit.checks if f.rule == "cut_stays_open"]
    assert len(found) == 1
    assert re.search(r"runs 9\d mm past it, 3\.2 mm wide", found[0])
    assert len(told(kit)) == 1                                  # and through it the two spaces are one
