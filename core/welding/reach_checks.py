"""Welds that no torch gets to, and those that must be made before a plate closes them in."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from ..terms.choices import JointChoice, TabRule
from ..terms.findings import Finding, Level
from ..terms.messages import Angle, Length, Run
from ..terms.remedies import ChangedJoints, Remedy
from .joint_records import Joint
from .pieces import Pieces
from .reach import Reach
from .seam import Seam

__all__ = ["TriedJoint", "check_reach", "tried_joints"]

MOST_NAMED: Final = 4
"""Plates, or pairs of them, that are named as put on last; the rest are counted."""

_WORST_LAST: Final = ("end", "before", "none")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TriedJoint:
    """A joint, and how a torch gets to the best of its runs; slots: how many there are in its wall. outside: where
    there is none, how one gets to the far side of the wall."""

    joint: Joint
    best: Reach
    tight: bool
    slots: int
    outside: Reach | None

    @property
    def by_plugs(self) -> bool:
        """Whether it holds by its slots alone."""
        return self.best.when == "none" and self.slots > 0 and self.outside is not None and self.outside.when == "end"


def tried_joints(
    joints: Mapping[str, Joint], seams: Sequence[Seam], found: Mapping[str, Reach], outside: Mapping[str, Reach]
) -> list[TriedJoint]:
    """found: by seam; outside: by joint, of tees that no torch gets to."""
    at: dict[str, list[Seam]] = {}
    for seam in seams:
        at.setdefault(seam.joint, []).append(seam)
    out = []
    for name, own in at.items():
        runs = [seam for seam in own if seam.kind not in ("slot", "plug")]
        best = min(
            (found[seam.id] for seam in runs),
            key=lambda reach: (_WORST_LAST.index(reach.when), reach.unreached, len(reach.before)))
        out.append(TriedJoint(
            joint=joints[name], best=best, tight=any(seam.tight for seam in runs), slots=len(own) - len(runs),
            outside=outside.get(name)))
    return out


def check_reach(tried: Sequence[TriedJoint], pieces: Pieces, ids: Sequence[str]) -> Iterator[Finding]:
    """ids: of the placements, by their numbers."""
    barred = [one for one in tried if one.best.when == "none"]
    yield from (_barred(one, pieces) for one in barred if not one.by_plugs)
    if plugs := [one for one in barred if one.by_plugs]:
        yield _finding("weld_by_plugs", "note", plugs, pieces, (
            "no torch gets inside to it; it holds by the plugs in its slots, which are welded from outside"))
    if part := [one for one in tried if one.best.when != "none" and one.best.unreached > 0.0]:
        most = max(part, key=lambda one: one.best.unreached)
        level: Level = "warning" if any(one.tight for one in part) else "note"
        yield _finding("weld_partly_reached", level, [most, *(one for one in part if one is not most)], pieces, (
            f"to {Length(most.best.unreached):.0f} of {Length(most.joint.length):.0f} no torch gets: leave it, or make "
            "more room there"))
    if closed := [one for one in tried if one.best.when == "before"]:
        yield _finding("closed_in", "note", closed, pieces, (
            f"a torch gets to {Run(sum(one.joint.length for one in closed)):.2f} of weld only until the way is closed: "
            f"{_put_on_last(closed, pieces, ids)}. The list of welds says which comes before what"))


def _put_on_last(closed: Sequence[TriedJoint], pieces: Pieces, ids: Sequence[str]) -> str:
    """After how many joints each plate is put on, the first for most."""
    count: dict[tuple[int, ...], int] = {}
    for one in closed:
        count[one.best.before] = count.get(one.best.before, 0) + 1
    order = sorted(count, key=lambda before: (-count[before], before))
    parts = [
        f"{' and '.join(_quoted(pieces, ids[plate]) for plate in before)} after {count[before]}"
        for before in order[:MOST_NAMED]]
    rest = sum(count[before] for before in order[MOST_NAMED:])
    return f"put on {', '.join(parts)}" + (f", others after {rest}" if rest else "")


def _barred(one: TriedJoint, pieces: Pieces) -> Finding:
    """Nobody gets to it, from no side."""
    joint = one.joint
    wall, plate = (_quoted(pieces, name) for name in joint.plates)
    said = f"No torch gets to the weld between {wall} and {plate} ({Length(joint.length):.0f} long): "
    remedy = None
    if one.best.narrow:
        said += f"at {Angle(joint.angle):.1f} they leave its nozzle no room. "
    else:
        said += "whichever two plates are put on last, others are in its way. "
    if joint.kind != "tee":
        said += "Draw them farther apart, or weld with a narrower torch."
    elif one.outside is not None and one.outside.when == "end" and not one.slots:
        said += (f"Give it tabs through {wall} and weld those from outside as plugs, or leave it as a joint that only "
                 "locates.")
        remedy = Remedy(label="Add Tabs to Plug Weld", changes=(
            ChangedJoints(edges=joint.mesh_edges, choice=JointChoice(tabs=TabRule(on=True))),))
    else:
        said += "Move or leave out a plate, weld with a narrower torch, or leave it as a joint that only locates."
    return _error("weld_out_of_reach", one, said, remedy)


def _finding(
    rule: str, level: Level, at: Sequence[TriedJoint], pieces: Pieces, text: str
) -> Finding:
    """One finding for all places that are alike, the first the one that is told."""
    names = " and ".join(_quoted(pieces, name) for name in at[0].joint.plates)
    where = f"{len(at)} joints, as between {names}" if len(at) > 1 else names
    return _at_joints(rule, level, at, f"{where}: {text}.", None)


def _error(rule: str, at: TriedJoint, message: str, remedy: Remedy | None) -> Finding:
    return _at_joints(rule, "error", [at], message, remedy)


def _at_joints(
    rule: str, level: Level, at: Sequence[TriedJoint], message: str, remedy: Remedy | None
) -> Finding:
    x, y, z = at[0].joint.line.mean(axis=0).tolist()
    return Finding(
        rule=rule, level=level, message=message, at=(x, y, z), remedy=remedy,
        about=tuple(dict.fromkeys(name for one in at for name in one.joint.plates)),
        edges=tuple(dict.fromkeys(edge for one in at for edge in one.joint.mesh_edges)))


def _quoted(pieces: Pieces, name: str) -> str:
    """What a placement's panel is called."""
    return f"'{pieces[name].name.partition(' ')[2]}'"
