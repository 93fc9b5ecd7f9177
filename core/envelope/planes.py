"""Planes through groups of faces, and faces that are not as flat as they should be."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..terms import tolerance
from ..terms.errors import InputError
from ..terms.findings import Finding
from ..terms.messages import Length
from ..terms.places import listed
from .drawing_remedies import flatten_faces
from .surface import FaceMeasures, Surface, measure

__all__ = ["Planes", "check_warp", "fit_planes"]

Index = NDArray[np.int64]
Reals = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Planes:
    """centres: (p, 3) centroid of each group. normals: (p, 3) unit, the way its faces look. areas: (p,) mm2.
    off: (p,) the farthest that a point of the group lies from its plane."""

    centres: Reals
    normals: Reals
    areas: Reals
    off: Reals


def fit_planes(surface: Surface, measures: FaceMeasures, groups: Index, count: int) -> Planes:
    """The best plane of each group of faces, groups: (f,) in 0 … count - 1, each with a face at least.

    Least squares over the corners, each weighted by its share of its face's area; the exact plane where
    the group is one triangle.
    """
    counts = surface.counts
    group = groups[surface.owner]
    points = surface.points[surface.corners]
    weights = (measures.areas / counts)[surface.owner]
    total = np.bincount(group, weights=weights, minlength=count)
    mean = _summed(points * weights[:, None], group, count) / total[:, None]
    away = points - mean[group]
    spread = _summed((weights[:, None, None] * away[:, :, None] * away[:, None, :]).reshape(-1, 9), group, count)
    _, axes = np.linalg.eigh((spread / total[:, None]).reshape(-1, 3, 3))
    normals = axes[:, :, 0]
    facing = _summed(measures.normals * measures.areas[:, None], groups, count)
    normals = normals * np.where(np.einsum("ij,ij->i", normals, facing) < 0, -1.0, 1.0)[:, None]
    single = np.flatnonzero((np.bincount(groups, minlength=count)[groups] == 1) & (counts == 3))
    normals[groups[single]] = measures.normals[single]
    off = np.zeros(count)
    np.maximum.at(off, group, np.abs(np.einsum("ij,ij->i", away, normals[group])))
    areas = np.bincount(groups, weights=measures.areas, minlength=count).astype(np.float64)
    centres = _summed(measures.centroids * measures.areas[:, None], groups, count) / areas[:, None]
    centres -= normals * np.einsum("ij,ij->i", centres - mean, normals)[:, None]    # onto the plane
    return Planes(centres=centres, normals=normals, areas=areas, off=off)


def check_warp(surface: Surface) -> tuple[Finding, ...]:
    """Notes on faces that are mended by their best plane; InputError for faces too warped for that."""
    many = np.flatnonzero(surface.counts > 3)
    if len(many) == 0:
        return ()
    polygons = surface.only_faces(surface.counts > 3)
    off = fit_planes(polygons, measure(polygons), np.arange(len(many)), len(many)).off
    worst = np.flatnonzero(off > tolerance.MENDABLE_WARP)
    if len(worst):
        flatten = flatten_faces(polygons.sources[off > tolerance.FLAT])
        raise InputError.several(
            InputError(
                f"Face {polygons.sources[i]} is warped",
                where=surface.where(int(polygons.corners[polygons.starts[i]])),
                by=f"{Length(off[i]):.3f} from its best plane (up to {Length(tolerance.MENDABLE_WARP):g} is mended)",
                do="Flatten it, or split it into triangles.",
                faces=[polygons.sources[i]],
                remedy=flatten,
            )
            for i in worst
        )
    mended = np.flatnonzero(off > tolerance.FLAT)
    if len(mended) == 0:
        return ()
    faces = polygons.sources[mended]
    return (
        Finding(
            rule="warped_face_mended",
            level="note",
            message=f"{listed('Face', np.sort(faces))} not flat: up to {Length(off[mended].max()):.3f} from the plane "
            "that fits best, which is used.",
            faces=tuple(sorted(int(f) for f in faces)),
            remedy=flatten_faces(faces),
        ),
    )


def _summed(values: Reals, group: Index, count: int) -> Reals:
    """(count, c) sums of the rows of (k, c) values by group."""
    return np.stack([np.bincount(group, weights=column, minlength=count) for column in values.T], axis=1)
