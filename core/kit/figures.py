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
from .kit import Joint, Kit

__all__ = ["Figures", "figure_rows", "figures_from_text", "figures_of", "figures_text"]

_UNWELDED: Final = {"free", "bend"}
"""Kinds of joint along which nothing is welded."""

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
    joints: how many of each kind, free edges apart. weld_length: one run along every joint, whether it will be welded
    all along or in stitches, from one side or from both. filler_volume: what brings every groove and every corner
    flush with the plates, from the nominal section: no allowance for a gap at the root, for reinforcement, fillets,
    spatter or stubs, and tabs that stand in the groove not taken off. filler_mass: the same by the mean density of
    the plates. pierces: of the laser. openings: marked or drawn ones; limber: limber holes; perforations: fields of
    holes.
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
    filler_volume: float = 0.0
    filler_mass: float = 0.0
    cut_length: float = 0.0
    pierces: int = 0
    openings: int = 0
    limber: int = 0
    perforations: int = 0
    holes: int = 0


def figures_of(kit: Kit) -> Figures:
    """The figures of a whole kit, every placement of a plate counted."""
    filler = _filler_volume(kit)
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
        weld_length=math.fsum(j.length for j in kit.joints if j.kind not in _UNWELDED),
        filler_volume=filler,
        filler_mass=filler * mass / metal if metal > 0 else 0.0,
        cut_length=math.fsum(p.cut_length * p.quantity for p in kit.plates),
        pierces=sum(p.pierces * p.quantity for p in kit.plates),
        openings=len(kit.openings) - len(fields_of_holes) - limber,
        limber=limber,
        perforations=len(fields_of_holes),
        holes=sum(o.count for o in fields_of_holes),
    )


def _filler_volume(kit: Kit) -> float:
    def groove(joint: Joint) -> float:
        return joint.groove.area * joint.length if joint.groove is not None else 0.0

    return math.fsum([*map(groove, kit.joints), *(corner.void for corner in kit.corners)])


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
    rows = [(f"Capacity of {name}" if len(figures.capacities) > 1 else "Capacity", _capacity(volume, units))
            for name, volume in closed]
    return [*rows, ("", "with its holes shut")] if rows and figures.sieve else rows


def _joint_rows(figures: Figures, units: Units) -> list[tuple[str, str]]:
    kinds = [_count(number, _KINDS.get(kind, kind)) for kind, number in figures.joints.items()]
    if len(kinds) < 2:
        return [("Joints", kinds[0] if kinds else "")]
    return [("Joints", str(sum(figures.joints.values()))), *(("", kind) for kind in kinds)]


def _capacity(volume: float, units: Units) -> str:
    litres, gallons = f"{volume / 1e6:.4g} L", f"{volume / GALLON:.4g} US gal"
    return f"{litres} ({gallons})" if units == "mm" else f"{gallons} ({litres})"


def _mass(kg: float, units: Units) -> str:
    said = f"{kg:.2f} kg" if kg < 100 else f"{kg:.1f} kg"
    pounds = kg / POUND
    return said if units == "mm" else f"{pounds:.2f} lb ({said})" if pounds < 100 else f"{pounds:.1f} lb ({said})"


def _filler_rows(figures: Figures, units: Units) -> list[tuple[str, str]]:
    small = f"{figures.filler_volume / 1e3:.3g} cm³" if units == "mm" else f"{figures.filler_volume / INCH**3:.3g} in³"
    return [("Filler", small), ("", _mass(figures.filler_mass, units))] if figures.filler_volume else []


def _count(number: int, what: str) -> str:
    return f"{number} {what}" if number == 1 else f"{number} {what}s" if not what.endswith("s") else f"{number} {what}"


_ROWS: Final[tuple[_Rows, ...]] = (
    _capacity_rows,
    _row("Weight", lambda f, units: _mass(f.mass, units)),
    _row("Plates", lambda f, _: f"{f.plates}, {f.distinct} distinct"),
    _row("Thickness", lambda f, units: ", ".join(length_said(t, units) for t in f.thicknesses)),
    _joint_rows,
    _row("Free Edges", lambda f, _: str(f.free_edges or "")),
    _row("Weld Length", lambda f, units: run_said(f.weld_length, units) if f.weld_length else ""),
    _filler_rows,
    _row("Cut Length", lambda f, units: run_said(f.cut_length, units)),
    _row("Pierces", lambda f, _: str(f.pierces)),
    _row("Openings", lambda f, _: str(f.openings or "")),
    _row("Limber Holes", lambda f, _: str(f.limber or "")),
    _row("Perforations", lambda f, _: f"{f.perforations} of {_count(f.holes, 'hole')}" if f.perforations else ""),
)
