"""What someone may wish beside flat faces: parallel, square, at round distances, with edges of round lengths.

A wish is found where the flattened drawing nearly has it already, and is a condition like flatness itself, only that
it may be given up.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from ..stock.units import INCH
from ..terms import tolerance
from ..terms.errors import InputError
from ..terms.messages import Length
from .flat_conditions import Along, Apart, Condition, Lengths, Parallel, Right, Square, Towards
from .flat_drawing import FlatDrawing
from .flat_patches import Fits

__all__ = ["GRIDS", "FaceWishes", "Snap", "Wish", "find_shape_wishes", "find_snap_wishes"]

Index = NDArray[np.int64]
Reals = NDArray[np.float64]
Snap = Literal["off", "offsets", "lengths"]

GRIDS: Final = (0.5, 1.0, INCH / 16.0)
"""mm: half a millimetre, a millimetre, a sixteenth of an inch."""

_WIDEST = 20.0
"""Degrees: faces and edges farther off than this were meant so."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FaceWishes:
    """parallel: faces within `within` degrees of each other become parallel, and one panel where they are neighbours.
    square: faces and edges as near to an axis, or to square with a neighbour, become so; it has parallel in it. snap:
    distances of faces from the origin, or lengths of edges, to multiples of `grid` mm. axes: (3, 3) rows, unit
    vectors square to each other; origin: (3,) mm.
    """

    parallel: bool = False
    square: bool = False
    within: float = 3.0
    snap: Snap = "off"
    grid: float = 1.0
    axes: Reals = field(default_factory=lambda: np.eye(3))
    origin: Reals = field(default_factory=lambda: np.zeros(3))

    @property
    def any(self) -> bool:
        return self.parallel or self.square or self.snap != "off"

    def __post_init__(self) -> None:
        if not 0.0 <= self.within <= _WIDEST:
            raise InputError(f"An angle of {self.within:g} degrees to make parallel or square within",
                             do=f"Choose 0 to {_WIDEST:g}.")
        if not tolerance.FLAT <= self.grid < np.inf:
            raise InputError(f"A grid of {Length(self.grid):g}", do=f"Choose {Length(tolerance.FLAT):g} or more.")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Wish:
    """Items of one kind. name: what they are called when they cannot be had; patches, edges: (c,) rows of the
    drawing's patches or edges that each is about, -1 for none."""

    name: str
    condition: Condition
    patches: Index
    edges: Index


def find_shape_wishes(drawing: FlatDrawing, fits: Fits, at: Reals, wishes: FaceWishes) -> list[Wish]:
    """Which faces and edges should be parallel or square. fits, at: of the flattened drawing."""
    if not (wishes.parallel or wishes.square):
        return []
    able = np.flatnonzero(fits.widths[: drawing.must, 1] > tolerance.SLIVER)
    near, lead = np.cos(np.radians(wishes.within)), np.full(drawing.must, -1)
    lead[able] = _families(fits, able, near)
    bound = np.zeros(drawing.must, dtype=bool)
    found: list[Wish] = []
    if wishes.square:
        axis, along = _nearest_axis(fits.normals[: drawing.must], wishes.axes)
        bound[able] = along[able] >= near
        patches = np.flatnonzero(bound)
        found.append(_of_patches("square to an axis", Towards(patches=patches, axes=axis[patches]), patches))
    members = np.flatnonzero((lead >= 0) & (lead != np.arange(drawing.must)))
    members = members[~(bound[members] & bound[lead[members]])]
    leads = lead[members]
    sign = np.sign(np.einsum("ij,ij->i", fits.normals[members], fits.normals[leads]))
    found.append(_of_patches("parallel", Parallel(patches=members, leads=leads, sign=sign), members))
    if wishes.square:
        pairs = _square_neighbours(drawing, fits, lead, bound, np.sin(np.radians(wishes.within)))
        found.append(_of_patches(
            "square to a neighbour", Square(patches=pairs[:, 0], others=pairs[:, 1]), pairs[:, 0]))
        found += _edge_wishes(drawing, at, bound, wishes, near)
    return [wish for wish in found if wish.condition.count]


def find_snap_wishes(drawing: FlatDrawing, fits: Fits, at: Reals, wishes: FaceWishes) -> list[Wish]:
    """Distances or lengths to be rounded. fits, at: of the flattened drawing, other wishes granted."""
    if wishes.snap == "offsets":
        patches = np.flatnonzero(fits.widths[: drawing.must, 1] > tolerance.SLIVER)
        origin = wishes.origin - drawing.surface.origin
        far = np.einsum("ij,ij->i", fits.normals[patches], fits.centres[patches] - origin)
        condition = Apart(patches=patches, origin=origin, distances=_rounded(far, wishes.grid))
        return [_of_patches("at a round distance", condition, patches)]
    if wishes.snap == "lengths":
        a, b = drawing.edges.T
        length = _rounded(np.linalg.norm(at[b] - at[a], axis=1), wishes.grid)
        edges = np.flatnonzero(length > 0)                   # an edge shorter than half a step stays as it is
        return [_of_edges("of a round length", Lengths(a=a[edges], b=b[edges], lengths=length[edges]), edges)]
    return []


def _rounded(values: Reals, grid: float) -> Reals:
    return np.asarray(np.round(values / grid) * grid)


def _of_patches(name: str, condition: Condition, patches: Index) -> Wish:
    return Wish(name=name, condition=condition, patches=patches, edges=np.full(len(patches), -1))


def _of_edges(name: str, condition: Condition, edges: Index) -> Wish:
    return Wish(name=name, condition=condition, patches=np.full(len(edges), -1), edges=edges)


def _families(fits: Fits, able: Index, near: float) -> Index:
    """For each of the patches the largest one that it is nearly parallel to, which may be itself."""
    normals, out = fits.normals[able], np.empty(len(able), dtype=np.int64)
    leads: list[int] = []
    for i in np.argsort(-np.round(fits.radius[able], 2), kind="stable").tolist():
        along = np.abs(normals[leads] @ normals[i])
        best = int(along.argmax()) if leads else -1
        if best < 0 or along[best] < near:
            best = len(leads)
            leads.append(i)
        out[i] = leads[best]
    return able[out] if len(able) else out


def _nearest_axis(vectors: Reals, axes: Reals) -> tuple[Reals, Reals]:
    """(n, 3) the axis nearest to each unit vector, turned its way, and the cosine between them."""
    along = vectors @ axes.T
    which = np.abs(along).argmax(axis=1)
    cosine = np.take_along_axis(along, which[:, None], axis=1)[:, 0]
    return axes[which] * np.where(cosine < 0, -1.0, 1.0)[:, None], np.abs(cosine)


def _square_neighbours(
    drawing: FlatDrawing, fits: Fits, lead: Index, bound: NDArray[np.bool_], near: float
) -> Index:
    """Pairs of leads that have nearly square neighbours among their families, but those bound to axes anyway."""
    pairs = drawing.beside[(drawing.beside >= 0).all(axis=1)]
    pairs = np.unique(np.sort(lead[pairs], axis=1), axis=0).reshape(-1, 2)
    pairs = pairs[(pairs[:, 0] >= 0) & (pairs[:, 0] != pairs[:, 1]) & ~bound[pairs].all(axis=1)]
    cosine = np.einsum("ij,ij->i", fits.normals[pairs[:, 0]], fits.normals[pairs[:, 1]])
    return np.asarray(pairs[np.abs(cosine) <= near])


def _edge_wishes(
    drawing: FlatDrawing, at: Reals, bound: NDArray[np.bool_], wishes: FaceWishes, near: float
) -> list[Wish]:
    """Edges along an axis, and corners between two edges of a face that are square, but what faces bound to axes
    bring with them."""
    a, b = drawing.edges.T
    run = at[b] - at[a]
    length = np.linalg.norm(run, axis=1)
    long = length > tolerance.SLIVER
    axis, along = _nearest_axis(run / np.where(long, length, 1.0)[:, None], wishes.axes)
    straight = long & (along >= near)
    given = (drawing.beside >= 0).all(axis=1) & bound[np.maximum(drawing.beside, 0)].all(axis=1)
    edges = np.flatnonzero(straight & ~given)
    corner, one, two, first, second = _corners(drawing)
    p, q = at[one] - at[corner], at[two] - at[corner]
    size = np.linalg.norm(p, axis=1) * np.linalg.norm(q, axis=1)
    cosine = np.abs(np.einsum("ij,ij->i", p, q)) / np.where(size > 0, size, 1.0)
    right = long[first] & long[second] & (cosine <= np.sin(np.radians(wishes.within)))
    right &= ~(straight[first] & straight[second])
    return [
        _of_edges("along an axis", Along(a=a[edges], b=b[edges], axes=axis[edges]), edges),
        _of_edges("square to each other", Right(corner=corner[right], a=one[right], b=two[right]), first[right]),
    ]


def _corners(drawing: FlatDrawing) -> tuple[Index, Index, Index, Index, Index]:
    """Corners of faces to flatten where two borders meet: the point, the two points next to it, and the two edges."""
    surface = drawing.surface
    key = np.minimum(*drawing.edges.T) * len(surface.points) + np.maximum(*drawing.edges.T)
    order = np.argsort(key, kind="stable")
    keys = surface.edge_keys
    where = np.searchsorted(key[order], keys)
    where = order[np.minimum(where, len(order) - 1)]
    border = key[where] == keys
    side = np.flatnonzero((drawing.panel >= 0)[surface.owner])
    after = surface.following[side]
    met = border[side] & border[after]
    side, after = side[met], after[met]
    return surface.corners[after], surface.corners[side], surface.ends[after], where[side], where[after]
