"""Numbers among the choices that are none, or that no workshop has: refused before anything is solved by them."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import fields
from string import Formatter
from typing import Final

from ..terms.choices import Choices, TabRule
from ..terms.errors import InputError
from ..terms.messages import Length, Run

__all__ = ["FILE_FIELDS", "check_numbers"]

FILE_FIELDS: Final = ("mark", "name", "thickness", "quantity", "material")
"""What a pattern for the names of plates' files may hold."""

_NONE, _SOME = f"{Length(0.0)}", f"more than {Length(0.0)}"
"""The least that a length may be."""
_LONGEST: Final = 100_000.0
"""mm: a longer one can only be a wrong unit."""

_SETTINGS: Final = (
    "root_gap", "fit_gap", "thickness_gap", "reach", "tab_short", "jog", "slot_relief", "limber", "nose",
    "hole_radius")


def check_numbers(choices: Choices) -> None:
    """Refuse lengths that are not finite, below 0, or longer than any plate, and a pattern for file names that holds
    what it cannot (InputError, naming each)."""
    errors = [
        InputError(f"The {what} is {Length(value):g}", do=f"Give {least} up to {Run(_LONGEST):g}.")
        for what, value, least in _lengths(choices)
        if value is not None
        and (not math.isfinite(value) or not 0.0 <= value <= _LONGEST or (value == 0.0 and least != _NONE))
    ]
    errors += _pattern(choices.settings.file_names)
    if errors:
        raise InputError.several(errors)


def _pattern(pattern: str) -> list[InputError]:
    """What is wrong with a pattern for file names."""
    try:
        parts = list(Formatter().parse(pattern))
    except ValueError:
        parts = [("", "{", "", None)]
    wrong = [f"{{{name}}}" for _, name, form, turn in parts if name is not None and (
        name not in FILE_FIELDS or form or turn)]
    if not wrong:
        return []
    known = ", ".join(f"{{{name}}}" for name in FILE_FIELDS)
    return [InputError(f"File names as '{pattern}' cannot be made: {wrong[0]} is not known",
                       do=f"Between letters, digits, '-' and '_' the pattern may hold {known}.")]


def _lengths(choices: Choices) -> Iterator[tuple[str, float | None, str]]:
    settings = choices.settings
    for name in _SETTINGS:
        yield name.replace("_", " "), getattr(settings, name), _NONE
    yield from _rule(settings.tabs, "")
    yield "leg of fillets", settings.weld.leg, _SOME
    yield "length of stitches", settings.weld.stitch, _NONE
    yield "pitch of stitches", settings.weld.pitch, _SOME
    yield "smallest hole", settings.cutter.hole, _NONE
    yield "thinnest sheet", settings.cutter.thinnest, _NONE
    yield from (("cutter's bed", side, _SOME) for side in settings.cutter.bed or ())
    torch = settings.torch
    yield from (("nozzle", torch.nozzle, _SOME), ("torch's stand-off", torch.stand_off, _SOME),
                ("torch's length", torch.length, _SOME), ("way of the hand at the torch", torch.hand, _SOME))
    for pair, choice in sorted(choices.joints.items()):
        where = f" of '{pair[0]}' and '{pair[1]}'"
        yield f"root gap{where}", choice.root_gap, _NONE
        yield f"fit gap{where}", choice.fit_gap, _NONE
        yield from _rule(choice.tabs, where)
    for edge, choice in sorted(choices.edges.items()):
        where = f" of the edge between points {edge[0]} and {edge[1]}"
        yield f"root gap{where}", choice.root_gap, _NONE
        yield f"fit gap{where}", choice.fit_gap, _NONE
        yield from _rule(choice.tabs, where)


def _rule(rule: TabRule, where: str) -> Iterator[tuple[str, float | None, str]]:
    for item in fields(TabRule):
        value = getattr(rule, item.name)
        if item.name == "on" or value is None:
            continue
        if item.name == "share":
            if not 0.0 <= value <= 1.0:
                raise InputError(f"The tabs' share of the groove{where} is {value:g}", do="Give a number from 0 to 1.")
            continue
        if item.name == "count" and value < 1:
            raise InputError(f"The number of tabs{where} is {value:g}", do="Give 1 or more, or turn tabs off.")
        yield f"tabs' {item.name.replace('_', ' ')}{where}", float(value), (
            _NONE if item.name in {"flank", "keep_out"} else _SOME)
