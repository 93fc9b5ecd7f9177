"""Along which way every plate comes out of the assembly, for showing the plates spread apart.

A wall leaves square to its face, outward: along that way none of its tabs, and no tab in its slots, is in the way.
Where that is not enough the two plates of a joint are drawn apart across it: at a re-entrant corner, where two walls
face each other, at an almost flat one, at a tee on an inner plate, and along the line where two inner plates are
slotted through each other. The walls leave first; whatever must slide along a joint waits until they have let go.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..terms import tolerance
from .drawn_apart import Apart, draw_apart
from .kit import Joint, Kit
from .placed_pieces import PlacedPieces, placed_pieces
from .plate_boxes import PlateBoxes, meeting_pairs, parting

__all__ = ["WayOut", "share_of_way", "ways_out"]

Floats = NDArray[np.float64]
Index = NDArray[np.int64]

GROW = 0.5
"""How much farther things come, as a share of how far they stand from the middle: what stood apart stays in order."""

NEIGHBOURS = 0.4
"""How far plates that must be drawn apart across a joint are at the end, as a share of what walls move."""

WAIT = 0.2
"""The slider's value at which what must slide along a joint begins to move."""

LIFTED = 0.5
"""The slider's value at which plates slotted through each other are wholly apart."""

BITE = 2.0
"""Thicknesses by which plates reach into each other at joints; so much is left off their boxes."""

AT_MOST = 1000
"""Plates above which the ways are not tried against each other: time grows with the pairs."""

_ROUNDS = 6
"""How often plates that would meet on their way are drawn apart anew."""

_STILL = 1e-6
"""mm: a move shorter than this is none."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WayOut:
    """direction: (3,) unit vector in the envelope's frame. distance: mm moved at 1 on the slider; 0 for a plate that
    stays while the others leave it. begin, end: between which values of the slider it moves."""

    direction: Floats
    distance: float
    begin: float
    end: float


def share_of_way(begin: float, end: float, spread: float) -> float:
    """How much of its way a plate has done at a value of the slider. Above 1 all goes on in proportion.

    >>> [round(share_of_way(0.2, 1.0, spread), 9) for spread in (0.1, 0.6, 1.0, 3.0)]
    [0.0, 0.5, 1.0, 3.0]
    """
    return min(max((min(spread, 1.0) - begin) / (end - begin), 0.0), 1.0) * max(spread, 1.0)


def ways_out(kit: Kit) -> dict[str, WayOut]:
    """The way out of every placement, by id.

    Walls of a convex shell never meet on the way; other pairs are tried as boxes and drawn apart where they would,
    so that what is left to run into each other is what the boxes cannot tell or nothing can free. Turning or moving
    the assembly turns the ways with it.
    """
    if not kit.plates:
        return {}
    pieces = placed_pieces(kit)
    groups = [np.flatnonzero(pieces.group == g) for g in range(int(pieces.group.max()) + 1)]
    apart = _across_joints(kit.joints, pieces)
    moves = np.zeros((len(pieces.ids), 3))
    for members in groups:
        moves[members] = _from_the_middle(pieces, members, kit.joints, apart)
    moves, begin, end = _without_meeting(pieces, moves, apart)
    moves += _groups_apart(pieces, groups, moves)
    out = {}
    for row, name in enumerate(pieces.ids):
        distance = float(np.linalg.norm(moves[row]))
        still = distance < _STILL
        out[name] = WayOut(
            direction=pieces.faces[row] if still else moves[row] / distance, distance=0.0 if still else distance,
            begin=float(begin[row]), end=float(end[row]))
    return out


def _from_the_middle(pieces: PlacedPieces, members: Index, joints: Sequence[Joint], apart: Apart) -> Floats:
    """(m, 3) where the plates of a group would go by themselves: each square to its own face. A plate that is alone
    stays, and so do plates that other inner plates hold, until those draw apart; then come the walls, farther than
    anything that follows them."""
    if len(members) == 1:
        return np.zeros((1, 3))
    faces, wall = pieces.faces[members], pieces.wall[members]
    areas = np.prod(pieces.boxes.halves[members, :2], axis=1)
    centres = pieces.boxes.centres[members]
    offsets = np.einsum("nk,nk->n", centres - (areas[:, None] * centres).sum(axis=0) / areas.sum(), faces)
    row = {pieces.ids[i]: k for k, i in enumerate(members)}
    own = [joint for joint in joints if joint.plates[0] in row]
    held = [row[name] for joint in own for name in _held(joint, wall[row[joint.plates[0]]])]
    far = GROW * np.where(wall, 0.0, offsets)
    far[held] = 0.0
    inside = apart.between(np.isin(np.arange(len(pieces.ids)), members[~wall])).numbered(members)
    moves = draw_apart(far[:, None] * faces, inside, np.zeros_like(faces))
    pace = moves[~wall] / np.where(pieces.slotted[members[~wall]], LIFTED, 1.0)[:, None]
    followed = np.maximum(faces[wall] @ pace.T, 0.0).max(axis=1, initial=0.0)
    out = pieces.reach + np.maximum(GROW * np.maximum(offsets[wall], 0.0), followed)
    moves[wall] = _none_overtaken(out, faces[wall])[:, None] * faces[wall]
    return moves


def _held(joint: Joint, on_a_wall: bool) -> tuple[str, ...]:
    """The placements that a joint between inner plates keeps from leaving square to their own faces."""
    if joint.kind == "cross":
        return joint.plates
    return joint.plates[1:] if joint.kind == "tee" and not on_a_wall else ()


def _none_overtaken(far: Floats, faces: Floats) -> Floats:
    """(n,) distances, longer where a neighbour's way would lead it past the plate: in a convex shell two walls keep
    clear as long as each moves at least as far as the other does along its own way."""
    if len(far) > AT_MOST:
        return np.full_like(far, far.max())
    alike = np.maximum(faces @ faces.T, 0.0)
    for _ in range(len(far)):
        longer = (alike * far).max(axis=1)
        if (longer <= far + _STILL).all():
            break
        far = np.maximum(far, longer)
    return far


def _across_joints(joints: Sequence[Joint], pieces: PlacedPieces) -> Apart:
    """What the joints ask for: in which direction their two plates part, and between inner plates, which have no wall
    to leave before them, that they do not slide along the joint meanwhile."""
    row = {name: i for i, name in enumerate(pieces.ids)}
    gap = NEIGHBOURS * pieces.reach
    rows: list[tuple[int, int, Floats, float]] = []
    for joint in joints:
        if len(joint.plates) != 2:
            continue
        one, two = (row[name] for name in joint.plates)
        n, m = pieces.faces[one], pieces.faces[two]
        between = pieces.boxes.centres[one] - pieces.boxes.centres[two]
        by = gap
        if joint.kind == "cross":                                    # the second is lifted off the first
            one, two, way = two, one, joint.line[1] - joint.line[0]
            by += joint.length
        elif joint.kind == "tee":
            way = n if pieces.wall[one] else n * np.sign(n @ between)
        elif abs(joint.angle - 180.0) < tolerance.BUTT_ANGLE:
            way = between - n * (n @ between)
        else:
            way = (n - m) * np.sign(180.0 - joint.angle)
        size = float(np.linalg.norm(way))
        if size > 0.0:
            rows.append((one, two, way / size, by))
        if not (pieces.wall[one] or pieces.wall[two]):
            fixed = (n, m) if joint.kind == "cross" else ((joint.line[1] - joint.line[0]) / joint.length,)
            rows += [(one, two, sign * across, 0.0) for across in fixed for sign in (1.0, -1.0)]
    return Apart.of(rows)


def _without_meeting(pieces: PlacedPieces, moves: Floats, apart: Apart) -> tuple[Floats, Floats, Floats]:
    """The moves with all demands met, and when each begins and ends; plates that meet on the way are drawn apart by
    the axis that parts them where they stand."""
    outward = np.where(pieces.wall[:, None], pieces.faces, 0.0)
    bodies = pieces.boxes.shrunk(BITE * pieces.thickest)
    moves = draw_apart(moves, apart, outward)
    for _ in range(_ROUNDS):
        begin, end = _times(pieces, moves)
        if len(pieces.ids) > AT_MOST:
            break
        pairs = _meeting(pieces, bodies, moves, begin, end)
        ways, gaps = parting(bodies, pairs)
        known = gaps >= 0.0
        if not known.any():
            break
        pairs, ways, gaps = pairs[known], ways[known], gaps[known]
        now = np.einsum("mk,mk->m", moves[pairs[:, 0]] - moves[pairs[:, 1]], ways)
        wanted = np.maximum(NEIGHBOURS * pieces.reach - gaps, now + NEIGHBOURS * pieces.reach / 2)
        apart = apart.and_also(Apart(pairs=pairs, ways=ways, by=wanted))
        moves = draw_apart(moves, apart, outward)
    return moves, begin, end


def _times(pieces: PlacedPieces, moves: Floats) -> tuple[Floats, Floats]:
    """When every plate begins and ends. Walls that leave square to their face begin at once, unless they face another
    one across a re-entrant corner."""
    aside = np.linalg.norm(moves - np.einsum("nk,nk->n", moves, pieces.faces)[:, None] * pieces.faces, axis=1)
    at_once = pieces.wall & ~pieces.facing & (aside < tolerance.TRIM_ROOM)
    return np.where(at_once, 0.0, WAIT), np.where(pieces.slotted, LIFTED, 1.0)


def _meeting(pieces: PlacedPieces, bodies: PlateBoxes, moves: Floats, begin: Floats, end: Floats) -> Index:
    """(m, 2) pairs that meet: with their bodies on the way, or as wholes from LIFTED on where an inner plate is one
    of them. Two walls that are known to keep clear are left out, whatever their boxes say."""

    def stop(spread: float) -> Floats:
        return np.asarray(np.clip((spread - begin) / (end - begin), 0.0, 1.0)[:, None] * moves)

    early = meeting_pairs(bodies, np.array([stop(s) for s in (0.0, WAIT, LIFTED, 1.0)]))
    late = meeting_pairs(pieces.boxes, np.array([stop(s) for s in (LIFTED, 1.0)]))
    late = late[~pieces.wall[late].all(axis=1)]
    pairs = np.unique(np.concatenate([early, late]), axis=0)
    clear = [_known_clear(pieces, begin, int(i), int(j)) for i, j in pairs]
    return np.asarray(pairs[~np.array(clear, dtype=bool)])


def _known_clear(pieces: PlacedPieces, begin: Floats, i: int, j: int) -> bool:
    """Whether both are walls that move square to their faces, each wholly within the other's outer face."""
    if not (pieces.wall[i] and pieces.wall[j]) or begin[i] > 0.0 or begin[j] > 0.0:
        return False
    return _within(pieces, i, j) and _within(pieces, j, i)


def _within(pieces: PlacedPieces, i: int, j: int) -> bool:
    """Whether plate j lies on the inner side of the outer face of wall i."""
    boxes, n = pieces.boxes, pieces.faces[i]
    turn, flat = boxes.axes[j], pieces.outer[j]
    lowest = boxes.centres[j] - boxes.halves[j] @ turn
    heights = flat @ (turn[:2] @ n) + lowest @ n + max(0.0, 2.0 * float(boxes.halves[j, 2] * (turn[2] @ n)))
    return bool(heights.max() <= boxes.centres[i] @ n + boxes.halves[i, 2] + tolerance.FLAT)


def _groups_apart(pieces: PlacedPieces, groups: list[Index], moves: Floats) -> Floats:
    """(n, 3) by which groups that do not hang together are moved as wholes, so that they do not spread into each
    other."""
    shifts = np.zeros((len(groups), 3))
    if 1 < len(groups) <= AT_MOST // 10:
        centres = np.array([pieces.boxes.centres[members].mean(axis=0) for members in groups])
        rows: list[tuple[int, int, Floats, float]] = []
        for i, one in enumerate(groups):
            for j, two in enumerate(groups[:i]):
                way = centres[i] - centres[j]
                size = float(np.linalg.norm(way))
                if size > _STILL:
                    way = way / size
                    gap = _lowest(pieces, one, way) + _lowest(pieces, two, -way)
                    grown = _lowest(pieces, one, way, moves) + _lowest(pieces, two, -way, moves)
                    rows.append((i, j, way, max(0.0, gap) + NEIGHBOURS * pieces.reach - grown))
        shifts = draw_apart(shifts, Apart.of([row for row in rows if row[3] > 0.0]), np.zeros_like(shifts))
    out = np.zeros_like(moves)
    for shift, members in zip(shifts, groups, strict=True):
        out[members] = shift
    return out


def _lowest(pieces: PlacedPieces, members: Index, way: Floats, moves: Floats | None = None) -> float:
    """mm: how far along a direction the group's boxes begin, where they stand or after their moves."""
    boxes = pieces.boxes
    at = boxes.centres[members] + (0.0 if moves is None else moves[members])
    radius = (np.abs(boxes.axes[members] @ way) * boxes.halves[members]).sum(axis=1)
    return float((at @ way - radius).min())
