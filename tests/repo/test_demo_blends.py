"""The demo scenes: the .blend and the job file of each give the same kit. They are made from one script."""

from __future__ import annotations

from collections import Counter

import pytest
from demo_kits import cut_by_panel, made, openings_of
from repo_paths import DEMOS


def drawn_kit(blender, name):
    """The kit of a .blend as it is opened, and the envelope with its plates made."""
    from tackwright.addon.gather.gather import read_drawing
    from tackwright.addon.scene.active_envelope import envelope_of
    from tackwright.core.make_kit import make_kit

    blender.ops.wm.open_mainfile(filepath=str(DEMOS / f"{name}.blend"))
    envelope = envelope_of(blender.context)
    drawing = read_drawing(blender.context, envelope)
    assert blender.ops.tackwright.make_plates() == {"FINISHED"}
    return make_kit(drawing.mesh, drawing.choices, name=name), envelope


def numbers_in(data, path=""):
    """Every number of nested data under its path, to compare with a tolerance: Blender's points are of single
    precision. Envelopes go by their order, for each source has its own name for them."""
    if isinstance(data, int | float):
        return {path: data}
    if isinstance(data, dict):
        data = list(data.values()) if path == "/capacities" else data
    parts = data.items() if isinstance(data, dict) else enumerate(data) if isinstance(data, list) else ()
    return {key: value for name, part in parts for key, value in numbers_in(part, f"{path}/{name}").items()}


@pytest.mark.parametrize(
    ("name", "plates", "openings"), [("bow_tank", 11, 5), ("drill_upright", 9, 2), ("hopper", 4, 0)])
def test_make_plates_gives_the_kit_of_the_job(blender, name, plates, openings):
    from tackwright.core.kit.report import kit_data

    drawn, envelope = drawn_kit(blender, name)
    wanted = made(name)
    objects = [item for item in blender.data.objects if item.tackwright_plate.made_as]
    marked = [o for o in drawn.openings if o.purpose not in {"limber", "perforation"}]
    assert (len(objects), len(marked)) == (plates, openings)
    ours, theirs = (numbers_in(kit_data(kit)) for kit in (drawn, wanted))
    assert ours == {path: pytest.approx(value, rel=1e-6) for path, value in theirs.items()}
    assert f"{plates} plates" in envelope.tackwright.summary


@pytest.mark.parametrize("name", ["bow_tank", "drill_upright"])
def test_every_panel_is_cut_as_the_job_has_it(blender, name):
    drawn, _ = drawn_kit(blender, name)
    wanted = made(name)
    assert openings_of(drawn) == openings_of(wanted)
    ours, theirs = cut_by_panel(drawn), cut_by_panel(wanted)
    assert ours.keys() == theirs.keys()
    for panel, numbers in ours.items():
        assert numbers == pytest.approx(theirs[panel], rel=1e-6), panel


def test_the_baffles_of_the_tank_are_perforated_and_let_liquid_by(blender):
    drawn, _ = drawn_kit(blender, "bow_tank")
    inner = {p.placements[0].panel: p for p in drawn.plates if p.role == "inner"}
    assert inner.keys() == {"aft_baffle", "fore_baffle"}
    holes = Counter()
    for panel, _, purpose, count in openings_of(drawn).elements():
        holes[panel, purpose] += count
    for panel in inner:
        assert holes[panel, "perforation"] > 20
        assert holes[panel, "limber"] >= 1
