"""Plates: every panel's outline with its sides moved and its tabs and notches cut."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np
import shapely
from numpy.typing import NDArray

from ..envelope.envelope import Envelope
from ..shapes.connectivity import next_in_rows, previous_in_rows
from ..shapes.frame import Frame
from ..shapes.outline import Contour, Outline
from ..terms import tolerance
from ..terms.choices import MetalSide
from ..terms.errors import InputError, TackwrightError
from ..terms.messages import Length
from ..terms.places import named, places
from .joints import Joints
from .moved_edges import Moved, Sides
from .tabs import Stretches

__all__ = ["Plate", "crossing_of", "cut_plates", "places_of", "plate_shapes", "refuse_unsound", "unsound_plates"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Plate:
    """One plate in its panel's plane. number: among all plates, the walls first. faces: of the given mesh.
    outline: in the frame's coordinates. frame: the panel's. The metal lies between `low` and `low` + thickness along
    the frame's normal (mm, outward)."""

    name: str
    number: int
    outline: Outline
    frame: Frame
    thickness: float
    low: float
    role: Literal["wall", "inner"] = "wall"
    faces: tuple[int, ...] = ()
    metal_side: MetalSide = "inside"

    def place(self) -> Floats:
        """(4, 4): outline coordinates with z = 0 on the inner surface, to the envelope's frame."""
        return np.asarray(places_of([self])[0])


def places_of(plates: Sequence[Plate]) -> Floats:
    """(p, 4, 4): every plate's outline coordinates, z = 0 on the inner surface, to the envelope's frame."""
    axes = np.array([p.frame.axes for p in plates]).reshape(-1, 3, 3)
    origins = np.array([p.frame.origin for p in plates]).reshape(-1, 3)
    out = np.zeros((len(plates), 4, 4))
    out[:, :3, :3] = axes.transpose(0, 2, 1)
    out[:, :3, 3] = origins + axes[:, 2] * np.array([p.low for p in plates])[:, None]
    out[:, 3, 3] = 1.0
    return out


def cut_plates(
    envelope: Envelope, joints: Joints, sides: Sides, moved: Moved, stretches: Stretches
) -> tuple[Plate, ...]:
    """One plate a panel, in the panels' order, sound or not."""
    rings = _rings(joints, sides, moved, stretches)
    outlines: list[Outline] = []
    first = np.searchsorted(sides.panel[sides.ring_starts[:-1]], np.arange(len(envelope.panels) + 1))
    for begin, end in pairwise(first.tolist()):
        outer, *holes = rings[begin:end]
        outlines.append(Outline(
            outer=Contour(points=outer if len(outer) >= 3 else np.zeros((3, 2))),
            holes=tuple([Contour(points=ring) for ring in holes if len(ring) >= 3 and len(outer) >= 3]),
        ))
    return tuple(
        Plate(name=panel.name, number=i, outline=outlines[i], frame=panel.frame, thickness=panel.thickness,
              low=-panel.inner, faces=panel.faces, metal_side=panel.metal_side)
        for i, panel in enumerate(envelope.panels)
    )


def _rings(joints: Joints, sides: Sides, moved: Moved, stretches: Stretches) -> list[Floats]:
    """(k, 2) points of every ring: each side's start, the steps of its stretches, and its end."""
    base = joints.base[sides.edge, sides.column]
    usable = ~moved.gone[stretches.side]
    side, setback = stretches.side[usable], stretches.setback[usable]
    ahead = sides.column[side] == 0
    first = np.where(ahead, stretches.start[usable], -stretches.end[usable])
    last = np.where(ahead, stretches.end[usable], -stretches.start[usable])

    def point(along: Floats, into: Floats) -> Floats:
        return np.asarray(sides.at[side] + sides.along[side] * along[:, None] + sides.into[side] * into[:, None])

    steps = [point(first, base[side]), point(first, setback), point(last, setback), point(last, base[side])]
    rows = np.arange(len(base))
    points = np.concatenate([moved.start, moved.end, *steps])
    owner = np.concatenate([rows, rows, side, side, side, side])
    place = np.concatenate([np.full(len(rows), -np.inf), np.full(len(rows), np.inf), first, first, last, last])
    order_in = np.concatenate([np.zeros(2 * len(rows))] + [np.full(len(side), k) for k in range(4)])
    # stretches of a side touch but do not overlap, so ordering by their starts keeps each one's four points together
    start_of = np.concatenate([np.full(len(rows), -np.inf), np.full(len(rows), np.inf), first, first, first, first])
    order = np.lexsort((order_in, place, start_of, owner))
    points, ring = points[order], sides.ring[owner[order]]
    return _tidy(points, ring, moved)


def _tidy(points: Floats, ring: Ints, moved: Moved) -> list[Floats]:
    """Rings without repeated points and without points on straight runs; empty where a ring vanished."""
    keep = ~moved.vanished[ring]
    points, ring = points[keep], ring[keep]
    if not len(points):
        return [points] * len(moved.vanished)
    for test in (_repeats, _on_straight, _repeats, _on_straight):
        keep = ~test(points, ring)
        points, ring = points[keep], ring[keep]
    bounds = np.searchsorted(ring, np.arange(len(moved.vanished) + 1)).tolist()
    return [points[a:b] for a, b in pairwise(bounds)]


def _neighbours(points: Floats, ring: Ints) -> tuple[Floats, Floats]:
    """The points before and after every point, round its ring."""
    starts = np.append(np.flatnonzero(np.concatenate([[True], ring[1:] != ring[:-1]])), len(points))
    return points[previous_in_rows(starts)], points[next_in_rows(starts)]


def _repeats(points: Floats, ring: Ints) -> NDArray[np.bool_]:
    before, _ = _neighbours(points, ring)
    return np.asarray(np.abs(points - before).max(axis=1) < tolerance.TOUCH)


def _on_straight(points: Floats, ring: Ints) -> NDArray[np.bool_]:
    before, after = _neighbours(points, ring)
    a, b = points - before, after - points
    sine = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    size = np.linalg.norm(a, axis=1) * np.linalg.norm(b, axis=1)
    return np.asarray(np.abs(sine) <= tolerance.ROUNDING * size)


def unsound_plates(plates: Sequence[Plate]) -> Ints:
    """Indices of plates that vanished, cross themselves or fell into pieces."""
    shapes = plate_shapes([plate.outline for plate in plates])
    return np.flatnonzero(~shapely.is_valid(shapes) | (shapely.area(shapes) < tolerance.VANISH))


def crossing_of(outline: Outline) -> Floats:
    """(2,) where an unsound outline crosses itself, as far as that is one place; else its middle."""
    said = shapely.is_valid_reason(plate_shapes([outline])[0])
    place = re.search(r"\[(\S+) (\S+)\]", said)
    return np.array([float(place[1]), float(place[2])]) if place else np.asarray(outline.outer.points.mean(axis=0))


def refuse_unsound(envelope: Envelope, joints: Joints, sides: Sides, plates: Sequence[Plate]) -> None:
    """Raise InputError if a plate is unsound, naming every one, those with one fault in one line."""
    bad = unsound_plates(plates)
    if not len(bad):
        return
    base = joints.base[sides.edge, sides.column]
    alike: dict[tuple[str, tuple[float, ...], bool], list[int]] = {}
    for index in bad.tolist():
        moves = base[sides.panel == index]
        low, high = round(float(moves.min()), 2), round(float(moves.max()), 2)
        gone = abs(plates[index].outline.outer.area()) < tolerance.VANISH
        fault = ("vanish" if gone else "fall apart or cross itself", (high,) if low == high else (low, high),
                 envelope.panels[index].metal_side == "inside")
        alike.setdefault(fault, []).append(index)
    errors: list[TackwrightError] = []
    for (what, moved, inside), rows in alike.items():
        panels, one = [envelope.panels[row] for row in rows], len(rows) == 1
        cures = [f"make the panel{'' if one else 's'} larger", "the plates thinner"]
        cures += ["put the metal outside"] if inside else []
        errors.append(InputError(
            named("Panel", [panel.name for panel in panels])
            + (f" is too small for its joints: the plate would {what}" if one else
               f" are too small for their joints: the plates would {what}"),
            where=places([envelope.points[panel.rings[0]].mean(axis=0) for panel in panels]),
            by=f"edges that move in by {Length(*moved, between=' to '):.2f}",
            do=f"{', '.join(cures)}, or leave {'the panel' if one else 'them'} out.".capitalize(),
            faces=[face for panel in panels for face in panel.faces],
        ))
    raise InputError.several(errors)


def plate_shapes(outlines: Sequence[Outline]) -> NDArray[np.object_]:
    """(p,) shapely polygons."""
    rings = [outline.rings() for outline in outlines]
    flat = [ring for own in rings for ring in own]
    lines = shapely.linearrings(np.concatenate(flat), indices=np.repeat(np.arange(len(flat)), [len(r) for r in flat]))
    return np.asarray(shapely.polygons(lines, indices=np.repeat(np.arange(len(rings)), [len(own) for own in rings])))
