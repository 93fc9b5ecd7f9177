"""One choice of what the pieces of a joint choose: a mesh edge that was cut leaves one joint of several pieces."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import fields
from typing import Any

from .choices import JointChoice, TabRule

__all__ = ["one_choice"]


def one_choice(pieces: Sequence[JointChoice], plate_of: Callable[[str | int], object]) -> JointChoice:
    """Each value as the last piece that chooses it has it; a corner and its overlap belong together.

    plate_of: which plate a name or a face means. One that the pieces do not agree on is not chosen.

    >>> pieces = [JointChoice(corner="open", through=1), JointChoice(root_gap=2.0, through=2), JointChoice(through=3)]
    >>> one_choice(pieces[:2], lambda face: face // 4)
    JointChoice(corner='open', overlap=None, root_gap=2.0, fit_gap=None, through=2, tab_on=None, \
tabs=TabRule(on=None, width=None, flank=None, spacing=None, keep_out=None, count=None, share=None))
    >>> one_choice(pieces, lambda face: face // 3).through
    """
    kind = next((piece for piece in reversed(pieces) if (piece.corner, piece.overlap) != (None, None)), JointChoice())
    rules = [piece.tabs for piece in pieces]
    found: dict[str, Any] = {
        name: _last(getattr(piece, name) for piece in pieces) for name in ("root_gap", "fit_gap")
    }
    for name in ("through", "tab_on"):
        meant = [value for piece in pieces if (value := getattr(piece, name)) is not None]
        found[name] = meant[-1] if len({plate_of(value) for value in meant}) == 1 else None
    rule = TabRule(**{one.name: _last(getattr(rule, one.name) for rule in rules) for one in fields(TabRule)})
    return JointChoice(corner=kind.corner, overlap=kind.overlap, tabs=rule, **found)


def _last(values: Any) -> Any:
    return next((value for value in reversed(list(values)) if value is not None), None)
