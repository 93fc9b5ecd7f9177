"""Inner plates: from the drawing inside an envelope to plates that stand on its walls and cross each other.

Everything here is before tabs: the outlines fitted to the room there is, crossings slotted, corners sniped,
and every side that stands on something known as a tee.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from manifold3d import Manifold
from numpy.typing import NDArray

from . import tolerance
from .choices import Choices
from .cross_slots import Crossing
from .crossed_plates import Part, cut_crossings
from .envelope import Envelope, InnerPanel
from .errors import InputError
from .findings import Finding
from .inner_meetings import Meetings, importance_key, inner_polygon, meetings_of, order_of
from .inner_outlines import fit_outline
from .limber import Bite, limber_bites, sniped
from .outline import Outline
from .places import place
from .plates import Plate
from .ring_features import featured
from .rings import polygon_parts
from .room import Room, blocked, prism, shadow
from .tee_choices import TeeRules
from .tee_tabs import Tee
from .tees import Faces, StandingRing, TeeLines, faces_of_plate, joined_faces, stand, tee_lines, wall_faces

__all__ = ["InnerPlate", "Inside", "fit_inner_plates"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

MOST_OUTSIDE = 0.5
"""Share of a drawn inner plate that may lie where nothing of it can be; with more the drawing is mistaken."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class InnerPlate:
    """One inner plate without tabs. panel: of the envelope's inner panels. plate: as it is now. rings: its outline,
    the outer first, with the faces that the sides stand on. bites: (ring, limber hole). whole: its shape before
    crossings were cut."""

    panel: int
    plate: Plate
    rings: tuple[StandingRing, ...]
    bites: tuple[tuple[int, Bite], ...]
    whole: shapely.Polygon


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Inside:
    """All that is inside an envelope. Plates are numbered after the walls, in the order of `plates`.

    crossings: with plate numbers in place of panel numbers. tees: of all inner plates; sides: (t, 3) for each the
    inner plate (row of `plates`), the ring and the side of it. ranks: by importance, one a plate.
    """

    plates: tuple[InnerPlate, ...]
    tees: tuple[Tee, ...]
    sides: Ints
    crossings: tuple[Crossing, ...]
    ranks: tuple[int, ...]
    findings: tuple[Finding, ...]


def fit_inner_plates(envelope: Envelope, room: Room, choices: Choices) -> Inside:
    """The inner plates of an envelope. Raises InputError, naming faces, for one that lies mostly outside, one
    that has no room, and cuts of crossings that run into each other."""
    panels, reach = envelope.inner, choices.settings.reach
    meetings = meetings_of(panels, reach)
    rules = TeeRules(envelope, choices)
    shapes, said = _fitted(envelope, room, meetings, reach)
    parts = [
        Part(panel=i, name=_name(envelope, i, n), whole=shape, shape=shape)
        for i in range(len(panels)) for n, shape in enumerate(shapes[i])
    ]
    parts, crossings = cut_crossings(envelope, parts, meetings, rules)
    faces = _all_faces(envelope, parts)
    plates: list[InnerPlate] = []
    tees: list[Tee] = []
    sides: list[tuple[int, int, int]] = []
    names = [p.name for p in envelope.panels] + [panels[p.panel].name for p in parts]
    for row, part in enumerate(parts):
        partners = {p for c in crossings for p in c.panels if len(envelope.panels) + row in c.panels}
        usable = ~np.isin(faces.plate, sorted({*partners, len(envelope.panels) + row}))
        inner, own, where = _standing(panels[part.panel], part, row, faces, usable, rules, names, len(envelope.panels))
        plates.append(inner)
        tees += own
        sides += where
    rules.refuse_unused(
        [(names[t.plate], names[t.wall]) for t in tees] + [(names[c.panels[0]], names[c.panels[1]]) for c in crossings])
    first = len(envelope.panels)
    findings = [
        replace(f, panels=tuple(first + r for r, part in enumerate(parts) if part.panel == i)) for i, f in said]
    findings += _loose(envelope, plates, tees, crossings, reach)
    order = sorted(range(len(parts)), key=lambda r: (importance_key(panels, parts[r].panel), -parts[r].shape.area, r))
    ranks = np.empty(len(parts), dtype=np.int64)
    ranks[np.array(order, dtype=np.int64)] = np.arange(len(parts))
    return Inside(
        plates=tuple(plates), tees=tuple(tees), sides=np.array(sides, dtype=np.int64).reshape(-1, 3),
        crossings=tuple(crossings), ranks=tuple(ranks.tolist()), findings=tuple(findings),
    )


def _name(envelope: Envelope, panel: int, part: int) -> str:
    """The panel's name; further parts of it are numbered from 2."""
    name = envelope.inner[panel].name
    if part == 0:
        return name
    taken = {p.name for p in envelope.panels} | {p.name for p in envelope.inner}
    numbered = f"{name} {part + 1}"
    while numbered in taken:
        numbered += "'"
    return numbered


def _fitted(
    envelope: Envelope, room: Room, meetings: Meetings, reach: float
) -> tuple[list[list[shapely.Polygon]], list[tuple[int, Finding]]]:
    """For every inner panel the parts that it becomes, and what there is to say about it."""
    panels = envelope.inner
    shapes: list[list[shapely.Polygon]] = [[] for _ in panels]
    said: list[tuple[int, Finding]] = []
    errors: list[InputError] = []
    walls = max(p.thickness for p in envelope.panels)
    for i in order_of(panels, meetings):
        panel = panels[i]
        drawn = inner_polygon(panel)
        found = blocked(room, panel.frame, panel.low, panel.low + panel.thickness, drawn,
                        2 * reach + walls + panel.thickness)
        free = shapely.difference(drawn, found.stop)
        others = [_solid(panels[b], shapes[b]) for a, b in sorted(meetings.ends) if a == i]
        stop = shapely.union_all([found.stop, *(shadow(found.slab ^ solid, panel.frame) for solid in others)])
        if free.area < (1 - MOST_OUTSIDE) * drawn.area:
            errors.append(_mostly_outside(envelope, panel, 1 - free.area / drawn.area))
            continue
        shapes[i] = fit_outline(drawn, stop, reach)
        if not shapes[i]:
            errors.append(_no_room(envelope, panel))
            continue
        said += [(i, f) for f in _said(envelope, panel, drawn, free, reach + walls, len(shapes[i]))]
    if errors:
        raise InputError.several(errors)
    return shapes, said


def _solid(panel: InnerPanel, shapes: Sequence[shapely.Polygon]) -> Manifold:
    """The metal of an inner panel, as fitted, or as drawn where that is not known yet."""
    whole = shapely.union_all(list(shapes)) if shapes else inner_polygon(panel)
    return prism(whole, panel.frame, panel.low, panel.low + panel.thickness)


def _mostly_outside(envelope: Envelope, panel: InnerPanel, share: float) -> InputError:
    return InputError(
        f"{100 * share:.0f} % of inner plate '{panel.name}' lies outside the envelope or in its walls",
        where=place(_middle(panel) + envelope.origin),
        do="Move it inside, or draw it smaller.",
        faces=panel.faces,
    )


def _no_room(envelope: Envelope, panel: InnerPanel) -> InputError:
    return InputError(
        f"Nothing is left of inner plate '{panel.name}' between the walls and the plates it ends on",
        where=place(_middle(panel) + envelope.origin),
        do="Draw it larger, or delete it.",
        faces=panel.faces,
    )


def _said(
    envelope: Envelope, panel: InnerPanel, drawn: shapely.Geometry, free: shapely.Geometry, usual: float,
    parts: int,
) -> list[Finding]:
    """What was done to a drawn plate that its user may not have meant."""
    out = []
    at = _at(envelope, _middle(panel))
    rings = [np.asarray(p.exterior.coords) for p in polygon_parts(drawn)]
    past = shapely.distance(shapely.points(np.concatenate(rings)), free).max()
    if past > usual:
        out.append(Finding(
            rule="inner_plate_trimmed", level="note", faces=panel.faces, at=at,
            message=f"Inner plate '{panel.name}' was drawn {past:.1f} mm past the walls' inner surface; what is "
            "outside is cut off."))
    if parts > 1:
        out.append(Finding(
            rule="inner_plate_parted", level="note", faces=panel.faces, at=at,
            message=f"Walls or other plates part inner plate '{panel.name}' into {parts}: each becomes a plate."))
    return out


def _all_faces(envelope: Envelope, parts: Sequence[Part]) -> Faces:
    """Everything an inner plate can stand on."""
    first = len(envelope.panels)
    own = [
        faces_of_plate(first + r, p.frame, p.low, p.thickness, part.whole)
        for r, part in enumerate(parts) for p in (envelope.inner[part.panel],)
    ]
    return joined_faces([wall_faces(envelope), *own])


def _standing(
    panel: InnerPanel, part: Part, row: int, faces: Faces, usable: NDArray[np.bool_], rules: TeeRules,
    names: Sequence[str], first: int,
) -> tuple[InnerPlate, list[Tee], list[tuple[int, int, int]]]:
    """One plate with its sides put on what they stand on, and its tees."""
    lines = tee_lines(panel.frame, panel.low, panel.thickness, faces)
    lines = TeeLines(away=lines.away, offset=np.where(usable, lines.offset, np.inf), height=lines.height,
                     angle=lines.angle)
    gaps = np.array([rules.root_gap(panel.name, names[p]) for p in faces.plate.tolist()])
    stood = stand(part.shape, panel.frame, lines, faces, gaps)
    rings = tuple(sniped(ring, panel.limber) for ring in stood)
    bites = tuple((0, bite) for bite in limber_bites(rings[0], panel.frame, panel.limber))
    tees: list[Tee] = []
    where: list[tuple[int, int, int]] = []
    for r, ring in enumerate(rings):
        for side in np.flatnonzero(ring.face >= 0).tolist():
            tee = _tee(panel, row + first, ring, side, lines, faces, rules, names)
            if tee.length > tolerance.STRAIGHT:
                tees.append(tee)
                where.append((row, r, side))
    outline = Outline(
        outer=featured(rings[0].points, (), [b for r, b in bites if r == 0]),
        holes=tuple(featured(ring.points, (), ()) for ring in rings[1:]),
    )
    plate = Plate(name=part.name, panel=first + row, outline=outline, frame=panel.frame, thickness=panel.thickness,
                  low=panel.low)
    return InnerPlate(panel=part.panel, plate=plate, rings=rings, bites=bites, whole=part.whole), tees, where


def _tee(
    panel: InnerPanel, number: int, ring: StandingRing, side: int, lines: TeeLines, faces: Faces, rules: TeeRules,
    names: Sequence[str],
) -> Tee:
    face = int(ring.face[side])
    wall = int(faces.plate[face])
    start, end = ring.points[side], ring.points[(side + 1) % len(ring.points)]
    angle, height = float(lines.angle[face]), float(lines.height[face])
    drawn = _drawn_as(panel, start, end, rules.reach + float(faces.thickness[face]))
    choice = rules.choice(panel.name, names[wall], drawn)
    gap = rules.root_gap(panel.name, names[wall])
    away = lines.away[face]
    touching = np.array([start, end]) + away * gap / np.sin(np.radians(angle))
    line = panel.frame.solid(touching, height)
    n, wall_frame = panel.frame.axes[2], faces.frames[face]
    over = n if height == panel.low else -n                  # from the touching arris to the other one
    normal = faces.normal[face]
    lean = wall_frame.axes[:2] @ (over - (over @ normal) * normal)
    return Tee(
        plate=number, wall=wall, start=start, end=end, away=away, line=line, angle=angle, root_gap=gap,
        fit_gap=rules.fit_gap(choice), flat=wall_frame.flat(line), lean=lean / np.linalg.norm(lean),
        thickness=panel.thickness, wall_thickness=float(faces.thickness[face]), rule=rules.tabs(choice),
        mesh_edges=drawn,
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


def _loose(
    envelope: Envelope, plates: Sequence[InnerPlate], tees: Sequence[Tee], crossings: Sequence[Crossing], reach: float
) -> list[Finding]:
    """Inner plates that nothing holds: no chain of tees and crossings leads to a wall."""
    first = len(envelope.panels)
    held = {t.plate for t in tees if t.wall < first}
    links = [(t.plate, t.wall) for t in tees] + [c.panels for c in crossings]
    links += [(b, a) for a, b in links]
    while more := {p for p, q in links if q in held and p not in held and p >= first}:
        held |= more
    out = []
    for row, inner in enumerate(plates):
        if first + row in held:
            continue
        panel = envelope.inner[inner.panel]
        out.append(Finding(
            rule="inner_plate_loose", level="error", panels=(first + row,), faces=panel.faces,
            at=_at(envelope, _middle(panel)),
            message=f"Inner plate '{inner.plate.name}' stands on no wall, nor on a plate that does: every side ends "
            f"more than {reach:g} mm away from what it could stand on. Draw it nearer, or raise the reach."))
    return out


def _middle(panel: InnerPanel) -> Floats:
    rings = np.concatenate(panel.rings)
    return np.asarray(panel.frame.solid(rings.mean(axis=0)[None])[0])


def _at(envelope: Envelope, point: Floats) -> tuple[float, float, float]:
    x, y, z = (point + envelope.origin).tolist()
    return x, y, z
