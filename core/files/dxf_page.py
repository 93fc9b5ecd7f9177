"""A blank DXF drawing and the way entities get onto it, the same bytes at every run.

ezdxf makes the blank drawing once per unit; each file is that text with its own entities in the middle. So a
file depends on nothing that was written before it, and costs no new document.
"""

from __future__ import annotations

import io
import re
import struct
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from typing import Final, Literal

import numpy as np
from ezdxf import options  # type: ignore[attr-defined]
from ezdxf.entities.dxfentity import DXFEntity
from ezdxf.filemanagement import new as new_drawing
from ezdxf.lldxf.tagwriter import TagWriter
from ezdxf.lldxf.types import DXFTag, DXFVertex
from numpy.typing import NDArray

from .numbers import number_text

__all__ = ["DECIMALS", "LAYERS", "Copies", "LayerName", "blank_page", "dxf_text"]

LayerName = Literal["CUT", "BEND", "ETCH", "NOTE"]
Units = Literal["mm", "in"]

LAYERS: Final[dict[LayerName, int]] = {"CUT": 7, "BEND": 9, "ETCH": 8, "NOTE": 252}
"""The layers and their colours in the format's own index: the drawing's foreground, then greys, so that the
cut stands out on any background and no colour asks for a machine setting."""

DECIMALS: Final = {"mm": 6, "in": 8}
"""Decimals of a coordinate: a nanometre, and a quarter of one."""

_VERSION: Final = "AC1015"                          # DXF 2000: the first version whose header names its units
_UNIT_CODES: Final = {"mm": (4, 1), "in": (1, 0)}   # $INSUNITS and $MEASUREMENT, as the DXF reference has them
_BULGE: Final = 12                                  # decimals: a bulge has no unit and may be tiny on a long chord
_CODE_PAGE: Final = "cp1252"                        # what ezdxf names in the header of a new drawing
_OWN_CODES: Final = ("5", "10", "20")               # of a copy: its handle, and x and y of its points
_EMPTY: Final = "  0\nSECTION\n  2\nENTITIES\n"
_EXTENTS: Final = "  9\n$EXTMIN\n"
_VALUES: Final = re.compile(r"(?: \d0\n.*\n){3}  9\n\$EXTMAX\n(?: \d0\n.*\n){3}")   # of a drawing without any
_SEED: Final = "  9\n$HANDSEED\n  5\n"


@dataclass(frozen=True, slots=True)
class _Page:
    """The text before the extents, from after them to the handle seed, between it and the entities, and after
    these; the first free handle; the handle of the model space, which owns the entities."""

    before: str
    head: str
    middle: str
    tail: str
    first: int
    owner: str

    def filled(
        self, entities: Iterable[DXFEntity | Copies], decimals: int, extents: NDArray[np.float64]
    ) -> bytes:
        """The file's bytes with these entities, which get their handles here. Lines end with a line feed.
        extents: (2, 2) the lower left and the upper right corner of all that is drawn, in the drawing's unit."""
        stream = io.StringIO()
        writer = _Writer(stream, decimals)
        handle = self.first
        for item in entities:
            entity = item.entity if isinstance(item, Copies) else item
            entity.dxf.handle, entity.dxf.owner = f"{handle:X}", self.owner
            if isinstance(item, Copies):
                stream.write(item.text(handle, decimals))
                handle += len(item.points)
            else:
                entity.export_dxf(writer)
                handle += 1
        box = "".join(
            f"  9\n{name}\n 10\n{_real(x, decimals)}\n 20\n{_real(y, decimals)}\n 30\n0.0\n"
            for name, (x, y) in zip(("$EXTMIN", "$EXTMAX"), extents.tolist(), strict=True))
        text = f"{self.before}{box}{self.head}{handle:X}{self.middle}{stream.getvalue()}{self.tail}"
        return text.encode(_CODE_PAGE)


@dataclass(frozen=True, slots=True, eq=False)
class Copies:
    """Entities that differ in their points alone, each written as `entity` would be: made once, not every time.

    points: (n, k, 2), in the drawing's unit, for the k points that the entity has.
    """

    entity: DXFEntity
    points: NDArray[np.float64]

    def text(self, first: int, decimals: int) -> str:
        """All of them; the handles count up from `first`."""
        stream = io.StringIO()
        self.entity.export_dxf(_Writer(stream, decimals))
        lines = stream.getvalue().replace("{", "{{").replace("}", "}}").split("\n")
        for i in range(0, len(lines) - 1, 2):
            if lines[i].strip() in _OWN_CODES:
                lines[i + 1] = "{}"
        template = "\n".join(lines)
        places = self.points.reshape(len(self.points), -1).tolist()
        return "".join([
            template.format(f"{handle:X}", *[_real(value, decimals) for value in place])
            for handle, place in enumerate(places, first)
        ])


class _Writer(TagWriter):
    """Writes numbers without exponents, which not every reader takes, and without rounding noise."""

    def __init__(self, stream: io.StringIO, decimals: int) -> None:
        super().__init__(stream, _VERSION)
        self._decimals = decimals

    def write_tag(self, tag: DXFTag) -> None:
        if isinstance(tag, DXFVertex):
            self.write_vertex(tag.code, tag.value)
        else:
            self.write_tag2(tag.code, tag.value)

    def write_tag2(self, code: int, value: object) -> None:
        if isinstance(value, float):
            value = _real(value, _BULGE if code == 42 else self._decimals)
        super().write_tag2(code, value)

    def write_vertex(self, code: int, vertex: Iterable[float]) -> None:
        for axis, value in enumerate(vertex):
            super().write_tag2(code + axis * 10, _real(value, self._decimals))


def _real(value: float, decimals: int) -> str:
    """A number that reads as real: with a point."""
    text = number_text(value, decimals)
    return text if "." in text else text + ".0"


@cache
def blank_page(units: Units, layers: tuple[LayerName, ...]) -> _Page:
    """The blank drawing in `units`, with these layers."""
    fixed = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True     # no clock and no fresh identifiers in a file
    try:
        document = new_drawing("R2000")
        document.units, document.header["$MEASUREMENT"] = _UNIT_CODES[units]
        for name in layers:
            document.layers.add(name, color=LAYERS[name])
        stream = io.StringIO()
        document.write(stream)
    finally:
        options.write_fixed_meta_data_for_testing = fixed
    start, entities, tail = stream.getvalue().partition(_EMPTY)
    before, _, after = start.partition(_EXTENTS)
    head, seed, rest = _VALUES.sub("", after, count=1).partition(_SEED)
    first, middle = rest.split("\n", 1)
    owner = document.modelspace().layout_key
    return _Page(before, head + seed, "\n" + middle + entities, tail, int(first, 16), owner)


def dxf_text(text: str) -> str:
    r"""`text` as a DXF string that shows these letters on one line.

    In a DXF string `^` starts a control character, `%%` a symbol, and `\U+` and `\M+` a letter by number. The
    caret has an escape; the other two are parted by a space, since not every reader knows one for them.
    Letters outside Latin-1 go by number, the rare ones as two halves.

    >>> dxf_text("50%% of a^2\n\\U+0041 水")
    '50% % of a^ 2 \\ U+0041 \\U+6C34'
    """
    text = "".join(c if c.isprintable() else " " for c in text)
    text = re.sub(r"\\(?=[UM]\+)", r"\\ ", text, flags=re.IGNORECASE)
    text = re.sub("%(?=%)", "% ", text).replace("^", "^ ")
    return "".join(map(_by_number, text))


def _by_number(letter: str) -> str:
    if ord(letter) < 256:                                # the code page, read as Latin-1 too by some
        return letter
    return "".join(f"\\U+{half:04X}" for (half,) in struct.iter_unpack(">H", letter.encode("utf-16-be")))
