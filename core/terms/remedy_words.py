"""A remedy as it is written in a job file, for who has no button to press."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator

from .choices import JointChoice, MarkedOpening
from .remedies import (
    AddedOpening,
    Change,
    ChangedField,
    ChangedJoints,
    ChangedOpening,
    ChangedPanels,
    ChangedSetting,
    Remedy,
)

__all__ = ["job_words"]


def job_words(remedy: Remedy) -> str:
    """The keys and values that a remedy comes to, in a line; empty for what is mended in the drawing.

    >>> from .choices import TabRule
    >>> def on_joint(**choice): return ChangedJoints(edges=((0, 1),), choice=JointChoice(**choice))
    >>> job_words(Remedy(label="", changes=(on_joint(corner="half-open", overlap=0.63),)))
    'in [[joints]]: corner = "half-open", overlap = 0.63'
    >>> job_words(Remedy(label="", changes=(on_joint(tabs=TabRule(on=False)),)))
    'in [[joints]]: tabs = { on = false }'
    >>> from .choices import PanelChoice
    >>> on_panel = ChangedPanels(faces=(2,), choice=PanelChoice(inner=True), name="rib 1")
    >>> job_words(Remedy(label="", changes=(on_panel,)))
    'in [panels."rib 1"]: inner = true'
    >>> job_words(Remedy(label="", changes=(ChangedSetting(name="limber", value=14.0),)))
    'limber = 14'
    """
    return "; ".join(words for change in remedy.changes for words in _words(change))


def _words(change: Change) -> Iterator[str]:
    match change:
        case ChangedSetting():
            yield f"{change.name} = {change.value:g}"
        case ChangedJoints():
            yield f"in [[joints]]: {', '.join(_joint(change.choice))}"
        case ChangedPanels(choice=choice, name=str(name)) if choice.inner is not None:
            yield f"in [panels.{_key(name)}]: inner = {str(choice.inner).lower()}"
        case AddedOpening():
            yield f"[[openings]]: {', '.join(_opening(change.opening))}"
        case ChangedOpening():
            yield f"in its [[openings]]: {', '.join(_changed(change))}"
        case ChangedField():
            yield f"in its [[perforations]]: margin = {change.margin:g}"
        case _:
            return


def _key(name: str) -> str:
    """A name as a key of TOML: bare where it can be, else as JSON writes it, which TOML reads alike."""
    return name if re.fullmatch(r"[A-Za-z0-9_-]+", name) else json.dumps(name, ensure_ascii=False)


def _joint(choice: JointChoice) -> Iterator[str]:
    if choice.corner is not None:
        yield f'corner = "{choice.corner}"'
    for name, value in (("overlap", choice.overlap), ("fit_gap", choice.fit_gap)):
        if value is not None:
            yield f"{name} = {value:g}"
    if choice.tabs.on is False:
        yield "tabs = { on = false }"


def _opening(opening: MarkedOpening) -> Iterator[str]:
    yield f'name = "{opening.name}"'
    yield f"at = {_list(opening.at)}"
    yield f'purpose = "{opening.purpose}"'
    yield f"size = {_size(opening.size or ())}"


def _changed(change: ChangedOpening) -> Iterator[str]:
    if change.move is not None:
        yield f"at, moved by {_list(change.move)}"
    if change.size is not None:
        yield f"size = {_size(change.size)}"
    if change.square:
        yield "no axis"


def _size(size: tuple[float, ...]) -> str:
    return f"{size[0]:g}" if len(size) == 1 else _list(size)


def _list(values: tuple[float, ...]) -> str:
    return f"[{', '.join(f'{round(value, 2) + 0.0:g}' for value in values)}]"
