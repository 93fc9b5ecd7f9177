"""Inner faces merged into flat panels, each with its name, its metal and its frame.

Where several inner faces meet at an edge, those that run straight on through it belong together: two baffles
drawn crossing are two panels, each of two halves.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from ..shapes.boxes import overlapping_boxes
from ..shapes.connectivity import spread
from ..shapes.frame import Frame
from ..terms import tolerance
from ..terms.choices import Choices
from ..terms.errors import InputError
from ..terms.messages import Area, Length
from ..terms.places import place
from .envelope import InnerPanel
from .envelope_records import Drawing, frames_of
from .mending import broken_at_points
from .mesh import Mesh
from .orientation import turned_over, turns_to_agree
from .outside import inward_of_sides
from .panel_choices import face_kinds, name_inner_panels, panel_metal
from .panel_edges import corners_of
from .panels import Regions, find_panels
from .planes import Planes
from .surface import FaceMeasures, Surface, measure
from .topology import FREE, sides_by_edge

__all__ = ["find_inner_panels", "record_inner_panels"]

Index = NDArray[np.int64]
Reals = NDArray[np.float64]
Mask = NDArray[np.bool_]

_MOST = 20
"""Faults of one kind that are told one by one."""


def find_inner_panels(
    mesh: Mesh, choices: Choices, surface: Surface, called: Mapping[int, str], taken: Iterable[str]
) -> Drawing:
    """Inner faces, mended by themselves, merged into panels; the names are those that choices find them by.

    The normal of a panel is that of its largest face as drawn. called: by mesh face, the name by which a choice
    made it part of an inner panel. taken: the names of the walls.
    """
    surface = broken_at_points(surface, every_side=True)
    kinds = _kinds(mesh, choices, surface.sources, called)
    turned, twisted = turns_to_agree(surface, _mates(surface, kinds))
    turned &= ~twisted
    agreeing = turned_over(surface, turned)
    mates = _mates(agreeing, kinds)
    regions = _as_drawn(find_panels(agreeing, mates, kinds), measure(agreeing).areas, turned)
    _, first = np.unique(regions.label, return_index=True)
    face_of = surface.sources[first]
    names = name_inner_panels(mesh, choices, regions, face_of, called, taken)
    return Drawing(
        surface=agreeing,
        mates=mates,
        regions=regions,
        names=names,
        metals=panel_metal(mesh, choices, names, face_of, metal_side="centred"),
    )


def record_inner_panels(drawing: Drawing) -> tuple[InnerPanel, ...]:
    """The records of the inner panels, those left out by name not among them. Raises InputError for panels whose
    faces overlap, and for panels that coincide."""
    surface, label = drawing.surface, drawing.regions.label
    by_panel = np.argsort(label, kind="stable")
    members = np.split(by_panel, np.searchsorted(label[by_panel], np.arange(1, len(drawing.names))))
    lowest = surface.points[[int(_sides(surface, faces)[1].min()) for faces in members]]
    origins, axes = frames_of(drawing.regions.planes, lowest)
    panels = []
    shapes = []
    for index, (faces, name, metal) in enumerate(zip(members, drawing.names, drawing.metals, strict=True)):
        if metal.left_out:
            continue
        frame = Frame(origin=origins[index], axes=axes[index])
        shape = _outline(surface, faces, frame, name, float(drawing.regions.planes.areas[index]))
        sides, _ = _sides(surface, faces)
        drawn, first = np.unique(surface.drawn[sides], axis=0, return_index=True)
        ends = np.stack([surface.corners[sides[first]], surface.ends[sides[first]]], axis=1)
        shapes.append(shape)
        panels.append(InnerPanel(
            name=name,
            frame=frame,
            rings=_rings(shape),
            faces=tuple(np.sort(surface.sources[faces]).tolist()),
            area=float(shape.area),
            thickness=metal.thickness,
            metal_side=metal.metal_side,
            limber=metal.limber,
            mesh_edges=tuple((int(a), int(b)) for a, b in drawn),
            edge_ends=frame.flat(surface.points[ends.reshape(-1)]).reshape(-1, 2, 2),
        ))
    _check_coincident(panels, shapes, surface.origin)
    return tuple(panels)


def _kinds(mesh: Mesh, choices: Choices, sources: Index, called: Mapping[int, str]) -> Index:
    """(f,) numbers that differ where two faces may not be one inner panel."""
    limber = [choices.faces[f].limber if f in choices.faces else None for f in sources.tolist()]
    keys = zip(face_kinds(mesh, choices, sources).tolist(), limber, map(called.get, sources.tolist()), strict=True)
    seen: dict[tuple[int, float | None, str | None], int] = {}
    return np.array([seen.setdefault(key, len(seen)) for key in keys], dtype=np.int64)


def _mates(surface: Surface, kinds: Index) -> Index:
    """(k,) for each side the side of the face of its kind that runs straight on through the edge, FREE where
    none does. Of several the straightest is taken first."""
    measures = measure(surface)
    order, heads, counts = sides_by_edge(surface)
    mates = np.full(len(order), FREE, dtype=np.int64)
    a, b = _pairs(order, heads, counts)
    inward, owner = inward_of_sides(surface, measures), surface.owner
    straight = -np.einsum("ij,ij->i", inward[a], inward[b])
    sliver = _slivers(measures)[owner]
    alone = np.repeat(counts, counts * (counts - 1) // 2) == 2
    able = kinds[owner[a]] == kinds[owner[b]]
    able &= (straight > np.cos(np.radians(tolerance.NOISY_ANGLE))) | (alone & (sliver[a] | sliver[b]))
    able &= owner[a] != owner[b]
    a, b, straight = a[able], b[able], straight[able]
    for row in np.lexsort((b, a, -np.round(straight, 9))).tolist():
        if mates[a[row]] == FREE and mates[b[row]] == FREE:
            mates[a[row]], mates[b[row]] = b[row], a[row]
    return mates


def _pairs(order: Index, heads: Index, counts: Index) -> tuple[Index, Index]:
    """All pairs of sides that share an edge, edge by edge."""
    local = np.arange(len(order)) - np.repeat(heads, counts)
    before = np.arange(int(local.sum())) - np.repeat(np.cumsum(local) - local, local)
    first = np.repeat(np.repeat(heads, counts), local) + before
    return order[first], order[np.repeat(np.arange(len(order)), local)]


def _slivers(measures: FaceMeasures) -> Mask:
    height = 2.0 * measures.areas / measures.lengths
    return np.asarray((height < tolerance.SLIVER) & (height < measures.lengths / 10.0))


def _as_drawn(regions: Regions, areas: Reals, turned: Mask) -> Regions:
    """The regions with each normal the way the largest face was drawn, of equal ones the first."""
    order = np.lexsort((np.arange(len(areas)), -np.round(areas, 1), regions.label))
    largest = order[np.searchsorted(regions.label[order], np.arange(len(regions.planes.areas)))]
    planes = regions.planes
    normals = np.where(turned[largest][:, None], -planes.normals, planes.normals)
    return Regions(
        label=regions.label,
        planes=Planes(centres=planes.centres, normals=normals, areas=planes.areas, off=planes.off),
    )


def _sides(surface: Surface, faces: Index) -> tuple[Index, Index]:
    """The sides of the given faces, and the point where each starts."""
    sides, _ = spread(surface.starts, faces)
    return sides, surface.corners[sides]


def _outline(surface: Surface, faces: Index, frame: Frame, name: str, drawn_area: float) -> shapely.Polygon:
    """The region that faces fill in the frame's plane, its corners where it turns."""
    _, corners = _sides(surface, faces)
    starts = np.concatenate([[0], np.cumsum(surface.counts[faces])])
    flat = frame.flat(surface.points[corners])
    pieces = shapely.polygons(
        shapely.linearrings(flat, indices=np.repeat(np.arange(len(faces)), np.diff(starts))),
        indices=np.arange(len(faces)),
    )
    whole = shapely.union_all(shapely.make_valid(pieces))
    parts = [p for p in shapely.get_parts(whole) if p.geom_type == "Polygon" and p.area > tolerance.NO_AREA]
    where = place(surface.points[corners].mean(axis=0) + surface.origin)
    found = np.sort(surface.sources[faces])
    if len(parts) != 1:
        raise InputError(
            f"Inner plate '{name}' has no clear outline", where=where, do="Draw its faces anew.", faces=found)
    double = drawn_area - float(whole.area)
    if abs(double) > tolerance.FLAT * float(whole.length):
        raise InputError(
            f"Faces of inner plate '{name}' overlap", where=where, by=f"{Area(double):.3f}",
            do="Delete the faces that lie on others.", faces=found)
    outer = shapely.geometry.polygon.orient(parts[0])
    rings = [_straightened(np.asarray(ring.coords)) for ring in (outer.exterior, *outer.interiors)]
    if len(rings[0]) < 3:
        raise InputError(
            f"Inner plate '{name}' has no clear outline: a side without width", where=where,
            do="Draw it wider, or delete it.", faces=found)
    return shapely.Polygon(rings[0], [ring for ring in rings[1:] if len(ring) >= 3])


def _straightened(chain: Reals) -> Reals:
    """(k, 2) the corners at which a closed chain turns, from the lowest on."""
    ring = chain[corners_of(chain)]
    lowest = np.lexsort((np.round(ring[:, 0], 2), np.round(ring[:, 1], 2)))[0]
    return np.roll(ring, -lowest, axis=0)


def _rings(shape: shapely.Polygon) -> tuple[Reals, ...]:
    rings = [np.array(ring.coords)[:-1] for ring in (shape.exterior, *shape.interiors)]
    holes = sorted(rings[1:], key=lambda ring: (round(float(ring[0, 1]), 2), round(float(ring[0, 0]), 2)))
    for ring in rings:
        ring.setflags(write=False)
    return (rings[0], *holes)


def _check_coincident(panels: Sequence[InnerPanel], shapes: Sequence[shapely.Polygon], origin: Reals) -> None:
    """Refuse inner panels that take the same place: parallel, their drawn planes nearer than half the sum of
    their thicknesses, one over the other."""
    if len(panels) < 2:
        return
    solid = [panel.frame.solid(panel.rings[0]) for panel in panels]
    room = np.array([panel.thickness / 2.0 for panel in panels])[:, None]
    pairs = overlapping_boxes(
        np.array([s.min(axis=0) for s in solid]) - room, np.array([s.max(axis=0) for s in solid]) + room)
    normals = np.array([panel.frame.axes[2] for panel in panels])
    leaning = np.linalg.norm(np.cross(normals[pairs[:, 0]], normals[pairs[:, 1]]), axis=1)
    errors = []
    for a, b in pairs[leaning < np.sin(np.radians(tolerance.FLAT_ANGLE))].tolist():
        one, two = panels[a], panels[b]
        rings = [one.frame.flat(two.frame.solid(ring)) for ring in two.rings]
        shared = shapely.intersection(shapes[a], shapely.Polygon(rings[0], rings[1:]))
        if shared.area <= max(tolerance.VANISH, tolerance.FLAT * shared.length):
            continue
        at = one.frame.solid(np.asarray(shared.centroid.coords))[0]
        apart = abs(float((at - two.frame.origin) @ two.frame.axes[2]))
        least = (one.thickness + two.thickness) / 2.0
        if apart < least:
            errors.append(InputError(
                f"Inner plates '{one.name}' and '{two.name}' coincide: they are drawn {Length(apart):.3g} apart over "
                f"{Area(shared.area):.4g}, and their metal takes {Length(least):g}",
                where=f"about {place(at + origin)}",
                do="Delete one of them, or move them apart.",
                faces=one.faces + two.faces,
            ))
    if errors:
        raise InputError.several(errors[:_MOST])
