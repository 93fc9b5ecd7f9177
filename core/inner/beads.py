"""Where beads run across the faces of plates: what perforation fields keep clear of."""

from __future__ import annotations

import shapely

from .inner_plates import Inside
from .tee_checks import foot_of

__all__ = ["beads_on"]


def beads_on(inside: Inside) -> dict[int, shapely.Geometry]:
    """For plates on which others stand, the lines where they do: fields keep clear of the beads there. Edges are
    kept clear of by the outline itself."""
    lines: dict[int, list[shapely.Geometry]] = {}
    for tee in inside.tees:
        lines.setdefault(tee.wall, []).append(foot_of(tee))
    own = {inner.plate.number: inner.plate for inner in inside.plates}
    for crossing in inside.crossings:
        for index in crossing.panels:
            frame = own[index].frame
            width = max(own[i].thickness for i in crossing.panels)
            lines.setdefault(index, []).append(
                shapely.LineString(frame.flat(crossing.line)).buffer(width / 2, cap_style="flat"))
    return {index: shapely.union_all(feet) for index, feet in sorted(lines.items())}
