"""Inner plates with their limber holes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from ..envelope.envelope import Envelope
from ..openings.placed_openings import PlacedOpening
from ..plates.plates import Plate, plate_shapes
from ..plates.tab_sizes import web_of
from ..shapes.ring_features import featured
from ..terms.findings import Finding
from ..terms.messages import Length
from ..terms.places import point_at
from .inner_plates import Inside
from .limber import limber_bites

__all__ = ["drained", "limber_openings"]


def drained(
    envelope: Envelope, inside: Inside, plates: Sequence[Plate]
) -> tuple[Inside, tuple[Plate, ...], list[Finding]]:
    """The inner plates with their limber holes, and all plates with them: where the openings left room for them."""
    out = list(plates)
    with_holes = []
    findings = []
    for inner in inside.plates:
        number = inner.plate.number
        plate, panel = out[number], envelope.inner[inner.panel]
        bites, left_out = limber_bites(
            inner.rings[0], plate_shapes([plate.outline])[0], plate.frame, panel.limber, web_of(plate.thickness))
        outer = featured(inner.rings[0].points, (), bites)
        out[number] = replace(plate, outline=replace(plate.outline, outer=outer))
        with_holes.append(replace(inner, bites=tuple((0, bite) for bite in bites)))
        findings += [Finding(
            rule="limber_left_out", level="note", panels=(number,), faces=panel.faces,
            at=point_at(plate.frame.solid(middle[None])[0]),
            message=f"'{plate.name}' has no limber hole here: one of {Length(panel.limber):g} would leave too little "
            "metal "
            "to another cut or edge, wherever along the side it is. Make it smaller, or move the opening beside it.",
        ) for middle in left_out]
    return replace(inside, plates=tuple(with_holes)), tuple(out), findings


def limber_openings(inside: Inside) -> tuple[PlacedOpening, ...]:
    """The limber holes as openings; snipes are corners, not openings."""
    out = []
    for inner in inside.plates:
        for ring, bite in inner.bites:
            points = inner.rings[ring].points
            start, end = points[bite.side], points[(bite.side + 1) % len(points)]
            centre = start + (end - start) / np.linalg.norm(end - start) * bite.at
            out.append(PlacedOpening(
                plate=inner.plate.number, name="limber hole", shape="round", purpose="limber",
                centre=(float(centre[0]), float(centre[1])), rotation=0.0, size=(bite.diameter,), cuts=()))
    return tuple(out)
