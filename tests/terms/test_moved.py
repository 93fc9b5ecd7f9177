"""A drawing lies where it lies: what is said of it moves along, and nothing else of it changes."""

import dataclasses

import numpy as np
import pytest
from baffled import random_baffled, shelf, upright, with_inner
from drawn_meshes import box

from tackwright.core.kit.draft import draft_plates
from tackwright.core.make_kit import draft_kit, make_kit
from tackwright.core.terms.choices import MarkedOpening, Settings
from tackwright.core.terms.errors import InputError
from tackwright.core.terms.messages import Length, Place
from tackwright.core.terms.moved import leaving, moved_choices, moved_error

BY = np.array([1234.0, -560.0, 78.0])
OPEN = Settings(thickness=3.0)


def shifted(mesh, choices):
    """The same drawing elsewhere."""
    return dataclasses.replace(mesh, points=mesh.points + BY), moved_choices(choices, BY)


def places(finding):
    return [one.values for one in finding.message.quantities if one.kind == "place"]


def jobs():
    inner, choices = with_inner(box(300.0, 200.0, 150.0), [upright(100.0), shelf(60.0, y=(0.0, 120.0))], OPEN)
    marks = (MarkedOpening(name="fill", at=(30.0, 100.0, 150.0), size=(40.0,)),
             MarkedOpening(name="near", at=(101.0, 30.0, 150.0), size=(20.0,), purpose="drain"))
    yield inner, dataclasses.replace(choices, openings=marks)
    yield from (random_baffled(seed) for seed in (0, 1, 2, 3, 4, 6))


@pytest.mark.parametrize("job", list(jobs()), ids=range(7))
def test_everything_that_is_said_moves_along(job):
    here, there = make_kit(*job), make_kit(*shifted(*job))
    assert len(here.checks) == len(there.checks) > 0
    for one, two in zip(here.checks, there.checks, strict=True):
        assert (one.rule, one.about, one.faces, one.edges) == (two.rule, two.about, two.faces, two.edges)
        assert (one.at is None) == (two.at is None)
        if one.at is not None:
            assert two.at == pytest.approx(one.at + BY, abs=2e-3)
        ours, theirs = (np.array(places(f)).reshape(-1, 3) for f in (one, two))
        assert theirs == pytest.approx(ours + BY, abs=0.11)
        if one.remedy is not None:
            ours, theirs = ([c.opening.at for c in f.remedy.changes if hasattr(c, "opening")] for f in (one, two))
            assert np.array(theirs).reshape(-1, 3) == pytest.approx(np.array(ours).reshape(-1, 3) + BY, abs=0.011)
    for one, two in zip(here.joints, there.joints, strict=True):
        assert two.line == pytest.approx(one.line + BY, abs=1e-6)
    for one, two in zip(here.corners, there.corners, strict=True):
        assert two.at == pytest.approx(one.at + BY, abs=1e-6)
    for one, two in zip(here.plates, draft_plates(draft_kit(*shifted(*job))), strict=True):
        assert one.outline.outer.points == pytest.approx(two.outline.outer.points, abs=1e-6)
        for a, b in zip(one.placements, two.placements, strict=True):
            assert b.matrix[:3, 3] == pytest.approx(a.matrix[:3, 3] + BY, abs=1e-6)


def test_the_random_ones_have_places_and_remedies():
    kits = [make_kit(*job) for job in jobs()]
    assert any(places(f) for kit in kits for f in kit.checks)
    assert any(f.remedy is not None and any(hasattr(c, "opening") for c in f.remedy.changes)
               for kit in kits for f in kit.checks)


def test_a_refusal_moves_along():
    """Three plates that cross in a line: refused with its place."""
    job = with_inner(box(300.0, 200.0, 150.0), [upright(100.0), shelf(60.0), [
        (0, 0, 30), (200, 0, 90), (200, 200, 90), (0, 200, 30)]], OPEN)
    said = []
    for mesh, choices in (job, shifted(*job)):
        with pytest.raises(InputError) as refused:
            make_kit(mesh, choices)
        said.append([one.values for one in refused.value.message.quantities if one.kind == "place"])
    here, there = said
    assert len(here) > 0 and np.array(there) == pytest.approx(np.array(here) + BY, abs=2e-3)


def test_an_error_that_leaves_keeps_its_kind_and_all_that_it_names():
    one = InputError(f"{Length(3.0):g} here", where=f"{Place(1.0, 2.0, 3.0)}", faces=(4,), openings=("a",))
    other = InputError("elsewhere", edges=((1, 2),))
    with pytest.raises(InputError) as raised, leaving(BY):
        raise InputError.several([one, other])
    assert [e.faces for e in raised.value.each] == [(4,), ()] and raised.value.each[1].edges == ((1, 2),)
    assert str(raised.value.each[0]) == "3 mm here at (1235, -558, 81) mm"
    assert moved_error(one, -BY).openings == ("a",)

