"""A plate's file read again before the kit appears: what a cutter will find in it is the plate that was checked.

The reading shares nothing with the writing: ezdxf parts the file into tags, and the cuts are put together from those.
"""

from __future__ import annotations

import io
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from ezdxf.lldxf.tagger import ascii_tags_loader
from numpy.typing import NDArray

from ..kit.kit import KitPlate
from ..shapes.outline import Circle, Contour, Hole
from ..stock.units import INCH
from ..terms.errors import ExportError
from ..terms.messages import Area, Length

__all__ = ["check_written"]

Floats = NDArray[np.float64]

EXACT: Final = 1e-5
"""mm: a file's numbers agree within this with the plate's: ten times what rounding them makes."""

BENT: Final = 1e-9
"""The same for bulges, which have no unit."""

_SCALES: Final = {"4": 1.0, "1": INCH}      # $INSUNITS, as the DXF reference has it
_UNITS: Final = b"$INSUNITS\n 70\n"
_ENTITIES: Final = b"  2\nENTITIES\n"


@dataclass(frozen=True, slots=True, eq=False)
class _Cuts:
    """What is on CUT, in mm. counts: (c,) points of every cut. points: (n, 2) of all of them. bulges: (n,).
    radii: (c,), 0 for a polyline. closed: whether every one is."""

    counts: NDArray[np.int64]
    points: Floats
    bulges: Floats
    radii: Floats
    closed: bool


def check_written(plate: KitPlate, file: str, data: bytes, *, sound: bool) -> None:
    """Refuse (ExportError) a file whose cuts are not those of its plate.

    sound: refuse cuts too that make no plate: of which one crosses another, or a hole is not inside.
    """
    cuts = _read(data)
    wrong = _difference(plate, cuts) or (_unsound(plate, cuts) if sound else None)
    if wrong is not None:
        raise ExportError(
            f"Plate {plate.mark} '{plate.name}' was not written as it was checked", where=file, by=wrong,
            do="Nothing was exported. Change the drawing or the plate's joints a little there, and report this.")


def _read(data: bytes) -> _Cuts:
    head, _, body = data.partition(_ENTITIES)
    scale = _SCALES[head.partition(_UNITS)[2].split(b"\n", 1)[0].strip().decode("ascii")]
    counts: list[int] = []
    xs: list[float] = []
    ys: list[float] = []
    bends: list[float] = []
    radii: list[float] = []
    kind, layer, flags, radius, first, closed = "", "", 0, 0.0, 0, True
    for code, value in ascii_tags_loader(io.StringIO(body.decode("cp1252"))):
        if code == 10:
            xs.append(float(value))
            bends.append(0.0)
        elif code == 20:
            ys.append(float(value))
        elif code == 42:
            bends[-1] = float(value)
        elif code == 40:
            radius = float(value)
        elif code == 8:
            layer = value
        elif code == 70:
            flags = int(value)
        elif code == 0:
            if layer == "CUT":
                round_ = kind == "CIRCLE"
                closed &= round_ or (kind == "LWPOLYLINE" and flags & 1 == 1)
                counts.append(len(xs) - first)
                radii.append(radius if round_ else 0.0)
            else:
                del xs[first:], ys[first:], bends[first:]
            if value == "ENDSEC":
                break
            kind, layer, flags, radius, first = value, "", 0, 0.0, len(xs)
    return _Cuts(
        counts=np.array(counts, dtype=np.int64), points=np.column_stack([xs, ys]) * scale, bulges=np.array(bends),
        radii=np.array(radii) * scale, closed=closed)


def _difference(plate: KitPlate, cuts: _Cuts) -> str | None:
    """What tells the cuts from those of the plate, and by how much."""
    if not cuts.closed:
        return "a cut that is not closed"
    outline = plate.outline
    wanted = [(cut, 1, _points(cut)) for cut in (outline.outer, *outline.holes)]
    wanted += [(field.shape, field.count, field.corners().reshape(-1, 2)) for field in outline.fields]
    repeats = [count for _, count, _ in wanted]
    counts = np.repeat([len(_points(cut)) for cut, _, _ in wanted], repeats)
    if not np.array_equal(counts, cuts.counts):
        return (f"{len(cuts.counts)} cuts of {len(cuts.points)} points in the file for {len(counts)} of "
                f"{counts.sum()} of the plate")
    off = np.abs(cuts.points - np.concatenate([points for _, _, points in wanted])).max()
    off = max(off, np.abs(cuts.radii - np.repeat([_radius(cut) for cut, _, _ in wanted], repeats)).max())
    if not off <= EXACT:
        return f"points or radii that are off by {Length(off):.6f}"
    bulges = np.concatenate([np.tile(_bulges(cut), count) for cut, count, _ in wanted])
    bent = np.abs(cuts.bulges - bulges).max()
    return None if bent <= BENT else f"arcs that are off by a bulge of {bent:.9f}"


def _points(cut: Hole) -> Floats:
    return np.array([cut.centre]) if isinstance(cut, Circle) else cut.points


def _bulges(cut: Hole) -> Floats:
    if isinstance(cut, Circle):
        return np.zeros(1)
    return np.zeros(len(cut.points)) if cut.bulges is None else cut.bulges


def _radius(cut: Hole) -> float:
    return cut.diameter / 2 if isinstance(cut, Circle) else 0.0


def _unsound(plate: KitPlate, cuts: _Cuts) -> str | None:
    """Why the cuts make no plate. The holes of fields are left out: they were laid clear of everything."""
    ends = np.cumsum(cuts.counts)
    shapes = np.array([shapely.Polygon(_ring(cuts, i, int(ends[i]))) for i in range(1 + len(plate.outline.holes))],
                      dtype=object)
    crossed = np.flatnonzero(~shapely.is_valid(shapes))
    if len(crossed):
        return f"a contour that crosses or touches itself: {shapely.is_valid_reason(shapes[crossed[0]])}"
    outer, holes = shapes[0], shapes[1:]
    if not len(holes):
        return None
    shapely.prepare(outer)
    out = np.flatnonzero(~shapely.contains_properly(outer, holes))
    if len(out):
        hole = holes[out[0]]
        return (f"a hole of {Area(hole.area):.2f}, {Area(shapely.difference(hole, outer).area):.2f} of it outside the "
                "plate's edge, or touching it")
    pairs = shapely.STRtree(holes).query(holes, predicate="intersects")
    pairs = pairs[:, pairs[0] < pairs[1]]
    if pairs.shape[1]:
        one, two = holes[pairs[:, 0]]
        return f"two holes of {Area(one.area, two.area, between=' and '):.2f} that share "
        f"{Area((one & two).area):.2f}, or touch"
    return None


def _ring(cuts: _Cuts, row: int, end: int) -> Floats:
    begin = end - int(cuts.counts[row])
    if cuts.radii[row] > 0:
        x, y = cuts.points[begin].tolist()
        return Circle(centre=(x, y), diameter=2 * float(cuts.radii[row])).flatten()
    return Contour(points=cuts.points[begin:end], bulges=cuts.bulges[begin:end]).flatten()
