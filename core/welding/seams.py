"""All seams of a kit, in the order of its joints, then of its corners."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from ..terms.choices import WeldRule
from .corner_seams import corner_fill, corner_seam
from .joint_records import Corner, Joint
from .pieces import Pieces
from .seam import Seam
from .tee_seams import cross_seams, slot_seams, tee_seams

__all__ = ["seams_of"]

CLOSED = 0.98
"""Share of a plate's outer edge that must stand on others for it to part a space: limber holes and snipes are less."""

_UNWELDED = ("free", "bend")


def seams_of(joints: Sequence[Joint], corners: Sequence[Corner], pieces: Pieces, rule: WeldRule) -> tuple[Seam, ...]:
    """What is welded: a seam for every corner, two for a tee and one for each slot of it, four for a crossing, and one
    for each point where joints meet."""
    parting = _parting(joints, pieces)
    runs = [seam for joint in joints for seam in _seams_at(joint, pieces, rule, parting)]
    by_joint = {seam.id: seam for seam in runs}
    return (*runs, *(corner_fill(corner, by_joint, pieces) for corner in corners))


def _seams_at(joint: Joint, pieces: Pieces, rule: WeldRule, parting: frozenset[str]) -> Iterator[Seam]:
    if joint.kind == "tee":
        yield from tee_seams(joint, pieces, rule, joint.plates[1] in parting)
        yield from slot_seams(joint, pieces, rule)
    elif joint.kind == "cross":
        yield from cross_seams(joint, pieces, rule)
    elif joint.kind not in _UNWELDED:
        yield corner_seam(joint, pieces, rule)


def _parting(joints: Sequence[Joint], pieces: Pieces) -> frozenset[str]:
    """The inner plates that part the space in a vessel: whole ones that stand on others all round."""
    stands: dict[str, float] = {}
    held: set[str] = set()
    for joint in joints:
        if joint.kind == "tee":
            wall, plate = joint.plates
            # its outer edge runs round the tabs
            edge = joint.length + sum(2.0 * tab.reach for tab in joint.tabs)
            stands[plate] = stands.get(plate, 0.0) + edge
            if pieces[wall].vessel is not None:
                held.add(plate)
    return frozenset(
        name for name, length in stands.items()
        if name in held and pieces[name].whole and length >= CLOSED * pieces[name].around)
