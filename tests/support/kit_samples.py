"""A small kit made by hand: two plates that meet in an open corner, with a tab, a round hole, a slot and arcs."""

from __future__ import annotations

import dataclasses
import math

import numpy as np

from tackwright.core.kit.kit import Border, Corner, Groove, Joint, Kit, KitEnvelope, KitPlate, Placement, Tab
from tackwright.core.shapes.outline import Circle, Contour, Outline
from tackwright.core.terms.choices import Settings
from tackwright.core.terms.findings import Finding

QUARTER = math.tan(math.pi / 8)   # bulge of a quarter circle
ROUND_HOLE = Circle(centre=(40.0, 25.0), diameter=20.0)

# 97 x 80 with a tab of 12 x 3 on its right side.
LID = np.array([(0, 0), (97, 0), (97, 40), (100, 40), (100, 52), (97, 52), (97, 80), (0, 80)], dtype=float)
# A slot of 30 x 10 overall about (40, 30), clockwise.
SLOT = Contour(
    points=np.array([(30, 25), (30, 35), (50, 35), (50, 25)], dtype=float), bulges=np.array([-1.0, 0.0, -1.0, 0.0])
)
# 80 x 60, the two lower corners rounded with 10.
SIDE = Contour(
    points=np.array([(10, 0), (70, 0), (80, 10), (80, 60), (0, 60), (0, 10)], dtype=float),
    bulges=np.array([0.0, QUARTER, 0.0, 0.0, 0.0, QUARTER]),
)
LID_AREA = 97 * 80 + 12 * 3 - (20 * 10 + math.pi * 25)
SIDE_AREA = 80 * 60 - 2 * (100 - math.pi * 25) - math.pi * 100

UPRIGHT = np.array([[0, 0, 1, 97], [1, 0, 0, 0], [0, 1, 0, -60], [0, 0, 0, 1]], dtype=float)   # faces +x


def plate(
    outline, *, mark="P01", name="lid", thickness=3.0, borders=(), placements=None, material="steel S235",
    density=7850.0,
):
    """A plate whose figures follow from its outline, once in place unless told otherwise."""
    corners = outline.outer.flatten()
    area = outline.area()
    if placements is None:
        placements = (Placement(id=f"{mark}-1", panel=name, faces=(0,), matrix=np.eye(4)),)
    return KitPlate(
        mark=mark, name=name, material=material, density=density, thickness=thickness, role="wall",
        metal_side="inside", outline=outline, area=area, mass=area * thickness * density * 1e-9,
        cut_length=outline.cut_length(), pierces=1 + len(outline.holes),
        size=(float(np.ptp(corners[:, 0])), float(np.ptp(corners[:, 1]))), placements=tuple(placements),
        borders=tuple(borders),
    )


def straight(points, holes=()):
    return Outline(outer=Contour(points=np.array(points, dtype=float)), holes=tuple(holes))


def border(start, end, *neighbours):
    return Border(line=np.array([start, end], dtype=float), neighbours=neighbours)


def turned(axis, angle, shift):
    """(4, 4) rotation by degrees about a coordinate axis, then a translation."""
    c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    i, j = [(1, 2), (2, 0), (0, 1)][axis]
    matrix = np.eye(4)
    matrix[i, i], matrix[i, j], matrix[j, i], matrix[j, j] = c, -s, s, c
    matrix[:3, 3] = shift
    return matrix


def corner_kit(name="corner piece", **settings):
    """The lid in place as drawn, the side standing under its right edge, and a second side far away."""
    lid = plate(straight(LID, [SLOT]), borders=[border((97, 0), (97, 80), "P02")])
    side = plate(
        Outline(outer=SIDE, holes=(ROUND_HOLE,)), mark="P02", name="left/side: Ö",
        borders=[border((80, 60), (0, 60), "P01")],
        placements=[
            Placement(id="P02-1", panel="left", faces=(1,), matrix=UPRIGHT),
            Placement(id="P02-2", panel="right", faces=(2,), matrix=turned(1, 33.0, (12000, -300, 45)) @ UPRIGHT),
        ],
    )
    joints = (
        Joint(
            id="J01", kind="open_corner", plates=("P01-1", "P02-1"), line=np.array([[97.0, 0, 0], [97, 80, 0]]),
            length=80.0, angle=90.0, overlap=0.0, root_gap=0.0, groove=Groove(side="outside", angle=90.0, area=9.0),
            tabs=(Tab(on="P01-1", at=46.0, width=12.0, flank=12.0, reach=3.0, fit_gap=0.1),), mesh_edges=((0, 1),),
        ),
        Joint(
            id="J02", kind="free", plates=("P01-1",), line=np.array([[0.0, 0, 0], [97, 0, -0.0]]), length=97.0,
            angle=0.0, overlap=0.0, root_gap=0.0, groove=None, tabs=(), mesh_edges=((1, 2),),
        ),
    )
    return Kit(
        name=name, settings=dataclasses.replace(Settings(), **settings), plates=(lid, side), joints=joints,
        corners=(Corner(id="V01", at=(97.0, 0.0, 0.0), joints=("J01", "J02"), void=27.0),),
        envelopes=(KitEnvelope(name="corner", closed=False, capacity=None, plates=("P01-1", "P02-1", "P02-2")),),
        checks=(
            Finding(rule="free_edge", level="note", message="Free.", about=("P01-1",), at=(1 / 3, 0.0, -0.0)),
            Finding(rule="some_rule", level="warning", message="Something „else“."),
        ),
    )
