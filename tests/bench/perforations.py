"""How long perforation fields take and how that grows: a table in Markdown, printed.

    python tests/bench/perforations.py

A square plate with a field of 2 500, 10 000 and 40 000 holes: finding them, telling two such plates to be one piece,
laying out the drawing and its texts, writing the DXF file, the mesh for the editor and the assembly. Of several turns
the least time of every part counts. Nothing here is asserted.
"""

from __future__ import annotations

import math
import time

import numpy as np

SIZES = (2500, 10000, 40000)
CODES = ("R5T8", "LR4x12 random 15")
PARTS = ("generate", "mark", "draw", "etch", "dxf", "mesh")
TURNS = 3


def square_plate(code: str, holes: int):
    """A plate and a field that give about so many holes."""
    from tackwright.core.openings.hole_patterns import hole_pattern
    from tackwright.core.plates.plates import Plate
    from tackwright.core.shapes.frame import Frame
    from tackwright.core.shapes.outline import Contour, Outline
    from tackwright.core.terms.choices import Band, Field

    side = 1000.0 * math.sqrt(holes / hole_pattern(code).per_square_metre) + 20.0
    corners = np.array([(0, 0), (side, 0), (side, side), (0, side)])
    frame = Frame(origin=np.zeros(3), axes=np.eye(3))
    plate = Plate(
        name="baffle", number=0, outline=Outline(outer=Contour(points=corners)), frame=frame, thickness=3.0, low=0.0)
    return plate, Field(panel="baffle", bands=(Band(code=code),))


def one(code: str, holes: int) -> dict[str, float]:
    """Seconds of every part, and the holes that there are."""
    from tackwright.core.files.etch import etch_texts
    from tackwright.core.files.plate_dxf import plate_dxf
    from tackwright.core.kit.kit import KitPlate, Placement
    from tackwright.core.openings.perforated_plates import perforate_plates
    from tackwright.core.plates.solids import plate_mesh
    from tackwright.core.shapes.congruence import congruence_groups
    from tackwright.core.shapes.drawing_frame import drawing_frame
    from tackwright.core.terms.choices import Settings

    plate, field = square_plate(code, holes)
    laps: dict[str, float] = {}

    def lap(part: str, work):
        begin = time.perf_counter()
        made = work()
        laps[part] = time.perf_counter() - begin
        return made

    made = lap("generate", lambda: perforate_plates([plate], [field], lambda name: [0], {}))
    outline = made.plates[0].outline
    turned = outline.moved(np.array([[0.0, -1.0, 7.0], [1.0, 0.0, 5.0], [0.0, 0.0, 1.0]]))
    lap("mark", lambda: congruence_groups([outline, turned], [0, 0]))
    drawing = lap("draw", lambda: drawing_frame(outline))
    kit_plate = KitPlate(
        mark="P01", name="baffle", material="steel S235", density=7850.0, thickness=3.0, role="inner",
        metal_side="inside", outline=outline.moved(drawing), area=outline.area(), mass=0.0,
        cut_length=outline.cut_length(), pierces=outline.pierces(), size=(1.0, 1.0),
        placements=(Placement(id="P01-1", panel="baffle", faces=(), matrix=np.eye(4)),), borders=(),
    )
    lap("etch", lambda: etch_texts(kit_plate))
    lap("dxf", lambda: plate_dxf(kit_plate, Settings(etch=False)))
    lap("mesh", lambda: plate_mesh(outline, 3.0))
    return laps | {"holes": made.openings[0].count}


def table() -> str:
    lines = ["| perforations | " + " | ".join(("holes", *PARTS)) + " |", "|---" * (2 + len(PARTS)) + "|"]
    for code in CODES:
        one(code, 100)                                  # warm
        rows = []
        for size in SIZES:
            turns = [one(code, size) for _ in range(TURNS)]
            rows.append({part: min(laps[part] for laps in turns) for part in turns[0]})
            cells = [f"{rows[-1]['holes']:.0f}", *(f"{rows[-1][part]:.3f}" for part in PARTS)]
            lines.append("| " + " | ".join([code, *cells]) + " |")
        first, last = rows[0], rows[-1]
        grown = [
            f"{math.log(last[part] / first[part]) / math.log(last['holes'] / first['holes']):.2f}" for part in PARTS]
        lines.append("| " + " | ".join(["growth exponent", "", *grown]) + " |")
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    print(table())
