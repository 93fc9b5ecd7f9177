"""Marked openings: which plate each pierces, and where."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ..plates.plates import Plate
from ..stock.fittings import Fitting
from ..terms.choices import MarkedOpening
from ..terms.errors import InputError, TackwrightError
from ..terms.findings import Finding
from ..terms.messages import Length
from ..terms.remedies import ChangedOpening, Remedy
from .opening_choices import Sized, has_place, sized_opening
from .opening_shapes import bolt_holes, opening_shape
from .piercing import Note, Pierced, Wanted, pierce
from .placed_openings import PlacedOpening
from .slabs import Slabs

__all__ = ["NEAR", "place_openings"]

Floats = NDArray[np.float64]

NEAR: Final = 25.0
"""mm: an opening marked farther than this from every plate is meant for none. A mark put by eye, or on the drawn
face beside the metal, is nearer; one left behind when the drawing changed is mostly farther."""

SQUARE: Final = 1.0
"""Degrees: an axis no farther than this from square to the plate is square to it: a pipe welded in looks straight."""

STEEPEST: Final = 89.0
"""Degrees from square: an axis beyond this runs along the plate and names no place on it."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Place:
    """Where an opening goes, and what is worth knowing about it."""

    plate: int
    centre: tuple[float, float]
    turn: float
    notes: tuple[Note, ...]


def place_openings(
    plates: Sequence[Plate],
    marked: Sequence[MarkedOpening],
    find_plate: Callable[[str | int], Sequence[int]],
    fittings: Mapping[str, float],
    web: float,
) -> Pierced:
    """The plates with the marked openings cut.

    find_plate: the indices of the plates that a panel's name or a face belongs to, none for an unknown one.
    fittings: the user's own, name to hole in mm. The marks are in
    the plates' space. web: metal to leave beside an opening, over the thickness. An opening that cannot be cut is left
    out with an `error`. Raises InputError for sizes that are none, unknown fittings and unknown panels; what else is
    wrong with any opening is then told with it.
    """
    slabs = Slabs.of(plates)
    wanted: list[Wanted] = []
    findings: list[Finding] = []
    refused: list[TackwrightError] = []
    for opening in marked:
        size, errors = sized_opening(opening, fittings)
        named, unknown = _named_plates(opening, find_plate)
        refused += [*errors, *unknown]
        if unknown or not has_place(opening):
            continue                                 # it has no place that could be looked at
        places, wrong = _places(opening, size, slabs, named)
        findings += wrong
        if size is not None:
            wanted += [
                Wanted(opening=_placed(opening, size, place), said=f"opening '{opening.name}'", notes=place.notes)
                for place in places]
    done = pierce(plates, wanted, web)
    findings += done.findings
    if refused:
        refused += [
            InputError(f.message, openings=f.openings, remedy=f.remedy)
            for f in findings if f.level == "error"]
        raise InputError.several(refused)
    return Pierced(plates=done.plates, openings=done.openings, findings=tuple(findings))


def _named_plates(
    opening: MarkedOpening, find_plate: Callable[[str | int], Sequence[int]]
) -> tuple[Sequence[int] | None, list[InputError]]:
    """The plates of the panel that an opening names, None where it names none; and what is wrong with that."""
    if opening.panel is None:
        return None, []
    found = sorted(find_plate(opening.panel))
    if found:
        return found, []
    what = f"face {opening.panel}" if isinstance(opening.panel, int) else f"panel '{opening.panel}'"
    return found, [InputError(
        f"Opening '{opening.name}' is to pierce {what}, and there is no plate of it",
        do="Name a panel that is cut, or none: then the nearest plate is pierced", openings=(opening.name,))]


def _places(
    opening: MarkedOpening, size: Sized | None, slabs: Slabs, named: Sequence[int] | None
) -> tuple[list[_Place], list[Finding]]:
    """Where an opening goes: on one plate, or on all along its axis; and the error where it goes on none. size: None
    where it is not known."""
    point = np.asarray(opening.at, dtype=np.float64)
    axis = None if opening.axis is None else _unit(opening.axis)
    if not slabs.count:
        return [], [_error(opening, "opening_off_plate", "and there are no plates")]
    first, away = slabs.nearest(point, named)
    if named is None and away > NEAR and not (opening.all_along and axis is not None):
        return [], [_off_plate(opening, slabs, first, away)]
    if opening.all_along:
        axis = slabs.normal(first) if axis is None else axis
        targets = slabs.crossed(point, axis)
        if not targets:
            return [], [_error(
                opening, "opening_off_plate",
                f"and the line along its axis crosses no plate; the nearest, '{slabs.plates[first].name}', is "
                f"{Length(away):.1f} from the mark. Move it, or turn its axis.")]
    else:
        targets = [first]
    places, wrong = [], []
    for index in targets:
        off = slabs.off_square(index, axis)
        if off > STEEPEST:
            wrong.append(_error(
                opening, "opening_along_plate",
                f"its axis runs along '{slabs.plates[index].name}', {off:.1f} degrees from square to it, and never "
                "passes through it. Turn the axis, or leave it out: then the opening is square to the plate.", index,
                None if opening.all_along else Remedy(
                    label="Square to the Plate", changes=(ChangedOpening(name=opening.name, square=True),))))
            continue
        places.append(_place(opening, size, slabs, index, point, axis, off))
    return places, wrong


def _place(
    opening: MarkedOpening, size: Sized | None, slabs: Slabs, index: int, point: Floats, axis: Floats | None, off: float
) -> _Place:
    plate = slabs.plates[index]
    turn, notes = 0.0, list[Note]()
    if size is not None and size.fitting is not None:
        notes.append(_fitting_note(opening, size.fitting))
    if opening.across is not None:
        across = plate.frame.axes[:2] @ _unit(opening.across)
        if np.hypot(*across) > math.sin(math.radians(SQUARE)):
            turn = math.degrees(math.atan2(across[1], across[0]))
        else:
            notes.append(Note(
                rule="opening_turn",
                text=f"Opening '{opening.name}': the direction given for its length is square to '{plate.name}' and "
                "says nothing there; it lies along the plate's own x axis."))
    if off > SQUARE:
        text = (f"Opening '{opening.name}': its axis is {off:.1f} degrees off square to '{plate.name}'. The laser cuts "
                "square: the opening is cut where the axis passes the middle of the plate.")
        if opening.shape == "round" and size is not None:
            lean = math.radians(off)
            length = size.size[0] / math.cos(lean) + plate.thickness * math.tan(lean)
            text += (f" A round part of {Length(size.size[0]):.1f} along the axis needs a hole {Length(length):.1f} "
            "long: mark a "
                     "slot, or open it by hand.")
        notes.append(Note(rule="opening_off_square", text=text))
    x, y = slabs.passing(index, point, axis)
    return _Place(plate=index, centre=(x, y), turn=turn, notes=tuple(notes))


def _placed(opening: MarkedOpening, size: Sized, place: _Place) -> PlacedOpening:
    main = opening_shape(opening.shape, size.size, opening.radius, place.centre, place.turn)
    bolts = () if opening.bolts is None else bolt_holes(opening.bolts, place.centre, place.turn)
    return PlacedOpening(
        plate=place.plate, name=opening.name, shape=opening.shape, purpose=opening.purpose, centre=place.centre,
        rotation=place.turn, size=(*size.size, opening.radius) if opening.shape == "rectangle" else size.size,
        cuts=(main, *bolts), fitting=size.fitting.name if size.fitting is not None else "")


def _off_plate(opening: MarkedOpening, slabs: Slabs, nearest: int, away: float) -> Finding:
    return _error(
        opening, "opening_off_plate",
        f"{Length(away):.1f} from the nearest, '{slabs.plates[nearest].name}'; {Length(NEAR):g} is the most. Move it "
        "to the "
        "plate it is meant for.")


def _error(
    opening: MarkedOpening, rule: str, text: str, plate: int | None = None, remedy: Remedy | None = None
) -> Finding:
    lead = "is off every plate, " if rule == "opening_off_plate" else "is not cut: "
    return Finding(rule=rule, level="error", message=f"Opening '{opening.name}' {lead}{text}", at=opening.at,
                   panels=() if plate is None else (plate,), openings=(opening.name,), remedy=remedy)


def _fitting_note(opening: MarkedOpening, fitting: Fitting) -> Note:
    clearance = "" if fitting.outside is None else (
        f", {Length(fitting.hole - fitting.outside):.2g} more than its outside of {Length(fitting.outside):.2f}")
    return Note(
        rule="fitting_hole",
        text=f"Opening '{opening.name}' is {Length(fitting.hole):.2f} for '{fitting.name}'{clearance} "
        f"({fitting.source}). "
        "Measure the fitting in hand before cutting.")


def _unit(direction: tuple[float, float, float]) -> Floats:
    vector = np.asarray(direction, dtype=np.float64)
    return np.asarray(vector / np.linalg.norm(vector))
