"""Where beads run across the faces of plates: what perforation fields keep clear of."""

from __future__ import annotations

import shapely

from ..plates.solve import Solved
from .inner_plates import Inside
from .tee_checks import foot_of

__all__ = ["beads_on"]


def beads_on(solved: Solved, inside: Inside) -> dict[int, shapely.Geometry]:
    """For plates on which others stand, the lines where they do: fields keep clear of the beads there. Edges are
    kept clear of by the outline itself."""
    lines: dict[int, list[shapely.Geometry]] = {}
    for tee in inside.tees:
        lines.setdefault(tee.wall, []).append(foot_of(tee))
    first = len(solved.plates)
    for crossing in inside.crossings:
        for index in crossing.panels:
            frame = inside.plates[index - first].plate.frame
            width = max(inside.plates[i - first].plate.thickness for i in crossing.panels)
            lines.setdefault(index, []).append(
                shapely.LineString(frame.flat(crossing.line)).buffer(width / 2, cap_style="flat"))
    return {index: shapely.union_all(own) for index, own in sorted(lines.items())}
