"""A kit in a few lines: for people, and as plain data for scripts."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final

from ..stock.fittings import Fitting
from ..stock.lengths import format_length
from ..stock.said_units import run_said, said
from ..stock.units import INCH, Units
from ..terms.errors import TackwrightError
from ..terms.findings import Finding, Level
from ..terms.metal import Material
from ..terms.plain import Plain
from ..terms.remedies import Remedy
from ..terms.remedy_words import job_words
from .figures import Figures, capacity_said, figures_of, mass_said
from .kit import Kit, Opening
from .piece_names import piece_names

__all__ = [
    "error_data", "findings_data", "findings_text", "fitting_data", "fittings_text", "kit_data", "kit_text",
    "material_data", "materials_text", "openings_text", "refusal_text",
]

LEVELS: Final[tuple[Level, ...]] = ("error", "warning", "note")


def kit_text(kit: Kit) -> str:
    """What a kit holds, in a few lines.

    >>> from tackwright import Settings
    >>> kit = Kit(name="none", settings=Settings(), plates=(), joints=(), corners=(), envelopes=(), checks=())
    >>> kit_text(kit).splitlines()[-1]
    'checks: nothing found'
    """
    data = kit_data(kit)
    unit = kit.settings.dxf_units
    thicknesses = ", ".join(format_length(t, unit) for t in data["thicknesses"])
    cut, mass = run_said(data["cut_length"], unit), mass_said(data["mass"], unit)
    lines = [
        f"{_count(data['placements'], 'plate')}, {data['plates']} distinct, of {kit.settings.material}, {thicknesses}",
        f"{_count(data['joints'], 'joint')}, {_count(data['corners'], 'corner')}",
        f"{mass}, {cut} to cut, {_count(data['pierces'], 'pierce')}",
    ]
    for shell in kit.envelopes:
        if shell.capacity is not None:
            lines.append(f"{shell.name} holds {capacity_said(shell.capacity, unit)}")
    names = piece_names(kit)
    fields = [_perforation_line(field, names[field.plate], unit) for field in _perforations(kit)]
    lines += [line for line in (openings_text(kit), *fields, _weld_line(figures_of(kit), unit)) if line]
    counts = data["checks"]
    found = ", ".join(_count(counts[level], level) for level in LEVELS if counts[level])
    lines.append(f"checks: {found or 'nothing found'}")
    return "\n".join(lines)


def openings_text(kit: Kit) -> str:
    """How many openings there are, in a line; empty for none. Limber holes go with their plates."""
    marked = sum(o.purpose not in {"limber", "perforation"} for o in kit.openings)
    fields = _perforations(kit)
    said = [_count(marked, "opening")] if marked else []
    if fields:
        said.append(f"{_count(len(fields), 'perforation')} of {_count(sum(o.count for o in fields), 'hole')}")
    return ", ".join(said)


def _perforations(kit: Kit) -> list[Opening]:
    return [o for o in kit.openings if o.purpose == "perforation"]


def _weld_line(figures: Figures, units: Units) -> str:
    if not figures.weld_length:
        return ""
    tight = f", {run_said(figures.tight_length, units)} of it tight" if figures.tight else ""
    filler = f"{mass_said(figures.bought_mass, units)} of filler to buy for {figures.process}"
    return f"{run_said(figures.weld_length, units)} to weld{tight}; {filler}"


def _perforation_line(field: Opening, name: str, units: Units) -> str:
    share = field.standard_share
    endless = "" if share is None else f" ({100 * share:.1f} % by the formula for an endless field)"
    return (f"  {field.pattern} on {name}: {_count(field.count, 'hole')}, {100 * field.open_share:.1f} % "
            f"open{endless}, {run_said(field.cut_length, units)} to cut")


def kit_data(kit: Kit) -> Plain:
    """The same for a program: lengths in mm, masses in kg, volumes in mm3."""
    figures = figures_of(kit)
    return {
        "name": kit.name,
        "material": kit.settings.material,
        "thicknesses": list(figures.thicknesses),
        "plates": figures.distinct,
        "placements": figures.plates,
        "joints": sum(figures.joints.values()),
        "joint_kinds": dict(figures.joints),
        "free_edges": figures.free_edges,
        "corners": figures.corners,
        "mass": figures.mass,
        "weld_length": figures.weld_length,
        "filler_volume": figures.filler_volume,
        "filler_mass": figures.filler_mass,
        "cut_length": figures.cut_length,
        "pierces": figures.pierces,
        "openings": figures.openings + figures.limber,
        "perforations": [
            {"plate": o.plate, "pattern": o.pattern, "holes": o.count, "open_area": o.open_area,
             "open_share": o.open_share, "standard_share": o.standard_share, "cut_length": o.cut_length}
            for o in _perforations(kit)
        ],
        "capacities": {e.name: e.capacity for e in kit.envelopes},
        "checks": {level: sum(f.level == level for f in kit.checks) for level in LEVELS},
    }


def findings_text(findings: Iterable[Finding], units: Units = "mm") -> str:
    """Findings under a heading for each level, the gravest first, in the order they were found. units: the reader's."""
    found = list(findings)
    blocks = []
    for level in LEVELS:
        own = [f for f in found if f.level == level]
        if own:
            blocks.append("\n".join([f"{_count(len(own), level)}:", *(f"  {_finding_line(f, units)}" for f in own)]))
    return "\n".join(blocks) or "nothing found"


def findings_data(findings: Iterable[Finding]) -> list[Plain]:
    return [
        {"rule": f.rule, "level": f.level, "about": list(f.about), "at": f.at and list(f.at), "message": f.message}
        for f in findings
    ]


def refusal_text(error: TackwrightError, units: Units = "mm") -> str:
    """An error in words, with the remedies of all that it is made of as a job has them. units: the reader's."""
    return "\n".join(_with_remedy(said(one.message, units), one.remedy) for one in error.each)


def error_data(error: TackwrightError) -> Plain:
    """An error's facts. faces, edges: indices of the mesh that was given."""
    return {
        "what": error.what, "where": error.where, "by": error.by, "do": error.do,
        "faces": list(error.faces), "edges": [list(e) for e in error.edges],
    }


def materials_text(materials: Iterable[Material]) -> str:
    """A table of metals, each with its remarks and the sources of its values on a second line."""
    found = list(materials)
    head = ("name", "kg/m3", "corners", "gauges", "filler")
    rows = [(m.name, f"{m.density:g}", m.default_corner, m.gauge_table or "", m.filler) for m in found]
    return _table(head, rows, [_sources(m) for m in found])


def material_data(material: Material) -> Plain:
    return {
        "name": material.name, "family": material.family,
        "density": material.density, "density_source": material.density_source,
        "filler": material.filler, "filler_source": material.filler_source, "needs_filler": material.needs_filler,
        "gauge_table": material.gauge_table,
        "default_corner": material.default_corner, "corner_source": material.corner_source,
        "remarks": material.remarks, "also": list(material.also),
    }


def fittings_text(fittings: Iterable[Fitting]) -> str:
    """A table of fittings in mm, each with its remarks and the source of its size on a second line."""
    found = list(fittings)
    rows = [(f.name, "" if f.outside is None else f"{f.outside:.2f}", f"{f.hole:.2f}") for f in found]
    return _table(("name", "outside", "hole"), rows,
                  [f"{f.remarks}; {f.source}" if f.remarks else f.source for f in found])


def fitting_data(fitting: Fitting) -> Plain:
    """The same for a program: lengths in mm."""
    return {
        "name": fitting.name, "outside": fitting.outside, "hole": fitting.hole, "source": fitting.source,
        "remarks": fitting.remarks, "also": list(fitting.also),
    }


def _table(head: Sequence[str], body: Sequence[Sequence[str]], notes: Sequence[str]) -> str:
    """Rows in columns under their heads, each with its note, indented, on a line of its own."""
    rows = [head, *body]
    widths = [max(len(row[i]) for row in rows) for i in range(len(head))]
    lines = ["  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip() for row in rows]
    pairs = zip(lines[1:], notes, strict=True)
    return "\n".join([lines[0], *(f"{line}\n    {note}" for line, note in pairs)])


def _sources(material: Material) -> str:
    remarks = f"{material.remarks}; " if material.remarks else ""
    return f"{remarks}density: {material.density_source}; filler: {material.filler_source}"


def _finding_line(finding: Finding, units: Units) -> str:
    where = " ".join(finding.about)
    if finding.at is not None:
        scale = INCH if units == "in" else 1.0
        digits = 2 if units == "in" else 1
        where += f" at ({', '.join(f'{round(c / scale, digits) + 0.0:.{digits}f}' for c in finding.at)})"
    text = said(finding.message, units)
    return _with_remedy(f"{where.strip()}: {text}" if where else text, finding.remedy)


def _with_remedy(text: str, remedy: Remedy | None) -> str:
    words = job_words(remedy) if remedy is not None else ""
    return f"{text} In a job: {words}" if words else text


def _count(number: int, what: str) -> str:
    return f"{number} {what}" if number == 1 else f"{number} {what}s"
