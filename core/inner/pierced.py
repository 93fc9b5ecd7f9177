"""Walls and inner plates with the openings that were drawn or marked."""

from __future__ import annotations

import difflib
from collections.abc import Callable, Sequence

from ..envelope.envelope import Envelope
from ..openings.drawn_holes import place_drawn_holes
from ..openings.openings import place_openings
from ..openings.placed_openings import PlacedOpening
from ..plates.plates import Plate
from ..plates.tab_sizes import WEB
from ..terms.choices import Choices
from ..terms.errors import InputError
from ..terms.findings import Finding
from .inner_plates import Inside

__all__ = ["panel_finder", "pierced_plates", "strict"]


def pierced_plates(
    envelope: Envelope, inside: Inside, walls: Sequence[Plate], choices: Choices
) -> tuple[tuple[Plate, ...], tuple[PlacedOpening, ...], tuple[Finding, ...]]:
    """All plates with the drawn and the marked openings cut."""
    plates = [*walls, *(inner.plate for inner in inside.plates)]
    drawn = place_drawn_holes(
        (*envelope.drawn_holes, *inside.drawn_holes), plates, choices.settings.hole_radius, WEB)
    marked = place_openings(
        drawn.plates, choices.openings, panel_finder(envelope, inside, drawn.plates), choices.fittings, WEB)
    return marked.plates, (*drawn.openings, *marked.openings), (*drawn.findings, *marked.findings)


def panel_finder(envelope: Envelope, inside: Inside, plates: Sequence[Plate]) -> Callable[[str | int], Sequence[int]]:
    """Which plates a panel's name, or one of its faces, stands for; a panel that walls part stands for all parts."""
    inner = [envelope.inner[own.panel] for own in inside.plates]
    names = [p.name for p in envelope.panels] + [p.name for p in inner]
    faces = [p.faces for p in envelope.panels] + [p.faces for p in inner]

    def find(panel: str | int) -> Sequence[int]:
        return [
            row for row, plate in enumerate(plates)
            if panel in (plate.name, names[row]) or panel in faces[row]
        ]

    return find


def strict(
    find: Callable[[str | int], Sequence[int]], plates: Sequence[Plate]
) -> Callable[[str | int], Sequence[int]]:
    """The same, but an unknown name or a face without a plate is refused (InputError)."""

    def found(panel: str | int) -> Sequence[int]:
        rows = find(panel)
        if not rows:
            names = sorted({plate.name for plate in plates})
            close = difflib.get_close_matches(str(panel), names, n=1)
            hint = f"Did you mean '{close[0]}'? " if close else ""
            what = f"no panel is named '{panel}'" if isinstance(panel, str) else f"face {panel} is no part of a plate"
            raise InputError(what, do=f"{hint}The panels are: {', '.join(names)}.",
                             faces=() if isinstance(panel, str) else (panel,))
        return rows

    return found
