"""The parts of a job file that make holes: openings, perforation fields, and the user's own fittings."""

from __future__ import annotations

from pathlib import Path
from typing import cast, get_args

from ..stock.fittings import read_fittings_csv
from ..terms.choices import Band, Bolts, Field, MarkedOpening, OpeningShape, Purpose
from ..terms.errors import InputError
from .job_table import Table

__all__ = ["read_fields", "read_fittings", "read_openings"]


def read_openings(top: Table) -> tuple[MarkedOpening, ...]:
    """The [[openings]] of a job, in their order."""
    found = [_opening(row) for row in top.rows("openings")]
    return tuple(o for o in found if o is not None)


def read_fields(top: Table) -> tuple[Field, ...]:
    """The [[perforations]] of a job, in their order."""
    found = [_field(row) for row in top.rows("perforations")]
    return tuple(f for f in found if f is not None)


def read_fittings(top: Table, folder: Path) -> dict[str, float]:
    """The user's own fittings, from the CSV file that the job names."""
    name = top.text("fittings")
    if name is None:
        return {}
    try:
        return read_fittings_csv(folder / name)
    except InputError as error:
        top.faults.append(error.led_by("fittings: "))
        return {}


def _opening(row: Table) -> MarkedOpening | None:
    """One opening; None where something is missing or at fault."""
    before = len(row.faults)
    shape = cast(OpeningShape, row.word("shape", get_args(OpeningShape)) or "round")
    opening = MarkedOpening(
        name=row.needed("name", row.text, 'Call it something, as in name = "fill"') or "",
        at=row.needed("at", row.point, "Give a point on or near the plate, as in at = [100, 50, 300]") or (0, 0, 0),
        shape=shape,
        size=_size(row, shape),
        radius=row.length("radius", least=0.0) or 0.0,
        purpose=cast(Purpose, row.word("purpose", get_args(Purpose)) or "port"),
        fitting=row.text("fitting"),
        axis=row.direction("axis"),
        across=row.direction("across"),
        all_along=row.flag("all_along") or False,
        panel=row.text("panel"),
        bolts=_bolts(row),
    )
    if not row.has("size") and not row.has("fitting"):
        row.fault("size", "is missing", 'Give a size, as in size = 50, or a fitting, as in fitting = "NPT 1/2"')
    elif row.has("size") and row.has("fitting"):
        row.fault("fitting", "stands beside a size", "Keep one of the two")
    row.refuse_unknown()
    return opening if len(row.faults) == before else None


def _size(row: Table, shape: OpeningShape) -> tuple[float, ...] | None:
    """The lengths of an opening; for a round one the diameter may stand by itself."""
    given = row.lengths("size", above=0.0)
    count = 1 if shape == "round" else 2
    if given is None or len(given) == count:
        return given
    example = {"round": "size = 50", "slot": "size = [60, 20], its overall length and its width",
               "rectangle": "size = [150, 100], its width and its height"}[shape]
    has = "1 length" if len(given) == 1 else f"{len(given)} lengths"
    row.fault("size", f"has {has}", f"A {shape} opening takes {count}, as in {example}")
    return None


def _bolts(row: Table) -> Bolts | None:
    if not row.has("bolts"):
        return None
    bolts = row.table("bolts")
    chosen = Bolts(
        count=bolts.needed("count", lambda key: bolts.count(key, least=1), "Give the number of bolts") or 1,
        circle=bolts.needed("circle", lambda key: bolts.length(key, above=0.0),
                            "Give the diameter of the circle through their centres") or 0.0,
        hole=bolts.needed("hole", lambda key: bolts.length(key, above=0.0), "Give the diameter of a bolt hole") or 0.0,
        turn=bolts.number("turn", least=-360.0, most=360.0) or 0.0,
    )
    bolts.refuse_unknown()
    return chosen


def _field(row: Table) -> Field | None:
    """One perforation field; None where something is missing or at fault."""
    before = len(row.faults)
    field = Field(
        panel=row.needed("panel", row.text, 'Name the panel, as in panel = "baffle"') or "",
        bands=_bands(row),
        margin=row.length("margin", least=0.0),
        gap=row.length("gap", least=0.0) or 0.0,
        region=_region(row),
        turn=row.number("turn", least=-360.0, most=360.0) or 0.0,
    )
    row.refuse_unknown()
    return field if len(row.faults) == before else None


def _bands(row: Table) -> tuple[Band, ...]:
    code, rows = row.text("code"), row.rows("bands")
    if row.has("code") == row.has("bands"):
        row.fault("code", "stands beside bands" if row.has("code") else "is missing",
                  'Give one pattern, as in code = "R5T8", or bands = [{code = "R5T8"}, {code = "R10T15"}]')
    if code is not None:
        return (Band(code=code),)
    bands = []
    for band in rows:
        bands.append(Band(
            code=band.needed("code", band.text, 'Give its pattern, as in code = "R5T8"') or "",
            depth=band.length("depth", above=0.0),
        ))
        band.refuse_unknown()
    if row.has("bands") and not bands and not row.has("code"):
        row.fault("bands", "is empty", "Give a band, as in bands = [{code = \"R5T8\"}]")
    return tuple(bands)


def _region(row: Table) -> tuple[tuple[float, float, float], ...] | None:
    corners = row.points("region")
    if corners is not None and len(corners) < 3:
        row.fault("region", f"has {len(corners)} corners", "Give at least 3")
        return None
    return corners
