"""Errors and notes say one thing once, with figures that are true, and in the words of who reads them."""

from __future__ import annotations

import itertools
import re
from dataclasses import replace

import numpy as np
import pytest
from baffled import boxed, shelf, upright, with_inner
from drawn_meshes import box, extruded
from hypothesis import given, settings
from hypothesis import strategies as st
from strategies import numbers

from tackwright.core.command_line import main
from tackwright.core.make_kit import make_kit
from tackwright.core.terms.choices import Bolts, Choices, MarkedOpening, PanelChoice, Settings, TabRule
from tackwright.core.terms.errors import InputError

PLACE = re.compile(r"\([^()]*\) mm")
FIGURES = re.compile(r"(\d[\d.]*) to (\d[\d.]*) mm")
SIDES = ("left", "right", "front", "back", "bottom", "top")


def refused(mesh, choices) -> InputError:
    with pytest.raises(InputError) as caught:
        make_kit(mesh, choices)
    return caught.value


def without_who_and_where(line: str) -> str:
    return PLACE.sub("PLACE", re.sub(r"'[^']*'", "NAME", line))


# ---- one fault is told once, however many panels have it

@settings(max_examples=30, deadline=None)
@given(sides=st.integers(3, 9), width=numbers(40, 120), height=numbers(40, 120), share=numbers(0.3, 1.4))
def test_no_two_lines_of_a_refusal_differ_only_in_whom_they_name(sides, width, height, share):
    turn = 2 * np.pi * np.arange(sides) / sides
    mesh = extruded(width / 2 * np.column_stack([np.cos(turn), np.sin(turn)]), height)
    try:
        make_kit(mesh, Choices(settings=Settings(thickness=share * min(width, height), sealed=True)))
    except InputError as error:
        lines = [without_who_and_where(line) for line in str(error).splitlines()]
        assert len(lines) == len(set(lines)), str(error)
        for low, high in FIGURES.findall(str(error)):
            assert low != high, str(error)


@pytest.mark.parametrize(("thickness", "match"), [
    (32.0, r"^Panels .* are too small for their joints: the plates would vanish .* by edges that move in by 32\.00 mm"),
    (70.0, r"^Panels .* are 70 mm thick, but 'box' is only 60 mm wide"),
])
def test_six_panels_with_one_fault_are_one_line_that_names_them(thickness, match):
    error = refused(box(60, 60, 60), Choices(settings=Settings(thickness=thickness)))
    assert len(str(error).splitlines()) == 1 and re.search(match, str(error))
    assert all(f"'{name}'" in str(error) for name in SIDES)
    assert sorted(error.faces) == list(range(6))


def test_one_panel_with_a_fault_is_told_as_one():
    chosen = Choices(settings=Settings(thickness=2.0), faces={5: PanelChoice(thickness=70.0)})
    assert str(refused(box(60, 60, 60), chosen)).startswith("Panel 'top' is 70 mm thick, but 'box' is only 60 mm wide")


# ---- all faults of all openings are one report

def marked(name, at, size=(20.0,), **rest):
    return MarkedOpening(name=name, at=at, size=None if "fitting" in rest else size, **rest)


FAULTY = {
    "no such fitting": marked("no such fitting", (60.0, 0.0, 50.0), fitting="NPT 5/7"),
    "no such panel": marked("no such panel", (120.0, 0.0, 50.0), panel="roof"),
    "no size": marked("no size", (180.0, 0.0, 50.0), size=(0.0,)),
    "far away": marked("far away", (150.0, -90.0, 50.0)),
    "on the edge": marked("on the edge", (2.0, 0.0, 50.0)),
    "on another": marked("on another", (240.0, 0.0, 52.0)),
    "along": marked("along", (60.0, 200.0, 50.0), axis=(1.0, 0.0, 0.0)),
    "bolted": marked("bolted", (120.0, 200.0, 50.0), fitting="NPT 5/7", bolts=Bolts(count=0, circle=80.0, hole=6.0)),
    "askew": marked("askew", (120.0, 200.0, 50.0), fitting="NPT 5/7", axis=(0.0, 0.0, 0.0)),
    "lost": marked("lost", (150.0, -90.0, 50.0), fitting="NPT 5/7"),
}
SOUND = marked("sound", (240.0, 0.0, 50.0))
REFUSING = ("no such fitting", "no such panel", "no size", "bolted", "askew", "lost")
CHOICES = Choices(settings=Settings(thickness=2.0, sealed=True))


@pytest.mark.parametrize("hiding", REFUSING)
def test_no_fault_of_an_opening_hides_those_of_another(hiding):
    names = [name for name in FAULTY if name not in REFUSING or name == hiding]
    error = refused(box(), replace(CHOICES, openings=(SOUND, *(FAULTY[name] for name in names))))
    told = {re.search(r"[Oo]pening '([^']*)'", line)[1] for line in str(error).splitlines()}
    assert told == set(names) and set(error.openings) == told


def test_all_at_once():
    error = refused(box(), replace(CHOICES, openings=(SOUND, *FAULTY.values())))
    assert {re.search(r"[Oo]pening '([^']*)'", line)[1] for line in str(error).splitlines()} == set(FAULTY)


@pytest.mark.parametrize(("name", "words"), [
    ("bolted", "0 bolts"), ("askew", "its axis is"), ("lost", "from the nearest"),
])
def test_an_unknown_fitting_does_not_hide_what_else_is_wrong_with_its_opening(name, words):
    error = refused(box(), replace(CHOICES, openings=(FAULTY[name],)))
    assert "is not known" in str(error) and words in str(error)


# ---- reasons are true

NEEDED = re.compile(r"it is ([\d.]+) mm long, and ([\d.]+) mm are needed")
GROUP = re.compile(r"there are ([\d.]+) mm between the keep-outs and a group of tabs needs ([\d.]+) mm")


def reasons_are_true(kit):
    for finding in kit.checks:
        for has, needs in (*NEEDED.findall(finding.message), *GROUP.findall(finding.message)):
            assert float(has) < float(needs), finding.message


@pytest.mark.parametrize("thickness", [0.2, 0.3, 0.45, 0.55, 0.6, 0.7, 0.8, 1.0, 3.0])
def test_a_joint_is_told_to_be_short_only_where_it_is(thickness):
    kit = boxed([upright(110.0), shelf(90.0)], Settings(thickness=thickness, corner="open", sealed=True))
    reasons_are_true(kit)
    bare = {f.rule for f in kit.checks} & {"corner_without_tab", "tee_without_tabs"}
    assert bool(bare) is (thickness < 0.5)           # such a tab locates nothing, and that is what is said
    for finding in kit.checks:
        if finding.rule in bare:
            assert re.search(rf"reach only {thickness:.2f} mm|only {thickness:.2f} mm long", finding.message)


@pytest.mark.parametrize("corner", ["open", "closed"])
@pytest.mark.parametrize("rule", [{"width": 500.0}, {"flank": 140.0}, {"width": 1.0}, {"keep_out": 99.0}])
def test_so_it_is_with_tabs_laid_out_by_hand(rule, corner):
    reasons_are_true(boxed([upright(110.0)], Settings(
        thickness=3.0, corner=corner, sealed=True, tabs=TabRule(**rule))))


# ---- a tab that is to end below its wall's face is longer than that

@pytest.mark.parametrize("short", [3.0, 3.5, 50.0])
def test_tabs_cannot_be_short_by_more_than_they_are_long(short):
    mesh, chosen = with_inner(box(), [upright(110.0, z=(0.0, 100.0))], Settings(thickness=3.0, tab_short=short))
    error = refused(mesh, chosen)
    assert re.search(rf"tab short is {short:g} mm.*'(front|back|bottom|top)'.*3 mm.*[Ll]ess than 3 mm", str(error))


@pytest.mark.parametrize("short", [0.0, 1.0, 2.0, 2.4])
def test_shorter_tabs_are_made(short):
    kit = boxed([upright(110.0)], Settings(thickness=3.0, tab_short=short, sealed=True))
    reaches = [tab.reach for joint in kit.joints if joint.kind == "tee" for tab in joint.tabs]
    assert reaches and np.allclose(reaches, 3.0 - short)


def test_where_no_tab_goes_through_a_slot_it_may_be_anything():
    make_kit(box(), Choices(settings=Settings(thickness=3.0, tab_short=50.0, sealed=True)))


# ---- the unit is set elsewhere on the command line than in an editor

def test_the_command_line_names_its_own_way_to_set_the_unit(tmp_path, capsys):
    for number, (size, thickness) in enumerate([(2.0, "0.1"), (200_000.0, "3"), (20.0, "30")]):
        path = tmp_path / f"box{number}.obj"
        points = list(itertools.product([0.0, size], repeat=3))
        faces = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)]
        path.write_text("".join(f"v {x} {y} {z}\n" for x, y, z in points)
                        + "".join("f " + " ".join(str(i + 1) for i in face) + "\n" for face in faces))
        main(["check", str(path), "--thickness", thickness])
        out, err = capsys.readouterr()
        said = out + err
        assert "--units" in said and "Unit Scale" not in said and "Blender" not in said, said
