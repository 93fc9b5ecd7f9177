"""Exact plane shapes: what a laser follows. Lines, arcs and circles stay what they are; `flatten` turns
them into points only at the door of a boolean, a check or a picture."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from ..terms import tolerance

__all__ = ["Circle", "Contour", "Hole", "HoleField", "Outline"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Contour:
    """A closed run of lines and arcs.

    points: (k, 2) mm, not closed (the last joins the first). bulges: (k,) for the run from point i to the
    next, tan(included angle / 4), positive counter-clockwise, 0 for a line (the DXF meaning of bulge).
    """

    points: NDArray[np.float64]
    bulges: NDArray[np.float64] | None = None  # None: all lines

    def flatten(self, chord: float = tolerance.CHORD) -> NDArray[np.float64]:
        """(m, 2) points along the contour, arcs within `chord` mm of true."""
        if self.bulges is None or not np.any(self.bulges):
            return self.points
        out: list[NDArray[np.float64]] = []
        for here, there, bulge in zip(self.points, np.roll(self.points, -1, axis=0), self.bulges, strict=True):
            out.append(here[None])
            if bulge != 0.0:
                out.append(_arc_inside(here, there, float(bulge), chord))
        return np.concatenate(out)

    def length(self) -> float:
        """Length round the contour, mm."""
        chords = np.linalg.norm(np.roll(self.points, -1, axis=0) - self.points, axis=1)
        if self.bulges is None:
            return float(chords.sum())
        half = 2.0 * np.arctan(np.abs(self.bulges))          # half the included angle
        ratio = np.ones_like(half)
        curved = half > 0
        ratio[curved] = half[curved] / np.sin(half[curved])
        return float((chords * ratio).sum())

    def area(self) -> float:
        """Signed area, mm2, positive counter-clockwise."""
        x, y = self.points[:, 0], self.points[:, 1]
        x2, y2 = (np.concatenate([values[1:], values[:1]]) for values in (x, y))     # quicker than to roll so few
        total = 0.5 * float((x * y2 - x2 * y).sum())
        if self.bulges is not None:
            angle = 4.0 * np.arctan(self.bulges)
            curved = self.bulges != 0
            if curved.any():
                chord = np.hypot(x2 - x, y2 - y)[curved]
                b, a = self.bulges[curved], angle[curved]
                radius = chord * (1 + b * b) / (4 * np.abs(b))
                total += float((0.5 * radius**2 * (a - np.sin(a))).sum())
        return total

    def moved(self, matrix: NDArray[np.float64]) -> Contour:
        """The contour under a (3, 3) plane motion (rotation and translation, no mirror)."""
        points = self.points @ matrix[:2, :2].T + matrix[:2, 2]
        return Contour(points=points, bulges=self.bulges)

    def reversed(self) -> Contour:
        """The same contour run the other way."""
        bulges = None if self.bulges is None else -np.roll(self.bulges[::-1], -1)
        return Contour(points=self.points[::-1], bulges=bulges)


@dataclass(frozen=True, slots=True, kw_only=True)
class Circle:
    """A round cut: centre and diameter, mm."""

    centre: tuple[float, float]
    diameter: float

    def flatten(self, chord: float = tolerance.CHORD) -> NDArray[np.float64]:
        """(m, 2) points round the circle, counter-clockwise, within `chord` mm of true."""
        radius = self.diameter / 2
        step = 2 * math.acos(max(0.0, 1 - min(chord / radius, 0.5)))
        count = max(12, 4 * math.ceil(2 * math.pi / step / 4))
        angles = np.arange(count) * (2 * math.pi / count)
        return np.asarray(np.column_stack([np.cos(angles), np.sin(angles)]) * radius + np.asarray(self.centre))

    def length(self) -> float:
        return math.pi * self.diameter

    def area(self) -> float:
        return math.pi * self.diameter**2 / 4

    def moved(self, matrix: NDArray[np.float64]) -> Circle:
        x, y = matrix[:2, :2] @ np.asarray(self.centre) + matrix[:2, 2]
        return Circle(centre=(float(x), float(y)), diameter=self.diameter)


Hole = Contour | Circle


def _arc_inside(a: NDArray[np.float64], b: NDArray[np.float64], bulge: float, chord: float) -> NDArray[np.float64]:
    """(m, 2) points strictly inside the arc from a to b."""
    included = 4 * math.atan(bulge)
    span = b - a
    length = float(np.hypot(*span))
    radius = length * (1 + bulge * bulge) / (4 * abs(bulge))
    step = 2 * math.acos(max(0.0, 1 - min(chord / radius, 0.5)))
    count = max(1, math.ceil(abs(included) / step))
    if count == 1:
        return np.empty((0, 2))
    left = np.array([-span[1], span[0]]) / length
    centre = (a + b) / 2 + left * (length / 2) * (1 - bulge * bulge) / (2 * bulge)
    start = math.atan2(*(a - centre)[::-1])
    angles = start + included * np.arange(1, count) / count
    return np.column_stack([np.cos(angles), np.sin(angles)]) * radius + centre


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HoleField:
    """Many holes of one shape: a perforation field, or one band of it.

    shape: one hole, about the origin. centres: (n, 2) mm. angles: (n,) radians by which each is turned,
    counter-clockwise; a circle has them too, and they mean nothing.
    """

    shape: Hole
    centres: NDArray[np.float64]
    angles: NDArray[np.float64]

    @property
    def count(self) -> int:
        return len(self.centres)

    def area(self) -> float:
        """Open area, mm2, positive."""
        return self.count * abs(self.shape.area())

    def length(self) -> float:
        return self.count * self.shape.length()

    def moved(self, matrix: NDArray[np.float64]) -> HoleField:
        turn = math.atan2(matrix[1, 0], matrix[0, 0])
        return HoleField(
            shape=self.shape, centres=self.centres @ matrix[:2, :2].T + matrix[:2, 2], angles=self.angles + turn)

    def holes(self) -> list[Hole]:
        """Every hole by itself, as exact as the shape."""
        if isinstance(self.shape, Circle):
            return [Circle(centre=(x, y), diameter=self.shape.diameter) for x, y in self.centres.tolist()]
        return [Contour(points=points, bulges=self.shape.bulges) for points in self.corners()]

    def corners(self) -> NDArray[np.float64]:
        """(n, k, 2) the points that place every hole: a contour's own, or the centre of a circle."""
        return self.centres[:, None] if isinstance(self.shape, Circle) else self._placed(self.shape.points)

    def rings(self, chord: float = tolerance.CHORD) -> NDArray[np.float64]:
        """(n, m, 2) every hole flattened, run the way the shape is."""
        return self._placed(self.shape.flatten(chord))

    def _placed(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        cos, sin = np.cos(self.angles)[:, None], np.sin(self.angles)[:, None]
        x, y = points[:, 0], points[:, 1]
        turned = np.stack([cos * x - sin * y, sin * x + cos * y], axis=2)
        return np.asarray(turned + self.centres[:, None])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Outline:
    """A flat piece: one outer contour (counter-clockwise) and any number of holes (contours clockwise).

    fields: holes by the thousand, clear of everything else. They only take metal away, so whatever checks
    plates against each other leaves them out: `rings` is without them.
    """

    outer: Contour
    holes: tuple[Hole, ...] = field(default=())
    fields: tuple[HoleField, ...] = field(default=())

    def rings(self) -> list[NDArray[np.float64]]:
        """Flattened rings, the outer first, fields left out."""
        return [self.outer.flatten(), *(h.flatten() for h in self.holes)]

    def area(self) -> float:
        return self.outer.area() - sum(abs(h.area()) for h in self.holes) - sum(f.area() for f in self.fields)

    def cut_length(self) -> float:
        return self.outer.length() + sum(h.length() for h in self.holes) + sum(f.length() for f in self.fields)

    def pierces(self) -> int:
        """How often the laser starts: once for every contour."""
        return 1 + len(self.holes) + sum(f.count for f in self.fields)

    def moved(self, matrix: NDArray[np.float64]) -> Outline:
        return Outline(
            outer=self.outer.moved(matrix), holes=tuple(h.moved(matrix) for h in self.holes),
            fields=tuple(f.moved(matrix) for f in self.fields))
