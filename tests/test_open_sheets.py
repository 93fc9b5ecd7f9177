"""Ribs and gussets on open sheets, judged from what is written: free sides on their drawn lines, tees on either face,
and the same kit however the drawing is wound."""

from __future__ import annotations

from dataclasses import replace

import hypothesis.strategies as st
import numpy as np
import pytest
import shapely
from baffled import random_baffled
from drawn_meshes import faces_of
from hypothesis import Phase, assume, given, settings
from judges import placed_solids, worst_overlap
from open_sheets import FINE, LONG, MIDDLE, cut_plate, half, is_sound, standing
from solid_rooms import block

from tackwright.core.errors import InputError
from tackwright.core.make_kit import make_kit
from tackwright.core.mesh import Mesh


def tees(kit):
    return [joint for joint in kit.joints if joint.kind == "tee"]


def rules(kit):
    return {finding.rule for finding in kit.checks}


def before(sheet):
    """All that lies before the surfaces that a plate stands on."""
    return shapely.intersection_all([half(at, into) for at, into in sheet.grounds()])


def body(kit, sheet):
    """What is cut of the plate but for its tabs."""
    shape = shapely.intersection(cut_plate(kit), before(sheet), grid_size=FINE)
    return shapely.union_all([p for p in shapely.get_parts(shape) if p.geom_type == "Polygon"])


def apart(one, two):
    return shapely.symmetric_difference(one, two, grid_size=FINE).area


@given(standing())
@settings(max_examples=60, phases=[Phase.generate])
def test_free_edges_stay_on_their_lines_and_feet_go_to_what_they_stand_on(plate):
    assume(is_sound(plate))
    sheet = plate.sheet
    kit = make_kit(*sheet.drawing(plate.ring))
    assert apart(body(kit, sheet), plate.meant) < 0.05
    # beyond the feet there are tabs alone, through the metal and no farther
    whole = cut_plate(kit)
    deep = shapely.intersection_all([half(at + into * (sheet.thickness + 1e-6), into) for at, into in sheet.grounds()])
    assert shapely.difference(whole, deep, grid_size=FINE).area < 1e-3
    tabs = shapely.difference(whole, before(sheet), grid_size=FINE).area
    assert tabs == pytest.approx(sum(t.width for j in tees(kit) for t in j.tabs) * sheet.thickness, abs=1e-2)
    # a tee on every foot, all along it, and none said to be on an edge
    found = sorted(float(np.linalg.norm(j.line[1] - j.line[0])) for j in tees(kit))
    feet = [
        shapely.intersection(plate.meant.boundary, half(at, into).boundary.buffer(1e-6)).length
        for at, into in sheet.grounds()]
    feet = sorted(foot for foot in feet if foot > 1.0)
    assert found == pytest.approx(feet, abs=0.01)
    assert "tee_on_edge" not in rules(kit) and worst_overlap(kit) < 0.01


SWAPPED = {"inside": "outside", "outside": "inside", "centred": "centred"}


def same_solids(one, two, within=None):
    """Whether every placed solid of a kit has its like in the other one, as far as it lies within a block. Judge:
    manifold3d."""
    solids, others = (list(placed_solids(kit).values()) for kit in (one, two))
    if within is not None:
        solids, others = ([solid ^ within for solid in own] for own in (solids, others))
    if len(solids) != len(others):
        return False
    for solid in solids:
        boxes = [np.abs(np.subtract(other.bounding_box(), solid.bounding_box())).max() for other in others]
        other = others.pop(int(np.argmin(boxes)))
        if ((solid - other) + (other - solid)).volume() > 0.05:
            return False
    return True


@given(standing(), st.integers(0, 7), st.permutations(range(3)), st.booleans(), st.booleans())
def test_the_same_kit_however_it_is_wound_and_in_whatever_order(plate, turn, order, back, over):
    assume(is_sound(plate))
    sheet = plate.sheet
    wound = np.roll(plate.ring[::-1] if back else plate.ring, turn, axis=0)
    other = replace(sheet, looks_in=not sheet.looks_in, side=SWAPPED[sheet.side]) if over else sheet
    assert other.over == sheet.over
    mesh, choices = other.drawing(wound)
    order = [row for row in order if row < mesh.face_count]
    mixed = Mesh.of(mesh.points, [mesh.face(row) for row in order], name=mesh.name)
    chosen = replace(choices, faces={new: choices.faces[row] for new, row in enumerate(order)})
    # turned over, the sheet's own tabs in its corner lean the other way along it: all but these is looked at
    near = block((-2 * LONG, MIDDLE - 15, -2 * LONG), (2 * LONG, MIDDLE + 15, 2 * LONG)) if over else None
    assert same_solids(make_kit(*sheet.drawing(plate.ring)), make_kit(mixed, chosen), near)


@given(st.integers(0, 10**6), st.integers(0, 7), st.booleans())
def test_the_same_kit_however_random_plates_in_a_hull_are_wound(seed, turn, back):
    mesh, choices = random_baffled(seed)
    faces, random = faces_of(mesh), np.random.default_rng(seed)
    order = random.permutation(len(faces)).tolist()
    mixed = []
    for row in order:
        own = np.roll(faces[row], turn)
        inner = row in choices.faces
        mixed.append(own[::-1] if (back if inner else random.random() < 0.5) else own)
    chosen = replace(choices, faces={order.index(row): choice for row, choice in choices.faces.items()})
    kits = []
    for drawing in ((mesh, choices), (Mesh.of(mesh.points, mixed, name=mesh.name), chosen)):
        try:
            kits.append(make_kit(*drawing))
        except InputError as error:
            kits.append(error.what)
    if any(isinstance(kit, str) for kit in kits):
        assert all(isinstance(kit, str) for kit in kits), kits
    else:
        assert same_solids(*kits)
