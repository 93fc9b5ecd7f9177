"""Turning the faces of each shell the same way round, and that way out."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from ..shapes.connectivity import components, numbered
from ..terms.errors import InputError
from ..terms.findings import Finding
from ..terms.places import listed
from .drawing_remedies import turn_faces_over
from .surface import Surface, measure
from .topology import find_mates, first_of_pairs, rim_labels, shell_labels

__all__ = ["turn_outward", "turned_over", "turns_to_agree"]

Index = NDArray[np.int64]
Reals = NDArray[np.float64]
Mask = NDArray[np.bool_]

_ENCLOSES = 0.6
"""An open shell whose rims, capped, have less than this part of its own area encloses a space, so that its
outside is known: an open-top cube has 0.2, a half sphere 0.5, an angle of two flanges 0.7 or more."""

_ROOM = 0.01
"""… and the space must be this part of area ** 1.5 at least (a sphere has 0.094), or it is a sheet."""


def turn_outward(surface: Surface, mates: Index) -> tuple[Surface, Index, tuple[Finding, ...]]:
    """The surface with all normals out, its mates anew, and a note that names the faces turned over.

    Closed shells turn by their signed volume. Open ones that nearly enclose a space do so with their
    rims capped; others keep the side that most of their area was drawn with. Raises InputError for a
    surface that has one side only.
    """
    turned, twisted = turns_to_agree(surface, mates)
    count = surface.face_count
    if twisted.any():
        faces = np.sort(surface.sources[twisted])
        raise InputError(
            f"{listed('Face', faces)}: this surface has one side only (like a Möbius strip), so no outside",
            do="Cut it open where it is twisted.",
            faces=faces,
        )
    shells, shell_count = numbered(shell_labels(surface, mates))
    measures = measure(surface)
    consistent = turned_over(surface, turned)
    inward = _inward(consistent, mates, shells, shell_count)
    area_over = np.bincount(shells, weights=measures.areas * turned, minlength=shell_count)
    area = np.bincount(shells, weights=measures.areas, minlength=shell_count)
    wrong = np.where(inward == 0, area_over > area / 2, inward > 0)
    turned ^= wrong[shells]
    if not turned.any():
        return surface, mates, ()
    faces = np.sort(surface.sources[turned])
    note = Finding(
        rule="faces_turned_over",
        level="note",
        message=f"{len(faces)} of {count} faces turned over so that all normals point out: "
        f"{listed('face', faces)}.",
        faces=tuple(int(i) for i in faces),
        remedy=turn_faces_over(faces),
    )
    outward = turned_over(surface, turned)
    return outward, find_mates(outward), (note,)


def turns_to_agree(surface: Surface, mates: Index) -> tuple[Mask, Mask]:
    """(f,) faces to turn over so that all that are mates run the same way round, the first of each connected
    part as drawn; and (f,) faces of parts that have one side only, where that cannot be."""
    owner = surface.owner
    sides = first_of_pairs(mates)
    f, g = owner[sides], owner[mates[sides]]
    clash = surface.corners[sides] == surface.corners[mates[sides]]
    # Two nodes a face, as drawn and turned over; where both hang together the surface has one side only.
    count = surface.face_count
    label = components(
        2 * count, np.concatenate([f, f + count]), np.concatenate([g + count * clash, g + count * ~clash])
    )
    as_drawn, over = label[:count], label[count:]
    return over < as_drawn, as_drawn == over


def _inward(surface: Surface, mates: Index, shells: Index, shell_count: int) -> Reals:
    """(shells,) 1 where a shell that encloses a space points inward, -1 outward, 0 where it encloses none."""
    measures = measure(surface)
    vectors = measures.normals * measures.areas[:, None]
    reach = np.einsum("ij,ij->i", measures.centroids, vectors) / 3.0
    volume = np.bincount(shells, weights=reach, minlength=shell_count)
    area = np.bincount(shells, weights=measures.areas, minlength=shell_count)
    free, rims = rim_labels(surface, mates)
    if len(free) == 0:
        return -np.sign(volume)
    rim, rim_count = numbered(rims)
    rim_shell = np.zeros(rim_count, dtype=np.int64)
    rim_shell[rim] = shells[surface.owner[free]]
    start, end = surface.points[surface.corners[free]], surface.points[surface.ends[free]]
    size = np.bincount(rim, minlength=rim_count)
    middle = np.stack([np.bincount(rim, weights=start[:, i], minlength=rim_count) / size for i in range(3)], axis=1)
    caps = 0.5 * np.cross(end - middle[rim], start - middle[rim])
    depth = np.einsum("ij,ij->i", middle[rim], caps) / 3.0
    volume += np.bincount(rim_shell[rim], weights=depth, minlength=shell_count)
    cap = np.bincount(rim_shell[rim], weights=np.linalg.norm(caps, axis=1), minlength=shell_count)
    encloses = (cap < _ENCLOSES * area) & (np.abs(volume) > _ROOM * area**1.5) | (cap == 0)
    return np.where(encloses, -np.sign(volume), 0.0)


def turned_over(surface: Surface, turned: Mask) -> Surface:
    """The surface with the given faces run the other way round, from the same first corner."""
    owner, counts = surface.owner, surface.counts
    first = surface.starts[owner]
    local = np.arange(len(owner)) - first
    back = turned[owner]
    corner = np.where(back, first + (counts[owner] - local) % counts[owner], first + local)
    side = np.where(back, first + counts[owner] - 1 - local, first + local)
    return replace(surface, corners=surface.corners[corner], drawn=surface.drawn[side])
