"""What an envelope must hold to be built from plate, and what is worth saying about it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from ..shapes.connectivity import components, numbered
from ..terms import tolerance
from ..terms.errors import InputError
from ..terms.findings import Finding
from ..terms.messages import Area, Length, Run
from ..terms.places import named, place, places
from ..terms.remedies import Remedy
from .crossing_remedies import meant_inner
from .crossings import crossing_faces, enclosing_shells
from .drawing_remedies import fill_rims, make_inner
from .envelope import Edge, Envelope, InnerPanel, Panel
from .mesh import Mesh
from .surface import Surface

__all__ = [
    "check_angles",
    "check_crossings",
    "check_nesting",
    "check_outlines",
    "check_size",
    "check_thickness",
    "note_found_inside",
    "note_rims",
    "note_shells",
    "note_size",
]

Index = NDArray[np.int64]
Reals = NDArray[np.float64]
Ints = NDArray[np.int64]

_MOST = 20
"""Faults of one kind that are told one by one."""

_TINY, _HUGE = 5.0, 10_000.0
"""mm: no plate work has only parts smaller or larger than this; the units of the file are then likely wrong."""

_TOO_LARGE = 100_000.0
"""mm: from here on it is no sheet metal, and the numbers lose the digits that the tolerances need."""


def _unit_doubt(unit_from: str) -> str:
    """What to look at where the unit may be wrong. unit_from: as a Mesh has it."""
    where = f": {unit_from}" if unit_from else ""
    return f"If the drawing is in metres or inches, check the unit it is read in{where}."


def check_size(mesh: Mesh) -> None:
    """Refuse drawings so large that only their unit can be wrong."""
    size = float(np.ptp(mesh.points, axis=0).max(initial=0.0)) if len(mesh.points) else 0.0
    if size > _TOO_LARGE:
        raise InputError(
            f"The drawing is {Run(size):.0f} long", by=f"more than {Run(_TOO_LARGE):g}",
            do=f"Is its unit right? {_unit_doubt(mesh.unit_from)}")


def check_outlines(envelope: Envelope, drawn_areas: Reals) -> None:
    """Refuse panels whose outline crosses itself or whose faces overlap. drawn_areas: (p,) mm2, the sum of
    each panel's faces."""
    shapes = _shapes(envelope)
    valid = shapely.is_valid(shapes)
    double = drawn_areas - shapely.area(shapes)
    errors = []
    for index in np.flatnonzero(~valid)[:_MOST]:
        panel = envelope.panels[index]
        errors.append(InputError(
            f"The outline of panel '{panel.name}' crosses itself",
            where=_crossing_place(envelope, panel, shapes[index]),
            do="Move its corners so that its sides do not cross.",
            faces=panel.faces,
        ))
    for index in np.flatnonzero(valid & (np.abs(double) > tolerance.FLAT * shapely.length(shapes)))[:_MOST]:
        panel = envelope.panels[index]
        errors.append(InputError(
            f"Faces of panel '{panel.name}' overlap",
            where=_middle(envelope, panel),
            by=f"{Area(double[index]):.3f}",
            do="Delete the faces that lie on others.",
            faces=panel.faces,
        ))
    _refuse(errors)


def check_angles(envelope: Envelope) -> None:
    """Refuse edges sharper than SHARPEST, folds with them."""
    errors = []
    least = tolerance.SHARPEST - tolerance.ANGLE_NOISE
    for edge in envelope.edges:
        if edge.free or least <= edge.angle <= 360.0 - least:
            continue
        a, b = (envelope.panels[p] for p in edge.panels)
        start, end = envelope.points[[edge.start, edge.end]] + envelope.origin
        errors.append(InputError(
            f"Corner between panels '{a.name}' and '{b.name}' is too sharp: {edge.angle:.2f} degrees, where "
            f"{tolerance.SHARPEST:g} to {360 - tolerance.SHARPEST:g} can be built",
            where=f"{place(start)} to {place(end)}",
            do="Open the corner, or end it with a narrow panel.",
            faces=a.faces + b.faces,
            edges=edge.mesh_edges,
        ))
    _refuse(errors)


def check_crossings(surface: Surface, label: Index, envelope: Envelope, reach: float) -> None:
    """Refuse a surface that crosses or touches itself, or another shell. label: (f,) panel of each face. reach: mm
    within which a face that was meant as an inner plate ends on another."""
    pairs, places = crossing_faces(surface, label)
    errors: list[InputError] = []
    panels = np.sort(label[pairs], axis=1)
    for a, b in np.unique(panels, axis=0)[:_MOST]:
        one, two = envelope.panels[a], envelope.panels[b]
        here = np.flatnonzero((panels == (a, b)).all(axis=1))
        faces = np.unique(surface.sources[pairs[here]])
        shells = [envelope.shells[p.shell].name for p in (one, two)]
        found = meant_inner(envelope, (int(a), int(b)), reach)
        meant = None if found is None else envelope.panels[found]
        of = "" if one.shell == two.shell else f" of shells '{shells[0]}' and '{shells[1]}'"
        errors.append(InputError(
            f"Panels '{one.name}' and '{two.name}'{of} cross or touch each other "
            f"(faces {', '.join(str(f) for f in faces[:12])})",
            where=f"about {place(places[here[0]] + envelope.origin)}",
            do="Move them apart, join them along an edge, or mark one that is inside as an inner plate."
            if meant is None else
            f"Mark '{meant.name}' as an inner plate, if it is to stand on the other; else move them apart, or join "
            "them along an edge.",
            faces=faces,
            remedy=None if meant is None else make_inner(meant.name, meant.faces),
        ))
    _refuse(errors)


def check_nesting(surface: Surface, label: Index, envelope: Envelope) -> None:
    """Refuse a shell inside another."""
    if len(envelope.shells) < 2:
        return
    shell_of = np.array([panel.shell for panel in envelope.panels])
    _refuse(
        InputError(
            f"Shell '{envelope.shells[inner].name}' (panel '{envelope.panels[envelope.shells[inner].panels[0]].name}') "
            f"lies inside shell '{envelope.shells[outer].name}'",
            where=_middle(envelope, envelope.panels[envelope.shells[inner].panels[0]]),
            do="Leave one of them out, or solve them one by one." if envelope.shells[inner].closed else
            "Mark the inner one as inner plates, leave one of them out, or solve them one by one.",
            faces=np.sort(surface.sources[shell_of[label] == inner]),
        )
        for inner, outer in enclosing_shells(surface, shell_of[label], len(envelope.shells))
    )


def check_thickness(envelope: Envelope, unit_from: str) -> None:
    """Refuse panels whose thickness is more than the part has room for: the smallest dimension of a closed
    shell with metal inside, else (an open sheet has none) the second of the three. unit_from: as the mesh has it."""
    errors = []
    for shell in envelope.shells:
        panels = [envelope.panels[p] for p in shell.panels]
        size = np.sort(np.ptp(envelope.points[_points_of(panels)], axis=0))
        alike: dict[tuple[float, float], list[Panel]] = {}
        for panel in panels:
            limit = float(size[0 if shell.closed and panel.inner > 0 else 1])
            if panel.thickness >= limit:
                alike.setdefault((panel.thickness, limit), []).append(panel)
        for (thickness, limit), thick in alike.items():
            errors.append(InputError(
                f"{named('Panel', [panel.name for panel in thick])} {'is' if len(thick) == 1 else 'are'} "
                f"{Length(thickness):g} thick, but '{shell.name}' is only {Length(limit):.4g} wide",
                where=places([_centre(envelope, panel) for panel in thick]),
                do=f"Choose thinner metal. {_unit_doubt(unit_from)}",
                faces=[face for panel in thick for face in panel.faces],
            ))
    _refuse(errors[:_MOST])


def note_rims(envelope: Envelope) -> list[Finding]:
    """A note on each open shell."""
    notes = []
    free_of: dict[int, list[Edge]] = {}
    for edge in envelope.edges:
        if edge.free:
            free_of.setdefault(envelope.panels[edge.panels[0]].shell, []).append(edge)
    for index, free in sorted(free_of.items()):
        ends = np.array([(e.start, e.end) for e in free])
        label = components(len(envelope.points), ends[:, 0], ends[:, 1])
        rim_of, rims = numbered(label[ends[:, 0]])
        edges = tuple(pair for e in free for pair in e.mesh_edges)
        notes.append(Finding(
            rule="free_edges",
            level="note",
            message=f"'{envelope.shells[index].name}' is open: {len(free)} free edges round {rims} "
            f"{'rim' if rims == 1 else 'rims'}. It has no capacity.",
            panels=tuple(sorted({e.panels[0] for e in free})),
            edges=edges,
            remedy=_fill(envelope, index, ends, rim_of, edges),
        ))
    return notes


def _fill(envelope: Envelope, shell: int, ends: Ints, rim_of: Ints, edges: Sequence[tuple[int, int]]) -> Remedy | None:
    """Faces for the rims of a shell. None round a lone panel, whose face is there already, and where the free edges
    make no clean rings: points that lie on each other unjoined."""
    _, met = np.unique(np.array(edges), return_counts=True)
    if len(envelope.shells[shell].panels) < 2 or (met != 2).any():
        return None
    return fill_rims([envelope.points[np.unique(ends[rim_of == rim])] for rim in range(rim_of.max() + 1)], edges)


def note_shells(envelope: Envelope) -> list[Finding]:
    """A note where the drawing is of several shells."""
    count = len(envelope.shells)
    if count < 2:
        return []
    return [Finding(
        rule="several_shells",
        level="note",
        message=f"The drawing has {count} separate shells: each is an envelope of its own.",
    )]


def note_found_inside(panels: Sequence[InnerPanel]) -> list[Finding]:
    """A note where the drawing alone decided which faces are inner plates."""
    if not panels:
        return []
    names = [f"'{panel.name}'" for panel in panels[:_MOST]]
    more = f" and {len(panels) - _MOST} more" if len(panels) > _MOST else ""
    lie = "lies inside the closed surface and becomes an inner plate" if len(panels) == 1 else (
        "lie inside the closed surface and become inner plates")
    return [Finding(
        rule="found_inside", level="note", faces=tuple(face for panel in panels for face in panel.faces),
        message=f"{', '.join(names)}{more} {lie}. Mark faces as walls where that is not meant.",
    )]


def note_size(envelope: Envelope, unit_from: str) -> list[Finding]:
    """A note where the size of the parts says that the units are wrong. unit_from: as the mesh has it."""
    starts = np.cumsum([0] + [len(panel.rings[0]) for panel in envelope.panels])[:-1]
    corners = envelope.points[np.concatenate([panel.rings[0] for panel in envelope.panels])]
    sizes = (np.maximum.reduceat(corners, starts) - np.minimum.reduceat(corners, starts)).max(axis=1)
    if sizes.max() < _TINY:
        what = f"Every part is smaller than {Length(_TINY):g} (the largest {Length(sizes.max()):.3g})"
    elif sizes.min() > _HUGE:
        what = f"Every part is larger than {Run(_HUGE):g} (the smallest {Run(sizes.min()):.1f})"
    else:
        return []
    return [Finding(rule="units_doubtful", level="note", message=f"{what}. {_unit_doubt(unit_from)}")]


def _shapes(envelope: Envelope) -> NDArray[np.object_]:
    """(p,) shapely polygons of the panels in their own frames, with the holes drawn in them."""
    rings = [ring for panel in envelope.panels for ring in panel.rings]
    ring_counts = [len(panel.rings) for panel in envelope.panels]
    sizes = np.array([len(ring) for ring in rings])
    panel_of_ring = np.repeat(np.arange(len(ring_counts)), ring_counts)
    panel = np.repeat(panel_of_ring, sizes)
    origins = np.array([panel.frame.origin for panel in envelope.panels])
    across = np.array([panel.frame.axes[:2] for panel in envelope.panels])
    points = envelope.points[np.concatenate(rings)] - origins[panel]
    flat = np.einsum("ijk,ik->ij", across[panel], points)
    lines = shapely.linearrings(flat, indices=np.repeat(np.arange(len(rings)), sizes))
    if envelope.drawn_holes:
        lines = np.concatenate([lines, [shapely.linearrings(hole.points) for hole in envelope.drawn_holes]])
        panel_of_ring = np.concatenate([panel_of_ring, [hole.panel for hole in envelope.drawn_holes]])
        order = np.argsort(panel_of_ring, kind="stable")
        lines, panel_of_ring = lines[order], panel_of_ring[order]
    return np.asarray(shapely.polygons(lines, indices=panel_of_ring))


def _refuse(errors: Iterable[InputError]) -> None:
    found = list(errors)
    if found:
        raise InputError.several(found[:_MOST])


def _points_of(panels: Iterable[Panel]) -> Index:
    return np.asarray(np.unique(np.concatenate([panel.rings[0] for panel in panels])))


def _middle(envelope: Envelope, panel: Panel) -> str:
    return place(_centre(envelope, panel))


def _centre(envelope: Envelope, panel: Panel) -> Reals:
    return np.asarray(envelope.points[panel.rings[0]].mean(axis=0) + envelope.origin)


def _crossing_place(envelope: Envelope, panel: Panel, shape: shapely.Polygon) -> str:
    """Where an outline crosses itself: the point that shapely's reason ends with."""
    reason = str(shapely.is_valid_reason(shape))
    inside = reason.partition("[")[2].partition("]")[0].split()
    if len(inside) < 2:
        return _middle(envelope, panel)
    at = panel.frame.solid(np.array([[float(inside[0]), float(inside[1])]]))[0]
    return place(at + envelope.origin)
