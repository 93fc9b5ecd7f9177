"""The space inside an envelope that inner plates have, and what of a plate's plane it leaves free.

A wall takes its panel's prism from the outer to the inner surface; along a re-entrant edge the wedge
between two such prisms belongs to the weld and is taken too. What remains of the envelope is the room.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely
from manifold3d import CrossSection, FillRule, Manifold, Mesh64, OpType, triangulate
from numpy.typing import NDArray

from ..envelope.envelope import Edge, Envelope, Panel
from ..plates.section import crossing
from ..shapes.frame import Frame
from ..shapes.motions import undone
from ..shapes.rings import shared
from ..terms import tolerance

__all__ = ["Blocked", "Room", "blocked", "panel_polygon", "prism", "room_of", "shadow", "shell_solid"]

Floats = NDArray[np.float64]


CRUMB = 1.0
"""mm3: a part of the space smaller than this is rounding, not room."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Room:
    """space: what closed shells leave inside, one solid for all of them. walls: what the walls of open shells take:
    they alone bound what stands in these. None where there is no such shell."""

    walls: Manifold | None
    space: Manifold | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Blocked:
    """slab: the solid of all that a plate could take up. stop: the part of its plane that it may not."""

    slab: Manifold
    stop: shapely.Geometry


def panel_polygon(envelope: Envelope, panel: Panel) -> shapely.Polygon:
    """The panel as drawn, in its own plane, drawn holes closed."""
    rings = [panel.frame.flat(envelope.points[ring]) for ring in panel.rings]
    return shapely.Polygon(rings[0], rings[1:])


def prism(shape: shapely.Geometry, frame: Frame, low: float, high: float) -> Manifold:
    """The solid over a shape of the frame's plane, between two heights over it, mm."""
    rings = [
        np.asarray(ring.coords)[:-1].tolist()
        for part in shapely.get_parts(shape) if part.geom_type == "Polygon"
        for ring in (part.exterior, *part.interiors)
    ]
    if not rings or high <= low:
        return Manifold()
    matrix = frame.matrix()
    matrix[:3, 3] += low * frame.axes[2]
    return Manifold.extrude(CrossSection(rings, FillRule.EvenOdd), high - low).transform(matrix[:3])


def room_of(envelope: Envelope) -> Room:
    """The room of an envelope, recentred as its points are."""
    closed = [i for i, shell in enumerate(envelope.shells) if shell.closed]
    is_closed = [envelope.shells[panel.shell].closed for panel in envelope.panels]
    walls = [
        prism(panel_polygon(envelope, p), p.frame, -p.inner, -p.outer) if p.inner > 0 or not shut else None
        for p, shut in zip(envelope.panels, is_closed, strict=True)
    ]
    wedges = [(e.panels[0], _wedge(envelope, e, "inner")) for e in envelope.edges if not e.free]
    wedges += [
        (e.panels[0], _wedge(envelope, e, "outer"))
        for e in envelope.edges if not e.free and not is_closed[e.panels[0]]]
    solids = [*enumerate(walls), *wedges]
    metal = [
        Manifold.batch_boolean([s for p, s in solids if s is not None and is_closed[p] == shut], OpType.Add)
        for shut in (False, True)
    ]
    if not closed:
        return Room(walls=metal[0], space=None)
    whole = Manifold.batch_boolean([shell_solid(envelope, shell) for shell in closed], OpType.Add)
    # where the skins of three walls meet, rounding leaves crumbs that are no room for anything
    rooms = [part for part in (whole - metal[1]).decompose() if part.volume() > CRUMB]
    return Room(walls=None if all(is_closed) else metal[0], space=Manifold.compose(rooms))


def shell_solid(envelope: Envelope, shell: int) -> Manifold:
    """The solid inside a closed shell as drawn, from its panels' own corners, so that neighbours share them
    exactly."""
    triangles: list[NDArray[np.int64]] = []
    for index in envelope.shells[shell].panels:
        panel = envelope.panels[index]
        corners = np.concatenate(panel.rings)
        flat = [panel.frame.flat(envelope.points[ring]) for ring in panel.rings]
        triangles.append(corners[np.asarray(triangulate(flat), dtype=np.int64).reshape(-1, 3)])
    used, again = np.unique(np.concatenate(triangles), return_inverse=True)
    return Manifold(Mesh64(
        vert_properties=np.ascontiguousarray(envelope.points[used]),
        tri_verts=np.ascontiguousarray(again.reshape(-1, 3).astype(np.uint64))))


def _wedge(envelope: Envelope, edge: Edge, side: Literal["inner", "outer"]) -> Manifold | None:
    """What lies between the inner surfaces of two walls that meet at a re-entrant edge, or between the outer ones at
    a convex edge, and their prisms."""
    one, two = (envelope.panels[p] for p in edge.panels)
    sign = 1.0 if side == "inner" else -1.0
    deep = [sign * float(getattr(panel, side)) for panel in (one, two)]
    if sign * (edge.angle - 180.0) <= tolerance.SAME_WAY or max(deep) <= 0.0:
        return None
    ends = envelope.points[[edge.start, edge.end]]
    along = (ends[1] - ends[0]) / np.linalg.norm(ends[1] - ends[0])
    depths = [sign * value for value in deep]
    # where the surfaces cross lies this far into panel a, negative past the edge
    past = float(crossing(np.array([edge.angle]), np.array(depths[:1]), np.array(depths[1:]))[0])
    into = np.cross(one.frame.axes[2], along)
    tip = into * past - one.frame.axes[2] * depths[0]
    feet = [np.zeros(3), -one.frame.axes[2] * depths[0], -two.frame.axes[2] * depths[1], tip]
    corners = np.concatenate([ends + foot for foot in feet])
    hull = Manifold.hull_points(corners)
    return hull if hull.volume() > 0 else None


def blocked(room: Room, frame: Frame, low: float, high: float, drawn: shapely.Geometry, round_it: float) -> Blocked:
    """Where something stands in the way of a plate between the heights low and high, within `round_it` mm of the
    shape that was drawn of it.

    Seen as a shadow, so it is right at any tilt: its edge is where the nearer corner of a square end touches. A
    plate of which less than half is in a closed shell is taken to stand in an open one, if there is any.
    """
    area = shapely.buffer(drawn, round_it, join_style="mitre", mitre_limit=2.0)
    slab = prism(area, frame, low + tolerance.MERGE, high - tolerance.MERGE)
    ways = [slab - room.space] if room.space is not None else []
    ways += [slab ^ room.walls] if room.walls is not None else []
    for solid in ways:
        stop = shadow(solid, frame)
        if shared(stop, drawn).area < drawn.area / 2:
            break
    return Blocked(slab=slab, stop=stop)


def shadow(solid: Manifold, frame: Frame) -> shapely.Geometry:
    """A solid seen along the frame's normal, in the frame's plane. Where faces touch, an intersection has sheets
    without volume: they cast no shadow."""
    into = undone(frame.matrix())[:3]
    rings = [
        ring
        for part in solid.decompose() if part.volume() > tolerance.SPECK
        for ring in part.transform(into).project().to_polygons()
    ]
    if not rings:
        return shapely.Polygon()
    section = CrossSection([ring.tolist() for ring in rings], FillRule.Positive)
    return shapely.union_all([
        shapely.Polygon(loops[0], loops[1:])
        for loops in ([np.asarray(ring) for ring in part.to_polygons()] for part in section.decompose())
    ])
