"""Plates as slabs in space: which is nearest to a point, and which a line passes through."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from ..plates.plates import Plate
from ..terms import tolerance

__all__ = ["Slabs"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Slabs:
    """Plates with what is needed to measure to them; their holes count as metal. Built by `Slabs.of`.

    edges: (p,) shapely polygons of the outer contours. boxes: (p, 4) their bounds. axes: (p, 3, 3), origins: (p, 3)
    of the frames. low, high: (p,) the metal's surfaces along the normals.
    """

    plates: tuple[Plate, ...]
    edges: NDArray[np.object_]
    boxes: Floats
    axes: Floats
    origins: Floats
    low: Floats
    high: Floats

    @classmethod
    def of(cls, plates: Sequence[Plate]) -> Slabs:
        edges = np.array([shapely.Polygon(p.outline.outer.flatten()) for p in plates], dtype=object)
        low = np.array([p.low for p in plates])
        return cls(
            plates=tuple(plates), edges=edges, boxes=np.asarray(shapely.bounds(edges)).reshape(-1, 4),
            axes=np.array([p.frame.axes for p in plates]).reshape(-1, 3, 3),
            origins=np.array([p.frame.origin for p in plates]).reshape(-1, 3),
            low=low, high=low + np.array([p.thickness for p in plates]))

    @property
    def count(self) -> int:
        return len(self.plates)

    def normal(self, index: int) -> Floats:
        return np.asarray(self.axes[index, 2])

    def nearest(self, point: Floats, among: Sequence[int] | None = None) -> tuple[int, float]:
        """The plate nearest to a point (3,), and how far away its solid is, mm; of several as near, the first.
        among: indices to choose from, None for all."""
        rows = np.arange(self.count) if among is None else np.asarray(among, dtype=np.int64)
        local = self._local(point)[rows]
        up = np.maximum(0.0, np.maximum(self.low[rows] - local[:, 2], local[:, 2] - self.high[rows]))
        box = self.boxes[rows]
        beside = np.maximum(0.0, np.maximum(box[:, :2] - local[:, :2], local[:, :2] - box[:, 2:]))
        least = np.sqrt(up**2 + (beside**2).sum(axis=1))        # to the box: never more than to the plate
        away = np.full(len(rows), np.inf)
        for row in np.argsort(least, kind="stable").tolist():
            if least[row] > away.min() + tolerance.TIE:
                break
            flat = shapely.distance(self.edges[rows[row]], shapely.Point(local[row, :2]))
            away[row] = math.hypot(up[row], flat)
        best = int(np.flatnonzero(away <= away.min() + tolerance.TIE)[0])
        return int(rows[best]), float(away[best])

    def off_square(self, index: int, axis: Floats | None) -> float:
        """Degrees between an axis (3,), either way round, and the plate's normal; 0 without an axis."""
        if axis is None:
            return 0.0
        normal = self.normal(index)
        sine = float(np.linalg.norm(np.cross(axis, normal)))
        return math.degrees(math.atan2(sine, abs(float(axis @ normal))))

    def passing(self, index: int, point: Floats, axis: Floats | None) -> tuple[float, float]:
        """Where the line through a point along an axis passes the plate's middle plane, in its own coordinates."""
        x, y, z = self._local(point)[index].tolist()
        if axis is None:
            return x, y
        along, across, out = (self.axes[index] @ axis).tolist()
        step = ((self.low[index] + self.high[index]) / 2 - z) / out
        return float(x + step * along), float(y + step * across)

    def crossed(self, point: Floats, axis: Floats) -> list[int]:
        """Every plate whose middle plane the line passes within its outer contour, in the plates' order."""
        out = self.axes @ axis                                  # (p, 3) the axis in every frame
        meets = np.abs(out[:, 2]) > math.sin(math.radians(1.0)) # the others lie along the line
        local = self._local(point)
        step = np.divide((self.low + self.high) / 2 - local[:, 2], out[:, 2], out=np.zeros(self.count), where=meets)
        places = local[:, :2] + step[:, None] * out[:, :2]
        inside = meets & shapely.intersects_xy(self.edges, places[:, 0], places[:, 1])
        return [int(i) for i in np.flatnonzero(inside)]

    def _local(self, point: Floats) -> Floats:
        """(p, 3) a point in every plate's frame."""
        return np.asarray(np.einsum("pij,pj->pi", self.axes, point - self.origins))
