"""The figures of a kit: what it holds, weighs, and takes to cut and to weld.

They are those of the drawing at nominal size. Cutting and welding change them.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, field, fields
from typing import Final

from ..stock.said_units import length_said, run_said
from ..stock.units import GALLON, INCH, POUND, Units
from ..welding.consumption import NOTHING
from .kit import Kit

__all__ = [
    "Figures", "capacity_said", "figure_rows", "figures_from_text", "figures_of", "figures_text", "mass_said",
]

_KINDS: Final = {
    "open_corner": "open corner", "half_open_corner": "half-open corner", "closed_corner": "closed corner",
    "tee": "tee", "cross": "crossing", "butt": "butt", "lap": "lap", "bend": "bend",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
    """Lengths in mm, volumes in mm3, masses in kg.

    capacities: each shell's name and what it holds, None unless closed; inner plates taken off, fittings not.
    sieve: whether a wall is perforated, so that it holds that much with its holes shut only. mass: of the plates as
    cut. plates, distinct: how many pieces, and how many different ones. thicknesses: in order.
    joints: how many of each kind, free edges apart. weld_length: of all that is welded, both sides of a tee, round
    every slot, and of stitches the stitches; tight, tight_length: how many runs liquid needs, and their length; hold,
    hold_length: of those that need only hold. slots, plugs: round and over the tabs through walls. filler_volume: what
    brings every groove and corner flush, and every fillet to its size; filler_mass: the same by the mean density of the
    plates; bought_mass: with what is laid at root gaps and as reinforcement, and what the process does not deposit.
    process: its name. wire: diameter and length to buy. arc_time: minutes. heat: least and most of a pass, kJ/mm.
    groove_taken: the largest share of an open corner's groove that tabs take. pierces: of the laser. openings: marked
    or drawn ones; limber: limber holes; perforations: fields of holes.
    """

    capacities: tuple[tuple[str, float | None], ...] = ()
    sieve: bool = False
    mass: float = 0.0
    plates: int = 0
    distinct: int = 0
    thicknesses: tuple[float, ...] = ()
    joints: Mapping[str, int] = field(default_factory=dict)
    free_edges: int = 0
    corners: int = 0
    weld_length: float = 0.0
    tight: int = 0
    tight_length: float = 0.0
    hold: int = 0
    hold_length: float = 0.0
    slots: int = 0
    plugs: int = 0
    filler_volume: float = 0.0
    filler_mass: float = 0.0
    bought_mass: float = 0.0
    process: str = ""
    wire: tuple[tuple[float, float], ...] = ()
    arc_time: float = 0.0
    heat: tuple[float, float] = (0.0, 0.0)
    groove_taken: float = 0.0
    cut_length: float = 0.0
    pierces: int = 0
    openings: int = 0
    limber: int = 0
    perforations: int = 0
    holes: int = 0


def figures_of(kit: Kit) -> Figures:
    """The figures of a whole kit, every placement of a plate counted."""
    welding = kit.welding if kit.welding is not None else NOTHING
    filler = welding.deposited
    mass = math.fsum(p.mass * p.quantity for p in kit.plates)
    metal = math.fsum(p.area * p.thickness * p.quantity for p in kit.plates)
    fields_of_holes = [o for o in kit.openings if o.purpose == "perforation"]
    limber = sum(o.purpose == "limber" for o in kit.openings)
    return Figures(
        capacities=tuple((shell.name, shell.capacity) for shell in kit.envelopes),
        sieve=any(p.role != "inner" and p.outline.fields for p in kit.plates),
        mass=mass,
        plates=sum(p.quantity for p in kit.plates),
        distinct=len(kit.plates),
        thicknesses=tuple(sorted({p.thickness for p in kit.plates})),
        joints={kind: n for kind in _KINDS if (n := sum(j.kind == kind for j in kit.joints))},
        free_edges=sum(j.kind == "free" for j in kit.joints),
        corners=len(kit.corners),
        weld_length=welding.welded,
        tight=welding.tight, tight_length=welding.tight_welded, hold=welding.hold, hold_length=welding.hold_welded,
        slots=welding.slots, plugs=welding.plugs,
        filler_volume=filler,
        filler_mass=filler * mass / metal if metal > 0 else 0.0,
        bought_mass=welding.bought * mass / metal if metal > 0 else 0.0,
        process=welding.process, wire=welding.wire, arc_time=welding.arc_time, heat=welding.heat,
        groove_taken=_groove_taken(kit),
        cut_length=math.fsum(p.cut_length * p.quantity for p in kit.plates),
        pierces=sum(p.pierces * p.quantity for p in kit.plates),
        openings=len(kit.openings) - len(fields_of_holes) - limber,
        limber=limber,
        perforations=len(fields_of_holes),
        holes=sum(o.count for o in fields_of_holes),
    )


def _groove_taken(kit: Kit) -> float:
    """The largest share of an open or half-open corner's length where groups of tabs stand, with their gaps."""
    return max((
        math.fsum(tab.width + 2 * (tab.flank + tab.fit_gap) for tab in joint.tabs) / joint.length
        for joint in kit.joints if joint.kind in ("open_corner", "half_open_corner") and joint.length > 0
    ), default=0.0)


def figures_text(figures: Figures) -> str:
    """Figures as one line of JSON, to be kept."""
    return json.dumps(asdict(figures), separators=(",", ":"))


def figures_from_text(text: str) -> Figures | None:
    """Figures that were kept, by this version or another: what it does not know is left out, what is missing is 0.
    None where there are none."""
    try:
        kept = json.loads(text) if text else None
        if not isinstance(kept, dict):
            return None
        known = {f.name: kept[f.name] for f in fields(Figures) if f.name in kept}
        known["capacities"] = tuple((str(name), volume) for name, volume in known.get("capacities", ()))
        known["thicknesses"] = tuple(known.get("thicknesses", ()))
        known["wire"] = tuple((float(size), float(length)) for size, length in known.get("wire", ()))
        least, most = known.get("heat", (0.0, 0.0))
        known["heat"] = (float(least), float(most))
        return Figures(**known)
    except (TypeError, ValueError):
        return None


def figure_rows(figures: Figures, units: Units) -> tuple[tuple[str, str], ...]:
    """Names and values for people, in the order of what they ask first. A row for what there is none of is left
    out. To show one more figure, add its line to _ROWS."""
    return tuple((name, value) for rows in _ROWS for name, value in rows(figures, units) if value)


_Rows = Callable[[Figures, Units], list[tuple[str, str]]]


def _row(name: str, value: Callable[[Figures, Units], str]) -> _Rows:
    return lambda figures, units: [(name, value(figures, units))]


def _capacity_rows(figures: Figures, units: Units) -> list[tuple[str, str]]:
    closed = [(name, volume) for name, volume in figures.capacities if volume is not None]
    rows = [(f"Capacity of {name}" if len(figures.capacities) > 1 else "Capacity", capacity_said(volume, units))
            for name, volume in closed]
    return [*rows, ("", "with its holes shut")] if rows and figures.sieve else rows


def _joint_rows(figures: Figures, units: Units) -> list[tuple[str, str]]:
    kinds = [_count(number, _KINDS.get(kind, kind)) for kind, number in figures.joints.items()]
    if len(kinds) < 2:
        return [("Joints", kinds[0] if kinds else "")]
    return [("Joints", str(sum(figures.joints.values()))), *(("", kind) for kind in kinds)]


def capacity_said(volume: float, units: Units) -> str:
    """A capacity in mm3, in the reader's units and in the other's."""
    litres, gallons = f"{volume / 1e6:.4g} L", f"{volume / GALLON:.4g} US gal"
    return f"{litres} ({gallons})" if units == "mm" else f"{gallons} ({litres})"


def mass_said(kg: float, units: Units) -> str:
    """A mass in the reader's units."""
    value, unit = (kg, "kg") if units == "mm" else (kg / POUND, "lb")
    return f"{value:.2f} {unit}" if value < 100 else f"{value:.1f} {unit}"


def _weight(kg: float, units: Units) -> str:
    """A mass in the reader's units, and in kg for who weighs with those."""
    return mass_said(kg, units) if units == "mm" else f"{mass_said(kg, units)} ({mass_said(kg, 'mm')})"


def _filler_rows(figures: Figures, units: Units) -> list[tuple[str, str]]:
    small = f"{figures.filler_volume / 1e3:.3g} cm³" if units == "mm" else f"{figures.filler_volume / INCH**3:.3g} in³"
    if not figures.filler_volume:
        return []
    wire = [("", f"{run_said(length, units)} of {length_said(size, units)} wire") for size, length in figures.wire]
    bought = [("To Buy", f"{mass_said(figures.bought_mass, units)} for {figures.process}")] * bool(figures.process)
    return [("Filler", small), ("", _weight(figures.filler_mass, units)), *bought, *wire]


def _weld_rows(figures: Figures, units: Units) -> list[tuple[str, str]]:
    """What is welded: what must be tight, told from what need only hold."""
    if not figures.weld_length:
        return []
    through = [_count(number, what) for number, what in ((figures.slots, "slot"), (figures.plugs, "plug")) if number]
    rows = [("Weld Length", run_said(figures.weld_length, units))]
    rows += [("", f"{run_said(figures.tight_length, units)} tight, {_count(figures.tight, 'run')}")] * bool(
        figures.tight)
    rows += [("", f"{run_said(figures.hold_length, units)} to hold, {_count(figures.hold, 'run')}")] * bool(
        figures.hold and figures.tight)
    rows += [("", " and ".join(through) + " through walls")] * bool(through)
    least, most = (f"{value:.2f}" for value in figures.heat)
    heat = least if least == most else f"{least} to {most}"
    rows += [("Arc Time", f"{figures.arc_time:.0f} min, {heat} kJ/mm")] * bool(figures.process)
    rows += [("Groove under Tabs", f"at most {100 * figures.groove_taken:.0f} %")] * bool(figures.groove_taken)
    return rows


def _count(number: int, what: str) -> str:
    return f"{number} {what}" if number == 1 else f"{number} {what}s" if not what.endswith("s") else f"{number} {what}"


_ROWS: Final[tuple[_Rows, ...]] = (
    _capacity_rows,
    _row("Weight", lambda f, units: _weight(f.mass, units)),
    _row("Plates", lambda f, _: f"{f.plates}, {f.distinct} distinct"),
    _row("Thickness", lambda f, units: ", ".join(length_said(t, units) for t in f.thicknesses)),
    _joint_rows,
    _row("Free Edges", lambda f, _: str(f.free_edges or "")),
    _weld_rows,
    _filler_rows,
    _row("Cut Length", lambda f, units: run_said(f.cut_length, units)),
    _row("Pierces", lambda f, _: str(f.pierces)),
    _row("Openings", lambda f, _: str(f.openings or "")),
    _row("Limber Holes", lambda f, _: str(f.limber or "")),
    _row("Perforations", lambda f, _: f"{f.perforations} of {_count(f.holes, 'hole')}" if f.perforations else ""),
)
