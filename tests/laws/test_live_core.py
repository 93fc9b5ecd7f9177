"""A draft has the plates of the kit that it is completed to, and nothing is done twice."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from baffled import random_baffled
from repo_paths import DEMOS

from tackwright.core import fit_out, make_kit
from tackwright.core.files.job import read_job
from tackwright.core.files.kit_json import kit_json
from tackwright.core.files.read_mesh import read_mesh
from tackwright.core.kit.draft import draft_plates
from tackwright.core.terms.errors import InputError
from tackwright.core.terms.memo import Memo


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
        assert same(early, dataclasses.replace(late, borders=(), marked=True, mark_at=None, toward=""))


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
    find = fit_out.check_interior_cells
    monkeypatch.setattr(fit_out, "check_interior_cells", lambda *a, **k: looked.append(1) or find(*a, **k))
    draft = make_kit.draft_kit(*job_of("hopper"))
    assert not looked
    make_kit.complete_kit(draft)
    assert len(looked) == 1


def test_completing_can_be_stopped_at_every_step_of_progress():
    draft = make_kit.draft_kit(*job_of("bow_tank"))
    steps = []
    make_kit.complete_kit(draft, progress=lambda *step: steps.append(step))
    assert len(steps) > 5 and steps[-1] == ("done", 1, 1)

    class EnoughError(Exception):
        pass

    def stop(*step):
        if step == steps[3]:
            raise EnoughError

    with pytest.raises(EnoughError):
        make_kit.complete_kit(draft, progress=stop)


def edits(mesh, choices, random):
    """The same drawing again and again with something else changed each time, now and then nothing."""
    walls = mesh.points.copy()
    for turn in range(5):
        kind = turn % 4
        if kind == 0:
            walls = walls * (1.0 + random.uniform(-0.02, 0.02, 3))
        elif kind == 1:
            choices = dataclasses.replace(choices, settings=dataclasses.replace(
                choices.settings, fit_gap=float(random.choice([0.1, 0.2])), limber=float(random.choice([0.0, 15.0]))))
        elif kind == 2 and choices.openings:
            first, *rest = choices.openings
            moved = tuple(float(x) for x in np.array(first.at) + random.uniform(-3, 3, 3))
            choices = dataclasses.replace(choices, openings=(dataclasses.replace(first, at=moved), *rest))
        yield dataclasses.replace(mesh, points=walls), choices


@pytest.mark.parametrize("name", ["bow_tank", *range(3)])
def test_with_a_memo_a_draft_is_what_it_is_without(name):
    mesh, choices = job_of(name) if isinstance(name, str) else random_baffled(name)
    memo = Memo()
    for drawn, chosen in edits(mesh, choices, np.random.default_rng(5)):
        try:
            plain = make_kit.draft_kit(drawn, chosen)
        except InputError as error:
            with pytest.raises(InputError) as again:
                make_kit.draft_kit(drawn, chosen, memo=memo)
            assert str(again.value) == str(error)
            continue
        kept = make_kit.draft_kit(drawn, chosen, memo=memo)
        assert all(map(same, draft_plates(plain), draft_plates(kept)))
        assert kit_json(make_kit.complete_kit(plain)) == kit_json(make_kit.complete_kit(kept))


def test_a_memo_is_asked_first_and_forgets_what_is_asked_no_more():
    called = []

    def double(value):
        called.append(value)
        return 2 * value

    memo = Memo()
    for given, work in ((1.0, 1), (1.0, 1), (2.0, 2), (3.0, 3), (1.0, 4)):
        memo.begin()
        assert memo(double, given) == 2 * given
        assert len(called) == work and len(memo) == 1
    memo.begin()
    memo(double, 1.0)
    memo(double, 1)                                      # an integer is another number to the last bit
    memo(double, -0.0)
    memo(double, 0.0)
    assert called[4:] == [1, -0.0, 0.0]


def test_a_second_draft_of_the_same_does_the_dear_parts_once(monkeypatch):
    memo = Memo()
    make_kit.draft_kit(*job_of("bow_tank"), memo=memo)
    size = len(memo)
    monkeypatch.setattr("tackwright.core.shapes.drawing_frame._directions", None)   # if called again: raises
    make_kit.draft_kit(*job_of("bow_tank"), memo=memo)
    assert len(memo) == size > 15
