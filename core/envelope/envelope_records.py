"""The records of an envelope, made from the oriented surface, its panels and their borders."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from ..shapes.connectivity import next_in_rows, numbered, spread
from ..shapes.frame import Frame
from ..terms.errors import InputError
from .envelope import DrawnHole, Edge, Envelope, Panel, Shell
from .panel_choices import Metal
from .panel_edges import Borders, Rings
from .panels import Regions
from .planes import Planes
from .surface import Surface
from .topology import FREE, shell_labels

__all__ = ["Drawing", "frames_of", "record_envelope"]

Index = NDArray[np.int64]
Reals = NDArray[np.float64]
_Number = TypeVar("_Number", np.float64, np.int64)

_LEVEL = 1e-6
"""Sine of a panel's slope: below it the way up the panel is noise, so the panel counts as level."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Drawing:
    """The surface once it is oriented and merged. names, metals: one a panel, in the order of regions."""

    surface: Surface
    mates: Index
    regions: Regions
    names: tuple[str, ...]
    metals: tuple[Metal, ...]


def record_envelope(name: str, drawing: Drawing, borders: Borders) -> Envelope:
    """The records of an envelope, without notes; points are numbered anew, in their geometric order."""
    surface, regions = drawing.surface, drawing.regions
    rings = _sorted_rings(drawing, borders.rings)
    lowest = surface.points[rings.corners[rings.starts[np.searchsorted(rings.panels, np.arange(len(drawing.names)))]]]
    origins, axes = frames_of(regions.planes, lowest)
    frames = [Frame(origin=origin, axes=axis) for origin, axis in zip(origins, axes, strict=True)]
    borders, rings, drawn_holes = _without_drawn_holes(drawing, borders, rings, frames)
    areas = np.bincount(rings.panels, weights=_ring_areas(drawing, rings), minlength=len(frames)).astype(np.float64)
    used = np.unique(rings.corners)
    shell_of, shells = _shells(name, drawing, borders)
    corners, edges = _frozen(np.searchsorted(used, rings.corners)), _frozen(rings.edges)
    spans = list(zip(rings.starts[:-1].tolist(), rings.starts[1:].tolist(), strict=True))
    of_panel = np.searchsorted(rings.panels, np.arange(len(areas) + 1)).tolist()
    by_panel = np.lexsort((surface.sources, regions.label))
    faces = surface.sources[by_panel].tolist()
    face_spans = np.searchsorted(regions.label[by_panel], np.arange(len(areas) + 1)).tolist()
    panels = tuple(
        Panel(
            name=drawing.names[i],
            frame=frames[i],
            rings=tuple(corners[a:b] for a, b in spans[of_panel[i] : of_panel[i + 1]]),
            edges=tuple(edges[a:b] for a, b in spans[of_panel[i] : of_panel[i + 1]]),
            faces=tuple(faces[face_spans[i] : face_spans[i + 1]]),
            shell=shell,
            area=area,
            thickness=metal.thickness,
            metal_side=metal.metal_side,
        )
        for i, (shell, area, metal) in enumerate(zip(shell_of.tolist(), areas.tolist(), drawing.metals, strict=True))
    )
    return Envelope(
        name=name,
        points=_frozen(surface.points[used]),
        origin=_frozen(surface.origin),
        panels=panels,
        edges=_edges(drawing, borders, used),
        shells=shells,
        notes=(),
        drawn_holes=drawn_holes,
    )


def _sorted_rings(drawing: Drawing, rings: Rings) -> Rings:
    """The rings by panel, the outer of each first, then its holes by their lowest corner. Raises InputError
    for panels without a clear outline."""
    count, sizes = len(drawing.names), np.diff(rings.starts)
    areas = _ring_areas(drawing, rings)
    outer = np.bincount(rings.panels, weights=areas > 0, minlength=count)
    unclear = np.unique(np.concatenate([rings.panels[sizes < 3], np.flatnonzero(outer != 1)]))
    if len(unclear):
        raise InputError.several(_unclear(drawing, panel) for panel in unclear)
    return _some_rings(rings, np.lexsort((rings.corners[rings.starts[:-1]], areas < 0, rings.panels)))


def _some_rings(rings: Rings, order: Index) -> Rings:
    places, _ = spread(rings.starts, order)
    return Rings(
        panels=rings.panels[order],
        starts=np.concatenate([[0], np.cumsum(np.diff(rings.starts)[order])]),
        corners=rings.corners[places],
        edges=rings.edges[places],
    )


def _ring_areas(drawing: Drawing, rings: Rings) -> Reals:
    """(r,) the area in mm2 that each ring encloses in its panel's plane; holes have less than none."""
    points = drawing.surface.points[rings.corners]
    base = np.repeat(points[rings.starts[:-1]], np.diff(rings.starts), axis=0)
    fans = 0.5 * np.cross(points - base, points[next_in_rows(rings.starts)] - base)
    vectors = np.add.reduceat(fans, rings.starts[:-1], axis=0)
    return np.asarray(np.einsum("ij,ij->i", vectors, drawing.regions.planes.normals[rings.panels]))


def _without_drawn_holes(
    drawing: Drawing, borders: Borders, rings: Rings, frames: list[Frame]
) -> tuple[Borders, Rings, tuple[DrawnHole, ...]]:
    """The borders and (sorted) rings without the holes round which every edge is free, and those holes."""
    hole = np.concatenate([[False], rings.panels[1:] == rings.panels[:-1]])     # the first is the outer one
    free = borders.panels[rings.edges, 1] == FREE
    hole &= np.logical_and.reduceat(free, rings.starts[:-1])
    if not hole.any():
        return borders, rings, ()
    gone = _some_rings(rings, np.flatnonzero(hole))
    kept = np.ones(len(borders.panels), dtype=bool)
    kept[gone.edges] = False
    number = np.where(kept, np.cumsum(kept) - 1, FREE)
    drawn_as = _drawn_as(drawing, borders.run, len(kept))
    points = drawing.surface.points[gone.corners]
    holes = tuple(
        DrawnHole(
            panel=int(panel),
            points=_frozen(frames[panel].flat(points[a:b])),
            mesh_edges=tuple(sorted(pair for edge in gone.edges[a:b].tolist() for pair in drawn_as[edge])),
        )
        for panel, a, b in zip(gone.panels, gone.starts[:-1], gone.starts[1:], strict=True)
    )
    rest = _some_rings(rings, np.flatnonzero(~hole))
    rest = replace(rest, edges=number[rest.edges])
    run = np.where(borders.run == FREE, FREE, number[borders.run])
    return Borders(panels=borders.panels[kept], ends=borders.ends[kept], run=run, rings=rest), rest, holes


def _unclear(drawing: Drawing, panel: int) -> InputError:
    face = int(np.flatnonzero(drawing.regions.label == panel)[0])
    return InputError(
        f"Panel '{drawing.names[panel]}' has no clear outline: a side or a hole without width",
        where=drawing.surface.where(int(drawing.surface.corners[drawing.surface.starts[face]])),
        do="Draw it wider, or delete it.",
        faces=np.sort(drawing.surface.sources[drawing.regions.label == panel]),
    )


def frames_of(planes: Planes, corners: Reals) -> tuple[Reals, Reals]:
    """(p, 3) origins, the given corner of each panel brought onto its plane, and (p, 3, 3) axes: u level and
    to the right for who looks at the panel from outside, v up; for level panels u along x."""
    n = planes.normals
    origins = corners - n * np.einsum("ij,ij->i", corners - planes.centres, n)[:, None]
    u = np.stack([-n[:, 1], n[:, 0], np.zeros(len(n))], axis=1)             # z cross n
    level = np.linalg.norm(u, axis=1) < _LEVEL
    u[level] = np.array([1.0, 0.0, 0.0]) - n[level] * n[level][:, :1]
    u /= np.linalg.norm(u, axis=1)[:, None]
    return _frozen(origins), _frozen(np.stack([u, np.cross(n, u), n], axis=1))


def _edges(drawing: Drawing, borders: Borders, used: Index) -> tuple[Edge, ...]:
    """The records of all edges, with their angles and the mesh edges that they were drawn as."""
    points, normals = drawing.surface.points, drawing.regions.planes.normals
    free = borders.panels[:, 1] == FREE
    along = points[borders.ends[:, 1]] - points[borders.ends[:, 0]]
    na = normals[borders.panels[:, 0]]
    nb = np.where(free[:, None], na, normals[borders.panels[:, 1]])
    across = np.cross(na, nb)
    turn = np.linalg.norm(across, axis=1) * np.sign(np.einsum("ij,ij->i", across, along))
    # The normals turn by this much about the edge, left-handed where the surface is hollow there.
    angles = 180.0 - np.degrees(np.arctan2(turn, np.einsum("ij,ij->i", na, nb)))
    angles[free] = 0.0
    drawn_as = _drawn_as(drawing, borders.run, len(along))
    ends = np.searchsorted(used, borders.ends).tolist()
    return tuple(
        Edge(
            panels=(a,) if b == FREE else (a, b),
            start=ends[i][0],
            end=ends[i][1],
            angle=angle,
            mesh_edges=drawn_as[i],
        )
        for i, ((a, b), angle) in enumerate(zip(borders.panels.tolist(), angles.tolist(), strict=True))
    )


def _drawn_as(drawing: Drawing, run: Index, count: int) -> list[tuple[tuple[int, int], ...]]:
    """For each edge the mesh edges that it was drawn as."""
    sides = np.flatnonzero(run != FREE)
    drawn = np.unique(np.column_stack([run[sides], drawing.surface.drawn[sides]]), axis=0)
    split = np.searchsorted(drawn[:, 0], np.arange(count + 1)).tolist()
    pairs = [(a, b) for _, a, b in drawn.tolist()]
    return [tuple(pairs[a:b]) for a, b in itertools.pairwise(split)]


def _shells(name: str, drawing: Drawing, borders: Borders) -> tuple[Index, tuple[Shell, ...]]:
    """(p,) the shell of each panel, and the shells, in the order of their first panels. A drawn hole, whose
    edges are gone from the borders, does not open a shell."""
    surface, mates, label = drawing.surface, drawing.mates, drawing.regions.label
    of_face, count = numbered(shell_labels(surface, mates))
    of_panel = np.zeros(len(drawing.names), dtype=np.int64)
    of_panel[label] = of_face
    _, first = np.unique(of_panel, return_index=True)
    rank = np.empty(count, dtype=np.int64)
    rank[np.argsort(first)] = np.arange(count)
    of_panel = rank[of_panel]
    rim = (mates == FREE) & (borders.run != FREE)
    open_ones = set(rank[of_face[surface.owner[rim]]].tolist())
    members = np.argsort(of_panel, kind="stable")
    split = np.searchsorted(of_panel[members], np.arange(1, count))
    return of_panel, tuple(
        Shell(
            name=name if count == 1 else f"{name} {i + 1}",
            panels=tuple(own.tolist()),
            closed=i not in open_ones,
        )
        for i, own in enumerate(np.split(members, split))
    )


def _frozen(array: NDArray[_Number]) -> NDArray[_Number]:
    array.setflags(write=False)
    return array
