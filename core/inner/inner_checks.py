"""What there is to say about inner plates as drawn: trimmed, parted, loose, apart, and those that cannot be."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from ..envelope.drawing_remedies import leave_out
from ..envelope.envelope import Envelope, InnerPanel
from ..shapes.boxes import overlapping_boxes
from ..shapes.rings import polygon_parts
from ..terms import tolerance
from ..terms.errors import InputError
from ..terms.findings import Finding
from ..terms.messages import Length, Volume
from ..terms.places import place, point_at
from .cross_slots import Crossing
from .crossed_plates import Part
from .inner_meetings import Meetings, cross_line
from .room import prism
from .standing import InnerPlate
from .tee_tabs import Tee

__all__ = [
    "find_apart", "find_loose", "mostly_outside", "no_room", "note_idle_cuts", "note_lengthened", "note_trims",
    "refuse_sharp", "shells_held_by",
]

Floats = NDArray[np.float64]

_MOST = 20
"""Faults that are told one by one."""

IDLE = 1.5
"""Thicknesses by which a cut may run past what it is for before it is told. Our choice."""


def mostly_outside(envelope: Envelope, panel: InnerPanel, share: float) -> InputError:
    return InputError(
        f"{100 * share:.0f} % of inner plate '{panel.name}' lies outside the envelope or in its walls",
        where=place(_middle(panel)),
        do="Move it inside, or draw it smaller.",
        faces=panel.faces,
    )


def no_room(envelope: Envelope, panel: InnerPanel) -> InputError:
    return InputError(
        f"Nothing is left of inner plate '{panel.name}' between the walls and the plates it ends on",
        where=place(_middle(panel)),
        do="Draw it larger, or delete it.",
        faces=panel.faces,
        remedy=leave_out(panel.faces),
    )


def note_lengthened(
    envelope: Envelope, panel: InnerPanel, drawn: shapely.Geometry, fitted: Sequence[shapely.Polygon]
) -> list[Finding]:
    """How far a plate goes past its drawn outline, so that it meets what it stands on."""
    corners = shapely.points(shapely.get_coordinates(list(fitted)))
    gained = shapely.distance(corners, drawn).max()
    if gained <= tolerance.FLAT:
        return []
    return [Finding(
        rule="inner_plate_lengthened", level="note", faces=panel.faces, at=point_at(_middle(panel)),
        message=f"Inner plate '{panel.name}' was drawn up to {Length(gained):.1f} short of what it stands on: the "
        "sides "
        "there are brought to it, the others stay on their lines.")]


def note_trims(
    envelope: Envelope, panel: InnerPanel, drawn: shapely.Geometry, free: shapely.Geometry, usual: float,
    parts: int,
) -> list[Finding]:
    """What was done to a drawn plate that its user may not have meant."""
    out = []
    at = point_at(_middle(panel))
    rings = [np.asarray(p.exterior.coords) for p in polygon_parts(drawn)]
    past = shapely.distance(shapely.points(np.concatenate(rings)), free).max()
    if past > 1.5 * usual:                                   # a corner lies farther out than the sides at it
        out.append(Finding(
            rule="inner_plate_trimmed", level="note", faces=panel.faces, at=at,
            message=f"Inner plate '{panel.name}' was drawn {Length(past):.1f} past the walls' inner surface; what is "
            "outside is cut off."))
    if parts > 1:
        out.append(Finding(
            rule="inner_plate_parted", level="note", faces=panel.faces, at=at,
            message=f"Walls or other plates part inner plate '{panel.name}' into {parts}: each becomes a plate."))
    return out


def note_idle_cuts(envelope: Envelope, parts: Sequence[Part], crossings: Sequence[Crossing]) -> list[Finding]:
    """Cuts of crossings that run on past the plate they are for."""
    own_part, out = {part.number: part for part in parts}, []
    for crossing in crossings:
        both = [own_part[number] for number in crossing.panels]
        for own, other, slot, idle in zip(both, both[::-1], crossing.slots, crossing.idle, strict=True):
            panel = envelope.inner[own.panel]
            if idle > IDLE * panel.thickness:
                wide = slot.area / (idle + crossing.length / 2)
                out.append(Finding(
                    rule="cut_stays_open", level="note", panels=(own.number, other.number), faces=panel.faces,
                    at=point_at(crossing.line.mean(axis=0)),
                    message=f"The cut in '{own.name}' for '{other.name}' runs {Length(idle):.0f} past "
                    "it, "
                    f"{Length(wide):.1f} wide, so that one can slide over the other, and stays open. Weld it shut "
                    "where it "
                    f"has to be tight, or draw '{other.name}' so much longer."))
    return out


def refuse_sharp(envelope: Envelope, parts: Sequence[Part]) -> None:
    """Raise InputError for inner plates that share space at an angle too sharp to be slotted or to stand at."""
    panels = [envelope.inner[part.panel] for part in parts]
    solids = [
        prism(part.whole, p.frame, p.low, p.low + p.thickness) for part, p in zip(parts, panels, strict=True)]
    boxes = np.array([s.bounding_box() for s in solids]).reshape(-1, 6)
    pairs = overlapping_boxes(boxes[:, :3], boxes[:, 3:]) if len(parts) > 1 else np.empty((0, 2), dtype=np.int64)
    errors = []
    for r, s in pairs.tolist():
        one, two = panels[r], panels[s]
        if one is two or cross_line(one, two) is not None:
            continue
        shared = solids[r] ^ solids[s]
        if shared.volume() > tolerance.CLASH:
            turn = float(np.linalg.norm(np.cross(one.frame.axes[2], two.frame.axes[2])))
            angle = float(np.degrees(np.arcsin(min(1.0, turn))))
            middle = np.array(shared.bounding_box()).reshape(2, 3).mean(axis=0)
            errors.append(InputError(
                f"Inner plates '{one.name}' and '{two.name}' meet at {angle:.1f} degrees, sharper than "
                f"{tolerance.SHARPEST:g}: they can neither be slotted through each other nor stand on each other",
                where=f"about {place(middle)}",
                by=f"{Volume(shared.volume()):.0f} that both take up",
                do="Turn one of them, or move them apart.",
                faces=one.faces + two.faces))
    if errors:
        raise InputError.several(errors[:_MOST])


def find_apart(
    envelope: Envelope, parts: Sequence[Part], meetings: Meetings, tees: Sequence[Tee], crossings: Sequence[Crossing]
) -> list[Finding]:
    """A warning where one inner plate was meant to end on another, or to cross it, and they do not meet."""
    panel = [*(-1 for _ in envelope.panels), *(part.panel for part in parts)]
    met = {frozenset((panel[t.plate], panel[t.wall])) for t in tees}
    met |= {frozenset(panel[p] for p in c.panels) for c in crossings}
    out = []
    for pair in sorted({*meetings.ends, *meetings.crosses}):
        if frozenset(pair) in met:
            continue
        one, two = (envelope.inner[i] for i in pair)
        out.append(Finding(
            rule="inner_plates_apart", level="warning", faces=one.faces + two.faces,
            panels=tuple(part.number for part in parts if part.panel in pair),
            at=point_at((_middle(one) + _middle(two)) / 2),
            message=f"Inner plates '{one.name}' and '{two.name}' end near each other but do not meet, so there is no "
            "joint between them. Draw one of them past the other, or farther away."))
    return out


def find_loose(
    envelope: Envelope, plates: Sequence[InnerPlate], tees: Sequence[Tee], crossings: Sequence[Crossing], reach: float
) -> list[Finding]:
    """Inner plates that nothing holds: no chain of tees and crossings leads to a wall."""
    held = shells_held_by(envelope, tees, crossings)
    out = []
    for inner in plates:
        if inner.plate.number in held:
            continue
        panel = envelope.inner[inner.panel]
        out.append(Finding(
            rule="inner_plate_loose", level="error", panels=(inner.plate.number,), faces=panel.faces,
            at=point_at(_middle(panel)),
            message=f"Inner plate '{inner.plate.name}' stands on no wall, nor on a plate that does: every side ends "
            f"more than {Length(reach):g} away from what it could stand on. Draw it nearer, or raise the reach."))
    return out


def shells_held_by(
    envelope: Envelope, tees: Sequence[Tee], crossings: Sequence[Crossing]
) -> dict[int, int]:
    """The inner plates, by number, from which a chain of tees and crossings leads to a wall, with that wall's shell."""
    walls = len(envelope.panels)
    found = {t.plate: envelope.panels[t.wall].shell for t in reversed(tees) if t.wall < walls}
    links = [(t.plate, t.wall) for t in tees] + [c.panels for c in crossings]
    links += [(b, a) for a, b in links]
    while more := {p: found[q] for p, q in links if q in found and p not in found and p >= walls}:
        found |= more
    return found


def _middle(panel: InnerPanel) -> Floats:
    rings = np.concatenate(panel.rings)
    return np.asarray(panel.frame.solid(rings.mean(axis=0)[None])[0])
