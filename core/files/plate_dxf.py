"""One plate as a DXF file for the laser: cuts, etched texts and a note, at 1:1, seen from the outside face."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

import numpy as np
from ezdxf.entities.circle import Circle as CircleEntity
from ezdxf.entities.dxfentity import DXFEntity
from ezdxf.entities.lwpolyline import LWPolyline
from ezdxf.entities.text import Text
from numpy.typing import NDArray

from ..choices import Settings
from ..gauges import INCH
from ..kit import KitPlate
from ..outline import Circle, Contour, Hole
from .dxf_page import DECIMALS, Copies, LayerName, blank_page, dxf_text
from .etch import etch_strokes, etch_texts
from .numbers import number_text
from .safe_names import unique_names

__all__ = ["plate_dxf", "plate_files"]

_NOTE_HEIGHT: Final = (2.5, 8.0)      # mm, of a capital, at least and at most
_CLOSED: Final = 1                    # flag of an LWPOLYLINE


def plate_files(plates: Sequence[KitPlate]) -> tuple[str, ...]:
    """Where each plate's file lies in the kit folder, with `/` between folder and name.

    The piece mark leads, so that a folder sorts as the cut list does.
    """
    return tuple(f"plates/{name}.dxf" for name in unique_names(f"{p.mark}_{p.name}" for p in plates))


def plate_dxf(plate: KitPlate, settings: Settings) -> bytes:
    """The file for one plate, in `settings.dxf_units`; etched texts where `settings.etch` is on."""
    units = settings.dxf_units
    return blank_page(units).filled(_entities(plate, settings, 1.0 if units == "mm" else 1 / INCH), DECIMALS[units])


def _entities(plate: KitPlate, settings: Settings, scale: float) -> Iterator[DXFEntity | Copies]:
    for cut in (plate.outline.outer, *plate.outline.holes):
        yield _cut(cut, scale)
    for field in plate.outline.fields:
        yield Copies(_cut(field.shape, scale), field.corners() * scale)
    if settings.etch:
        for text in etch_texts(plate):
            for run in etch_strokes(text):
                yield _polyline("ETCH", run * scale)
    yield from _note(plate, settings, scale)


def _cut(cut: Hole, scale: float) -> DXFEntity:
    return _circle(cut, scale) if isinstance(cut, Circle) else _contour(cut, scale)


def _circle(circle: Circle, scale: float) -> DXFEntity:
    x, y = circle.centre
    return CircleEntity.new(
        dxfattribs={"layer": "CUT", "center": (x * scale, y * scale), "radius": circle.diameter / 2 * scale}
    )


def _contour(contour: Contour, scale: float) -> DXFEntity:
    bulges = np.zeros(len(contour.points)) if contour.bulges is None else contour.bulges
    return _polyline("CUT", np.column_stack([contour.points * scale, bulges]), flags=_CLOSED)


def _polyline(layer: LayerName, points: NDArray[np.float64], *, flags: int = 0) -> DXFEntity:
    """points: (k, 2), or (k, 3) with the bulge of the run that begins there."""
    polyline = LWPolyline.new(dxfattribs={"layer": layer, "flags": flags})
    polyline.append_points(points.tolist(), format="xyb"[: points.shape[1]])
    return polyline


def _note(plate: KitPlate, settings: Settings, scale: float) -> Iterator[DXFEntity]:
    """Lines of text below the plate, for people."""
    thickness = f"{number_text(plate.thickness)} mm"
    if settings.dxf_units == "in":
        thickness = f"{number_text(plate.thickness / INCH, 4)} in ({thickness})"
    lines = (
        f"{plate.mark}  {plate.name}",
        f"{plate.material}, {thickness}",
        f"quantity {plate.quantity}",
        "outside face up",
    )
    height = min(max(plate.size[0] / 30, _NOTE_HEIGHT[0]), _NOTE_HEIGHT[1])
    for row, line in enumerate(lines):
        where = (0.0, -height * (2.5 + 1.8 * row) * scale)
        yield Text.new(dxfattribs={"layer": "NOTE", "insert": where, "height": height * scale, "text": dxf_text(line)})
