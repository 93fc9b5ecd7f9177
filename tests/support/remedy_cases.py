"""Drawings whose findings carry a remedy, by rule: mesh, choices, and how the remedy's label begins."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from baffled import shelf, upright, with_inner
from drawn_meshes import box
from plain_shapes import wedge
from strategies import prism

from tackwright.core.terms.choices import (
    Band,
    Bolts,
    Choices,
    Cutter,
    Field,
    JointChoice,
    MarkedOpening,
    Settings,
    TabRule,
    Torch,
)

QUIET = Settings(sealed=True)
L_SHAPE = np.array([[0, 0], [300, 0], [300, 100], [120, 100], [120, 260], [0, 260]], dtype=float)


def opening(at, size=(30.0,), **more):
    return MarkedOpening(name="it", at=at, size=size, **more)


def in_a_box(*openings, settings=QUIET):
    return box(300, 200, 150), Choices(settings=settings, openings=openings)


def baffled(port=(50, 100, 0)):
    """Three bays with a port in the first and air holes in the roof of the others."""
    air = [MarkedOpening(name=f"air {x}", at=(x, 100, 150), size=(20,), purpose="vent") for x in (150, 250)]
    return with_inner(box(300, 200, 150), [upright(100), upright(200)], Settings(),
                      openings=(MarkedOpening(name="out", at=port, size=(20,)), *air))


def locked():
    """A shelf with tabs through two plates that cross."""
    return with_inner(
        box(300, 200, 150),
        [upright(150), [(0, 100, 0), (300, 100, 0), (300, 100, 150), (0, 100, 150)],
         [(150, 100, 75), (300, 100, 75), (300, 200, 75), (150, 200, 75)]], QUIET)


CASES = {
    "cracks_without_filler": [
        (box(300, 200, 150), Choices(settings=Settings(material="6061", corner="closed", sealed=True)),
         "Open the Corner"),
        (wedge(45.0), Choices(settings=Settings(
            material="6061", corner="closed", sealed=True, metal_side="outside", overlap=None)), None),
    ],
    "crevice": [(wedge(120.0), Choices(settings=replace(QUIET, corner="closed")), "Open the Corner")],
    "thirsty_groove": [
        (wedge(50.0), Choices(settings=replace(QUIET, corner="open", metal_side="outside")), "Half-Open, Overlap"),
        (prism(L_SHAPE @ np.array([[1, 0], [0.9, 1]]), 200.0), Choices(settings=replace(QUIET, corner="open")), None),
    ],
    "fit_gap_wide": [
        (box(300, 200, 150), Choices(settings=replace(QUIET, fit_gap=2.0)), "Fit Gap 0.1 mm"),
        (box(300, 200, 150), Choices(settings=QUIET, edges={(0, 1): JointChoice(fit_gap=2.0)}), "Fit Gap 0.1 mm"),
        (*with_inner(box(300, 200, 150), [upright(100)], replace(QUIET, fit_gap=2.0)), "Fit Gap 0.1 mm"),
    ],
    "locked_out": [(*locked(), "No Tabs at This Joint")],
    "weld_out_of_reach": [
        (*with_inner(box(300, 200, 150), [upright(100)], replace(
            QUIET, tabs=TabRule(on=False), torch=Torch(nozzle=60.0))), "Add Tabs to Plug Weld"),
    ],
    "sealed_cell": [
        (box(300, 200, 150), Choices(), "Add a 3 mm Vent for Welding"),
        (box(300, 200, 150), Choices(settings=Settings(thickness=6.0)), "Add a 6 mm Vent for Welding"),
        (*with_inner(box(300, 200, 150), [upright(100), shelf(70)], Settings()), "Add a 3 mm Vent for Welding"),
        (wedge(60.0), Choices(settings=Settings(cutter=Cutter(hole=8.0))), "Add a 8 mm Vent for Welding"),
    ],
    "cannot_drain": [
        (*in_a_box(opening((150, 100, 150), purpose="vent")), "Add a 10 mm Weep Hole"),
        (*in_a_box(opening((150, 0, 100)), opening((150, 100, 150), purpose="vent")), "Add a 10 mm Drain"),
        (*baffled(), "Limber Holes of 14 mm"),
        (*baffled(port=(0, 100, 75)), "Add a 10 mm Drain"),     # too high to empty the room by limber holes
    ],
    "opening_over_edge": [
        (*in_a_box(opening((290, 100, 0))), "Move It by"),
        (*in_a_box(opening((290, 190, 0), (60.0, 20.0), shape="slot", across=(0, 1, 0))), "Move It by"),
    ],
    "opening_overlap": [
        (*in_a_box(MarkedOpening(name="first", at=(150, 100, 0), size=(40,)), opening((170, 100, 0))), "Move It by"),
    ],
    "opening_near_cut": [
        (*in_a_box(opening((150, 181, 0))), "Move It by"),
        (*in_a_box(opening((150, 155, 0), bolts=Bolts(count=6, circle=80.0, hole=7.0))), "Move It by"),
    ],
    "opening_along_plate": [(*in_a_box(opening((150, 100, 1.5), axis=(1, 0, 0))), "Square to the Plate")],
    "hole_too_small": [
        (*in_a_box(opening((150, 100, 0), (2.0,)), settings=QUIET), "Widen It to 3 mm"),
        (*in_a_box(opening((150, 100, 0), (30.0, 2.0), shape="slot"), settings=QUIET), "Widen It to 3 mm"),
        (*in_a_box(opening((150, 100, 0), (2.0,)), replace(opening((150, 100, 150), (2.0,)), name="other"),
                   settings=QUIET), "Widen"),
    ],
    "web_too_small": [
        (box(300, 200, 150), Choices(settings=QUIET, fields=(
            Field(panel="right", bands=(Band(code="R5T12"),), margin=1.0),)), "Margin of 3 mm"),
    ],
}  # fmt: skip
