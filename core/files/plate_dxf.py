"""One plate as a DXF file for the laser: cuts, etched texts and a note, at 1:1, seen from the outside face."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from ezdxf.entities.circle import Circle as CircleEntity
from ezdxf.entities.dxfentity import DXFEntity
from ezdxf.entities.lwpolyline import LWPolyline
from ezdxf.entities.text import Text
from numpy.typing import NDArray

from ..kit.kit import KitPlate
from ..shapes.outline import Circle, Contour, Hole
from ..stock.units import INCH
from ..terms.choices import Settings
from .dxf_page import DECIMALS, Copies, LayerName, blank_page, dxf_text
from .etch import etch_strokes, etch_texts
from .numbers import number_text
from .safe_names import unique_names

__all__ = ["plate_dxf", "plate_files"]

_NOTE_HEIGHT: Final = (2.5, 8.0)      # mm, of a capital, at least and at most
_WIDEST: Final = 1.0                  # a letter's share of the line over the height of a capital, at most...
_BELOW: Final = 0.4                   # ...and how far its foot reaches below: from memory, of common fonts
_CLOSED: Final = 1                    # flag of an LWPOLYLINE


def plate_files(plates: Sequence[KitPlate], settings: Settings) -> tuple[str, ...]:
    """Where each plate's file lies in the kit folder, with `/` between folder and name, by the pattern of the
    settings. By default the piece mark leads, so that a folder sorts as the cut list does."""
    texts = (
        settings.file_names.format(
            mark=p.mark, name=p.name, quantity=p.quantity, material=p.material,
            thickness=_length_text(p.thickness, settings).replace(" ", ""))
        for p in plates)
    return tuple(f"plates/{name}.dxf" for name in unique_names(texts))


def _length_text(length: float, settings: Settings) -> str:
    """A length in the files' unit, with it."""
    return f"{number_text(length / INCH, 4)} in" if settings.dxf_units == "in" else f"{number_text(length)} mm"


def plate_dxf(plate: KitPlate, settings: Settings) -> bytes:
    """The file for one plate, in `settings.dxf_units`; etched texts and the note where the settings have them on."""
    units = settings.dxf_units
    scale = 1.0 if units == "mm" else 1 / INCH
    marks: list[DXFEntity] = []
    if settings.etch:
        marks += [_polyline("ETCH", run * scale) for text in etch_texts(plate) for run in etch_strokes(text)]
    lines = _note(plate, settings) if settings.note else []
    layers: list[LayerName] = ["CUT"]
    layers += ["ETCH"] if marks else []
    layers += ["NOTE"] if lines else []
    extents = np.array([(0.0, 0.0), plate.size])
    for line in lines:
        extents[0, 1] = min(extents[0, 1], line.foot - _BELOW * line.height)
        extents[1, 0] = max(extents[1, 0], _WIDEST * line.height * len(line.text))
    entities = (*_cuts(plate, scale), *marks, *(line.entity(scale) for line in lines))
    return blank_page(units, tuple(layers)).filled(entities, DECIMALS[units], extents * scale)


def _cuts(plate: KitPlate, scale: float) -> Iterator[DXFEntity | Copies]:
    for cut in (plate.outline.outer, *plate.outline.holes):
        yield _cut(cut, scale)
    for field in plate.outline.fields:
        yield Copies(_cut(field.shape, scale), field.corners() * scale)


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


@dataclass(frozen=True, slots=True)
class _Line:
    """A line of text. foot: y of its letters' feet; height: of a capital; mm."""

    text: str
    foot: float
    height: float

    def entity(self, scale: float) -> DXFEntity:
        return Text.new(dxfattribs={"layer": "NOTE", "insert": (0.0, self.foot * scale), "height": self.height * scale,
                                    "text": dxf_text(self.text)})


def _note(plate: KitPlate, settings: Settings) -> list[_Line]:
    """Lines of text below the plate, for people."""
    thickness = _length_text(plate.thickness, settings)
    if settings.dxf_units == "in":
        thickness += f" ({number_text(plate.thickness)} mm)"
    lines = (
        f"{plate.mark}  {plate.name}",
        f"{plate.material}, {thickness}",
        f"quantity {plate.quantity}",
        f"this face towards {plate.toward}" if plate.toward else "outside face up",
    )
    height = min(max(plate.size[0] / 30, _NOTE_HEIGHT[0]), _NOTE_HEIGHT[1])
    return [_Line(line, -height * (2.5 + 1.8 * row), height) for row, line in enumerate(lines)]
