"""What was chosen for the joints of inner plates, by the names of the two panels."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Sequence
from dataclasses import fields, replace

from ..envelope.envelope import Envelope
from ..plates.tabs import SHORTEST_REACH
from ..stock.sheet_tolerances import thickness_gap
from ..terms.choices import SIDES, Choices, JointChoice, TabRule
from ..terms.errors import InputError
from ..terms.merged_choices import one_choice

__all__ = ["TeeRules"]

_NOTHING = JointChoice()

PLUG = 0.5
"""Of a vessel's wall, what a plug weld over the end of a tab is deep. Common practice, no source."""

_CORNER_ONLY = ("corner", "overlap", "through", "tab_on")


class TeeRules:
    """Choices for tees and crossings, looked up by pairs of panel names, wider choices behind them."""

    def __init__(self, envelope: Envelope, choices: Choices) -> None:
        own = {p.name for p in envelope.inner}
        self._choices, self._settings = choices, choices.settings
        self._edges = choices.edges
        self._vessels = {p for shell in envelope.shells if shell.closed for p in shell.panels}
        self._corners = {pair for edge in envelope.edges for pair in edge.mesh_edges}
        self._chosen = {
            (min(pair), max(pair)): choice for pair, choice in choices.joints.items() if own.intersection(pair)
        }
        self._names = sorted(own | {p.name for p in envelope.panels})

    @property
    def reach(self) -> float:
        return self._settings.reach

    @property
    def nose(self) -> float | None:
        return self._settings.nose

    def choice(self, one: str, two: str, drawn: Sequence[tuple[int, int]] = ()) -> JointChoice:
        """What was chosen for two panels, by name or on one of the mesh edges that the joint was drawn as."""
        return self._on_edges(drawn) or self._chosen.get((min(one, two), max(one, two)), _NOTHING)

    def _on_edges(self, drawn: Iterable[tuple[int, int]]) -> JointChoice | None:
        pieces = [self._edges[edge] for edge in drawn if edge in self._edges]
        return one_choice(pieces, lambda plate: plate) if pieces else None

    def root_gap(self, one: str, two: str) -> float:
        chosen = self.choice(one, two).root_gap
        return self._settings.root_gap if chosen is None else chosen

    def shift(self, drawn: Sequence[tuple[int, int]]) -> float:
        """By how much the first tab of a tee is moved along."""
        return max((self._choices.shifts.get(edge, 0.0) for edge in drawn), default=0.0)

    def fit_gap(self, choice: JointChoice) -> float:
        """Both sides together."""
        return SIDES * (self._settings.fit_gap if choice.fit_gap is None else choice.fit_gap)

    def short(self, wall: int, thickness: float) -> float:
        """How far tabs end below the outer face of the wall with that number and thickness: filled over as a plug, they
        leave no bead that stands proud of a vessel."""
        if self._settings.tab_short is not None:
            return self._settings.tab_short
        plug = PLUG * thickness
        return plug if wall in self._vessels and thickness - plug >= SHORTEST_REACH else 0.0

    def thickness_gap(self, thickness: float) -> float:
        """By which a slot is wider than the plate of that thickness that goes into it."""
        return thickness_gap(self._choices, thickness)

    def tabs(self, choice: JointChoice) -> TabRule:
        """The joint's rule with what it leaves open taken from the settings."""
        rule, wider = choice.tabs, self._settings.tabs
        left_open = [f.name for f in fields(TabRule) if getattr(rule, f.name) is None]
        return replace(rule, **{name: getattr(wider, name) for name in left_open})

    def idle(self, one: str, two: str, drawn: Sequence[tuple[int, int]]) -> tuple[str, ...]:
        """What was chosen on the mesh edges that a tee was drawn as, is no corner of walls' either, and has no effect:
        the root gap is one for the two panels."""
        chosen = self._on_edges(edge for edge in drawn if edge not in self._corners) or _NOTHING
        names = [name for name in _CORNER_ONLY if getattr(chosen, name) is not None]
        return (*names, *(["root_gap"] if chosen.root_gap not in {None, self.root_gap(one, two)} else []))

    def refuse_unused(self, pairs: Iterable[tuple[str, str]]) -> None:
        """Raise InputError for a choice whose two panels do not meet, or do not exist."""
        met = {(min(pair), max(pair)) for pair in pairs}
        for pair, choice in sorted(self._chosen.items()):
            if pair in met:
                idle = [name for name in _CORNER_ONLY if getattr(choice, name) is not None]
                if idle:
                    raise InputError(
                        f"'{pair[0]}' and '{pair[1]}' meet in a tee or a crossing, which has no {', '.join(idle)}",
                        do="Take that out; root gap, fit gap and tabs can be chosen.")
                continue
            unknown = [name for name in pair if name not in self._names]
            if unknown:
                close = difflib.get_close_matches(unknown[0], self._names, n=1)
                hint = f"Did you mean '{close[0]}'? " if close else ""
                raise InputError(f"no panel is named '{unknown[0]}'",
                                 do=f"{hint}The panels are: {', '.join(self._names)}.")
            raise InputError(f"'{pair[0]}' and '{pair[1]}' do not meet", do="Take the choice for their joint out.")
