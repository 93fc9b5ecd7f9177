"""What a marked opening asks for, checked by itself: its size, its fitting, its ring of bolts."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
import shapely

from ..shapes.outline import Hole
from ..stock.fittings import Fitting, find_fitting
from ..terms.choices import Bolts, MarkedOpening
from ..terms.errors import InputError
from ..terms.messages import Length
from .opening_shapes import bolt_holes, opening_shape

__all__ = ["Sized", "has_place", "sized_opening"]

_SIZES = {"round": ("diameter",), "slot": ("length", "width"), "rectangle": ("width", "height")}


@dataclass(frozen=True, slots=True, kw_only=True)
class Sized:
    """The size of an opening, mm, as choices.MarkedOpening has it; and the fitting that gave it, if one did."""

    size: tuple[float, ...]
    fitting: Fitting | None


def sized_opening(opening: MarkedOpening, own: Mapping[str, float]) -> tuple[Sized | None, list[InputError]]:
    """The size of an opening, and everything that is wrong with what it asks for: then there is no size. own: the
    user's fittings."""
    errors: list[InputError] = []
    size: Sized | None = None
    try:
        size = _sized(opening, own)
    except InputError as error:
        error.openings = (opening.name,)
        errors.append(error)
    wrong = [] if size is None else list(_size_faults(opening, size.size))
    known = None if size is None or wrong else size.size
    wrong += _place_faults(opening)
    if opening.bolts is not None:
        wrong += _bolt_faults(opening, known, opening.bolts)
    errors += [InputError(f"Opening '{opening.name}': {what}", do=do, openings=(opening.name,)) for what, do in wrong]
    return None if errors else size, errors


def has_place(opening: MarkedOpening) -> bool:
    """Whether its place and its directions are some."""
    return not any(_place_faults(opening))


def _sized(opening: MarkedOpening, own: Mapping[str, float]) -> Sized:
    lead = f"Opening '{opening.name}'"
    if opening.fitting is None:
        if opening.size is None:
            raise InputError(f"{lead} has no size", do="Give its size, or a fitting")
        return Sized(size=opening.size, fitting=None)
    if opening.size is not None:
        raise InputError(f"{lead} has a size and a fitting", do="Keep one of them")
    if opening.shape != "round":
        raise InputError(f"{lead} has a fitting and the shape {opening.shape}", do="A fitting's hole is round")
    try:
        fitting = find_fitting(opening.fitting, own)
    except InputError as error:
        raise InputError(f"{lead}: {error.what.raw}", do=error.do) from error
    return Sized(size=(fitting.hole,), fitting=fitting)


def _size_faults(opening: MarkedOpening, size: tuple[float, ...]) -> Iterator[tuple[str, str]]:
    """What is wrong with a size, and what to do about it."""
    if opening.shape not in _SIZES:
        yield f"the shape {opening.shape!r} is none", f"Use one of {', '.join(_SIZES)}"
        return
    names = _SIZES[opening.shape]
    if len(size) != len(names):
        has = "1 length" if len(size) == 1 else f"{len(size)} lengths"
        yield (f"its size has {has}, and a {opening.shape} opening's has {len(names)}",
               f"Give its {' and '.join(names)}")
        return
    wrong = [(name, value) for name, value in zip(names, size, strict=True) if not _is_size(value)]
    for name, value in wrong:
        yield f"its {name} is {Length(value):g}", f"It must be more than {Length(0.0)}"
    if wrong:
        return
    if opening.shape == "slot" and size[0] < size[1]:
        yield (f"the slot is {Length(size[0]):g} long and {Length(size[1]):g} wide",
               "Swap the two: its length, overall, is the larger one")
    if not (math.isfinite(opening.radius) and opening.radius >= 0):
        yield f"its radius is {Length(opening.radius):g}", f"It must be at least {Length(0.0)}"
    elif opening.shape == "rectangle" and opening.radius > min(size) / 2:
        yield (f"its radius of {Length(opening.radius):g} is more than half of its smaller side, {Length(min(size)):g}",
               f"Make it {Length(min(size) / 2):g} at most")


def _place_faults(opening: MarkedOpening) -> Iterator[tuple[str, str]]:
    if not all(math.isfinite(x) for x in opening.at):
        yield f"its place is {opening.at}", "Give three finite lengths"
    for name, direction in (("axis", opening.axis), ("direction across", opening.across)):
        if direction is not None and not (math.isfinite(length := math.hypot(*direction)) and length > 0):
            yield f"its {name} is {direction}", "Give a direction, as in (0, 0, 1)"


def _bolt_faults(opening: MarkedOpening, size: tuple[float, ...] | None, bolts: Bolts) -> Iterator[tuple[str, str]]:
    """The same of a ring of bolts. size: of the opening, None where that is not known."""
    if isinstance(bolts.count, bool) or not isinstance(bolts.count, int) or bolts.count < 1:
        yield f"{bolts.count} bolts", "Give a whole number of at least 1, or leave the bolts out"
        return
    wrong = [(name, value) for name, value in (("bolt circle", bolts.circle), ("bolt hole", bolts.hole))
             if not _is_size(value)]
    for name, value in wrong:
        yield f"its {name} is {Length(value):g}", f"It must be more than {Length(0.0)}"
    if not math.isfinite(bolts.turn):
        yield f"its bolts are turned by {bolts.turn:g} degrees", "Give a finite angle"
        return
    if wrong:
        return
    between = bolts.circle * math.sin(math.pi / bolts.count)       # from one centre to the next
    if bolts.count > 1 and bolts.hole >= between:
        yield (f"its bolt holes of {Length(bolts.hole):g} stand {Length(between):.2f} apart and run into each other",
               "Use fewer, smaller holes, or a larger bolt circle")
    if size is None:
        return
    main = opening_shape(opening.shape, size, opening.radius, (0.0, 0.0), 0.0)
    if shapely.intersects(_area(main), np.array([_area(h) for h in bolt_holes(bolts)], dtype=object)).any():
        yield (f"its bolt holes of {Length(bolts.hole):g} on a circle of {Length(bolts.circle):g} cut the opening "
               "itself",
               "Use a larger bolt circle")


def _area(hole: Hole) -> shapely.Polygon:
    return shapely.Polygon(hole.flatten())


def _is_size(value: float) -> bool:
    return math.isfinite(value) and value > 0
