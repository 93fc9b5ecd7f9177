"""True faces: all faces of a drawing flattened together, its points moved as little as possible."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..envelope.mending import check_mesh
from ..envelope.mesh import Mesh
from ..envelope.planes import fit_planes
from ..envelope.surface import Surface, measure
from ..terms import tolerance
from ..terms.errors import InputError
from ..terms.messages import Length
from ..terms.places import listed, place
from ..terms.progress import Counting, uncounted
from .face_wishes import FaceWishes, Wish, find_shape_wishes, find_snap_wishes
from .flat_conditions import Condition, Flat
from .flat_drawing import FlatDrawing, flat_drawing
from .granted_wishes import MET, grant, measured
from .held_points import as_drawn, flat_together, nearest_held
from .nearest_flat import Nearest, nearest

__all__ = ["TrueFaces", "Unmet", "true_faces"]

Index = NDArray[np.int64]
Reals = NDArray[np.float64]
Mask = NDArray[np.bool_]

_MOST = 20
"""Faults of one kind that are told one by one."""

_SHRUNK = 0.05
"""An edge shorter than this part of what was drawn, or turned round, has folded its faces."""

_ROUNDED_BY = 3.0
"""Steps of the grid that a point may go for round numbers: one of them needs half a step, several meet at a point."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Unmet:
    """Wishes of one kind that could not be had. wish: in words. faces; edges: pairs of points; by: how far the worst
    is from being met, mm."""

    wish: str
    faces: tuple[int, ...]
    edges: tuple[tuple[int, int], ...]
    by: float

    @property
    def count(self) -> int:
        return len(self.faces) or len(self.edges)

    def __str__(self) -> str:
        what = "face" if self.faces else "edge"
        return f"{self.count} {what if self.count == 1 else what + 's'} not {self.wish}"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TrueFaces:
    """points: (n, 3) mm, new places of all points. stored: (n, 3) single precision, the same as the given storage
    keeps them. moved: (n,) mm. off: (f,) mm, the farthest that a point of each face lies from its best plane, as
    stored. let_go: the points that lay in flat faces and had to move all the same. unmet: the wishes that were not
    granted."""

    points: Reals
    stored: NDArray[np.float32]
    moved: Reals
    off: Reals
    let_go: tuple[int, ...]
    unmet: tuple[Unmet, ...]

    @property
    def largest(self) -> tuple[float, int]:
        """The largest move, mm, and the point that makes it."""
        at = int(self.moved.argmax()) if len(self.moved) else 0
        return (float(self.moved[at]) if len(self.moved) else 0.0), at

    @property
    def told(self) -> str:
        """What moved, in words and mm: nothing is flattened without it."""
        largest, at = self.largest
        if largest < MET:
            return "Nothing had to move"
        count = int((self.moved >= MET).sum())
        what = "1 vertex moved" if count == 1 else f"{count} vertices moved"
        said = f"The largest move is {Length(largest):.3g}, of vertex {at}, now at {place(self.points[at])}"
        if not self.let_go:
            return f"{said}. {what}"
        return f"{said}. {what}, of which {len(self.let_go)} lay in faces that were flat and could not all stay"

    @property
    def rms(self) -> float:
        """Root mean square of the moves of those points that moved, mm."""
        moves = self.moved[self.moved > 0]
        return float(np.sqrt((moves**2).mean())) if len(moves) else 0.0


def true_faces(
    mesh: Mesh,
    *,
    faces: Iterable[int] | None = None,
    pinned: Iterable[int] = (),
    wishes: FaceWishes | None = None,
    storage: Reals | None = None,
    progress: Counting = uncounted,
) -> TrueFaces:
    """The drawing with its faces flat, the sum of the squared moves of its points as small as it can be.

    Points that are flat together as drawn stay where they are, as many as can; the others are then the nearest.
    faces: which to flatten, all if None. Only their points move; other faces that are flat stay so where that can be.
    Faces that make up one panel stay one. pinned: points that do not move. storage: (4, 4), takes mm to what is kept
    in single precision, the identity if None; the result is rounded to it and measured again. progress: called before
    each step of each solve, however many there will be; what it raises ends the work.
    Raises InputError, naming the faces, for those that cannot be flat, or only by folding the drawing.
    """
    check_mesh(mesh)
    wishes = wishes or FaceWishes()
    wanted = np.ones(mesh.face_count, dtype=bool) if faces is None else _mask(faces, mesh.face_count)
    held = _mask(pinned, len(mesh.points))
    if not wanted.any():
        raise InputError("No face to flatten", do="Draw or select some.")
    drawing = flat_drawing(mesh, wanted, held)
    if drawing.must == 0:
        raise InputError("Only faces without area are to be flattened", faces=np.flatnonzero(wanted))
    must: list[Condition] = [Flat(patches=np.arange(drawing.must))]
    flat = nearest(drawing, must, progress=progress)
    stayed = nearest_held(drawing, lambda at: _folded_patches(drawing, at), flat, progress)
    if stayed is None:
        _check_flat(drawing, flat)
        _check_folds(drawing, flat)
        found, unmet = _with_wishes(drawing, must, flat, wishes, progress)
    else:
        found, unmet = stayed, ()
        if wishes.any:
            found, unmet = _with_wishes(as_drawn(drawing, stayed.at), must, stayed, wishes, progress)
    points = _all_points(mesh, drawing, found)
    stored, points = _as_stored(points, storage)
    off = _off(mesh, points)
    _check_stored(mesh, wanted, off, points)
    moved = np.linalg.norm(points - mesh.points, axis=1)
    moved[(drawing.welded < 0) | (drawing.points.ease[np.maximum(drawing.welded, 0)] == 0)] = 0.0
    let_go = np.flatnonzero((moved > MET) & _drawn_flat(drawing))
    return TrueFaces(
        points=points, stored=stored, moved=moved, off=off, let_go=tuple(let_go.tolist()), unmet=unmet)


def _mask(numbers: Iterable[int], count: int) -> Mask:
    out = np.zeros(count, dtype=bool)
    out[np.fromiter(numbers, dtype=np.int64)] = True
    return out


def _with_wishes(
    drawing: FlatDrawing, must: list[Condition], flat: Nearest, wishes: FaceWishes, progress: Counting
) -> tuple[Nearest, tuple[Unmet, ...]]:
    """The nearest points with the wishes that can be had: first shapes, then, measured on these, round numbers."""
    kept = np.arange(drawing.must, drawing.patches.count)
    asked = [Wish(name="flat any more", condition=Flat(patches=kept), patches=kept, edges=np.full(len(kept), -1))]
    asked = [wish for wish in asked if wish.condition.count]
    given_up: list[Wish] = []
    found = flat
    for find, reach in ((find_shape_wishes, np.inf), (find_snap_wishes, _ROUNDED_BY * wishes.grid)):
        more = find(drawing, found.fits, found.at, wishes)
        asked = [*asked, *more]
        if more or (asked and found is flat):
            found, asked, refused = grant(drawing, must, asked, found, _astray(drawing, found.at, reach), progress)
            given_up += refused
    return found, _told(drawing, given_up, found)


def _astray(drawing: FlatDrawing, start: Reals, reach: float) -> Callable[[Reals], Mask]:
    """Which points wishes must not bring where they are: farther than `reach` from the start, or so that a face
    folds."""

    def astray(at: Reals) -> Mask:
        out: Mask = np.linalg.norm(at - start, axis=1) > reach
        sides = _folded(drawing, at)
        out[drawing.surface.corners[sides]] = True
        out[drawing.surface.ends[sides]] = True
        return out

    return astray


def _drawn_flat(drawing: FlatDrawing) -> Mask:
    """(n,) the mesh's points that lay in a flat face."""
    flat = flat_together(drawing, drawing.points.drawn)
    inside, patch = drawing.inside
    flat[inside] = flat[drawing.patches.points[drawing.patches.starts[patch]]]
    return np.asarray((drawing.welded >= 0) & flat[np.maximum(drawing.welded, 0)])


def _told(drawing: FlatDrawing, given_up: list[Wish], found: Nearest) -> tuple[Unmet, ...]:
    first = _first_drawn(drawing)
    out = []
    for name in dict.fromkeys(wish.name for wish in given_up):
        wishes = [wish for wish in given_up if wish.name == name]
        patches = np.unique(np.concatenate([wish.patches for wish in wishes]))
        edges = np.unique(np.concatenate([wish.edges for wish in wishes]))
        faces = [face for patch in patches[patches >= 0].tolist() for face in drawing.faces_of(patch).tolist()]
        ends = first[drawing.edges[edges[edges >= 0]]]
        out.append(Unmet(
            wish=name, faces=tuple(sorted(faces)), edges=tuple((int(a), int(b)) for a, b in ends.tolist()),
            by=float(measured(drawing, [wish.condition for wish in wishes], found).max()),
        ))
    return tuple(out)


def _first_drawn(drawing: FlatDrawing) -> Index:
    """(m,) for each point of the surface a point of the mesh."""
    used = np.flatnonzero(drawing.welded >= 0)[::-1]
    out = np.full(len(drawing.surface.points), -1, dtype=np.int64)
    out[drawing.welded[used]] = used
    return out


def _all_points(mesh: Mesh, drawing: FlatDrawing, found: Nearest) -> Reals:
    """(n, 3) where the mesh's points go; those inside a panel into its plane."""
    moves = (found.at - drawing.points.drawn)[: len(drawing.surface.points)]
    inside, patch = drawing.inside
    normals = found.fits.normals[patch]
    above = np.einsum("ij,ij->i", drawing.surface.points[inside] - found.fits.centres[patch], normals)
    moves[inside] = -above[:, None] * normals
    out = mesh.points.copy()
    used = drawing.welded >= 0
    out[used] += moves[drawing.welded[used]]
    return out


def _as_stored(points: Reals, storage: Reals | None) -> tuple[NDArray[np.float32], Reals]:
    """Points in single precision in the frame of their storage, and where they then are."""
    if storage is None:
        stored = points.astype(np.float32)
        return stored, stored.astype(np.float64)
    stored = (points @ storage[:3, :3].T + storage[:3, 3]).astype(np.float32)
    back = np.linalg.inv(storage)
    return stored, stored.astype(np.float64) @ back[:3, :3].T + back[:3, 3]


def _off(mesh: Mesh, points: Reals) -> Reals:
    """(f,) how far each face is out of flat; 0 for triangles and what has no area."""
    out = np.zeros(mesh.face_count)
    counts = np.diff(mesh.starts)
    surface = Surface(
        points=points - points.mean(axis=0), origin=np.zeros(3), corners=mesh.corners, starts=mesh.starts,
        sources=np.arange(mesh.face_count), drawn=np.zeros((len(mesh.corners), 2), dtype=np.int64),
    ).only_faces(counts > 3)
    if surface.face_count:
        measures = measure(surface)
        able = measures.areas > tolerance.NO_AREA
        surface = surface.only_faces(able)
    if surface.face_count:
        planes = fit_planes(surface, measure(surface), np.arange(surface.face_count), surface.face_count)
        out[surface.sources] = planes.off
    return out


def _check_flat(drawing: FlatDrawing, flat: Nearest) -> None:
    """Refuse faces that are still not flat."""
    off = drawing.patches.off(flat.fits)[: drawing.must]
    bad = np.flatnonzero(off > tolerance.FLAT)
    if len(bad) == 0:
        return
    stuck = [p for p in bad.tolist() if _pinned_off(drawing, p) > MET]
    raise InputError.several(
        _unflat(drawing, patch, float(off[patch]), patch in stuck) for patch in (stuck or bad.tolist())[:_MOST])


def _pinned_off(drawing: FlatDrawing, patch: int) -> float:
    """How far the pinned points of a patch are from one plane, mm."""
    mine = drawing.patches.points[drawing.patches.of(np.array([patch]))[0]]
    mine = mine[drawing.points.ease[mine] == 0]
    if len(mine) < 4:
        return 0.0
    points = drawing.points.drawn[mine]
    away = points - points.mean(axis=0)
    return float(np.abs(away @ np.linalg.eigh(away.T @ away)[1][:, 0]).max())


def _unflat(drawing: FlatDrawing, patch: int, off: float, stuck: bool) -> InputError:
    faces = drawing.faces_of(patch)
    name = f"Face {faces[0]}" if len(faces) == 1 else f"The panel of faces {', '.join(map(str, faces[:12].tolist()))}"
    mine = drawing.patches.points[drawing.patches.of(np.array([patch]))[0]]
    held = int((drawing.points.ease[mine] == 0).sum())
    worst = drawing.points.drawn[mine].mean(axis=0) + drawing.surface.origin
    if stuck:
        return InputError(
            f"{name} cannot be flat: {held} of its corners are pinned, and these are not in one plane",
            where=f"about {place(worst)}", by=f"{Length(_pinned_off(drawing, patch)):.3f}",
            do="Unpin one of them, or split the face into triangles.", faces=faces)
    do = "Unpin corners near it, or split it" if (drawing.points.ease == 0).any() else "Split it"
    return InputError(
        f"{name} cannot be made flat together with the faces round it", where=f"about {place(worst)}",
        by=f"{Length(off):.3f}", do=f"{do} into triangles.", faces=faces)


def _folded(drawing: FlatDrawing, at: Reals) -> Mask:
    """(k,) the sides of faces to flatten that have turned round or shrunk to nothing, and all sides of those faces
    whose outline crosses itself like an 8."""
    surface = drawing.surface
    before = surface.points[surface.ends] - surface.points[surface.corners]
    after = at[surface.ends] - at[surface.corners]
    left = np.einsum("ij,ij->i", before, after) / np.maximum(np.einsum("ij,ij->i", before, before), tolerance.NONZERO)
    inside = np.zeros(len(surface.points), dtype=bool)
    inside[drawing.inside[0]] = True
    apart = ~inside[surface.corners] & ~inside[surface.ends]
    known = (drawing.panel >= 0)[surface.owner] & apart
    return np.asarray(((left < _SHRUNK) & known) | (_crossed(drawing, at, after)[surface.owner] & known))


def _folded_patches(drawing: FlatDrawing, at: Reals) -> Mask:
    """(p,) the patches of faces to flatten that have folded."""
    out = np.zeros(drawing.patches.count, dtype=bool)
    out[drawing.panel[drawing.surface.owner[_folded(drawing, at)]]] = True
    return out


def _crossed(drawing: FlatDrawing, at: Reals, sides: Reals) -> Mask:
    """(f,) faces whose sides (k, 3), seen square to their plane, turn less than half way round in all: once round is
    what a plain outline turns, an 8 does not at all."""
    surface = drawing.surface
    fits = drawing.patches.fit(at)
    axes = fits.axes[np.maximum(drawing.panel, 0)][surface.owner]
    flat = np.einsum("kij,kj->ki", axes, sides)
    way = np.arctan2(flat[:, 1], flat[:, 0])
    turn = (way[surface.following] - way + np.pi) % (2 * np.pi) - np.pi
    return np.asarray(np.abs(np.add.reduceat(turn, surface.starts[:-1])) < np.pi)


def _check_folds(drawing: FlatDrawing, flat: Nearest) -> None:
    """Refuse to flatten by folding."""
    sides = np.flatnonzero(_folded(drawing, flat.at))
    if len(sides) == 0:
        return
    surface = drawing.surface
    faces = np.unique(surface.sources[surface.owner[sides]])
    raise InputError(
        f"{listed('Face', faces)} could only be flattened by folding",
        where=f"about {surface.where(int(surface.corners[sides[0]]))}",
        do="Split into triangles there, delete edges that are too short, or move the corners nearer to a plane first.",
        faces=faces, edges=np.unique(surface.drawn[sides], axis=0).tolist(),
    )


def _check_stored(mesh: Mesh, wanted: Mask, off: Reals, points: Reals) -> None:
    """Refuse faces that were flat and no longer are once rounded to single precision."""
    bad = np.flatnonzero(wanted & (off > tolerance.FLAT))
    if len(bad):
        raise InputError(
            f"{len(bad)} {'face does' if len(bad) == 1 else 'faces do'} not stay flat in the numbers that are stored",
            where=f"about {place(points[mesh.face(int(bad[0]))].mean(axis=0))}", by=f"{Length(off[bad].max()):.3f}",
            do="The drawing is too far from its origin, or too large: move it nearer.", faces=bad)
