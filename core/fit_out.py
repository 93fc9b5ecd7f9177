"""Fitting out an envelope: inner plates, openings, locating tabs in their slots, perforation fields; and what the
spaces between all of them are like.

Each comes after what it has to keep clear of: openings are where the user put them, tabs go where there is
room left, holes by the thousand come last. Then the plates are checked as solids once more.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from .cells.interior_cells import check_interior_cells
from .inner.beads import beads_on
from .inner.drained import drained, limber_openings
from .inner.inner_plates import Inside, fit_inner_plates
from .inner.interior import Interior
from .inner.pierced import panel_finder, pierced_plates, strict
from .inner.room import room_of
from .inner.tabbed import tab_and_settle
from .inner.tee_checks import check_tees
from .openings.perforated_plates import perforate_plates
from .plates.solve import Solved
from .plates.trimming import Assembly
from .terms.choices import Choices
from .terms.findings import Finding
from .terms.memo import Remember, afresh
from .terms.progress import Counting, uncounted

__all__ = ["fit_out", "inspect_interior"]


def fit_out(
    solved: Solved, walls: Assembly, choices: Choices, progress: Counting | None = None,
    remember: Remember = afresh,
) -> Interior:
    """The walls with everything in and on them. Raises InputError for what cannot be: see the modules called."""
    envelope = solved.envelope
    room = remember(room_of, replace(envelope, inner=(), notes=(), drawn_holes=())) if envelope.inner else None
    inside = _nothing()
    if room is not None:
        inside = fit_inner_plates(envelope, room, choices, _share(progress, 0))
    pierced, openings, findings = pierced_plates(envelope, inside, walls.plates, choices)
    inside, pierced, undrained = drained(envelope, inside, pierced)
    tabbed = tab_and_settle(
        walls, pierced, inside, choices.settings, remember, _share(progress, 1), _share(progress, 2))
    assembly, inside = tabbed.assembly, tabbed.inside
    perforated = perforate_plates(
        assembly.plates, choices.fields, strict(panel_finder(envelope, inside, assembly.plates), assembly.plates),
        beads_on(inside), choices.settings.cutter, remember)
    return Interior(
        assembly=replace(assembly, plates=perforated.plates), inside=inside, tabs=tabbed.tabs, room=room,
        untabbed=pierced, former=tabbed.former,
        openings=(*openings, *limber_openings(inside), *perforated.openings),
        findings=(*inside.findings, *findings, *undrained, *perforated.findings))


def _share(progress: Counting | None, third: int) -> Counting:
    """Progress of one of three steps as that of the whole."""
    if progress is None:
        return uncounted
    return lambda done, total: progress(third * max(total, 1) + done, 3 * max(total, 1))


def inspect_interior(
    solved: Solved, interior: Interior, choices: Choices, progress: Callable[[int, int], None] | None = None
) -> tuple[Finding, ...]:
    """What hurts at the tees, and what the spaces between all plates are like."""
    return (
        *check_tees(interior.inside, interior.tabs, interior.former, interior.openings, interior.untabbed),
        *check_interior_cells(solved, interior, choices, progress),
    )


def _nothing() -> Inside:
    return Inside(plates=(), tees=(), sides=np.empty((0, 3), dtype=np.int64), crossings=(), ranks=(), findings=(),
                  drawn_holes=())
