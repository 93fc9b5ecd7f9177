"""An outside judge of plate files: reads nothing but the DXF, by ezdxf, and measures with shapely."""

from __future__ import annotations

import io
import itertools
import math

import ezdxf
import numpy as np
import shapely
from ezdxf import bbox
from ezdxf.math import bulge_to_arc

SHORTEST = 0.05     # mm: what is promised of every run on CUT
EXACT = 2e-6        # mm: coordinates are written to 1e-6
CHORD = 0.002       # mm: of the arcs that are made into points


def read(data: bytes):
    return ezdxf.read(io.StringIO(data.decode("cp1252")))


def scale_of(document) -> float:
    """mm a unit of the drawing. $INSUNITS 1 and 4: inches and millimetres, the DXF reference."""
    return {1: 25.4, 4: 1.0}[document.header["$INSUNITS"]]


def runs(cut) -> tuple[np.ndarray, np.ndarray]:
    """Points (k, 2) and bulges (k,) of a closed polyline."""
    rows = np.array(cut.get_points("xyb"))
    return rows[:, :2], rows[:, 2]


def run_lengths(cut) -> np.ndarray:
    points, bulges = runs(cut)
    chord = np.linalg.norm(np.roll(points, -1, axis=0) - points, axis=1)
    half = 2 * np.arctan(np.abs(bulges))
    return np.where(half > 0, chord * half / np.where(half > 0, np.sin(half), 1), chord)


def ring_of(cut, scale: float) -> np.ndarray:
    """(m, 2) mm points along a cut."""
    if cut.dxftype() == "CIRCLE":
        x, y, _ = cut.dxf.center
        r = cut.dxf.radius
        n = max(16, math.ceil(math.pi / math.acos(max(0.0, 1 - CHORD / (r * scale)))))
        turn = np.arange(n) * 2 * math.pi / n
        return np.column_stack([x + r * np.cos(turn), y + r * np.sin(turn)]) * scale
    points, bulges = runs(cut)
    out = []
    for here, there, bulge in zip(points, np.roll(points, -1, axis=0), bulges, strict=True):
        out.append(here)
        if bulge:
            centre, begin, end, radius = bulge_to_arc(here, there, bulge)
            sweep = (end - begin) % (2 * math.pi)
            n = max(2, math.ceil(sweep / (2 * math.acos(max(0.0, 1 - CHORD / (radius * scale))))))
            turns = begin + sweep * np.arange(1, n) / n
            turns = turns if bulge > 0 else turns[::-1]
            out += list(np.column_stack([centre[0] + radius * np.cos(turns), centre[1] + radius * np.sin(turns)]))
    return np.array(out) * scale


def faults(document) -> list[str]:
    """What is wrong with the cuts of one plate file."""
    scale = scale_of(document)
    cuts = document.modelspace().query('*[layer=="CUT"]')
    wrong = []
    shapes = []
    for cut in cuts:
        if cut.dxftype() == "LWPOLYLINE":
            if not cut.closed:
                wrong.append("an open polyline")
            least = run_lengths(cut).min() * scale
            if least < SHORTEST - EXACT:
                wrong.append(f"a run of {least:.3g} mm")
        elif cut.dxftype() != "CIRCLE":
            wrong.append(f"a {cut.dxftype()}")
            continue
        ring = ring_of(cut, scale)
        shape = shapely.Polygon(ring)
        if not shape.is_valid:
            wrong.append(f"a contour that crosses or touches itself: {shapely.is_valid_reason(shape)}")
            shape = shapely.make_valid(shape)
        shapes.append(shape)
    if not shapes:
        return ["nothing to cut"]
    outer = max(range(len(shapes)), key=lambda i: shapes[i].area)
    for i, shape in enumerate(shapes):
        if i != outer and not shapely.contains_properly(shapes[outer], shape):
            wrong.append(f"a hole of {shape.area:.3g} mm2 that is not inside")
    holes = [shape for i, shape in enumerate(shapes) if i != outer]
    holes = np.array(holes, dtype=object)
    tree = shapely.STRtree(holes)
    for i, j in sorted(map(tuple, tree.query(holes, predicate="intersects").T.tolist())):
        if i < j:
            wrong.append(f"two holes that meet, {holes[i].area:.3g} and {holes[j].area:.3g} mm2")
    low = np.array(shapes[outer].bounds[:2])
    if np.abs(low).max() > CHORD + EXACT:
        wrong.append(f"a box that begins at {low}")
    return wrong + extents_faults(document)


def extents_faults(document) -> list[str]:
    """$EXTMIN and $EXTMAX against the box of all that is drawn, by ezdxf; a text is as wide as a font makes it."""
    space = document.modelspace()
    drawn = bbox.extents([e for e in space if e.dxftype() != "TEXT"], fast=False)
    low, high = np.array(document.header["$EXTMIN"])[:2], np.array(document.header["$EXTMAX"])[:2]
    room = CHORD + EXACT
    wrong = []
    if not np.isfinite([low, high]).all() or (low > high).any():
        return [f"extents from {low} to {high}"]
    texts = [t.dxf.insert for t in space if t.dxftype() == "TEXT"]
    inside = [tuple(drawn.extmin)[:2], tuple(drawn.extmax)[:2], *(tuple(p)[:2] for p in texts)]
    if (np.min(inside, axis=0) < low - room).any() or (np.max(inside, axis=0) > high + room).any():
        wrong.append(f"extents from {low} to {high} that leave out what is drawn")
    if not texts and (np.abs(low - inside[0]).max() > room or np.abs(high - inside[1]).max() > room):
        wrong.append(f"extents from {low} to {high} that are not those of what is drawn")
    return wrong


def metal(document) -> shapely.Polygon:
    """The plate that a file leaves, mm."""
    scale = scale_of(document)
    rings = [ring_of(cut, scale) for cut in document.modelspace().query('*[layer=="CUT"]')]
    shapes = sorted((shapely.Polygon(ring) for ring in rings), key=lambda s: -s.area)
    return shapely.difference(shapes[0], shapely.union_all(shapes[1:]))


def kit_faults(files) -> list[str]:
    """Faults of all plate files among (name, content)."""
    return list(itertools.chain.from_iterable(
        [f"{name}: {wrong}" for wrong in faults(read(data))] for name, data in files if name.startswith("plates/")))
