"""Panels: faces that share an edge and a plane, merged into the region that a person sees.

Neighbours that turn by less than FLAT_ANGLE are joined; a region that drifts off its plane by more than
FLAT is taken apart again and grown anew from its largest face. Slivers, whose normals say little, go to
the neighbour in whose plane they lie.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..shapes.connectivity import components, numbered, spread
from ..terms import tolerance
from .planes import Planes, fit_planes
from .surface import FaceMeasures, Surface, measure
from .topology import first_of_pairs

__all__ = ["Regions", "find_panels", "flat_regions"]

Index = NDArray[np.int64]
Reals = NDArray[np.float64]
Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Regions:
    """label: (f,) the panel of each face. planes: of the panels, which are sorted by the z, y, x of their
    centroids (rounded, so that noise does not reorder a level row), then by area."""

    label: Index
    planes: Planes


def find_panels(surface: Surface, mates: Index, kinds: Index) -> Regions:
    """The panels of an oriented surface. kinds: (f,); faces of different kinds are never merged."""
    measures = measure(surface)
    owner = surface.owner
    sides = first_of_pairs(mates)
    f, g = owner[sides], owner[mates[sides]]
    alike = kinds[f] == kinds[g]
    label = flat_regions(surface, measures, np.stack([f[alike], g[alike]], axis=1))
    label, count = numbered(label)
    planes = fit_planes(surface, measures, label, count)
    _, first = np.unique(label, return_index=True)
    x, y, z = np.round(planes.centres, 2).T
    order = np.lexsort((first, np.round(planes.areas, 1), x, y, z))
    rank = np.empty_like(order)
    rank[order] = np.arange(count)
    ordered = Planes(
        centres=planes.centres[order], normals=planes.normals[order], areas=planes.areas[order], off=planes.off[order]
    )
    return Regions(label=rank[label], planes=ordered)


def flat_regions(surface: Surface, measures: FaceMeasures, links: Index) -> Index:
    """(f,) for each face the number of a face of its panel. links: (l, 2) neighbours that may be one panel.

    measures: of the surface, the normals of neighbours on the same side.
    """
    f, g = links.T
    height = 2.0 * measures.areas / measures.lengths
    sliver = (height < tolerance.SLIVER) & (height < measures.lengths / 10.0)
    firm = _parallel(measures.normals[f], measures.normals[g], np.minimum(height[f], height[g]))
    firm &= ~sliver[f] & ~sliver[g]
    label = components(surface.face_count, f[firm], g[firm])
    label = _taken_apart(surface, measures, label, links[firm])
    if sliver.any():
        loose = links[sliver[f] | sliver[g]]
        label = _joined(surface, measures, _slivers_placed(surface, measures, label, sliver, loose), loose)
    return label


def _parallel(a: Reals, b: Reals, height: Reals) -> Mask:
    """Which unit normals agree: the lower (mm) the lower of two faces, the more its normal is noise."""
    noise = np.degrees(2.0 * tolerance.STRAIGHT / np.maximum(height, tolerance.MERGE))
    turn = np.clip(noise, tolerance.FLAT_ANGLE, tolerance.NOISY_ANGLE)
    return np.asarray(np.linalg.norm(a - b, axis=1) < 2.0 * np.sin(np.radians(turn) / 2.0))


def _drifting(surface: Surface, measures: FaceMeasures, label: Index) -> Mask:
    """(f,) faces of regions of several faces that lie farther than FLAT from their plane somewhere."""
    groups, count = numbered(label)
    bent = fit_planes(surface, measures, groups, count).off > tolerance.FLAT
    bent &= np.bincount(groups, minlength=count) > 1
    return np.asarray(bent[groups])


def _taken_apart(surface: Surface, measures: FaceMeasures, label: Index, links: Index) -> Index:
    """Labels (each the index of a face of its region) with every drifting region grown anew in parts."""
    drifting = _drifting(surface, measures, label)
    if not drifting.any():
        return label
    label = label.copy()
    links = links[drifting[links[:, 0]]]
    both = np.concatenate([links, links[:, ::-1]])
    both = both[np.argsort(both[:, 0], kind="stable")]
    starts = np.searchsorted(both[:, 0], np.arange(surface.face_count + 1))
    waiting = drifting.copy()
    faces = np.flatnonzero(drifting)
    for seed in faces[np.argsort(-measures.areas[faces], kind="stable")]:
        if waiting[seed]:
            region = _grown(surface, int(seed), both[:, 1], starts, waiting)
            waiting[region] = False
            label[region] = seed
    return label


def _grown(surface: Surface, seed: int, neighbours: Index, starts: Index, waiting: Mask) -> Index:
    """Faces of a flat region around the seed, taken layer by layer while the plane through them holds."""
    region = np.array([seed])
    plane = _plane_of(surface, region)
    while True:
        near, _ = spread(starts, region)
        layer = np.unique(neighbours[near])
        layer = layer[waiting[layer] & ~np.isin(layer, region)]
        sides, which = spread(surface.starts, layer)
        off = np.zeros(len(layer))
        away = surface.points[surface.corners[sides]] - plane.centres[0]
        np.maximum.at(off, which, np.abs(away @ plane.normals[0]))
        # The plane may tilt to take a face in, so faces off by more than FLAT are tried, then fewer.
        nearest = np.argsort(off, kind="stable")
        for part in (nearest[off[nearest] <= 2 * tolerance.FLAT], nearest[off[nearest] <= tolerance.FLAT], nearest[:1]):
            wider = np.sort(np.concatenate([region, layer[part]]))
            fitted = _plane_of(surface, wider)
            if len(part) and fitted.off[0] <= tolerance.FLAT:
                region, plane = wider, fitted
                break
        else:
            return region


def _plane_of(surface: Surface, faces: Index) -> Planes:
    part = surface.in_order(faces)
    return fit_planes(part, measure(part), np.zeros(len(faces), dtype=np.int64), 1)


def _slivers_placed(
    surface: Surface, measures: FaceMeasures, label: Index, sliver: Mask, links: Index
) -> Index:
    """Labels with each sliver given to the neighbouring region whose plane its points lie nearest to, if
    within FLAT; strips of slivers are taken up one after another."""
    label, loose = label.copy(), sliver.copy()
    groups, count = numbered(label)
    planes = fit_planes(surface, measures, groups, count)
    both = np.concatenate([links, links[:, ::-1]])
    while True:
        able = both[loose[both[:, 0]] & ~loose[both[:, 1]]]
        sides, which = spread(surface.starts, able[:, 0])
        plane = groups[label[able[:, 1]]]
        reach = surface.points[surface.corners[sides]] - planes.centres[plane][which]
        off = np.zeros(len(able))
        np.maximum.at(off, which, np.abs(np.einsum("ij,ij->i", reach, planes.normals[plane][which])))
        order = np.lexsort((plane, np.round(off, 6), able[:, 0]))
        order = order[off[order] <= tolerance.FLAT]
        placed, first = np.unique(able[order, 0], return_index=True)
        if len(placed) == 0:
            return label
        label[placed] = label[able[order[first], 1]]
        loose[placed] = False


def _joined(surface: Surface, measures: FaceMeasures, label: Index, links: Index) -> Index:
    """Labels with parallel regions joined across the given links, wherever the whole stays flat."""
    groups, count = numbered(label)
    normals = fit_planes(surface, measures, groups, count).normals
    a, b = groups[links[:, 0]], groups[links[:, 1]]
    across = (a != b) & _parallel(normals[a], normals[b], np.full(len(a), np.inf))
    wider = components(count, a[across], b[across])[groups]
    return np.where(_drifting(surface, measures, wider), groups, wider)
