"""The whole kit as one JSON file for programs; every other file is a view of it."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Sequence
from typing import Final

import numpy as np

from ..kit.kit import Corner, Kit, KitEnvelope, KitPlate, Opening, Placement, Tab
from ..terms.findings import Finding
from ..terms.plain import Plain
from ..terms.version import __version__
from .numbers import DIRECTION, rounded, rounded_list
from .plate_dxf import plate_files

__all__ = ["FORMAT", "VERSION", "kit_json"]

FORMAT: Final = "tackwright-kit"
VERSION: Final = 1
"""Rises when a key that exists changes its meaning; readers ignore keys that they do not know."""

_encode = json.JSONEncoder(ensure_ascii=False, allow_nan=False).encode
_quoted = json.encoder.encode_basestring

_TOP: Final = "\n"
_RECORD: Final = "\n    "
"""Where a line begins in the whole, and in one record of a section."""


def kit_json(kit: Kit) -> bytes:
    """The file's bytes: UTF-8, a line for everything that changes by itself, so that two kits compare well.

    mm, mm2, mm3, kg, degrees. Matrices are row-major and take a plate as cut to its place. A free edge has an
    empty groove.
    """
    text = _block(_TOP, {
        "format": FORMAT,
        "version": VERSION,
        "name": kit.name,
        "generator": f"tackwright {__version__}",
        "units": {"length": "mm", "files": kit.settings.dxf_units},
        "plates": _Lines(map(_plate, kit.plates, plate_files(kit.plates, kit.settings))),
        "joints": _Lines(_joints(kit)),
        "corners": _Lines(_corners(kit.corners)),
        "openings": _Lines(map(_opening, kit.openings)),
        "envelopes": _Lines(map(_envelope, kit.envelopes)),
        "checks": _Lines(_checks(kit.checks)),
    })
    return (text + "\n").encode(errors="replace")       # half a surrogate pair in a name has no UTF-8


class _Lines(list[str]):
    """Records that are JSON text already; each begins a line."""


def _plate(plate: KitPlate, file: str) -> str:
    return _block(_RECORD, {
        "mark": plate.mark,
        "name": plate.name,
        "file": file,
        "material": plate.material,
        "thickness": rounded(plate.thickness),
        "quantity": plate.quantity,
        "role": plate.role,
        "metal_side": plate.metal_side,
        "density": rounded(plate.density),
        "area": rounded(plate.area),
        "mass": rounded(plate.mass),
        "cut_length": rounded(plate.cut_length),
        "pierces": int(plate.pierces),
        "size": [rounded(length) for length in plate.size],
        "bends": [],
        "placements": _Lines(_placements(plate.placements)),
    })


def _placements(placements: Sequence[Placement]) -> Iterator[str]:
    matrices = np.array([p.matrix for p in placements]).reshape(-1, 4, 4)
    turns, shifts = rounded_list(matrices, DIRECTION), rounded_list(matrices[:, :, 3])
    for placement, rows, shift in zip(placements, turns, shifts, strict=True):
        for row, length in zip(rows, shift, strict=True):
            row[3] = length
        yield _encode({"id": placement.id, "matrix": rows})


def _joints(kit: Kit) -> Iterator[str]:
    joints = kit.joints
    filler: dict[str, float] = {}
    sizes: dict[str, float] = {}
    for seam in kit.seams:
        filler[seam.joint] = filler.get(seam.joint, 0.0) + seam.filler
        sizes.setdefault(seam.joint, seam.size)
    lines = rounded_list(np.array([joint.line for joint in joints]))
    for joint, line in zip(joints, lines, strict=True):
        groove = joint.groove
        yield _block(_RECORD, {
            "id": joint.id,
            "kind": joint.kind,
            "plates": joint.plates,
            "line": line,
            "length": rounded(joint.length),
            "angle": rounded(joint.angle),
            "overlap": rounded(joint.overlap),
            "root_gap": rounded(joint.root_gap),
            "groove": {
                "side": groove.side if groove else "outside",
                "angle": rounded(groove.angle) if groove else 0.0,
                "area": rounded(groove.area) if groove else 0.0,
            },
            "filler": rounded(filler.get(joint.id, 0.0)),
            "weld_size": rounded(sizes.get(joint.id, 0.0)),
            "tabs": _Lines(map(_tab, joint.tabs)),
        })


def _tab(tab: Tab) -> str:
    return _encode({
        "on": tab.on,
        "at": rounded(tab.at),
        "width": rounded(tab.width),
        "flank": rounded(tab.flank),
        "reach": rounded(tab.reach),
        "fit_gap": rounded(tab.fit_gap), "thickness_gap": rounded(tab.thickness_gap),
    })


def _corners(corners: Sequence[Corner]) -> Iterator[str]:
    places = rounded_list(np.array([corner.at for corner in corners]))
    for corner, at in zip(corners, places, strict=True):
        yield _encode({"id": corner.id, "at": at, "joints": corner.joints, "void": rounded(corner.void)})


def _opening(opening: Opening) -> str:
    record: Plain = {
        "id": opening.id,
        "name": opening.name,
        "plate": opening.plate,
        "shape": opening.shape,
        "purpose": opening.purpose,
        "centre": [rounded(c) for c in opening.centre],
        "rotation": rounded(opening.rotation),
        "size": [rounded(length) for length in opening.size],
    }
    if opening.points is not None:
        record["points"] = rounded_list(opening.points)
    if opening.bolts:
        record["bolts"] = [
            {"centre": [rounded(c) for c in bolt.centre], "size": [rounded(bolt.diameter)]} for bolt in opening.bolts]
    if opening.purpose == "perforation":
        record |= {
            "pattern": opening.pattern,
            "count": opening.count,
            "cut_length": rounded(opening.cut_length),
            "open_area": rounded(opening.open_area),
            "open_share": rounded(opening.open_share),
            "ground": [[rounded_list(ring) for ring in rings] for rings in opening.ground],
            "standard_share": None if opening.standard_share is None else rounded(opening.standard_share),
        }
    return _encode(record)


def _envelope(envelope: KitEnvelope) -> str:
    return _encode({
        "name": envelope.name,
        "closed": bool(envelope.closed),
        "capacity": None if envelope.capacity is None else rounded(envelope.capacity),
        "plates": envelope.plates,
    })


def _checks(findings: Sequence[Finding]) -> Iterator[str]:
    places = iter(rounded_list(np.array([finding.at for finding in findings if finding.at is not None])))
    for finding in findings:
        yield _encode({
            "rule": finding.rule,
            "level": finding.level,
            "about": finding.about,
            "at": None if finding.at is None else next(places),
            "message": finding.message,
        })


def _block(newline: str, record: Plain) -> str:
    """JSON text of a record with a line for every key. newline: a line's end and the record's indentation."""
    inner = newline + "  "
    return "{" + ",".join([f'{inner}"{key}": {_value(inner, value)}' for key, value in record.items()]) + newline + "}"


def _value(newline: str, value: object) -> str:
    """JSON text of what stands at a key. The encoder is slow to start for a single number or string."""
    if isinstance(value, str):
        return _quoted(value)
    if isinstance(value, float) and math.isfinite(value):
        return repr(value)
    if isinstance(value, _Lines):
        inner = newline + "  "
        return "[" + ",".join([inner + line for line in value]) + newline + "]" if value else "[]"
    return _encode(value)
