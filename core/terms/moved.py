"""What was found or asked for in one frame, as it is in another that is shifted.

A drawing is solved about its middle, where coordinates are small. Choices go in and findings, errors and remedies come
out by these functions, so that nothing between them knows where the drawing lies.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from .choices import Choices
from .errors import TackwrightError
from .findings import Finding
from .messages import Message, Quantity
from .remedies import AddedOpening, Change, Remedy

__all__ = ["leaving", "moved_choices", "moved_error", "moved_finding", "moved_message", "moved_remedy"]

Floats = NDArray[np.float64]
Point = tuple[float, float, float]


def moved_choices(choices: Choices, by: Floats) -> Choices:
    """Choices with the places of openings and the regions of perforation fields shifted by (3,) mm."""
    return replace(
        choices,
        openings=tuple(replace(one, at=_point(one.at, by)) for one in choices.openings),
        fields=tuple(
            one if one.region is None else replace(one, region=tuple(_point(at, by) for at in one.region))
            for one in choices.fields))


def moved_message(text: str, by: Floats) -> Message:
    """A message with the places in it shifted.

    >>> from .messages import Place
    >>> str(moved_message(f"a hole at {Place(1.0, 2.0, 3.0)}", np.array([10.0, 0.0, 0.5])))
    'a hole at (11, 2, 3.5) mm'
    """
    return Message("".join(part if isinstance(part, str) else f"{_quantity(part, by)}" for part in Message(text).parts))


def moved_finding(finding: Finding, by: Floats) -> Finding:
    """A finding with its place, the places in its message, and its remedy's shifted."""
    return replace(
        finding, at=None if finding.at is None else _point(finding.at, by), message=moved_message(finding.message, by),
        remedy=None if finding.remedy is None else moved_remedy(finding.remedy, by))


def moved_remedy(remedy: Remedy, by: Floats) -> Remedy:
    """A remedy with the openings that it adds shifted; moves of openings are the same in both frames."""
    return replace(remedy, changes=tuple(_change(change, by) for change in remedy.changes))


def moved_error(error: TackwrightError, by: Floats) -> TackwrightError:
    """An error of the same kind, with all places and remedies in it shifted."""
    if len(error.each) > 1:
        return type(error).several(moved_error(one, by) for one in error.each)
    return type(error)(
        moved_message(error.what, by), where=moved_message(error.where, by), by=moved_message(error.by, by),
        do=moved_message(error.do, by), faces=error.faces, edges=error.edges, openings=error.openings,
        remedy=None if error.remedy is None else moved_remedy(error.remedy, by))


@contextlib.contextmanager
def leaving(by: Floats) -> Iterator[None]:
    """Errors that leave this are shifted."""
    try:
        yield
    except TackwrightError as error:
        raise moved_error(error, by) from error


def _point(at: Point, by: Floats) -> Point:
    x, y, z = (np.asarray(at, dtype=np.float64) + by).tolist()
    return x, y, z


def _quantity(quantity: Quantity, by: Floats) -> Quantity:
    if quantity.kind != "place":
        return quantity
    return replace(quantity, values=_point((quantity.values[0], quantity.values[1], quantity.values[2]), by))


def _change(change: Change, by: Floats) -> Change:
    if isinstance(change, AddedOpening):
        return replace(change, opening=replace(change.opening, at=_point(change.opening.at, by)))
    return change
