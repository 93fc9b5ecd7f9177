"""Which sides of a surface meet, and whether it is a surface at all: every edge of one face or two, rims
that run clean, no parts that hang together by a point."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..shapes.connectivity import components
from ..terms.errors import InputError
from .surface import Surface

__all__ = ["FREE", "check_rims", "find_mates", "first_of_pairs", "rim_labels", "shell_labels", "sides_by_edge"]

Index = NDArray[np.int64]

FREE = -1
"""The mate of a side that no other face shares."""

_MOST = 20
"""Faults of one kind that are told one by one; with more, the count says enough."""


def find_mates(surface: Surface) -> Index:
    """(k,) for each side the side of the other face there, FREE at a free edge.

    Raises InputError that names every edge shared by three faces or more.
    """
    order, heads, counts = sides_by_edge(surface)
    crowded = np.flatnonzero(counts > 2)
    if len(crowded):
        raise InputError.several(
            _crowded(surface, order[heads[i] : heads[i] + counts[i]]) for i in crowded[:_MOST]
        )
    mates = np.full(len(order), FREE, dtype=np.int64)
    pair = heads[counts == 2]
    mates[order[pair]] = order[pair + 1]
    mates[order[pair + 1]] = order[pair]
    return mates


def sides_by_edge(surface: Surface) -> tuple[Index, Index, Index]:
    """All sides, those of one edge together; where in that order each edge begins; and how many sides it has."""
    keys = surface.edge_keys
    order = np.argsort(keys, kind="stable")
    heads = np.flatnonzero(np.concatenate([[True], np.diff(keys[order]) != 0]))
    return order, heads, np.diff(np.append(heads, len(keys)))


def first_of_pairs(mates: Index) -> Index:
    """One side of every pair of mates: the one with the lower index."""
    return np.flatnonzero(mates > np.arange(len(mates)))


def check_rims(surface: Surface, mates: Index) -> None:
    """Refuse free edges that form no clean loops, and parts that touch only at a point (InputError)."""
    free = np.flatnonzero(mates == FREE)
    uses = np.bincount(np.concatenate([surface.corners[free], surface.ends[free]]), minlength=len(surface.points))
    errors: list[InputError] = []
    for point in np.flatnonzero((uses != 0) & (uses != 2))[:_MOST]:
        sides = free[(surface.corners[free] == point) | (surface.ends[free] == point)]
        errors.append(InputError(
            f"Torn surface: {len(sides)} free edges meet where a clean rim has two",
            where=surface.where(point),
            do="Close the tear, or delete the stray faces there.",
            faces=np.unique(surface.sources[surface.owner[sides]]),
            edges=_drawn(surface, sides),
        ))
    for point in np.flatnonzero((_fan_counts(surface, mates) > 1) & (uses <= 2))[:_MOST]:
        faces = surface.sources[surface.owner[surface.corners == point]]
        errors.append(InputError(
            "Parts of the surface touch only at a point",
            where=surface.where(point),
            do="Join them along an edge or move them apart.",
            faces=np.unique(faces),
        ))
    if errors:
        raise InputError.several(errors)


def shell_labels(surface: Surface, mates: Index) -> Index:
    """(f,) for each face the lowest face that edges connect it to."""
    sides = first_of_pairs(mates)
    owner = surface.owner
    return components(surface.face_count, owner[sides], owner[mates[sides]])


def rim_labels(surface: Surface, mates: Index) -> tuple[Index, Index]:
    """The free sides, and for each the lowest point of the rim it belongs to."""
    free = np.flatnonzero(mates == FREE)
    label = components(len(surface.points), surface.corners[free], surface.ends[free])
    return free, label[surface.corners[free]]


def _fan_counts(surface: Surface, mates: Index) -> Index:
    """(n,) how many fans of edge-connected faces meet at each point: 1 on a surface, 0 for an unused point."""
    sides = first_of_pairs(mates)
    others = mates[sides]
    following = surface.following
    opposed = surface.corners[sides] != surface.corners[others]
    start, end = sides, following[sides]
    at_start = np.where(opposed, following[others], others)
    at_end = np.where(opposed, others, following[others])
    label = components(len(surface.corners), np.concatenate([start, end]), np.concatenate([at_start, at_end]))
    roots = np.flatnonzero(label == np.arange(len(label)))
    return np.bincount(surface.corners[roots], minlength=len(surface.points))


def _crowded(surface: Surface, sides: Index) -> InputError:
    faces = np.unique(surface.sources[surface.owner[sides]])
    start, end = (surface.where(p[sides[0]]) for p in (surface.corners, surface.ends))
    return InputError(
        f"{len(sides)} faces meet at one edge (faces {', '.join(str(f) for f in faces)}), more than two",
        where=f"{start} to {end}",
        do="Delete or leave out the faces that are not part of the outside, or mark them as inner plates.",
        faces=faces,
        edges=_drawn(surface, sides),
    )


def _drawn(surface: Surface, sides: Index) -> list[tuple[int, int]]:
    return [(int(a), int(b)) for a, b in np.unique(surface.drawn[sides], axis=0)]
