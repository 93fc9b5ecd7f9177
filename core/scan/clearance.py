"""How much room there is between a body (the envelope, or the plates) and a scan of the space it goes into.

The body is cut into patches, so that a large face can be tight in several places. For every patch, balls round
groups and blocks of the scan leave out what cannot be nearest; the few triangles that remain are measured exactly.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ..shapes.triangle_distance import nearest_on_triangles, triangle_distances
from ..terms import tolerance
from ..terms.tolerance import TOUCH
from .clearance_body import Body
from .clearance_inside import balls_meet_box, depths_inside, inside_points
from .scan_index import BLOCK, ScanIndex

__all__ = ["FARTHEST", "PATCHES", "WHILE_DRAWING", "Clearance", "TightPlace", "clearance"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

FARTHEST: Final = 200.0
"""mm: room beyond this is told as more than this. It bounds the search; no torch needs more."""
PATCHES: Final = 6
"""Patches along the body's longest extent: as fine as a place can be pointed at on a screen."""
WHILE_DRAWING: Final = 2
"""The same while somebody draws: the room of every face is as exact, only fewer places of it are told."""
APART: Final = 0.15
"""Tight places are at least this share of the body's extent apart: forty neighbours would tell one thing."""
SINGLE: Final = 4 * 2.0**-23
"""Of the largest coordinate: what heights in single precision may be off by."""
BEYOND: Final = 0.99
"""Share of a patch's distance to a place of the scan inside the body that this must lie deep, for the patch to be what
is nearest to it: less than 1 for a patch that is nearest along with its neighbour."""
MOST_PAIRS: Final = 1 << 16
"""Pairs of triangles that are measured at once: some 20 MB of passing arrays."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TightPlace:
    """Where there is little room. face: of the body. room: mm, less the room asked for welding; below 0 the scan is in
    the way, by as much. at, scan: the point of the body and that of the scan, mm."""

    face: int
    room: float
    at: tuple[float, float, float]
    scan: tuple[float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Clearance:
    """room: (f,) mm of every face of the body, inf where there is more than `farthest`. places: the tightest first.
    patches: (p, 3, 3) mm the body cut up, patch_room: (p,) the room of each, for colouring:
    below 0 also where a patch is beyond what is nearest to it. collisions: numbers of
    the scan's triangles that pass through the body's surface or lie inside it, ascending."""

    room: Floats
    places: tuple[TightPlace, ...]
    patches: Floats
    patch_room: Floats
    collisions: Ints
    farthest: float

    @property
    def least(self) -> float:
        return float(self.room.min(initial=np.inf))


def clearance(
    body: Body, scan: ScanIndex, *, weld_room: float = 0.0, farthest: float = FARTHEST, most_places: int = 12,
    patches: int = PATCHES, everywhere: bool = True,
) -> Clearance:
    """The room between a body and a scan. weld_room: mm that are taken off everywhere. patches: into how many the
    body's longest extent is cut. everywhere: measure every patch; else only what may be the tightest of its face,
    which is all that is told of plates, and leave the others at inf.

    Distances between surfaces are exact, triangle to triangle. Where the scan reaches into a closed body, the room
    is minus the depth of its deepest point there.
    """
    extent = float(np.ptp(body.triangles.reshape(-1, 3), axis=0).max(initial=0.0)) if len(body.triangles) else 0.0
    cut, owner = _cut_up(body.triangles - scan.origin, max(extent / patches, 1.0))
    found = _nearest(cut, scan, farthest, None if everywhere else body.faces[owner])
    inside = inside_points(body, scan)
    room, at, on = found.distance, found.at, found.on
    collisions = np.union1d(scan.order[found.crossing], scan.order[inside.rows]).astype(np.int64)
    sunk = _beyond(room, on, body, scan) if everywhere else np.zeros(len(room), dtype=np.bool_)
    if len(inside.points):
        # a point inside belongs to the patch that it is nearest to
        middles = cut.mean(axis=1)
        for shell_face, depth, point, foot in zip(inside.faces, inside.depths, inside.points, inside.feet, strict=True):
            rows = np.flatnonzero(body.faces[owner] == shell_face)
            row = rows[np.argmin(((middles[rows] - foot) ** 2).sum(axis=1))]
            if -depth < room[row]:
                room[row], at[row], on[row] = -depth, foot, point
    room = np.where(np.isfinite(room), room - weld_room, np.inf)
    faces = body.faces[owner]
    of_faces = np.full(body.face_count, np.inf)
    np.minimum.at(of_faces, faces, room)
    return Clearance(
        room=of_faces, patches=cut + scan.origin, patch_room=np.where(sunk & (room > 0.0), -room, room),
        collisions=collisions, farthest=farthest,
        places=_places(faces, room, at + scan.origin, on + scan.origin, APART * extent, most_places))


def _beyond(room: Floats, on: Floats, body: Body, scan: ScanIndex) -> NDArray[np.bool_]:
    """(p,) patches whose nearest place of the scan lies inside the body and nearer to no other: they are beyond it."""
    out = np.zeros(len(room), dtype=np.bool_)
    near = np.flatnonzero(np.isfinite(room))
    out[near] = depths_inside(on[near], body, scan.origin) >= BEYOND * room[near] - TOUCH
    return out


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Plane:
    """Patches of one plane and the blocks of the scan that come near. rows: (p,) of all patches; own: (p, 3, 3).
    blocks: (b,); lows: (b, BLOCK) how near to the plane each of their triangles comes."""

    rows: Ints
    own: Floats
    blocks: Ints
    lows: Floats


class _Hunt:
    """The search for what is nearest to every patch, and what it has found: distance (p,), inf beyond the farthest,
    and where, at and on, (p, 3) each; crossing: rows of the scan. groups: (p,), tightest: by group, beyond which
    nothing of it need be measured."""

    def __init__(self, patches: Floats, scan: ScanIndex, farthest: float, faces: Ints | None) -> None:
        self.patches, self.scan, self.farthest = patches, scan, farthest
        self.groups = np.arange(len(patches)) if faces is None else faces
        self.tightest = np.full(int(self.groups.max(initial=-1)) + 1, farthest)
        self._distance = np.full(len(patches), np.inf)
        self.at, self.on = np.zeros((len(patches), 3)), np.zeros((len(patches), 3))
        self._crossing = [np.empty(0, dtype=np.int64)]

    @property
    def distance(self) -> Floats:
        return np.where(self._distance > self.farthest, np.inf, self._distance)

    @property
    def crossing(self) -> Ints:
        return np.unique(np.concatenate(self._crossing))

    def measured(self, plane: _Plane, patch: Ints, block: Ints, bound: Floats) -> Floats:
        """Measures pairs of a patch of the plane and a block triangle by triangle. bound: (p,) beyond which it does
        not count for each patch; lower ones come back, by those of the groups too."""
        bound = bound.copy()
        mine = np.repeat(patch, BLOCK)
        low = plane.lows[block].ravel()
        triangles = (plane.blocks[block][:, None] * BLOCK + np.arange(BLOCK)).ravel()
        may = low <= bound[mine]
        mine, low, triangles = mine[may], low[may], triangles[may]
        corners = self.scan.corners(triangles)
        middle = corners.mean(axis=1)
        on, _ = nearest_on_triangles(middle, plane.own[mine])
        apart = np.linalg.norm(middle - on, axis=1)
        np.minimum.at(bound, mine, np.maximum(apart, TOUCH))
        reach = np.linalg.norm(corners - middle[:, None], axis=2).max(axis=1)
        least = np.maximum(apart - reach, low)
        for chosen in _first_and_rest(mine, least):
            chosen = chosen[least[chosen] <= bound[mine[chosen]]]
            if len(chosen):
                patch = mine[chosen]
                apart, here, there = triangle_distances(plane.own[patch], corners[chosen])
                np.minimum.at(bound, patch, np.maximum(apart, TOUCH))
                self._keep(plane.rows[patch], apart, here, there)
                self._crossing.append(triangles[chosen[apart <= TOUCH]])
        groups = self.groups[plane.rows]
        np.minimum.at(self.tightest, groups, bound)
        return np.asarray(self.tightest[groups])

    def _keep(self, targets: Ints, apart: Floats, here: Floats, there: Floats) -> None:
        first, _ = _first_and_rest(targets, apart)
        first = first[apart[first] < self._distance[targets[first]]]
        target = targets[first]
        self._distance[target], self.at[target], self.on[target] = apart[first], here[first], there[first]


def _cut_up(triangles: Floats, size: float) -> tuple[Floats, Ints]:
    """Triangles halved at their longest sides until none is longer than `size`; the triangle each comes from."""
    done, sources = [np.empty((0, 3, 3))], [np.empty(0, dtype=np.int64)]
    source = np.arange(len(triangles))
    while len(triangles):
        sides = np.linalg.norm(triangles - np.roll(triangles, -1, axis=1), axis=2)
        longest = sides.argmax(axis=1)
        small = sides.max(axis=1) <= size
        done.append(triangles[small])
        sources.append(source[small])
        triangles, source, longest = triangles[~small], source[~small], longest[~small]
        turn = (longest[:, None] + np.arange(3)) % 3
        a, b, c = (triangles[np.arange(len(triangles)), turn[:, i]] for i in range(3))
        middle = (a + b) / 2
        triangles = np.concatenate([np.stack([a, middle, c], axis=1), np.stack([middle, b, c], axis=1)])
        source = np.concatenate([source, source])
    return np.concatenate(done), np.concatenate(sources)


def _nearest(patches: Floats, scan: ScanIndex, farthest: float, faces: Ints | None) -> _Hunt:
    """Plane by plane, those with most patches first: how high the scan stands over a plane leaves out most of it for
    all patches there at once. faces: (p,) where only the tightest of each is wanted."""
    hunt = _Hunt(patches, scan, farthest, faces)
    for rows, normal in sorted(_planes(patches), key=lambda plane: -len(plane[0])):
        _nearest_in_plane(hunt, rows, normal)
    return hunt


def _planes(patches: Floats) -> list[tuple[Ints, Floats]]:
    """The patches of each plane, and its unit normal."""
    normal = np.cross(patches[:, 1] - patches[:, 0], patches[:, 2] - patches[:, 0])
    normal /= np.maximum(np.linalg.norm(normal, axis=1), tolerance.NONZERO)[:, None]
    height = np.einsum("ij,ij->i", normal, patches[:, 0])
    keys = np.round(np.column_stack([normal * 1e6, height * 1e3]))
    _, which = np.unique(keys, axis=0, return_inverse=True)
    which = which.reshape(-1)
    order = np.argsort(which, kind="stable")
    parts = np.split(order, np.flatnonzero(np.diff(which[order])) + 1) if len(order) else []
    return [(rows, normal[rows[0]]) for rows in parts]


def _nearest_in_plane(hunt: _Hunt, rows: Ints, normal: Floats) -> None:
    """What is nearest to the patches of one plane; lowers the tightest of their groups."""
    own, scan, groups, tightest = hunt.patches[rows], hunt.scan, hunt.groups[rows], hunt.tightest
    middles = own.mean(axis=1)
    reach = np.linalg.norm(own - middles[:, None], axis=2).max(axis=1)
    blocks = _blocks_near(own, scan, float(tightest[groups].max()))
    if not len(blocks):
        return
    lows, block_low = _lowest(own[0, 0], normal, blocks, scan)
    plane = _Plane(rows=rows, own=own, blocks=blocks, lows=lows)
    towards = scan.block_centres[blocks] - middles[:, None]
    apart = np.linalg.norm(towards, axis=2)
    radii = scan.block_radii[blocks]
    # the ball's own points are no farther than this
    np.minimum.at(tightest, groups, (apart + radii).min(axis=1))
    bound = tightest[groups]
    aside = np.sqrt(np.maximum(apart**2 - (towards @ normal) ** 2, 0.0)) - radii - reach[:, None]
    least = np.hypot(np.maximum(aside, 0.0), block_low)
    first = apart.argmin(axis=1)
    bound = hunt.measured(plane, np.arange(len(own)), first, bound)
    rest = least <= bound[:, None]
    rest[np.arange(len(own)), first] = False
    patch, block = np.nonzero(rest)
    # how far aside of the patch itself, not of the ball round it
    centres = scan.block_centres[blocks[block]]
    on, _ = nearest_on_triangles(centres, own[patch])
    off = np.einsum("ij,ij->i", centres - on, centres - on) - ((centres - own[0, 0]) @ normal) ** 2
    value = np.hypot(np.maximum(np.sqrt(np.maximum(off, 0.0)) - radii[block], 0.0), block_low[block])
    may = value <= bound[patch]
    patch, block, value = patch[may], block[may], value[may]
    order = np.argsort(value, kind="stable")   # the most promising first: they leave the rest out
    step = MOST_PAIRS // BLOCK
    for start in range(0, len(order), step):
        some = order[start : start + step]
        some = some[value[some] <= bound[patch[some]]]
        if len(some):
            bound = hunt.measured(plane, patch[some], block[some], bound)


def _blocks_near(own: Floats, scan: ScanIndex, farthest: float) -> Ints:
    """The blocks that come within the farthest distance of the box round some patches."""
    low, high = own.min(axis=(0, 1)) - farthest, own.max(axis=(0, 1)) + farthest
    groups = np.flatnonzero(balls_meet_box(scan.group_centres, scan.group_radii, low, high))
    blocks = (groups[:, None] * BLOCK + np.arange(BLOCK)).ravel()
    blocks = blocks[blocks < len(scan.block_radii)]
    return np.asarray(blocks[balls_meet_box(scan.block_centres[blocks], scan.block_radii[blocks], low, high)])


def _lowest(origin: Floats, normal: Floats, blocks: Ints, scan: ScanIndex) -> tuple[Floats, Floats]:
    """How near to a plane each triangle (b, BLOCK) of the blocks comes, and each block (b,); inf where the last block
    has no triangle."""
    rows = blocks[:, None] * BLOCK + np.arange(BLOCK)
    real = rows < len(scan)
    heights = ((scan.points - origin.astype(np.float32)) @ normal.astype(np.float32))[
        scan.triangles[np.where(real, rows, 0)]]
    low, high = heights.min(axis=2), heights.max(axis=2)
    lows = np.where(low > 0, low, np.where(high < 0, -high, 0.0)) - SINGLE * np.abs(scan.points).max()
    lows = np.where(real, np.maximum(lows, 0.0), np.inf)
    return lows, lows.min(axis=1)


def _first_and_rest(keys: Ints, values: Floats) -> tuple[Ints, Ints]:
    """The least of every key, which is measured first since it leaves most of the rest out; and the rest."""
    order = np.lexsort((values, keys))
    heads = np.diff(keys[order], prepend=-1) != 0
    return order[heads], order[~heads]


def _places(
    faces: Ints, room: Floats, at: Floats, on: Floats, apart: float, most: int
) -> tuple[TightPlace, ...]:
    """The tightest places, each a good way from those before it or on the other side of a wall."""
    out: list[TightPlace] = []
    chosen = np.empty((0, 3))
    for row in np.lexsort((faces, room)):
        if len(out) == most or not np.isfinite(room[row]):
            break
        if len(chosen) and np.linalg.norm(chosen - at[row], axis=1).min() < apart:
            continue
        chosen = np.vstack([chosen, at[row]])
        out.append(TightPlace(
            face=int(faces[row]), room=float(room[row]), at=_point(at[row]), scan=_point(on[row])))
    return tuple(out)


def _point(place: Floats) -> tuple[float, float, float]:
    return float(place[0]), float(place[1]), float(place[2])
