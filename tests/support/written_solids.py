"""The solids of a kit, from what is written of it alone: the cuts in its DXF files, and its kit.json.

The DXF is read here by its group codes (DXF reference: LWPOLYLINE and CIRCLE), for random kits by the thousand:
`tests/files/test_cut_files.py` holds this reader to ezdxf. Nothing of the core is used but the functions that write.
"""

from __future__ import annotations

import dataclasses
import itertools
import json
import math
from collections.abc import Iterator

import numpy as np
from manifold3d import CrossSection, FillRule, Manifold

from tackwright.core.files.kit_json import kit_json
from tackwright.core.files.plate_dxf import plate_dxf, plate_files

CHORD = 0.002       # mm: of the arcs that are made into points
INCH = 25.4         # mm, exact by definition


def written_solids(kit) -> dict[str, Manifold]:
    """Every placement's solid, by id."""
    record = json.loads(kit_json(kit))
    settings = dataclasses.replace(kit.settings, etch=False, note=False)        # the cuts are the same, sooner written
    files = dict(zip(plate_files(kit.plates, kit.settings), kit.plates, strict=True))
    out = {}
    for plate in record["plates"]:
        rings = cut_rings(plate_dxf(files[plate["file"]], settings).decode("cp1252"))
        solid = Manifold.extrude(CrossSection(rings, FillRule.EvenOdd), plate["thickness"])
        for placement in plate["placements"]:
            out[placement["id"]] = solid.transform(np.array(placement["matrix"])[:3])
    return out


def cut_rings(text: str) -> list[np.ndarray]:
    """(m, 2) mm points along each cut of a drawing, arcs as chords."""
    scale = INCH if "$INSUNITS\n 70\n1\n" in _plain(text) else 1.0
    return [_ring(kind, values, scale) for kind, layer, values in _entities(text) if layer == "CUT"]


def _plain(text: str) -> str:
    lines = text.replace("\r\n", "\n").split("\n")
    return "\n".join(f" {line.strip()}" if line.strip() == "70" else line.strip() for line in lines)


def _entities(text: str) -> Iterator[tuple[str, str, list[tuple[int, str]]]]:
    """Kind, layer and group codes of each entity in the section ENTITIES."""
    lines = [line.strip() for line in text.splitlines()]
    pairs = list(zip(map(int, lines[0::2]), lines[1::2], strict=False))
    begin = pairs.index((2, "ENTITIES"))
    starts = [i for i in range(begin, len(pairs)) if pairs[i][0] == 0]
    for here, there in itertools.pairwise(starts):
        kind, own = pairs[here][1], pairs[here + 1 : there]
        if kind == "ENDSEC":
            return
        yield kind, next((value for code, value in own if code == 8), ""), own


def _ring(kind: str, own: list[tuple[int, str]], scale: float) -> np.ndarray:
    if kind == "CIRCLE":
        x, y, r = (scale * float(next(value for code, value in own if code == wanted)) for wanted in (10, 20, 40))
        turn = np.arange(_steps(2 * math.pi, r)) * 2 * math.pi / _steps(2 * math.pi, r)
        return np.column_stack([x + r * np.cos(turn), y + r * np.sin(turn)])
    assert kind == "LWPOLYLINE", kind
    points: list[list[float]] = []
    for code, value in own:
        if code == 10:
            points.append([scale * float(value), 0.0, 0.0])
        elif code in (20, 42) and points:
            points[-1][1 if code == 20 else 2] = float(value) * (scale if code == 20 else 1.0)
    out = []
    for (x, y, bulge), (u, v, _) in zip(points, [*points[1:], points[0]], strict=True):
        out.append((x, y))
        if bulge:                                            # tan of a quarter of the angle, DXF reference
            half = 2 * math.atan(bulge)
            chord = math.hypot(u - x, v - y)
            radius = chord / (2 * math.sin(half))
            away = math.atan2(v - y, u - x) + math.pi / 2    # to the left of the way
            cx, cy = (x + u) / 2 + radius * math.cos(half) * math.cos(away), (y + v) / 2 + radius * math.cos(
                half) * math.sin(away)
            begin = math.atan2(y - cy, x - cx)
            count = _steps(abs(2 * half), abs(radius))
            turns = begin + 2 * half * np.arange(1, count) / count
            out += zip((cx + abs(radius) * np.cos(turns)).tolist(), (cy + abs(radius) * np.sin(turns)).tolist(),
                       strict=True)
    return np.array(out)


def _steps(sweep: float, radius: float) -> int:
    """Chords of an arc that stay within CHORD of it; eight a full turn at least."""
    return max(2, math.ceil(8 * sweep / (2 * math.pi)),
               math.ceil(sweep / (2 * math.acos(max(0.0, 1 - CHORD / max(radius, 2 * CHORD))))))
