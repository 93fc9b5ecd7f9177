"""One inner plate put on what it stands on: its rings, its limber holes and the tees along its sides."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray

from ..envelope.envelope import Envelope, InnerPanel
from ..plates.plates import Plate
from ..plates.tab_sizes import web_of
from ..shapes.outline import Outline
from ..shapes.ring_features import Bite, featured
from ..terms import tolerance
from ..terms.findings import Finding
from ..terms.messages import Length
from ..terms.places import point_at
from .crossed_plates import Part
from .limber import sniped
from .noses import blunted, nose_of
from .tee_choices import TeeRules
from .tee_tabs import Tee
from .tees import FREE, TOUCHING, Faces, StandingRing, TeeLines, nearest_face, stand, tee_lines

__all__ = ["Ground", "InnerPlate", "Stood", "stand_plate"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class InnerPlate:
    """One inner plate without tabs. panel: of the envelope's inner panels. plate: as it is now. rings: its outline,
    the outer first, with the faces that the sides stand on. bites: (ring, limber hole), once the openings are known.
    whole: its shape before crossings were cut."""

    panel: int
    plate: Plate
    rings: tuple[StandingRing, ...]
    bites: tuple[tuple[int, Bite], ...]
    whole: shapely.Polygon


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ground:
    """What one plate can stand on: usable (w,) of the faces, and all that blocks it. names: of all plates' panels."""

    faces: Faces
    usable: NDArray[np.bool_]
    stop: shapely.Geometry
    names: Sequence[str]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stood:
    """A plate with its tees and their sides (row, ring, side), and notes."""

    inner: InnerPlate
    tees: list[Tee]
    sides: list[tuple[int, int, int]]
    notes: list[Finding]


def stand_plate(envelope: Envelope, part: Part, row: int, ground: Ground, rules: TeeRules) -> Stood | None:
    """One plate with its sides put on what they stand on; None where nothing is left of it."""
    panel, faces, number = envelope.inner[part.panel], ground.faces, part.number
    lines = tee_lines(panel.frame, panel.low, panel.thickness, faces)
    lines = replace(lines, offset=np.where(ground.usable, lines.offset, np.inf))
    gaps = np.array([rules.root_gap(panel.name, ground.names[p]) for p in faces.plate.tolist()])
    stood = stand(part.shape, ground.stop, panel.frame, lines, faces, gaps)
    if not stood or len(stood[0].points) < 3:
        return None
    nose = nose_of(rules.nose, panel.thickness)
    blunt = [blunted(sniped(ring, panel.limber, web_of(panel.thickness)), nose) for ring in stood]
    rings = tuple(ring for ring, _ in blunt)
    tees: list[Tee] = []
    sides: list[tuple[int, int, int]] = []
    notes: list[Finding] = list(_noses(part, panel, nose, [tip for _, tips in blunt for tip in tips]))
    for r, ring in enumerate(rings):
        for side, face in enumerate(ring.face.tolist()):
            ends = ring.points[side], ring.points[(side + 1) % len(ring.points)]
            length = float(np.linalg.norm(ends[1] - ends[0]))
            if face == FREE or length < panel.thickness:
                continue                                 # shorter ones are corners cut by a third wall, no joints
            if face == TOUCHING:
                touched = _touched(Side(panel=panel, number=number, name=part.name, ends=ends), lines, ground, rules)
                notes += touched.notes
                if touched.tee is None:
                    continue
                tee = touched.tee
            else:
                tee = _tee(
                    Side(panel=panel, number=number, name=part.name, ends=ends), face, 0, lines, ground, rules)
            tees.append(tee)
            sides.append((row, r, side))
    order = sorted(range(len(tees)), key=lambda t: tuple(np.round(tees[t].line.mean(axis=0)[::-1], 3).tolist()))
    tees, sides = [tees[t] for t in order], [sides[t] for t in order]      # whichever way the rings are wound
    outline = Outline(
        outer=featured(rings[0].points, (), ()),
        holes=tuple(featured(ring.points, (), ()) for ring in rings[1:]),
    )
    plate = Plate(name=part.name, number=number, outline=outline, frame=panel.frame,
                  thickness=panel.thickness, low=panel.low, role="inner", faces=panel.faces,
                  metal_side=panel.metal_side)
    inner = InnerPlate(panel=part.panel, plate=plate, rings=rings, bites=(), whole=part.whole)
    return Stood(inner=inner, tees=tees, sides=sides, notes=notes)


def _noses(part: Part, panel: InnerPanel, height: float, tips: Sequence[Floats]) -> Iterator[Finding]:
    """One note about all points of a plate that were cut off."""
    if tips:
        count = "a point" if len(tips) == 1 else f"{len(tips)} points"
        yield Finding(
            rule="nose_blunted", level="note", panels=(part.number,), faces=panel.faces,
            at=point_at(panel.frame.solid(tips[0][None])[0]),
            message=f"'{part.name}' ran out in {count} along what it stands on, which would burn away in the weld: cut "
            f"square there, up to {Length(height):.1f} high.")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Side:
    """One side of an inner plate. number, name: the plate's. ends: (2,) each, its metal on the left."""

    panel: InnerPanel
    number: int
    name: str
    ends: tuple[Floats, Floats]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Touched:
    tee: Tee | None
    notes: list[Finding]


def _touched(side: Side, lines: TeeLines, ground: Ground, rules: TeeRules) -> _Touched:
    """A side against something that it cannot stand on squarely: on an edge it is a joint without tabs; a face that
    it meets too sharply is said."""
    panel, ends, faces = side.panel, side.ends, ground.faces
    middle = (ends[0] + ends[1])[None] / 2
    heights = panel.low + panel.thickness * np.array([0.0, 0.5, 1.0])
    places = np.concatenate([panel.frame.solid(middle, height) for height in heights.tolist()])
    face, arris = nearest_face(places, faces, ground.usable)
    if face < 0:
        return _Touched(tee=None, notes=[])
    wall, angle = int(faces.plate[face]), float(lines.angle[face])
    at, length = point_at(places[arris]), float(np.linalg.norm(ends[1] - ends[0]))
    if angle < tolerance.SHARPEST:
        return _Touched(tee=None, notes=[Finding(
            rule="tee_too_sharp", level="warning", panels=(side.number, wall), faces=panel.faces, at=at,
            message=f"'{side.name}' meets '{ground.names[wall]}' at {angle:.1f} degrees along {Length(length):.0f}: "
            f"sharper than {tolerance.SHARPEST:g} no torch reaches the root, so it is no joint of the kit. Turn it up, "
            "or let it end on another plate.")])
    tee = _tee(side, face, min(arris, 1), lines, ground, rules, on_edge=True)
    return _Touched(tee=tee, notes=[Finding(
        rule="tee_on_edge", level="note", panels=(side.number, wall), faces=panel.faces, at=at,
        edges=tee.mesh_edges,
        message=f"'{side.name}' touches an edge of '{ground.names[wall]}' along {Length(length):.0f}: a joint without "
        "tabs. Hold it by its other joints when tacking.")])


def _tee(
    side: Side, face: int, arris: int, lines: TeeLines, ground: Ground, rules: TeeRules, *, on_edge: bool = False
) -> Tee:
    panel, faces = side.panel, ground.faces
    wall = int(faces.plate[face])
    start, end = side.ends
    angle = float(lines.angle[face])
    height = (panel.low, panel.low + panel.thickness)[arris] if on_edge else float(lines.heights[face, arris])
    drawn = _drawn_as(panel, start, end, rules.reach + float(faces.thickness[face]))
    choice = rules.choice(panel.name, ground.names[wall], drawn)
    gap = 0.0 if on_edge else rules.root_gap(panel.name, ground.names[wall])
    along = (end - start) / np.linalg.norm(end - start)
    away = np.array([along[1], -along[0]]) if on_edge else lines.away[face]
    touching = np.array([start, end])
    if not on_edge:
        touching += (lines.offset[face] - touching @ away)[:, None] * away
    line = panel.frame.solid(touching, height)
    n, wall_frame = panel.frame.axes[2], faces.frames[face]
    over = n if height == panel.low else -n                  # from the touching arris to the other one
    normal = faces.normal[face]
    lean = wall_frame.axes[:2] @ (over - (over @ normal) * normal)
    rule = rules.tabs(choice)
    return Tee(
        plate=side.number, wall=wall, start=start, end=end, away=away, line=line, angle=angle, root_gap=gap,
        fit_gap=rules.fit_gap(choice), thickness_gap=rules.thickness_gap(panel.thickness), flat=wall_frame.flat(line),
        lean=lean / max(float(np.linalg.norm(lean)), tolerance.RELATIVE),
        thickness=panel.thickness, wall_thickness=float(faces.thickness[face]),
        short=rules.short(wall, float(faces.thickness[face])),
        rule=replace(rule, on=False) if on_edge else rule, shift=rules.shift(drawn), mesh_edges=drawn, on_edge=on_edge,
        idle=rules.idle(panel.name, ground.names[wall], drawn),
    )


def _drawn_as(panel: InnerPanel, start: Floats, end: Floats, near: float) -> tuple[tuple[int, int], ...]:
    """The mesh edges that a side was drawn as: along it, within `near` mm, the nearest first."""
    length = float(np.linalg.norm(end - start))
    along = (end - start) / length
    away = np.array([along[1], -along[0]])
    x, y = (panel.edge_ends - start) @ along, (panel.edge_ends - start) @ away
    overlap = np.minimum(x.max(axis=1), length) - np.maximum(x.min(axis=1), 0.0)
    off = np.abs(y).max(axis=1)
    slant = np.abs(y[:, 1] - y[:, 0]) <= np.abs(x[:, 1] - x[:, 0])
    rows = np.flatnonzero((overlap > 0.0) & slant & (off < near))
    order = rows[np.lexsort((rows, off[rows]))]
    return tuple(panel.mesh_edges[row] for row in order.tolist())
