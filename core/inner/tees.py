"""Where inner plates stand on walls, or on each other: sides of their outlines brought to the exact line at which
the nearer corner of a square end touches, the root gap kept."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray

from ..envelope.envelope import Envelope
from ..shapes.frame import Frame
from ..shapes.rings import cleaned, joined, less, rings_of, side_normals
from ..terms import tolerance
from .room import panel_polygon

__all__ = [
    "FREE", "TOUCHING", "Faces", "StandingRing", "TeeLines", "faces_of_plate", "joined_faces", "nearest_face", "stand",
    "tee_lines", "wall_faces",
]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

NEAR = 2 * tolerance.FLAT
"""mm: a side this near to a tee's line lies on it: the walls as drawn may be off their planes by FLAT."""

FREE, TOUCHING = -1, -2

UPRIGHT = 1e-9
"""Cosine of the angle below which a plate stands upright on a face: then both its arrises touch."""

WEDGE = 3.0
"""Thicknesses: how far the weld's wedge at a hollow edge reaches from the walls, but at the sharpest."""

SHORTEST = 0.5
"""mm: a stretch of a side shorter than this is no joint of its own."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Faces:
    """Faces on which a plate can stand, one row each. plate: index of the plate it belongs to. point, normal:
    (w, 3), the normal going into that plate's metal. thickness: (w,). shapes: in the plane of frames."""

    plate: Ints
    point: Floats
    normal: Floats
    thickness: Floats
    shapes: tuple[shapely.Geometry, ...]
    frames: tuple[Frame, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TeeLines:
    """For one plate, the line in its plane at which it would stand on each face. away: (w, 2) unit, towards the
    face; offset: (w,) the line is away . p = offset. heights: (w, 2) of the arrises that touch there over the
    plate's plane: one and the same, or both where the plate stands upright. angle: (w,) acute, degrees."""

    away: Floats
    offset: Floats
    heights: Floats
    angle: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StandingRing:
    """A ring of a plate. points: (k, 2). face: (k,) the face on which the side from each point stands, FREE where it
    stands on nothing, TOUCHING where it is against something that is no face it could stand on: an edge, or a face
    that it meets too sharply."""

    points: Floats
    face: Ints


def wall_faces(envelope: Envelope) -> Faces:
    """Both surfaces of all walls, the inner ones first."""
    panels = envelope.panels
    normal = np.array([p.frame.axes[2] for p in panels])
    origin = np.array([p.frame.origin for p in panels])
    shapes = tuple(shapely.buffer(panel_polygon(envelope, p), NEAR, join_style="mitre") for p in panels)
    return joined_faces([
        Faces(
            plate=np.arange(len(panels)),
            point=origin - normal * depth[:, None],
            normal=normal * into,
            thickness=np.array([p.thickness for p in panels]),
            shapes=shapes,
            frames=tuple(p.frame for p in panels),
        )
        for depth, into in ((np.array([p.inner for p in panels]), 1.0), (np.array([p.outer for p in panels]), -1.0))
    ])


def faces_of_plate(index: int, frame: Frame, low: float, thickness: float, shape: shapely.Geometry) -> Faces:
    """Both faces of a plate that lies between `low` and `low` + thickness over its frame."""
    n = frame.axes[2]
    wider = shapely.buffer(shape, NEAR, join_style="mitre")
    return Faces(
        plate=np.array([index, index]),
        point=np.array([frame.origin + low * n, frame.origin + (low + thickness) * n]),
        normal=np.array([n, -n]),
        thickness=np.array([thickness, thickness]),
        shapes=(wider, wider),
        frames=(frame, frame),
    )


def joined_faces(parts: Sequence[Faces]) -> Faces:
    return Faces(
        plate=np.concatenate([p.plate for p in parts]), point=np.concatenate([p.point for p in parts]),
        normal=np.concatenate([p.normal for p in parts]), thickness=np.concatenate([p.thickness for p in parts]),
        shapes=tuple(s for p in parts for s in p.shapes), frames=tuple(f for p in parts for f in p.frames),
    )


def tee_lines(frame: Frame, low: float, thickness: float, faces: Faces) -> TeeLines:
    """The lines at which a plate between `low` and `low` + thickness over its frame touches each face."""
    lean = faces.normal @ frame.axes[2]
    flat = faces.normal @ frame.axes[:2].T
    sine = np.linalg.norm(flat, axis=1)
    usable = np.maximum(sine, tolerance.RELATIVE)
    first = np.where(lean > UPRIGHT, low + thickness, low)
    second = np.where(lean < -UPRIGHT, low, low + thickness)
    reach = np.einsum("wi,wi->w", faces.normal, faces.point - frame.origin)
    return TeeLines(
        away=flat / usable[:, None], offset=(reach - first * lean) / usable, heights=np.column_stack([first, second]),
        angle=np.degrees(np.arctan2(sine, np.abs(lean))),
    )


def stand(
    shape: shapely.Polygon, stop: shapely.Geometry, frame: Frame, lines: TeeLines, faces: Faces, gap: Floats
) -> tuple[StandingRing, ...]:
    """The rings of a plate's outline with every side that lies on a face's line cut back to it, `gap` (w,) mm of
    root gap kept to that face. stop: all that blocks the plate. Nothing is added: a wall drawn a little off its
    plane leaves a little more gap. Empty where nothing is left."""
    back = gap / np.maximum(np.sin(np.radians(lines.angle)), tolerance.ROUNDING)
    strips = [strip for ring in rings_of(shape) for strip in _strips(ring, frame, lines, faces, back)]
    cut = cleaned(less(shape, joined(strips)))
    if not cut or cut[0].area < tolerance.VANISH:
        return ()
    moved = replace(lines, offset=lines.offset - back)
    rings = [_tagged(ring, stop, frame, moved, faces) for ring in rings_of(cut[0])]
    return (rings[0], *(ring for ring in rings[1:] if len(ring.points) >= 3))


def _strips(
    ring: Floats, frame: Frame, lines: TeeLines, faces: Faces, back: Floats
) -> list[shapely.Polygon]:
    """What to cut off: for every stretch that stands on a face, the ground from its line, moved back, outward."""
    normals = side_normals(ring)
    ahead = np.roll(ring, -1, axis=0) - ring
    turn = np.roll(ahead, 1, axis=0)[:, 0] * ahead[:, 1] - np.roll(ahead, 1, axis=0)[:, 1] * ahead[:, 0]
    convex = turn > 0
    out = []
    for i, here in enumerate(ring):
        follow = (i + 1) % len(ring)
        for begin, end, face in _stretches(here, ring[follow], normals[i], frame, lines, faces):
            if face < 0:
                continue
            away = lines.away[face]
            along = np.array([-away[1], away[0]])
            deep = back[face] + 3 * NEAR
            # past an outer corner there is nothing to spare; past an inner one there is metal that stays
            one = here + ahead[i] * begin - along * (5 * deep if begin == 0.0 and convex[i] else 0.0)
            two = here + ahead[i] * end + along * (5 * deep if end == 1.0 and convex[follow] else 0.0)
            base = lines.offset[face] - back[face]
            feet = [p + away * (base - away @ p) for p in (one, two)]
            out.append(shapely.Polygon([feet[0], feet[1], feet[1] + away * deep, feet[0] + away * deep]))
    return out


def _tagged(
    ring: Floats, stop: shapely.Geometry, frame: Frame, lines: TeeLines, faces: Faces
) -> StandingRing:
    """The ring, sides broken where what they stand on changes, each with its face."""
    normals = side_normals(ring)
    points: list[Floats] = []
    tags: list[int] = []
    for i, here in enumerate(ring):
        there = ring[(i + 1) % len(ring)]
        for begin, _, face in _stretches(here, there, normals[i], frame, lines, faces):
            points.append(here + (there - here) * begin)
            tags.append(face)
    corners, standing = np.array(points), np.array(tags, dtype=np.int64)
    # a straight run on one face is one side
    ahead = np.roll(corners, -1, axis=0) - corners
    before = corners - np.roll(corners, 1, axis=0)
    sine = before[:, 0] * ahead[:, 1] - before[:, 1] * ahead[:, 0]
    straight = np.abs(sine) < tolerance.SAME_WAY * np.linalg.norm(before, axis=1) * np.linalg.norm(ahead, axis=1)
    keep = ~(straight & (standing == np.roll(standing, 1)))
    corners, standing = corners[keep], standing[keep]
    ends = np.roll(corners, -1, axis=0)
    against = np.ones(len(corners), dtype=bool)
    for share in (0.1, 0.5, 0.9):
        against &= shapely.dwithin(shapely.points(corners + share * (ends - corners)), stop, NEAR)
    return StandingRing(points=corners, face=np.where((standing == FREE) & against, TOUCHING, standing))


def _stretches(
    here: Floats, there: Floats, normal: Floats, frame: Frame, lines: TeeLines, faces: Faces
) -> list[tuple[float, float, int]]:
    """A side cut where it begins and ceases to stand on a face: (from, to) as shares of its length, the face or
    FREE."""
    sharp = np.sin(np.radians(tolerance.SHARPEST - tolerance.ANGLE_NOISE))
    on = (lines.away @ normal > 0.999) & (np.sin(np.radians(lines.angle)) > sharp)
    off = np.maximum(np.abs(lines.away @ here - lines.offset), np.abs(lines.away @ there - lines.offset))
    found = np.flatnonzero(on & (off < NEAR))
    length = float(np.linalg.norm(there - here))
    spans: list[tuple[float, float, int]] = []
    for face in found[np.argsort(off[found], kind="stable")].tolist():
        for height in np.unique(lines.heights[face]).tolist():
            flat = faces.frames[face].flat(frame.solid(np.array([here, there]), height))
            run = shapely.intersection(shapely.LineString(flat), faces.shapes[face])
            for part in shapely.get_parts(run):
                if part.geom_type == "LineString" and part.length > min(SHORTEST, length / 2):
                    at = np.linalg.norm(np.asarray(part.coords)[[0, -1]] - flat[0], axis=1) / length
                    spans.append((float(at.min()), float(at.max()), face))
    out: list[tuple[float, float, int]] = []
    at = 0.0
    least = SHORTEST / max(length, tolerance.ROUNDING)
    for begin, end, face in _parted(spans):
        begin, end = max(begin, at), 1.0 if end > 1.0 - least / 10 else end
        if end - begin < min(least, 0.5):
            continue
        if begin - at > least / 10:
            out.append((at, begin, FREE))
        else:
            begin = at
        out.append((begin, end, face))
        at = end
    if at < 1.0 - tolerance.RELATIVE:
        out.append((at, 1.0, FREE))
    return out


def _parted(spans: list[tuple[float, float, int]]) -> list[tuple[float, float, int]]:
    """The spans from the first on, two that overlap parted in the middle of what they share, for they are a hair
    longer than their faces; one that lies in another comes after it."""
    out = sorted(spans, key=lambda span: (round(span[0], 9), -round(span[1], 9), span[2]))
    for k in range(len(out) - 1):
        (begin, end, face), (follow, last, other) = out[k], out[k + 1]
        if follow < end < last and begin < follow:
            out[k], out[k + 1] = (begin, (follow + end) / 2, face), ((follow + end) / 2, last, other)
    return out


def nearest_face(points: Floats, faces: Faces, usable: NDArray[np.bool_]) -> tuple[int, int]:
    """The usable face that one of the points (k, 3) is nearest to, and which of them; the face is -1 if all are
    farther than the weld's wedge at a hollow edge is wide."""
    best, found = np.inf, (-1, 0)
    for face in np.flatnonzero(usable).tolist():
        frame = faces.frames[face]
        off = np.abs((points - faces.point[face]) @ faces.normal[face])
        aside = shapely.distance(shapely.points(frame.flat(points)), faces.shapes[face])
        far = np.hypot(off, aside)
        if far.min() < min(best - tolerance.ROUNDING, WEDGE * faces.thickness[face]):
            best, found = float(far.min()), (face, int(far.argmin()))
    return found
