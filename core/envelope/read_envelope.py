"""From a drawn mesh to the envelope: flat panels, straight edges, and what was mended on the way."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from ..terms.choices import Choices
from ..terms.errors import InputError
from ..terms.findings import Finding
from .choice_checks import check_numbers
from .envelope import Envelope
from .envelope_checks import (
    check_angles,
    check_crossings,
    check_nesting,
    check_outlines,
    check_size,
    check_thickness,
    note_found_inside,
    note_rims,
    note_shells,
    note_size,
)
from .envelope_records import Drawing, record_envelope
from .inner_faces import find_inner_faces
from .inner_panels import find_inner_panels, record_inner_panels
from .inside_out import note_inside_out
from .mending import check_mesh, mend
from .mesh import Mesh
from .orientation import turn_outward
from .panel_choices import check_choices, face_kinds, faces_left_out, name_panels, panel_metal, rename_panels
from .panel_edges import trace_borders
from .panels import Regions, find_panels
from .planes import Planes, check_warp
from .surface import Surface
from .topology import check_rims, find_mates

__all__ = ["read_envelope"]

Index = NDArray[np.int64]
Mask = NDArray[np.bool_]


def read_envelope(mesh: Mesh, choices: Choices) -> Envelope:
    """The envelope that a mesh was drawn as, every choice for its panels resolved.

    Raises InputError, naming faces, edges and places of the given mesh, for what cannot be read or built:
    no numbers, torn or branching surfaces, faces that are not flat, crossings, corners too sharp, metal
    thicker than the part. Inner plates may branch off the walls, cross and touch them. What was mended is in the
    envelope's notes.
    """
    check_mesh(mesh)
    check_size(mesh)
    check_choices(mesh, choices)
    check_numbers(choices)
    mended = mend(mesh, faces_left_out(mesh, choices))
    warped = check_warp(mended.surface)
    inner = find_inner_faces(mesh, choices, mended.surface)
    walls = _mended_alone(mesh, mended.surface, ~inner) if inner.any() else mended.surface
    mates = find_mates(walls)
    check_rims(walls, mates)
    surface, mates, turned = turn_outward(walls, mates)
    found = _merged(mesh, choices, surface, mates)
    found, inner_found = _with_inner(mesh, choices, mended.surface, inner, found)
    drawing = _without(found, np.array([metal.left_out or bool(metal.inner) for metal in found.metals]))
    inner_panels = record_inner_panels(inner_found) if inner_found else ()
    envelope = record_envelope(mesh.name, drawing, trace_borders(drawing.surface, drawing.mates, drawing.regions.label))
    check_outlines(envelope, drawing.regions.planes.areas)
    check_angles(envelope)
    check_crossings(drawing.surface, drawing.regions.label, envelope, choices.settings.reach)
    check_nesting(drawing.surface, drawing.regions.label, envelope)
    check_thickness(envelope, mesh.unit_from)
    said: list[Finding] = [
        *note_rims(envelope), *note_inside_out(envelope), *note_shells(envelope),
        *note_size(envelope, mesh.unit_from)]
    if inner_found:
        unasked = {n for n, metal in zip(inner_found.names, inner_found.metals, strict=True) if metal.inner is None}
        said += note_found_inside([panel for panel in inner_panels if panel.name in unasked])
    return replace(envelope, notes=(*mended.notes, *warped, *turned, *said), inner=inner_panels)


def _mended_alone(mesh: Mesh, surface: Surface, faces: Mask) -> Surface:
    """Some faces of a mended surface, mended as if the others had not been drawn."""
    dropped = np.ones(mesh.face_count, dtype=bool)
    dropped[surface.sources[faces]] = False
    return mend(mesh, dropped).surface


def _merged(mesh: Mesh, choices: Choices, surface: Surface, mates: Index) -> Drawing:
    """Faces merged into panels, each with the name that choices find it by, and its metal."""
    regions = find_panels(surface, mates, face_kinds(mesh, choices, surface.sources))
    _, first = np.unique(regions.label, return_index=True)
    face_of = surface.sources[first]
    names = name_panels(mesh, choices, regions, face_of)
    metals = panel_metal(mesh, choices, names, face_of, metal_side=choices.settings.metal_side)
    return Drawing(surface=surface, mates=mates, regions=regions, names=names, metals=metals)


def _with_inner(
    mesh: Mesh, choices: Choices, surface: Surface, inner: Mask, walls: Drawing
) -> tuple[Drawing, Drawing | None]:
    """The walls and the inner panels, if any, named for good. A wall that a choice for its name makes an inner
    plate is among these, under that name."""
    moved = np.array([bool(metal.inner) and not metal.left_out for metal in walls.metals])
    called = {
        face: walls.names[panel]
        for face, panel in zip(walls.surface.sources.tolist(), walls.regions.label.tolist(), strict=True)
        if moved[panel]
    }
    inner = inner | np.isin(surface.sources, np.fromiter(called, dtype=np.int64, count=len(called)))
    if not inner.any():
        return replace(walls, names=rename_panels(mesh, choices, walls.names)), None
    kept = [name for name, gone in zip(walls.names, moved, strict=True) if not gone]
    found = find_inner_panels(mesh, choices, _mended_alone(mesh, surface, inner), called, kept)
    for panel, (name, metal) in enumerate(zip(found.names, found.metals, strict=True)):
        if metal.inner is False:
            raise InputError(
                f"Panel '{name}' lies inside the envelope: it cannot be a wall",
                do="Leave it out, or let it be an inner plate.",
                faces=np.sort(found.surface.sources[found.regions.label == panel]),
            )
    names = rename_panels(mesh, choices, (*kept, *found.names))
    remaining = iter(names[: len(kept)])
    wall_names = tuple(name if gone else next(remaining) for name, gone in zip(walls.names, moved, strict=True))
    return replace(walls, names=wall_names), replace(found, names=names[len(kept) :])


def _without(drawing: Drawing, gone: Mask) -> Drawing:
    """The drawing without the panels that are left out by name or are inner plates; the others keep their names."""
    kept = ~gone
    if kept.all():
        return drawing
    if not kept.any():
        raise InputError("Every panel is left out: nothing remains to build", faces=drawing.surface.sources)
    faces = kept[drawing.regions.label]
    surface = drawing.surface.only_faces(faces)
    mates = find_mates(surface)
    check_rims(surface, mates)
    planes = drawing.regions.planes
    return Drawing(
        surface=surface,
        mates=mates,
        regions=Regions(
            label=(np.cumsum(kept) - 1)[drawing.regions.label[faces]],
            planes=Planes(
                centres=planes.centres[kept], normals=planes.normals[kept], areas=planes.areas[kept],
                off=planes.off[kept],
            ),
        ),
        names=tuple(name for name, keep in zip(drawing.names, kept, strict=True) if keep),
        metals=tuple(metal for metal, keep in zip(drawing.metals, kept, strict=True) if keep),
    )
