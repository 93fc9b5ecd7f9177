"""A drawing as true faces are found from it: which faces shall lie in one plane, and which points can move.

Points inside a panel move square to it alone. However many they are, six weighted points stand for them exactly in
the search for its plane; then each goes to its nearest place in it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ..envelope.mending import mend, weld_points
from ..envelope.mesh import Mesh
from ..envelope.panels import flat_regions
from ..envelope.planes import fit_planes
from ..envelope.surface import FaceMeasures, Surface, measure
from ..envelope.topology import sides_by_edge
from ..shapes.connectivity import components, numbered
from ..terms import tolerance
from .flat_patches import Patches, Points

__all__ = ["FlatDrawing", "flat_drawing"]

Index = NDArray[np.int64]
Reals = NDArray[np.float64]
Mask = NDArray[np.bool_]

_FOLDED = 0.7
"""Cosine below which two faces at an edge are no candidates for one panel, however noisy: 45 degrees."""

_PROXIES = 6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FlatDrawing:
    """surface: the drawing mended. welded: (n,) the surface's point of each drawn point, -1 where no face uses it.
    points: the surface's and, after them, those that stand for the insides of panels. patches: the panels of the
    faces to flatten, then those of other faces that are flat and should stay so. must: how many the first are.
    panel: (f,) the patch of each face to flatten, -1 for the others. inside: (s,) surface points within a patch, and
    their patch. facing: (p, 3). edges: (e, 2) surface points of the borders between panels; beside: (e, 2) the patches
    there, less than 0 for none. kept: for each of the patches that should stay flat its mesh faces."""

    surface: Surface
    welded: Index
    points: Points
    patches: Patches
    must: int
    panel: Index
    inside: tuple[Index, Index]
    facing: Reals
    edges: Index
    beside: Index
    kept: tuple[Index, ...]

    def faces_of(self, patch: int) -> Index:
        """The mesh faces of a patch."""
        if patch >= self.must:
            return self.kept[patch - self.must]
        return np.sort(self.surface.sources[self.panel == patch])


def flat_drawing(mesh: Mesh, faces: Mask, pinned: Mask) -> FlatDrawing:
    """A mesh made ready. faces: (f,) those to flatten. pinned: (n,) points that stay.

    Only points of the faces to flatten can move. The mesh must have passed `check_mesh`; InputError where no face is
    left.
    """
    surface = mend(mesh, np.zeros(mesh.face_count, dtype=bool)).surface
    welded = _welded(mesh, surface)
    wanted = faces[surface.sources]
    movable = np.zeros(len(surface.points), dtype=bool)
    movable[surface.corners[wanted[surface.owner]]] = True
    movable[welded[pinned & (welded >= 0)]] = False
    measures, links = _links(surface)
    label, must = _regions(surface, measures, links[wanted[links].all(axis=1)], wanted)
    kept = _flat_ones(surface, measures, links, wanted, movable)
    owner = np.concatenate([label, *(np.where(own, must + i, -1) for i, own in enumerate(kept))])
    corners = np.concatenate([surface.corners] * (1 + len(kept)))
    member = np.repeat(owner, np.tile(surface.counts, 1 + len(kept)))
    pairs = np.unique(np.stack([member, corners], axis=1)[member >= 0], axis=0)
    facing = _facing(measures, owner, 1 + len(kept), must + len(kept))
    edges, beside = _borders(surface, np.where(label < 0, -1 - np.arange(len(label)), label), wanted)
    return _compressed(FlatDrawing(
        surface=surface, welded=welded, points=Points(drawn=surface.points, ease=movable.astype(np.float64)),
        patches=Patches(points=pairs[:, 1], starts=np.searchsorted(pairs[:, 0], np.arange(must + len(kept) + 1))),
        must=must, panel=label, inside=(np.empty(0, dtype=np.int64), np.empty(0, dtype=np.int64)), facing=facing,
        edges=edges, beside=beside, kept=tuple(np.sort(surface.sources[own]) for own in kept),
    ))


def _welded(mesh: Mesh, surface: Surface) -> Index:
    used = np.unique(mesh.corners)
    out = np.full(len(mesh.points), -1, dtype=np.int64)
    out[used] = weld_points(mesh.points[used] - surface.origin)[1]
    return out


def _links(surface: Surface) -> tuple[FaceMeasures, Index]:
    """Measures with the normals of neighbours on one side, as far as these may be one panel; and all such pairs."""
    measures = measure(surface)
    order, heads, counts = sides_by_edge(surface)
    pairs = [np.empty((0, 2), dtype=np.int64)]
    for many in np.unique(counts[counts > 1]).tolist():
        rows = order[heads[counts == many][:, None] + np.arange(many)]
        i, j = np.triu_indices(many, 1)
        pairs.append(np.stack([rows[:, i], rows[:, j]], axis=2).reshape(-1, 2))
    sides = np.concatenate(pairs)
    opposed = surface.corners[sides[:, 0]] != surface.corners[sides[:, 1]]
    links = surface.owner[sides]
    agree = np.einsum("ij,ij->i", measures.normals[links[:, 0]], measures.normals[links[:, 1]])
    near = np.where(opposed, agree, -agree) > _FOLDED
    links, opposed = links[near], opposed[near]
    count = surface.face_count
    f, g = links.T
    # each face twice, as drawn and turned over: the side of the lower label is the one taken
    there = np.where(opposed, g, g + count)
    back = np.where(opposed, g + count, g)
    label = components(2 * count, np.concatenate([f, f + count]), np.concatenate([there, back]))
    turned = label[:count] > label[count:]
    return replace(measures, normals=measures.normals * np.where(turned, -1.0, 1.0)[:, None]), links


def _regions(surface: Surface, measures: FaceMeasures, links: Index, wanted: Mask) -> tuple[Index, int]:
    """(f,) the panel of each wanted face, -1 for others, and how many panels there are."""
    label = flat_regions(surface, measures, links)
    out = np.full(surface.face_count, -1, dtype=np.int64)
    out[wanted], count = numbered(label[wanted])
    return out, count


def _flat_ones(
    surface: Surface, measures: FaceMeasures, links: Index, wanted: Mask, movable: Mask
) -> list[NDArray[np.bool_]]:
    """The faces of each panel that is flat as drawn, is not all of faces to flatten, and has points that move."""
    if wanted.all():
        return []
    label, count = numbered(flat_regions(surface, measures, links))
    planes = fit_planes(surface, measures, label, count)
    moves = np.bincount(label[surface.owner], weights=movable[surface.corners], minlength=count) > 0
    others = np.bincount(label, weights=~wanted, minlength=count) > 0
    return [label == panel for panel in np.flatnonzero(moves & others & (planes.off <= tolerance.FLAT))]


def _facing(measures: FaceMeasures, owner: Index, times: int, count: int) -> Reals:
    vectors = np.tile(measures.normals * measures.areas[:, None], (times, 1))
    known = owner >= 0
    return np.stack(
        [np.bincount(owner[known], weights=column[known], minlength=count) for column in vectors.T], axis=1)


def _borders(surface: Surface, label: Index, wanted: Mask) -> tuple[Index, Index]:
    """The edges that bound a panel of wanted faces: those whose faces are not all of it. The lowest and the highest
    patch there, less than 0 for none."""
    order, heads, counts = sides_by_edge(surface)
    of = label[surface.owner[order]]
    least, most = np.minimum.reduceat(of, heads), np.maximum.reduceat(of, heads)
    some = np.add.reduceat(wanted[surface.owner[order]].astype(np.int64), heads) > 0
    some &= (least != most) | (counts == 1)
    sides = order[heads[some]]
    beside = np.stack([np.where(counts == 1, -1, least), most], axis=1)[some]
    return np.sort(np.stack([surface.corners[sides], surface.ends[sides]], axis=1), axis=1), beside


def _compressed(drawing: FlatDrawing) -> FlatDrawing:
    """With the points inside each panel, where they are many, replaced by a few."""
    patches, points = drawing.patches, drawing.points
    uses = np.bincount(patches.points, minlength=len(points.drawn))
    on_edge = np.zeros(len(points.drawn), dtype=bool)
    on_edge[drawing.edges.reshape(-1)] = True
    single = (uses == 1) & (points.ease > 0) & ~on_edge
    owner = patches.owner
    many = np.bincount(owner[single[patches.points]], minlength=patches.count) > _PROXIES
    gone = single[patches.points] & many[owner]
    if not gone.any():
        return drawing
    inside, of = patches.points[gone], owner[gone]
    label, count = numbered(of)
    size = np.bincount(label, minlength=count)
    drawn = points.drawn[inside]
    order = np.argsort(label, kind="stable")
    starts = np.concatenate([[0], np.cumsum(size)[:-1]])
    centre = np.add.reduceat(drawn[order], starts, axis=0) / size[:, None]
    away = drawn - centre[label]
    spreads = np.add.reduceat((away[:, :, None] * away[:, None, :])[order], starts, axis=0) / size[:, None, None]
    values, axes = np.linalg.eigh(spreads)
    # six points of weight n / 6 at a distance sqrt(3 variance) along each axis have the moments of all n
    arms = np.sqrt(3.0 * np.maximum(values, 0.0))[:, :, None] * axes.transpose(0, 2, 1)
    stand = np.concatenate([centre[:, None] + arms, centre[:, None] - arms], axis=1).reshape(-1, 3)
    first = len(points.drawn)
    new_owner = np.repeat(np.flatnonzero(many), _PROXIES)
    members = np.concatenate([patches.points[~gone], first + np.arange(len(stand))])
    owners = np.concatenate([owner[~gone], new_owner])
    order = np.lexsort((members, owners))
    return replace(
        drawing,
        points=Points(
            drawn=np.concatenate([points.drawn, stand]),
            ease=np.concatenate([points.ease, np.repeat(_PROXIES / size, _PROXIES)])),
        patches=Patches(points=members[order], starts=np.searchsorted(owners[order], np.arange(patches.count + 1))),
        inside=(inside, of),
    )
