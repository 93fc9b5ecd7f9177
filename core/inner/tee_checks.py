"""What the joints of inner plates will do to the person who builds them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence, Set

import numpy as np
import shapely
from numpy.typing import NDArray

from ..openings.piercing import hole_shape
from ..openings.placed_openings import PlacedOpening
from ..plates.joint_checks import WIDE_GAP, fit_gap_text, root_gap_text
from ..plates.plates import Plate
from ..terms.findings import Finding, Level
from ..terms.messages import Length
from ..terms.places import point_at
from .inner_plates import Inside
from .tee_tabs import TabPlan, Tee

__all__ = ["check_tees", "foot_of"]

Floats = NDArray[np.float64]
HARDLY = 1e-3
"""Share of an opening that a joint may cover: it is the rounding of shapes that touch."""


def check_tees(
    inside: Inside, tabs: TabPlan, trimmed: Sequence[Tee], openings: Sequence[PlacedOpening], plates: Sequence[Plate],
) -> tuple[Finding, ...]:
    """Findings about tees. trimmed: tees that lost their metal to trimming and are none any longer. plates: all."""
    tabbed = {tab.tee for tab in tabs.tabs}
    found: list[Finding] = []
    for index, why in tabs.bare:
        found.append(_finding(
            inside.tees[index], plates, "tee_without_tabs", "note",
            f"no locating tab here: {why}. Hold the plate by its other joints, or measure it in."))
    for index, count in tabs.fewer:
        placed = sum(tab.tee == index for tab in tabs.tabs)
        found.append(_finding(
            inside.tees[index], plates, "tee_tabs_left_out", "note",
            f"{placed} of {count} locating tabs found a place: the others would leave too little metal to another cut, "
            "or stand in another plate's way."))
    for index, tee in enumerate(inside.tees):
        found += _wide_gaps(tee, index in tabbed, plates)
        if tee.idle:
            found.append(_finding(tee, plates, "choice_idle", "note", _idle_text(tee.idle)))
    for tee in trimmed:
        found.append(_finding(
            tee, plates, "tee_trimmed_away", "warning",
            f"their joint, {Length(tee.length):.0f} long, was lost to trimming: the plate no longer reaches there. "
            "Move it "
            "away from what it stood in the way of."))
    for opening in openings:
        found += _at_joint(opening, inside, plates)
    found += _locked(inside, tabbed, plates)
    return tuple(found)


def foot_of(tee: Tee) -> shapely.Polygon:
    """Where the plate's end stands on the wall, in the wall's plane."""
    foot = tee.thickness / np.sin(np.radians(tee.angle))
    return shapely.Polygon([*tee.flat, tee.flat[1] + tee.lean * foot, tee.flat[0] + tee.lean * foot])


def _idle_text(names: Sequence[str]) -> str:
    what = " and ".join(name.replace("_", " ") for name in names)
    verb, change = ("is", "changes") if len(names) == 1 else ("are", "change")
    return (f"{what} {verb} chosen on the edge where they meet, and {change} nothing: a plate that stands on another "
            "has its nearer corner on it, with the root gap that all their joints have. Fit gap and tabs can be chosen "
            "there.")


def _wide_gaps(tee: Tee, tabbed: bool, plates: Sequence[Plate]) -> Iterator[Finding]:
    thin = min(tee.thickness, tee.wall_thickness)
    if tee.root_gap > WIDE_GAP * thin:
        yield _finding(tee, plates, "root_gap_wide", "warning", root_gap_text(tee.root_gap, thin))
    if tabbed and tee.fit_gap > WIDE_GAP * thin:
        yield _finding(tee, plates, "fit_gap_wide", "warning", fit_gap_text(tee.fit_gap, thin))


def _locked(inside: Inside, tabbed: Set[int], plates: Sequence[Plate]) -> Iterator[Finding]:
    """A plate with tabs through both plates of a crossing. One of these slides over the other along their crossing,
    and must then move square to that, onto the tabs: whichever comes last is barred."""
    own: dict[tuple[int, int], int] = {}
    for index, tee in enumerate(inside.tees):
        if index in tabbed:
            own.setdefault((tee.plate, tee.wall), index)
    for crossing in inside.crossings:
        one, two = crossing.panels
        for (plate, wall), index in sorted(own.items()):
            if wall == one and (plate, two) in own:
                yield _finding(
                    inside.tees[index], plates, "locked_out", "warning",
                    f"'{plates[plate].name}' has tabs through '{plates[one].name}' and '{plates[two].name}', and these "
                    "slide over each other: whichever of the three comes last is barred. Turn the tabs off at one of "
                    "the two joints.")


def _at_joint(
    opening: PlacedOpening, inside: Inside, plates: Sequence[Plate]
) -> Iterator[Finding]:
    """An opening where an inner plate stands: part of the joint has no wall behind it, and the plate bars the way."""
    if not opening.cuts:
        return
    shape = shapely.union_all([hole_shape(cut) for cut in opening.cuts])
    for tee in inside.tees:
        if tee.wall != opening.plate:
            continue
        covered = shapely.intersection(foot_of(tee), shape)
        if covered.area < HARDLY * shape.area:
            continue
        along = (tee.flat[1] - tee.flat[0]) / tee.length
        lost = float(np.ptp(shapely.get_coordinates(covered) @ along))
        yield _finding(
            tee, plates, "opening_at_joint", "warning",
            f"opening '{opening.name}' lies over their joint: the plate stands behind it, and {Length(lost):.0f} of "
            "the "
            "joint has no metal to be welded to. Move the opening or the plate.", at=shape.centroid, about=opening)


def _finding(
    tee: Tee, plates: Sequence[Plate], rule: str, level: Level, text: str,
    at: shapely.Point | None = None, about: PlacedOpening | None = None,
) -> Finding:
    wall = plates[tee.wall]
    place = tee.line.mean(axis=0) if at is None else wall.frame.solid(np.array([[at.x, at.y]]), wall.low)[0]
    return Finding(
        rule=rule, level=level, panels=(tee.plate, tee.wall), edges=tee.mesh_edges, at=point_at(place),
        openings=() if about is None else (about.name,),
        message=f"'{plates[tee.plate].name}' and '{wall.name}': {text}")
