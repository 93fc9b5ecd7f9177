"""A kit whose seams say by when a torch gets to them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ..terms import tolerance
from ..terms.choices import Torch
from ..terms.findings import Finding
from ..welding.pieces import Pieces
from ..welding.placed_shields import Cut, placed_shields
from ..welding.reach import Reach, reaches
from ..welding.reach_checks import check_reach, tried_joints
from ..welding.seam import Seam
from ..welding.seam_lines import plug_line, seam_line
from ..welding.shields import Shields
from ..welding.torch_ways import TorchLine
from .kit import Kit
from .welded_kit import pieces_of

__all__ = ["reached"]

Floats = NDArray[np.float64]

MOST_PAIRS: Final = 40_000
"""Seams times plates up to which is looked: about ten seconds' work where every weld lies in a closed cell."""

HAND_HOLE: Final = 2.0
"""Openings at least so many nozzles wide are aimed at with an arm; whether it goes through the rays say."""

AT_END: Final = Reach(when="end")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Site:
    """Where it is welded. numbers: of the placements among the shields, in their order; words: what they are called in
    the list. doors: (k, 3)."""

    torch: Torch
    shields: Shields
    pieces: Pieces
    doors: Floats
    numbers: Mapping[str, int]
    words: tuple[str, ...]


def reached(kit: Kit) -> Kit:
    """The kit with the reach of each seam, and findings about those that no torch gets to."""
    runs = [seam for seam in kit.seams if seam.joint]
    convex = _convex(kit)
    looked = [seam for seam in runs if not (convex and seam.side == "outside")]
    many = sum(plate.quantity for plate in kit.plates)
    if len(looked) * many > MOST_PAIRS:
        return replace(kit, checks=(*kit.checks, Finding(
            rule="reach_not_tried", level="note", message=f"{len(looked)} welds among {many} plates are too many to "
            "try a torch at each: whether one gets to them was not looked at.")))
    site = _site(kit)
    joints = {joint.id: joint for joint in kit.joints}
    found = dict.fromkeys((seam.id for seam in runs), AT_END)
    found |= _tried(site, looked, [seam_line(seam, joints[seam.joint], site.pieces, site.numbers) for seam in looked])
    barred = [seam for seam in runs if seam.kind == "tee" and found[seam.id].when == "none"]
    far = _tried(site, barred, [plug_line(seam, site.pieces, site.numbers) for seam in barred])
    tried = tried_joints(joints, runs, found, {seam.joint: far[seam.id] for seam in barred})
    by_plugs = {one.joint.id for one in tried if one.by_plugs}
    said = {seam.id: _word(found[seam.id], seam.joint in by_plugs, site) for seam in runs}
    at_corners = {corner.id: [said[name] for name in corner.joints if name in said] for corner in kit.corners}
    return replace(
        kit,
        seams=tuple(
            replace(seam, reach=said[seam.id] if seam.joint else _at_corner(at_corners.get(seam.id, ())))
            for seam in kit.seams),
        checks=(*kit.checks, *check_reach(tried, site.pieces, tuple(site.numbers))))


def _site(kit: Kit) -> _Site:
    torch = kit.settings.torch
    cuts = [
        Cut(outline=plate.outline, thickness=plate.thickness,
            places=np.array([placed.matrix for placed in plate.placements]))
        for plate in kit.plates]
    placed = [(plate, one) for plate in kit.plates for one in plate.placements]
    return _Site(
        torch=torch, shields=placed_shields(cuts, torch), pieces=pieces_of(kit), doors=_doors(kit),
        numbers={one.id: row for row, (_, one) in enumerate(placed)},
        words=tuple(plate.mark if plate.quantity == 1 else one.id for plate, one in placed))


def _tried(site: _Site, seams: Sequence[Seam], lines: Sequence[TorchLine]) -> dict[str, Reach]:
    """By seam, each with its line."""
    found = reaches(lines, site.shields, site.torch, site.doors)
    return {seam.id: reach for seam, reach in zip(seams, found, strict=True)}


def _convex(kit: Kit) -> bool:
    """Whether the kit is one closed shell without a re-entrant corner: then all that opens outward lies free."""
    return len(kit.envelopes) == 1 and kit.envelopes[0].closed and all(
        joint.angle <= 180.0 + tolerance.ANGLE_NOISE for joint in kit.joints if joint.kind not in ("tee", "cross"))


def _doors(kit: Kit) -> Floats:
    """(k, 3) the middles of openings that an arm might go through, in place."""
    places = {placed.id: (plate, placed.matrix) for plate in kit.plates for placed in plate.placements}
    out = []
    for opening in kit.openings:
        if opening.count == 1 and opening.size and min(opening.size[:2]) >= HAND_HOLE * kit.settings.torch.nozzle:
            plate, matrix = places[opening.plate]
            out.append((matrix @ [*opening.centre, plate.thickness / 2, 1.0])[:3])
    return np.array(out).reshape(-1, 3)


def _word(reach: Reach, by_plugs: bool, site: _Site) -> str:
    """What the list of welds says."""
    if reach.when == "before":
        return f"before {', '.join(site.words[plate] for plate in reach.before)}"
    return "outside plug" if by_plugs and reach.when == "none" else reach.when


def _at_corner(said: Sequence[str]) -> str:
    """At a point where joints meet: the worst of theirs."""
    worse = sorted(word for word in said if word != "end")
    return "none" if "none" in worse else worse[0] if worse else "end"
