"""The whole kit as one JSON file for programs; every other file is a view of it."""

from __future__ import annotations

import json
import math
from typing import Any, Final

import numpy as np

from ..findings import Finding
from ..kit import Corner, Joint, Kit, KitEnvelope, KitPlate, Placement, Tab
from ..version import __version__
from .numbers import DIRECTION, rounded, rounded_list
from .plate_dxf import plate_files

__all__ = ["FORMAT", "VERSION", "kit_json", "kit_record"]

FORMAT: Final = "tackwright-kit"
VERSION: Final = 1
"""Rises when a key that exists changes its meaning; readers ignore keys that they do not know."""

_encode = json.JSONEncoder(ensure_ascii=False, allow_nan=False).encode
_quoted = json.encoder.encode_basestring


def kit_json(kit: Kit) -> bytes:
    """The file's bytes: UTF-8, a line for everything that changes by itself, so that two kits compare well."""
    pieces: list[str] = []
    _write(kit_record(kit), "\n", pieces)
    return ("".join(pieces) + "\n").encode(errors="replace")    # half a surrogate pair in a name has no UTF-8


def kit_record(kit: Kit) -> dict[str, Any]:
    """The kit as plain dictionaries, lists, strings and numbers: mm, mm2, mm3, kg, degrees.

    Matrices are row-major and take a plate as cut to its place. A free edge has an empty groove.
    """
    files = plate_files(kit.plates)
    return {
        "format": FORMAT,
        "version": VERSION,
        "name": kit.name,
        "generator": f"tackwright {__version__}",
        "plates": [_plate(plate, file) for plate, file in zip(kit.plates, files, strict=True)],
        "joints": [_joint(joint) for joint in kit.joints],
        "corners": [_corner(corner) for corner in kit.corners],
        "openings": [],
        "envelopes": [_envelope(envelope) for envelope in kit.envelopes],
        "checks": [_check(finding) for finding in kit.checks],
    }


def _plate(plate: KitPlate, file: str) -> dict[str, Any]:
    return {
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
        "placements": [_placement(placement) for placement in plate.placements],
    }


def _placement(placement: Placement) -> dict[str, Any]:
    rows = rounded_list(placement.matrix, DIRECTION)
    for row, shift in zip(rows, rounded_list(placement.matrix[:, 3]), strict=True):
        row[3] = shift
    return {"id": placement.id, "matrix": rows}


def _joint(joint: Joint) -> dict[str, Any]:
    groove = joint.groove
    return {
        "id": joint.id,
        "kind": joint.kind,
        "plates": list(joint.plates),
        "line": rounded_list(joint.line),
        "length": rounded(joint.length),
        "angle": rounded(joint.angle),
        "overlap": rounded(joint.overlap),
        "root_gap": rounded(joint.root_gap),
        "groove": {
            "side": groove.side if groove else "outside",
            "angle": rounded(groove.angle) if groove else 0.0,
            "area": rounded(groove.area) if groove else 0.0,
        },
        "tabs": [_tab(tab) for tab in joint.tabs],
    }


def _tab(tab: Tab) -> dict[str, Any]:
    return {
        "on": tab.on,
        "at": rounded(tab.at),
        "width": rounded(tab.width),
        "flank": rounded(tab.flank),
        "reach": rounded(tab.reach),
        "fit_gap": rounded(tab.fit_gap),
    }


def _corner(corner: Corner) -> dict[str, Any]:
    return {
        "id": corner.id,
        "at": rounded_list(np.asarray(corner.at)),
        "joints": list(corner.joints),
        "void": rounded(corner.void),
    }


def _envelope(envelope: KitEnvelope) -> dict[str, Any]:
    return {
        "name": envelope.name,
        "closed": bool(envelope.closed),
        "capacity": None if envelope.capacity is None else rounded(envelope.capacity),
        "plates": list(envelope.plates),
    }


def _check(finding: Finding) -> dict[str, Any]:
    return {
        "rule": finding.rule,
        "level": finding.level,
        "about": list(finding.about),
        "at": None if finding.at is None else rounded_list(np.asarray(finding.at)),
        "message": finding.message,
    }


def _write(value: Any, newline: str, out: list[str]) -> None:
    """Append JSON text in pieces: what holds no record stays on one line, the rest is indented."""
    if not _holds_record(value):
        out.append(_inline(value))
        return
    inner = newline + "  "
    begin = ("{" if isinstance(value, dict) else "[") + inner
    for item in value:
        out.append(begin)
        if isinstance(value, dict):
            out.append(f"{_quoted(item)}: ")
            _write(value[item], inner, out)
        else:
            _write(item, inner, out)
        begin = "," + inner
    out.append(newline + ("}" if isinstance(value, dict) else "]"))


def _holds_record(value: Any) -> bool:
    """Whether a dictionary has another in it, or a list consists of them (it never holds both kinds)."""
    if isinstance(value, dict):
        return any(isinstance(v, dict) or (isinstance(v, list) and _holds_record(v)) for v in value.values())
    return isinstance(value, list) and bool(value) and isinstance(value[0], dict)


def _inline(value: Any) -> str:
    """The value on one line; the encoder itself is slow to start for a single number or string."""
    if isinstance(value, str):
        return _quoted(value)
    if isinstance(value, float) and math.isfinite(value):
        return repr(value)
    return _encode(value)
