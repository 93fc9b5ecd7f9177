"""Seams of inner plates: the two sides of a tee, the slots of its tabs in the wall, the four sides of a crossing."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from ..terms import tolerance
from ..terms.choices import WeldRule
from .fillet_sizes import fillet_area, fillet_leg, welded_length
from .joint_records import Joint, Tab
from .pieces import Piece, Pieces
from .seam import Seam

__all__ = ["cross_seams", "slot_seams", "tee_seams"]

Floats = NDArray[np.float64]


class _Tee:
    """The directions at a tee: along its line, up along the plate from the wall, and into the wall; out: of the plate's
    face on the obtuse side; beside: along the wall on that side."""

    def __init__(self, joint: Joint, pieces: Pieces) -> None:
        self.wall, self.plate = (pieces[name] for name in joint.plates)
        self.along = _unit(joint.line[1] - joint.line[0])
        normal = self.plate.normal
        up = np.cross(self.along, normal)
        self.up = up if up @ (self.plate.middle - joint.line[0]) > 0 else -up
        self.into = -self.wall.normal if self.wall.normal @ self.up > 0 else self.wall.normal
        level = np.cross(self.along, self.into)
        # the plate leans away from its obtuse side: there its own direction and the wall's part company
        lean = float(self.up @ level)
        self.beside = _unit(level if lean < 0 else -level)
        if abs(lean) < tolerance.SAME_WAY:              # square: the touching arris is on one face, the other is here
            thick = normal if normal @ (self.plate.middle - joint.line[0]) > 0 else -normal
            self.beside = _unit(thick - (thick @ self.into) * self.into)
        self.angle = np.radians(joint.angle)

    @property
    def foot(self) -> Floats:
        """(3,) from the line to where the plate's face on the obtuse side, extended, meets the wall."""
        return np.asarray(self.beside * self.plate.thickness / np.sin(self.angle))


def tee_seams(joint: Joint, pieces: Pieces, rule: WeldRule, tight: bool) -> Iterator[Seam]:
    """A fillet on the acute side, then one on the obtuse side, whose open wedge is filled with it, but for tabs."""
    tee = _Tee(joint, pieces)
    leg = fillet_leg(rule, min(tee.wall.thickness, tee.plate.thickness))
    area = fillet_area(leg, float(np.sin(tee.angle)))
    wedge = joint.groove.area if joint.groove is not None else 0.0
    welded = welded_length(rule, joint.length, tight)
    tabbed = sum(tab.width for tab in joint.tabs) / joint.length if joint.length > 0 else 0.0
    for letter, shift, beside, angle, open_wedge in (
        ("a", np.zeros(3), -tee.beside, joint.angle, 0.0),
        ("b", tee.foot, tee.beside, 180.0 - joint.angle, wedge),
    ):
        yield Seam(
            id=f"{joint.id}{letter}", joint=joint.id, kind="tee", pieces=joint.plates, path=joint.line + shift,
            toward=_unit(tee.up + beside), length=joint.length, welded=welded, angle=angle, side="inside", size=leg,
            size_of="leg", groove_area=open_wedge,
            filler=(area + open_wedge * (1.0 - tabbed)) * welded, gap=joint.root_gap, tight=tight)


def slot_seams(joint: Joint, pieces: Pieces, rule: WeldRule) -> Iterator[Seam]:
    """The slots of a tee's tabs, seen from the wall's far side: filled as a plug where the tab ends below its face,
    else a bead once round the tab."""
    tee = _Tee(joint, pieces)
    leg = fillet_leg(rule, min(tee.wall.thickness, tee.plate.thickness))
    counts = {"slot": 0, "plug": 0}
    for tab in joint.tabs:
        deep = tee.wall.thickness - tab.reach * float(np.sin(tee.angle))
        short = deep > tolerance.TOUCH
        corners = _slot_corners(tee, joint, tab)
        around = float(np.linalg.norm(np.diff(np.vstack([corners, corners[:1]]), axis=0), axis=1).sum())
        hole = float(np.linalg.norm(corners[1] - corners[0]) * np.linalg.norm(corners[2] - corners[1]))
        kind = "plug" if short else "slot"
        counts[kind] += 1
        yield Seam(
            id=f"{joint.id}.{kind[0]}{counts[kind]}", joint=joint.id, kind="plug" if short else "slot",
            pieces=joint.plates,
            path=np.vstack([corners, corners[:1]]), toward=tee.into, length=around, welded=around, angle=180.0,
            side="outside", size=deep if short else leg, size_of="throat" if short else "leg", groove_area=0.0,
            filler=hole * deep if short else fillet_area(leg, 1.0) * around, gap=0.0,
            tight=tee.wall.vessel is not None)


def _slot_corners(tee: _Tee, joint: Joint, tab: Tab) -> Floats:
    """(4, 3) the slot's mouth on the wall's far side."""
    half = (tab.width + tab.fit_gap) / 2
    far = joint.line[0] + tee.along * tab.at - tee.up * tee.wall.thickness / np.sin(tee.angle)
    gap = tee.beside * tab.thickness_gap / 2 / np.sin(tee.angle)
    near, over = far - gap, far + tee.foot + gap
    return np.array([
        near - tee.along * half, near + tee.along * half, over + tee.along * half, over - tee.along * half])


def cross_seams(joint: Joint, pieces: Pieces, rule: WeldRule) -> Iterator[Seam]:
    """The four sides of a crossing, each in the wedge between one half of one plate and one half of the other."""
    one, two = (pieces[name] for name in joint.plates)
    along = _unit(joint.line[1] - joint.line[0])
    leg = fillet_leg(rule, min(one.thickness, two.thickness))
    welded = welded_length(rule, joint.length, False)
    ways = (_unit(np.cross(along, one.normal)), _unit(np.cross(along, two.normal)))
    for letter, (s, t) in zip("abcd", ((1, 1), (1, -1), (-1, 1), (-1, -1)), strict=True):
        arms = (s * ways[0], t * ways[1])
        angle = float(np.degrees(np.arccos(np.clip(arms[0] @ arms[1], -1.0, 1.0))))
        yield Seam(
            id=f"{joint.id}{letter}", joint=joint.id, kind="cross", pieces=joint.plates,
            path=joint.line + _nook(one, two, arms, along),
            toward=_unit(arms[0] + arms[1]), length=joint.length, welded=welded, angle=angle, side="inside", size=leg,
            size_of="leg", groove_area=0.0, filler=fillet_area(leg, float(np.sin(np.radians(angle)))) * welded,
            gap=0.0, tight=False)


def _nook(one: Piece, two: Piece, arms: tuple[Floats, Floats], along: Floats) -> Floats:
    """(3,) from where the middle planes cross to where the faces do that look into the wedge between two arms."""
    rows = np.array([one.normal, two.normal, along])
    sides = [float(np.sign(one.normal @ arms[1])) * one.thickness / 2,
             float(np.sign(two.normal @ arms[0])) * two.thickness / 2, 0.0]
    return np.asarray(np.linalg.solve(rows, sides))


def _unit(vector: Floats) -> Floats:
    return np.asarray(vector / max(float(np.linalg.norm(vector)), tolerance.NONZERO))
