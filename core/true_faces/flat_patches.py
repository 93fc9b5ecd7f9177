"""Groups of points that shall each lie in a plane: their planes, and how these turn when the points move."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..shapes.connectivity import spread

__all__ = ["Fits", "Patches", "Points", "tangents"]

Index = NDArray[np.int64]
Reals = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Points:
    """drawn: (n, 3) mm. ease: (n,) one over how much each counts, 0 for one that is held."""

    drawn: Reals
    ease: Reals


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fits:
    """centres, normals: (p, 3) of the planes that fit best. radius: (p,) mm, root mean square, of the points about
    their centre; widths: (p, 2) the same along the longer and the shorter of two directions in the plane, which are
    axes: (p, 2, 3). heights: (k,) of every point above its plane; across: (k, 2) where it is in the plane, from the
    centre. slopes: (k, 3): a plane's normal changes by minus the sum of slope times how much the point rises."""

    centres: Reals
    normals: Reals
    radius: Reals
    widths: Reals
    axes: Reals
    heights: Reals
    slopes: Reals
    across: Reals


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Patches:
    """points: (k,) numbers of the points of all patches, one after another, three or more each. starts: (p + 1,)."""

    points: Index
    starts: Index

    @property
    def count(self) -> int:
        return len(self.starts) - 1

    @property
    def sizes(self) -> Index:
        return np.diff(self.starts)

    @property
    def owner(self) -> Index:
        return np.repeat(np.arange(self.count), self.sizes)

    def of(self, patches: Index) -> tuple[Index, Index]:
        """Where the points of the given patches stand among all, and for each the place of its patch."""
        return spread(self.starts, patches)

    def fit(self, at: Reals, facing: Reals | None = None) -> Fits:
        """Planes by least squares through points at (n, 3); normals turned the way `facing` (p, 3) looks."""
        owner, sizes = self.owner, self.sizes[:, None]
        corners = at[self.points]
        centres = _summed(corners, self.starts) / sizes
        away = corners - centres[owner]
        spreads = _summed((away[:, :, None] * away[:, None, :]).reshape(-1, 9), self.starts) / sizes
        values, axes = np.linalg.eigh(spreads.reshape(-1, 3, 3))
        normals, u = axes[:, :, 0], axes[:, :, 2]
        if facing is not None:
            normals = normals * np.where(np.einsum("ij,ij->i", normals, facing) < 0, -1.0, 1.0)[:, None]
        v = np.cross(normals, u)
        across = np.stack([np.einsum("ij,ij->i", away, u[owner]), np.einsum("ij,ij->i", away, v[owner])], axis=1)
        values = np.maximum(values, np.finfo(float).tiny)
        parts = across / (values[:, [2, 1]] * sizes)[owner]
        return Fits(
            centres=centres, normals=normals, radius=np.sqrt(values[:, 1:].sum(axis=1)),
            widths=np.sqrt(values[:, [2, 1]]), axes=np.stack([u, v], axis=1),
            heights=np.einsum("ij,ij->i", away, normals[owner]),
            slopes=parts[:, :1] * u[owner] + parts[:, 1:] * v[owner], across=across,
        )

    def off(self, fits: Fits) -> Reals:
        """(p,) how far the farthest point of each patch lies from its plane."""
        out = np.zeros(self.count)
        np.maximum.at(out, self.owner, np.abs(fits.heights))
        return out


def tangents(normals: Reals) -> Reals:
    """(n, 2, 3) two unit vectors square to each unit vector and to each other."""
    least = np.eye(3)[np.abs(normals).argmin(axis=1)]
    first = np.cross(normals, least)
    first /= np.linalg.norm(first, axis=1)[:, None]
    return np.stack([first, np.cross(normals, first)], axis=1)


def _summed(values: Reals, starts: Index) -> Reals:
    return np.asarray(np.add.reduceat(values, starts[:-1], axis=0)) if len(starts) > 1 else values[:0]
