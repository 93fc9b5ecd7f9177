"""How long it takes to see which welds a torch gets to: a table in Markdown, printed.

    python tests/bench/reach.py

Boxes of 5 x 5 cells, closed and without a lid: the first 200 of their tees' sides; and all seams of kits. Of several
turns the least time counts. Nothing here is asserted.
"""

from __future__ import annotations

import itertools
import sys
import time
from collections import Counter
from functools import partial
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "support"))

CELLS, SIZE, THICK = 5, 200.0, 4.0
TURNS = 3
KITS = ("bow_tank", "drill_upright", "baffles_12", "baffles_50")


def cells(lid: bool):
    """Boxes, and the sides of the tees of the long uprights and of the short ones between them."""
    from tackwright.core.welding.torch_ways import TorchLine

    wide, half = CELLS * SIZE, THICK / 2
    boxes = [((0, 0, -THICK), (wide, wide, 0))] + [((0, 0, SIZE), (wide, wide, SIZE + THICK))] * lid
    lines = []

    def along(start, end, side, upright):
        for plate, z, up in ((0, 0.0, 1.0), (1, SIZE, -1.0))[: 1 + lid]:
            lines.append(TorchLine(
                line=np.array([[*start, z], [*end, z]]), toward=np.array([*side, up]), wedge=90.0,
                plates=(plate, upright)))

    for i, j, side in itertools.product(range(CELLS + 1), range(CELLS), (-1.0, 1.0)):
        x = i * SIZE + side * half
        along((x, j * SIZE + half), (x, (j + 1) * SIZE - half), (side, 0.0), len(boxes) + i)
    boxes += [((i * SIZE - half, 0, 0), (i * SIZE + half, wide, SIZE)) for i in range(CELLS + 1)]
    for j, i in itertools.product(range(CELLS + 1), range(CELLS)):
        left, right, y = i * SIZE + half, (i + 1) * SIZE - half, j * SIZE
        for side in (-1.0, 1.0):
            along((left, y + side * half), (right, y + side * half), (0.0, side), len(boxes))
        boxes.append(((left, y - half, 0), (right, y + half, SIZE)))
    return boxes, lines[:200]


def least(work):
    times, made = [], None
    for _ in range(TURNS):
        begin = time.perf_counter()
        made = work()
        times.append(time.perf_counter() - begin)
    return min(times), made


def main() -> None:
    from run import job_of
    from torch_judge import box_triangles

    from tackwright.core.kit.reached import reached
    from tackwright.core.make_kit import make_kit
    from tackwright.core.terms.choices import Torch
    from tackwright.core.welding.reach import reaches
    from tackwright.core.welding.shields import shields

    print("| plates in | plates | welds | reach | at the end | before | none |")
    print("|---|---|---|---|---|---|---|")
    for name, lid in (("closed cells", True), ("open cells", False)):
        boxes, lines = cells(lid)
        shielded = shields(*box_triangles(boxes), len(boxes))
        seconds, found = least(partial(reaches, lines, shielded, Torch()))
        row(name, len(boxes), seconds, [reach.when for reach in found])
    for name in KITS:
        kit = make_kit(*job_of(name))
        seconds, made = least(partial(reached, kit))
        row(name, sum(plate.quantity for plate in kit.plates), seconds,
            [seam.reach.split(" ")[0] for seam in made.seams if seam.joint])


def row(name: str, plates: int, seconds: float, words: list[str]) -> None:
    count = Counter(words)
    print(f"| {name} | {plates} | {len(words)} | {seconds:.3f} | {count['end']} | {count['before']} | "
          f"{count['none'] + count['outside']} |")


if __name__ == "__main__":
    main()
