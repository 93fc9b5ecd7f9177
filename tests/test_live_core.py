"""A draft has the plates of the kit that it is completed to, and nothing is done twice."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np
import pytest
from baffled import random_baffled

from tackwright.core import interior, make_kit
from tackwright.core.draft import draft_plates
from tackwright.core.errors import InputError
from tackwright.core.files.kit_json import kit_json
from tackwright.core.files.read_mesh import read_mesh
from tackwright.core.job import read_job

DEMOS = Path(__file__).resolve().parents[1] / "demo_scenes"


def job_of(name):
    job = read_job(DEMOS / f"{name}.toml")
    return read_mesh(job.mesh_path, unit=job.unit), job.choices


def same(one, two):
    """Whether two values are equal, arrays to the last digit."""
    if isinstance(one, np.ndarray):
        return np.array_equal(one, two)
    if dataclasses.is_dataclass(one):
        return type(one) is type(two) and all(
            same(getattr(one, f.name), getattr(two, f.name)) for f in dataclasses.fields(one))
    if isinstance(one, tuple):
        return len(one) == len(two) and all(map(same, one, two))
    return one == two


def check(mesh, choices):
    draft = make_kit.draft_kit(mesh, choices)
    shown = draft_plates(draft)
    kit = make_kit.complete_kit(draft)
    assert kit_json(kit) == kit_json(make_kit.make_kit(mesh, choices)) == kit_json(make_kit.complete_kit(draft))
    assert len(shown) == len(kit.plates)
    for early, late in zip(shown, kit.plates, strict=True):
        assert same(early, dataclasses.replace(late, borders=()))


@pytest.mark.parametrize("name", ["bow_tank", "drill_upright", "hopper"])
def test_the_draft_of_a_demo_has_the_plates_of_its_kit(name):
    check(*job_of(name))


@pytest.mark.parametrize("seed", range(8))
def test_the_draft_of_a_random_hull_has_the_plates_of_its_kit(seed):
    try:
        check(*random_baffled(seed))
    except InputError:
        with pytest.raises(InputError):
            make_kit.draft_kit(*random_baffled(seed))


def test_cells_are_looked_for_only_when_the_kit_is_completed(monkeypatch):
    looked = []
    find = interior.check_interior_cells
    monkeypatch.setattr(interior, "check_interior_cells", lambda *a, **k: looked.append(1) or find(*a, **k))
    draft = make_kit.draft_kit(*job_of("hopper"))
    assert not looked
    make_kit.complete_kit(draft)
    assert len(looked) == 1


def test_completing_can_be_stopped_at_every_step_of_progress():
    draft = make_kit.draft_kit(*job_of("bow_tank"))
    steps = []
    make_kit.complete_kit(draft, progress=lambda *step: steps.append(step))
    assert len(steps) > 5 and steps[-1] == ("done", 1, 1)

    class Enough(Exception):
        pass

    def stop(*step):
        if step == steps[3]:
            raise Enough

    with pytest.raises(Enough):
        make_kit.complete_kit(draft, progress=stop)
