"""From a drawn mesh to the envelope: flat panels, straight edges, and what was mended on the way."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from .choices import Choices
from .envelope import Envelope
from .envelope_checks import (
    check_angles,
    check_crossings,
    check_nesting,
    check_outlines,
    check_size,
    check_thickness,
    note_rims,
    note_shells,
    note_size,
)
from .envelope_records import Drawing, record_envelope
from .errors import InputError
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


def read_envelope(mesh: Mesh, choices: Choices) -> Envelope:
    """The envelope that a mesh was drawn as, every choice for its panels resolved.

    Raises InputError, naming faces, edges and places of the given mesh, for what cannot be read or built:
    no numbers, torn or branching surfaces, faces that are not flat, crossings, corners too sharp, metal
    thicker than the part. What was mended is in the envelope's notes.
    """
    check_mesh(mesh)
    check_size(mesh)
    check_choices(mesh, choices)
    mended = mend(mesh, faces_left_out(mesh, choices))
    warped = check_warp(mended.surface)
    mates = find_mates(mended.surface)
    check_rims(mended.surface, mates)
    surface, mates, turned = turn_outward(mended.surface, mates)
    drawing = _without_left_out(_merged(mesh, choices, surface, mates))
    envelope = record_envelope(mesh.name, drawing, trace_borders(drawing.surface, drawing.mates, drawing.regions.label))
    check_outlines(envelope, drawing.regions.planes.areas)
    check_angles(envelope)
    check_crossings(drawing.surface, drawing.regions.label, envelope)
    check_nesting(drawing.surface, drawing.regions.label, envelope)
    check_thickness(envelope)
    said = (*note_rims(envelope), *note_shells(envelope), *note_size(envelope))
    return replace(envelope, notes=(*mended.notes, *warped, *turned, *said))


def _merged(mesh: Mesh, choices: Choices, surface: Surface, mates: Index) -> Drawing:
    """Faces merged into panels, each with its name and its metal."""
    regions = find_panels(surface, mates, face_kinds(mesh, choices, surface.sources))
    _, first = np.unique(regions.label, return_index=True)
    face_of = surface.sources[first]
    found_by = name_panels(mesh, choices, regions, face_of)
    return Drawing(
        surface=surface,
        mates=mates,
        regions=regions,
        names=rename_panels(mesh, choices, found_by),
        metals=panel_metal(mesh, choices, found_by, face_of),
    )


def _without_left_out(drawing: Drawing) -> Drawing:
    """The drawing without the panels that are left out by name; the others keep theirs."""
    kept = np.array([not metal.left_out for metal in drawing.metals])
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
        metals=tuple(metal for metal in drawing.metals if not metal.left_out),
    )
