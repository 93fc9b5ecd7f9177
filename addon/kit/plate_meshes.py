"""The meshes of plates: one for each mark, filled anew only where the outline changed or somebody edited them."""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import bpy
import numpy as np
from numpy.typing import NDArray

from ...core.kit.kit import KitPlate
from ...core.shapes.outline import Circle, Hole
from ...core.terms import tolerance
from ..host.editor_types import mesh_of

__all__ = ["fill_mesh", "meshes_for"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class _Numbers:
    """All that a plate's mesh depends on. layout: how many numbers belong to what; values: thickness, mm in a unit,
    then the outline's."""

    layout: tuple[tuple[int, ...], ...]
    values: Floats

    def same(self, other: _Numbers) -> bool:
        """Whether both give the same mesh: an assembly that is only turned has other last digits."""
        return self.layout == other.layout and bool(
            (np.abs(self.values - other.values) <= tolerance.CONGRUENT).all())


_made: dict[int, tuple[_Numbers, bytes]] = {}
"""By a mesh's session_uid: what it was made from, and the digest of the points it was given. Another file or an undo
may bring other points under the same number: then the digest tells."""


def meshes_for(
    plates: Sequence[KitPlate], items: Sequence[Sequence[bpy.types.Object]], mm: float
) -> list[bpy.types.Mesh]:
    """The mesh of every plate. items: the plate's objects as they are, those that there are already.

    A mesh that still is what the plate needs is kept. Else one of the plate's own meshes is filled anew, if no other
    object has it; else a new one is made.
    """
    _forget_lost()
    everything = [item for row in items for item in row]
    uses = Counter(item.data for item in everything)
    known = {mesh: numbers for mesh in _meshes(everything) if (numbers := _made_from(mesh)) is not None}
    wanted = [_numbers(plate, mm) for plate in plates]
    out: list[bpy.types.Mesh | None] = [None] * len(plates)
    for candidates in ([_meshes(row) for row in items], [list(known)] * len(plates)):  # its own before any other's
        for number, meshes in enumerate(candidates):
            if out[number] is None:
                out[number] = next((m for m in meshes if m in known and known[m].same(wanted[number])), None)
                known.pop(out[number], None)
    taken = {mesh for mesh in out if mesh is not None}
    for number, (plate, row) in enumerate(zip(plates, items, strict=True)):
        if out[number] is None:
            mesh = next((m for m in _meshes(row) if m not in taken and _free(m, uses[m])), None)
            mesh = mesh or bpy.data.meshes.new("~")
            taken.add(mesh)
            _fill(mesh, plate, mm, wanted[number])
            out[number] = mesh
    return out


def fill_mesh(mesh: bpy.types.Mesh, plate: KitPlate, mm: float) -> None:
    """Make the mesh that of a plate; nothing is done to one that is so already."""
    before, wanted = _made_from(mesh), _numbers(plate, mm)
    if before is None or not before.same(wanted):
        _fill(mesh, plate, mm, wanted)


def _numbers(plate: KitPlate, mm: float) -> _Numbers:
    outline = plate.outline
    parts = [np.array([plate.thickness, mm])]
    for hole in (outline.outer, *outline.holes):
        parts += _of_hole(hole)
    for field in outline.fields:
        parts += [*_of_hole(field.shape), field.centres, field.angles]
    return _Numbers(tuple([part.shape for part in parts]), np.concatenate([part.ravel() for part in parts]))


def _of_hole(hole: Hole) -> Iterator[Floats]:
    if isinstance(hole, Circle):
        yield np.array([*hole.centre, hole.diameter])
    else:
        yield hole.points
        yield np.zeros(0) if hole.bulges is None else hole.bulges


def _meshes(items: Iterable[bpy.types.Object]) -> list[bpy.types.Mesh]:
    return list(dict.fromkeys(mesh_of(item) for item in items))


def _free(mesh: bpy.types.Mesh, uses: int) -> bool:
    """Whether the mesh may be filled anew: no object but the plates has it, and nothing hangs on its points."""
    return mesh.users == uses and mesh.library is None and mesh.shape_keys is None and not mesh.is_editmode


def _made_from(mesh: bpy.types.Mesh) -> _Numbers | None:
    """What the mesh was made from; None for one that was not made here or that somebody edited since."""
    numbers, points = _made.get(mesh.session_uid, (None, b""))
    return numbers if numbers is not None and points == _points_digest(mesh) else None


def _points_digest(mesh: bpy.types.Mesh) -> bytes:
    places = np.empty(3 * len(mesh.vertices), dtype=np.float32)
    mesh.vertices.foreach_get("co", places)
    counts = f"{len(mesh.edges)} {len(mesh.polygons)}".encode()
    return hashlib.blake2b(places.tobytes() + counts, digest_size=16).digest()


def _forget_lost() -> None:
    """Forget meshes that are gone, now and then."""
    if len(_made) > 100 + 2 * len(bpy.data.meshes):
        there = {mesh.session_uid for mesh in bpy.data.meshes}
        for uid in [uid for uid in _made if uid not in there]:
            del _made[uid]


def _fill(mesh: bpy.types.Mesh, plate: KitPlate, mm: float, numbers: _Numbers) -> None:
    """The plate as cut, in the scene's units; materials stay."""
    from ...core.plates.solids import plate_mesh

    points, triangles = plate_mesh(plate.outline, plate.thickness)
    mesh.clear_geometry()
    mesh.vertices.add(len(points))
    mesh.loops.add(3 * len(triangles))
    mesh.polygons.add(len(triangles))
    mesh.polygons.foreach_set("loop_start", np.arange(0, 3 * len(triangles), 3, dtype=np.int32))
    # the attributes themselves: many times as quick as by way of vertices, loops and `shade_flat`
    values = mesh.attributes
    values["position"].data.foreach_set("vector", (np.asarray(points) / mm).astype(np.float32).ravel())
    values[".corner_vert"].data.foreach_set("value", np.asarray(triangles).astype(np.int32).ravel())
    flat = values.get("sharp_face") or values.new("sharp_face", "BOOLEAN", "FACE")
    flat.data.foreach_set("value", np.ones(len(triangles), dtype=np.bool_))
    mesh.update(calc_edges=True)
    _made[mesh.session_uid] = numbers, _points_digest(mesh)
