"""What points shall fulfil, as rows that are linear in their moves: to lie in a plane, and wishes about planes and
edges. Every row is in mm, so that all are of one weight."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from .flat_patches import Fits, Patches, tangents

__all__ = [
    "Along", "Apart", "Condition", "Flat", "Lengths", "Parallel", "Right", "Rows", "Square", "Towards", "rows_of",
]

Index = NDArray[np.int64]
Reals = NDArray[np.float64]
Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rows:
    """row, point: (e,) and vectors: (e, 3): each row changes by the sum of vector times its point's move. value: (r,)
    mm, what each row is now and shall be 0. item: (r,) which item of the condition each row belongs to."""

    row: Index
    point: Index
    vectors: Reals
    value: Reals
    item: Index


class Condition(Protocol):
    """A number of like items, each fulfilled or not."""

    @property
    def count(self) -> int: ...

    def rows(self, at: Reals, patches: Patches, fits: Fits) -> Rows: ...

    def only(self, keep: Mask) -> Condition: ...


def rows_of(conditions: Sequence[Condition], at: Reals, patches: Patches, fits: Fits) -> Rows:
    """The rows of several conditions under each other, items numbered on."""
    found = [condition.rows(at, patches, fits) for condition in conditions]
    rows = np.cumsum([0] + [len(r.value) for r in found])
    items = np.cumsum([0] + [condition.count for condition in conditions])
    return Rows(
        row=np.concatenate([r.row + n for r, n in zip(found, rows, strict=False)]),
        point=np.concatenate([r.point for r in found]), vectors=np.concatenate([r.vectors for r in found]),
        value=np.concatenate([r.value for r in found]),
        item=np.concatenate([r.item + n for r, n in zip(found, items, strict=False)]),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Flat:
    """Patches (c,) are flat. A patch of m points has m - 3 rows: the parts of the heights that no plane has."""

    patches: Index

    @property
    def count(self) -> int:
        return len(self.patches)

    def only(self, keep: Mask) -> Flat:
        return replace(self, patches=self.patches[keep])

    def rows(self, at: Reals, patches: Patches, fits: Fits) -> Rows:
        sizes = patches.sizes[self.patches]
        first = np.concatenate([[0], np.cumsum(sizes - 3)]).astype(np.int64)
        parts: list[tuple[Index, Index, Reals]] = []
        value = np.zeros(first[-1])
        for size in np.unique(sizes[sizes > 3]).tolist():
            items = np.flatnonzero(sizes == size)
            patch = self.patches[items]
            entry = patches.starts[patch][:, None] + np.arange(size)
            flat = fits.across[entry] / fits.radius[patch][:, None, None]
            basis = np.concatenate([np.ones((len(items), size, 1)), flat], axis=2)
            rest = np.linalg.qr(basis, mode="complete")[0][:, :, 3:]
            rows = first[items][:, None] + np.arange(size - 3)
            value[rows] = np.einsum("gij,gi->gj", rest, fits.heights[entry])
            vectors = rest[..., None] * fits.normals[patch][:, None, None, :]
            parts.append((
                np.broadcast_to(rows[:, None, :], rest.shape).reshape(-1),
                np.broadcast_to(patches.points[entry][:, :, None], rest.shape).reshape(-1),
                vectors.reshape(-1, 3),
            ))
        row, point, vectors = _joined(parts)
        return Rows(row=row, point=point, vectors=vectors, value=value,
                    item=np.repeat(np.arange(self.count), np.maximum(sizes - 3, 0)))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Towards:
    """Patches look along given unit vectors, axes: (c, 3): all their points are equally far along these. A patch of m
    points has m - 1 rows."""

    patches: Index
    axes: Reals

    @property
    def count(self) -> int:
        return len(self.patches)

    def only(self, keep: Mask) -> Towards:
        return replace(self, patches=self.patches[keep], axes=self.axes[keep])

    def rows(self, at: Reals, patches: Patches, fits: Fits) -> Rows:
        sizes = patches.sizes[self.patches]
        first = np.concatenate([[0], np.cumsum(sizes - 1)]).astype(np.int64)
        parts: list[tuple[Index, Index, Reals]] = []
        value = np.zeros(first[-1])
        for size in np.unique(sizes).tolist():
            items = np.flatnonzero(sizes == size)
            point = patches.points[patches.starts[self.patches[items]][:, None] + np.arange(size)]
            rest = np.linalg.qr(np.ones((size, 1)), mode="complete")[0][:, 1:]
            rows = first[items][:, None] + np.arange(size - 1)
            value[rows] = np.einsum("gij,gj->gi", at[point], self.axes[items]) @ rest
            shape = (len(items), size, size - 1)
            parts.append((
                np.broadcast_to(rows[:, None, :], shape).reshape(-1),
                np.broadcast_to(point[:, :, None], shape).reshape(-1),
                (rest[None, :, :, None] * self.axes[items][:, None, None, :]).reshape(-1, 3),
            ))
        row, point, vectors = _joined(parts)
        item = np.repeat(np.arange(self.count), sizes - 1)
        return Rows(row=row, point=point, vectors=vectors, value=value, item=item)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Parallel:
    """Patches are parallel to their leads. sign: (c,) 1 where both look the same way, -1 where opposite."""

    patches: Index
    leads: Index
    sign: Reals

    @property
    def count(self) -> int:
        return len(self.patches)

    def only(self, keep: Mask) -> Parallel:
        return replace(self, patches=self.patches[keep], leads=self.leads[keep], sign=self.sign[keep])

    def rows(self, at: Reals, patches: Patches, fits: Fits) -> Rows:
        lead, sign = fits.normals[self.leads], self.sign[:, None, None]
        toward = fits.axes[self.patches] * fits.widths[self.patches][:, :, None]
        value = np.einsum("cki,ci->ck", toward, fits.normals[self.patches] - self.sign[:, None] * lead)
        parts = [_turning(patches, fits, self.patches, toward), _turning(patches, fits, self.leads, -sign * toward)]
        row, point, vectors = _joined(parts)
        return Rows(row=row, point=point, vectors=vectors, value=value.reshape(-1), item=_twice(self.count))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Square:
    """Patches are square to other patches."""

    patches: Index
    others: Index

    @property
    def count(self) -> int:
        return len(self.patches)

    def only(self, keep: Mask) -> Square:
        return replace(self, patches=self.patches[keep], others=self.others[keep])

    def rows(self, at: Reals, patches: Patches, fits: Fits) -> Rows:
        scale = np.minimum(fits.widths[self.patches, 1], fits.widths[self.others, 1])[:, None]
        mine, theirs = fits.normals[self.patches], fits.normals[self.others]
        parts = [
            _turning(patches, fits, self.patches, (scale * theirs)[:, None]),
            _turning(patches, fits, self.others, (scale * mine)[:, None]),
        ]
        row, point, vectors = _joined(parts)
        value = np.einsum("ij,ij->i", mine, theirs) * scale[:, 0]
        return Rows(row=row, point=point, vectors=vectors, value=value, item=np.arange(self.count))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Apart:
    """Patches' planes lie at given distances from a point, along their normals. origin: (3,). distances: (c,)."""

    patches: Index
    origin: Reals
    distances: Reals

    @property
    def count(self) -> int:
        return len(self.patches)

    def only(self, keep: Mask) -> Apart:
        return replace(self, patches=self.patches[keep], distances=self.distances[keep])

    def rows(self, at: Reals, patches: Patches, fits: Fits) -> Rows:
        arm, normal = fits.centres[self.patches] - self.origin, fits.normals[self.patches]
        row, point, vectors = _turning(patches, fits, self.patches, arm[:, None])
        vectors = vectors + (normal / patches.sizes[self.patches][:, None])[row]
        value = np.einsum("ij,ij->i", normal, arm) - self.distances
        return Rows(row=row, point=point, vectors=vectors, value=value, item=np.arange(self.count))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Along:
    """Edges from points a to points b run along given unit vectors, axes: (c, 3)."""

    a: Index
    b: Index
    axes: Reals

    @property
    def count(self) -> int:
        return len(self.a)

    def only(self, keep: Mask) -> Along:
        return replace(self, a=self.a[keep], b=self.b[keep], axes=self.axes[keep])

    def rows(self, at: Reals, patches: Patches, fits: Fits) -> Rows:
        toward = tangents(self.axes)
        value = np.einsum("cki,ci->ck", toward, at[self.b] - at[self.a])
        row = np.arange(2 * self.count)
        return Rows(
            row=np.concatenate([row, row]), point=np.concatenate([np.repeat(self.a, 2), np.repeat(self.b, 2)]),
            vectors=np.concatenate([-toward.reshape(-1, 3), toward.reshape(-1, 3)]), value=value.reshape(-1),
            item=_twice(self.count),
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Right:
    """Edges from points `at` to points a and b are square to each other."""

    corner: Index
    a: Index
    b: Index

    @property
    def count(self) -> int:
        return len(self.a)

    def only(self, keep: Mask) -> Right:
        return replace(self, corner=self.corner[keep], a=self.a[keep], b=self.b[keep])

    def rows(self, at: Reals, patches: Patches, fits: Fits) -> Rows:
        p, q = at[self.a] - at[self.corner], at[self.b] - at[self.corner]
        size = np.maximum(np.linalg.norm(p, axis=1), np.linalg.norm(q, axis=1))[:, None]
        row = np.arange(self.count)
        return Rows(
            row=np.tile(row, 3), point=np.concatenate([self.a, self.b, self.corner]),
            vectors=np.concatenate([q / size, p / size, -(p + q) / size]),
            value=np.einsum("ij,ij->i", p, q) / size[:, 0], item=row,
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Lengths:
    """Edges from points a to points b have given lengths, (c,) mm."""

    a: Index
    b: Index
    lengths: Reals

    @property
    def count(self) -> int:
        return len(self.a)

    def only(self, keep: Mask) -> Lengths:
        return replace(self, a=self.a[keep], b=self.b[keep], lengths=self.lengths[keep])

    def rows(self, at: Reals, patches: Patches, fits: Fits) -> Rows:
        along = at[self.b] - at[self.a]
        length = np.linalg.norm(along, axis=1)
        along = along / np.maximum(length, np.finfo(float).tiny)[:, None]
        row = np.arange(self.count)
        return Rows(row=np.tile(row, 2), point=np.concatenate([self.a, self.b]),
                    vectors=np.concatenate([-along, along]), value=length - self.lengths, item=row)


def _turning(patches: Patches, fits: Fits, which: Index, toward: Reals) -> tuple[Index, Index, Reals]:
    """Entries of how much the normals of the given patches turn along `toward` (c, k, 3), k rows for each patch."""
    entry, item = patches.of(which)
    many = toward.shape[1]
    normals = fits.normals[which]
    # a normal stays a unit vector: only what is square to it counts, which is all that slopes have
    shares = -np.einsum("ei,eki->ek", fits.slopes[entry], toward[item])
    row = (item[:, None] * many + np.arange(many)).reshape(-1)
    return row, np.repeat(patches.points[entry], many), (shares[:, :, None] * normals[item][:, None]).reshape(-1, 3)


def _joined(parts: Sequence[tuple[Index, Index, Reals]]) -> tuple[Index, Index, Reals]:
    if not parts:
        return np.empty(0, dtype=np.int64), np.empty(0, dtype=np.int64), np.empty((0, 3))
    row, point, vectors = (np.concatenate(column) for column in zip(*parts, strict=True))
    return row, point, vectors


def _twice(count: int) -> Index:
    return np.repeat(np.arange(count), 2)
