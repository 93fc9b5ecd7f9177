"""Which faces of a drawing are inner plates: chosen, or seen from where they lie."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..shapes.windings import windings
from ..terms.choices import Choices
from ..terms.errors import InputError
from ..terms.places import listed, place
from .crossings import triangles_of
from .mending import broken_at_points
from .mesh import Mesh
from .outside import Outlook, look_out
from .panel_choices import faces_marked
from .surface import Surface, measure
from .topology import sides_by_edge

__all__ = ["find_inner_faces"]

Index = NDArray[np.int64]
Reals = NDArray[np.float64]
Mask = NDArray[np.bool_]

_ROWS = 4
"""Triangles are asked at the middles of _ROWS ** 2 equal parts whether they lie inside."""


def find_inner_faces(mesh: Mesh, choices: Choices, surface: Surface) -> Mask:
    """(f,) faces of the mended surface that are inner plates.

    Where nothing is chosen: a face of a closed part that does not look at the outside with either side, and
    the faces of an open part of which most lies inside a closed one. Raises InputError, naming the faces, where
    faces hang on a closed part outside it, and where three faces or more meet at an edge of an open part.
    """
    marks = faces_marked(mesh, choices)[surface.sources]
    inner = marks > 0
    rest = np.flatnonzero(~inner)
    if len(rest) == 0:
        raise InputError(
            "Every face is chosen as an inner plate: there is no wall for them to stand in",
            do="Choose the faces of the outside as walls.", faces=np.sort(surface.sources))
    walls = surface.in_order(rest)
    if np.all(sides_by_edge(walls)[2] == 2):
        return inner                                 # closed, without a face too many
    walls = broken_at_points(walls, every_side=True)
    look = look_out(walls)
    seen = look.outside.sum(axis=1)
    closed = np.bincount(look.part, weights=seen < 2) > 0
    within = closed[look.part] & (seen == 0)
    hanging = (closed[look.part] & (seen == 2)) & (marks[rest] == 0)
    if hanging.any():
        raise _hanging(walls, look, hanging)
    fixed = np.bincount(look.part, weights=marks[rest] < 0) > 0
    afloat = _inside_closed(walls, look, seen, ~closed & ~fixed)
    branching = np.zeros(len(rest), dtype=bool)
    branching[walls.owner[look.branching]] = True
    unclear = branching & ~closed[look.part] & ~afloat & (marks[rest] == 0)
    if unclear.any():
        raise _unclear(walls, look, unclear)
    inner[rest] = (within | afloat) & (marks[rest] == 0)
    return inner


def _inside_closed(surface: Surface, look: Outlook, seen: Index, parts: Mask) -> Mask:
    """(f,) faces of the given parts of which most of the area lies inside the closed ones."""
    asked = parts[look.part]
    wall = seen == 1
    found = np.zeros(surface.face_count, dtype=bool)
    if not asked.any() or not wall.any():
        return found
    triangles, face = triangles_of(surface)
    corners = surface.points[triangles]
    outward = look.outside[face, 0][:, None, None]
    skin = np.concatenate([np.where(outward, corners, corners[:, ::-1])[wall[face]], look.caps])
    mine = asked[face]
    points = _samples(corners[mine])
    inside = np.zeros(points.shape[:2], dtype=bool)
    near = np.all((points > skin.min(axis=(0, 1))) & (points < skin.max(axis=(0, 1))), axis=2)
    inside[near] = windings(points[near], skin) > 0.5
    a, b, c = corners[mine].transpose(1, 0, 2)
    weights = np.linalg.norm(np.cross(b - a, c - a), axis=1)
    part = look.part[face[mine]]
    share = np.bincount(part, weights=weights * inside.mean(axis=1), minlength=len(parts))
    total = np.bincount(part, weights=weights, minlength=len(parts))
    return np.asarray(asked & (share > 0.5 * total)[look.part])


def _samples(triangles: Reals) -> Reals:
    """(t, _ROWS ** 2, 3) the middles of equal parts of each triangle."""
    up, across = np.meshgrid(np.arange(_ROWS), np.arange(_ROWS), indexing="ij")
    upright = np.stack([up, across], axis=-1)[up + across < _ROWS] + 1.0 / 3.0
    turned = np.stack([up, across], axis=-1)[up + across < _ROWS - 1] + 2.0 / 3.0
    s, t = (np.concatenate([upright, turned]) / _ROWS).T
    shares = np.stack([1.0 - s - t, s, t], axis=1)
    return np.asarray(np.einsum("si,tix->tsx", shares, triangles))


def _hanging(surface: Surface, look: Outlook, hanging: Mask) -> InputError:
    faces = np.sort(surface.sources[hanging])
    return InputError(
        f"{listed('Face', faces)} hang{'s' if len(faces) == 1 else ''} on a closed surface, outside it",
        where=_about(surface, hanging),
        do="Delete or leave out what is not part of the outside; or, if the closed part is only a compartment of an "
        "open one, mark the faces inside as inner plates.",
        faces=faces,
        edges=_edges(surface, look, hanging),
    )


def _unclear(surface: Surface, look: Outlook, unclear: Mask) -> InputError:
    faces = np.sort(surface.sources[unclear])
    return InputError(
        f"Three faces or more meet at edges of an open surface, so which of them are inside cannot be told: "
        f"{listed('face', faces, 24)}",
        where=_about(surface, unclear),
        do="Mark the inner ones as inner plates, or delete them.",
        faces=faces,
        edges=_edges(surface, look, unclear),
    )


def _about(surface: Surface, faces: Mask) -> str:
    return "about " + place(measure(surface.only_faces(faces)).centroids[0] + surface.origin)


def _edges(surface: Surface, look: Outlook, faces: Mask) -> list[tuple[int, int]]:
    """The drawn edges of three faces or more at which the given ones lie."""
    sides = look.branching & faces[surface.owner]
    return [(int(a), int(b)) for a, b in np.unique(surface.drawn[sides], axis=0)]
