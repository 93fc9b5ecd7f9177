"""What the checks said, kept on the envelope: written only where it is something else than before, and with the finding
that the user has chosen still chosen where it is still there."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import bpy

from ...core.kit.kit import Kit
from ...core.terms.errors import TackwrightError
from ...core.terms.findings import Finding
from ...core.terms.messages import raw
from ..gather.gather import DrawnObject
from ..gather.selected_places import Pairs, Places
from ..host.drawn_mesh import notes_on
from ..scene.active_envelope import openings_of
from ..scene.finding_group import LEVELS, TackwrightFinding, TackwrightPlace
from ..scene.kept_figures import drop_figures, keep_figures
from .kept_remedies import KeptPlace, remedy_as_kept

__all__ = ["keep_findings", "keep_refusal", "kept_places", "openings_meant", "place_of", "places_in"]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Record:
    """A finding as the file will have it."""

    level: str
    rule: str
    message: str
    told: str
    about: str
    at: str
    openings: str
    places: tuple[KeptPlace, ...]
    remedy: str
    remedy_places: tuple[KeptPlace, ...]

    @property
    def identity(self) -> tuple[object, ...]:
        """What tells that a later finding is this one again, though its figures and the plates' marks may be others."""
        return self.rule, self.places, self.openings


def keep_findings(
    envelope: bpy.types.Object, kit: Kit, parts: Sequence[DrawnObject], *, only_selected: bool = False
) -> None:
    """Keep what the checks said, worst first, and the kit's figures, in place of what was kept before. only_selected:
    the kit is of the selected faces, whose free edges say nothing of the drawing."""
    checks = [
        finding for finding in (*kit.checks, *notes_on(part.name for part in parts))
        if finding.rule != "free_edges" or not only_selected
    ]
    _keep(envelope, checks, parts)
    keep_figures(envelope, kit)


def keep_refusal(envelope: bpy.types.Object, error: TackwrightError, parts: Sequence[DrawnObject]) -> None:
    """Keep why nothing could be made."""
    findings = [
        Finding(rule="refused", level="error", message=line.raw, faces=one.faces, edges=one.edges,
                openings=one.openings, remedy=one.remedy)
        for one in error.each for line in one.message.lines()
    ]
    _keep(envelope, findings, parts)
    drop_figures(envelope)


def _keep(envelope: bpy.types.Object, findings: Iterable[Finding], parts: Sequence[DrawnObject]) -> None:
    settings = envelope.tackwright
    new = [_record(finding, parts) for finding in sorted(findings, key=lambda f: LEVELS.index(f.level))]
    old = [_kept_record(envelope, kept) for kept in settings.findings]
    if new == old:
        return
    active = _still_active(old, new, settings.active_finding)
    settings.findings.clear()
    for record in new:
        _write(envelope, settings.findings.add(), record)
    if settings.active_finding != active:
        settings.active_finding = active


def _still_active(old: Sequence[_Record], new: Sequence[_Record], active: int) -> int:
    """Where the chosen finding is now; where it is gone, the first of its kind, else the first of all."""
    if not 0 <= active < len(old):
        return 0
    chosen = old[active]
    before = [record.identity for record in old[:active]].count(chosen.identity)
    again = [number for number, record in enumerate(new) if record.identity == chosen.identity]
    if again:
        return again[min(before, len(again) - 1)]
    return next((number for number, record in enumerate(new) if record.rule == chosen.rule), 0)


def _record(finding: Finding, parts: Sequence[DrawnObject]) -> _Record:
    remedy, remedy_places = remedy_as_kept(finding.remedy, parts, places_in)
    found = places_in(parts, finding.faces, finding.edges)
    return _Record(
        level=finding.level, rule=finding.rule, message=str(finding.message), told=raw(finding.message),
        about=" ".join(finding.about),
        at="" if finding.at is None else " ".join(f"{round(c, 3) + 0.0:g}" for c in finding.at),
        openings="\n".join(finding.openings),
        places=tuple(KeptPlace.of(item, faces, edges) for item, faces, edges in found),
        remedy=remedy, remedy_places=remedy_places)


def _kept_record(envelope: bpy.types.Object, kept: TackwrightFinding) -> _Record:
    own = [KeptPlace(item=envelope, faces=kept.faces, edges=kept.edges)] if kept.faces or kept.edges else []
    return _Record(
        level=kept.level, rule=kept.rule, message=kept.message, told=kept.told, about=kept.about, at=kept.at,
        openings=kept.openings,
        places=(*own, *map(KeptPlace.read, kept.elsewhere)), remedy=kept.remedy,
        remedy_places=tuple(map(KeptPlace.read, kept.remedy_places)))


def _write(envelope: bpy.types.Object, kept: TackwrightFinding, record: _Record) -> None:
    for name in ("level", "rule", "message", "told", "about", "at", "openings", "remedy"):
        setattr(kept, name, getattr(record, name))
    for place in record.places:
        if place.item == envelope:
            kept.faces, kept.edges = place.faces, place.edges
        else:
            place.write(kept.elsewhere.add())
    for place in record.remedy_places:
        place.write(kept.remedy_places.add())


def places_in(parts: Sequence[DrawnObject], faces: Iterable[int], edges: Iterable[tuple[int, int]]) -> Places:
    """Where faces and edges of a drawing are found: the objects of its parts, with the numbers these have there."""
    faces, edges, found = list(faces), list(edges), []
    for part in parts:
        item = bpy.data.objects.get(part.name)
        if item is None or not part.as_drawn:
            continue
        own_faces = [face - part.faces.start for face in faces if face in part.faces]
        start = part.points.start
        own_edges = [(a - start, b - start) for a, b in edges if a in part.points and b in part.points]
        if own_faces or own_edges:
            found.append((item, own_faces, own_edges))
    return found


def kept_places(envelope: bpy.types.Object, kept: TackwrightFinding) -> Places:
    """Where a kept finding is: in the envelope, and in objects of inner plates that still are there. Meshes linked from
    other files have no place to show: they cannot be edited here."""
    found = [(envelope, *_numbers(kept))] if kept.faces or kept.edges else []
    found += [(place.item, *_numbers(place)) for place in kept.elsewhere if place.item is not None]
    return [place for place in found if place[0].library is None and place[0].data.library is None]


def place_of(kept: TackwrightFinding) -> tuple[float, float, float] | None:
    """The point that a kept finding is at, mm in the world, None for none."""
    found = [float(c) for c in kept.at.split()]
    return (found[0], found[1], found[2]) if len(found) == 3 else None


def openings_meant(
    context: bpy.types.Context, envelope: bpy.types.Object, kept: TackwrightFinding
) -> list[bpy.types.Object]:
    """The openings that a kept finding is about, as far as they are still there."""
    names = kept.openings.splitlines()
    return [item for item in openings_of(context, envelope) if item.name in names]


def _numbers(place: TackwrightFinding | TackwrightPlace) -> tuple[list[int], Pairs]:
    ends = [int(i) for i in place.edges.split()]
    return [int(i) for i in place.faces.split()], list(zip(ends[::2], ends[1::2], strict=True))
