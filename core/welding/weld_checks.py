"""What will cost the welder passes or filler: one finding for all places that are alike."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from typing import Final

from ..terms.findings import Finding
from ..terms.messages import Angle, Length
from ..terms.process import Process
from .consumption import passes_of, thinnest
from .joint_records import Joint
from .pieces import Pieces
from .seam import Seam

__all__ = ["check_welds"]

_OPEN_OUTSIDE: Final = 1.0
"""mm beside a leaning tab on the wall's outer face that are worth a word. Our choice."""


def check_welds(
    joints: Sequence[Joint], seams: Sequence[Seam], pieces: Pieces, process_of: Callable[[float], Process]
) -> Iterator[Finding]:
    """process_of: the row for a thickness, mm."""
    by_id = {joint.id: joint for joint in joints}
    at_corners = [(seam, by_id[seam.id], thinnest(seam, pieces)) for seam in seams if seam.kind == "corner"]
    closed = [(joint, thin) for seam, joint, thin in at_corners if seam.size and thin > process_of(thin).penetration]
    if closed:
        joint, thin = max(closed, key=lambda one: one[1])
        row = process_of(thin)
        yield _finding("closed_corner_thick", [one for one, _ in closed], joint, pieces, (
            f"one pass of {row.name} fuses about {Length(row.penetration):g} (common practice, no source), and "
            f"the plates are {Length(thin):g}: open the corner, leave a root gap, or weld it from both sides"))
    deep = [(joint, thin, passes_of(seam, process_of(thin), thin))
            for seam, joint, thin in at_corners if not seam.size]
    deep = [one for one in deep if one[2] > 1]
    if deep:
        joint, thin, passes = max(deep, key=lambda one: (one[2], one[1]))
        row = process_of(thin)
        yield _finding("groove_thick", [one for one, *_ in deep], joint, pieces, (
            f"one pass of {row.name} fills about {Length(row.fill):g} of a groove (common practice, no source), and "
            f"the plates are {Length(thin):g}: {passes} passes, and the plates pull more"))
    leaning = [(joint, pieces[joint.plates[0]].thickness / math.tan(math.radians(joint.angle)))
               for joint in joints if joint.kind == "tee" and joint.tabs]
    leaning = [one for one in leaning if one[1] > _OPEN_OUTSIDE]
    if leaning:
        joint, gap = max(leaning, key=lambda one: one[1])
        yield _finding("slot_open_outside", [one for one, _ in leaning], joint, pieces, (
            f"beside the leaning tabs ({Angle(joint.angle):.1f}) the slots stand open by {Length(gap):.1f} outside "
            "the wall; that is filled with the tab's weld"))


def _finding(rule: str, at: Sequence[Joint], worst: Joint, pieces: Pieces, text: str) -> Finding:
    names = " and ".join(f"'{pieces[name].name.partition(' ')[2]}'" for name in worst.plates)
    where = f"{len(at)} joints, as between {names}" if len(at) > 1 else names
    x, y, z = worst.line.mean(axis=0).tolist()
    return Finding(
        rule=rule, level="note", message=f"{where}: {text}.", at=(x, y, z),
        about=tuple(dict.fromkeys(name for joint in at for name in joint.plates)),
        edges=tuple(edge for joint in at for edge in joint.mesh_edges))
