"""How long the room between a drawing and a scan takes, and how that grows: a table in Markdown, printed.

    python tests/bench/scans.py

A noisy niche of 100 000, 1 000 000 and 3 000 000 triangles, in a process of its own each: sorting the scan, the room
round a box of six faces in it, and again, coarser, after one of the box's corners was moved. The floor is reading every
corner of the scan once and sorting as many numbers. Nothing here is asserted.
"""

from __future__ import annotations

import json
import resource
import subprocess
import sys
import time

import numpy as np

SIZES = (100_000, 1_000_000, 3_000_000)
PARTS = ("floor", "index", "room", "again")
NICHE, BOX = (900.0, 600.0, 700.0), (820.0, 540.0, 600.0)


def niche(triangles: int) -> tuple[np.ndarray, np.ndarray]:
    """The inside of a box, each side a grid whose points are off by half a millimetre."""
    rng = np.random.default_rng(4)
    count = round((triangles / 12) ** 0.5)
    steps = np.linspace(-0.5, 0.5, count + 1)
    first = np.arange(count)[:, None] * (count + 1) + np.arange(count)
    square = np.stack([first, first + 1, first + count + 2, first + count + 1], axis=-1).reshape(-1, 4)
    points, faces = [], []
    for axis in range(3):
        for side in (-0.5, 0.5):
            grid = np.empty((count + 1, count + 1, 3))
            grid[..., axis] = side
            grid[..., (axis + 1) % 3], grid[..., (axis + 2) % 3] = np.meshgrid(steps, steps, indexing="ij")
            base = len(points) * (count + 1) ** 2
            points.append(grid.reshape(-1, 3) * NICHE)
            faces += [square[:, :3] + base, square[:, [0, 2, 3]] + base]
    places = np.concatenate(points)
    return (places + rng.normal(size=places.shape) * 0.5).astype(np.float32), np.concatenate(faces).astype(np.int32)


def one(triangles: int) -> dict[str, float]:
    """Seconds of every part, the least of three but for the index, and the most memory, MB, beyond the scan's own."""
    from tackwright.core.envelope.mesh import Mesh
    from tackwright.core.scan.clearance import PATCHES, WHILE_DRAWING, clearance
    from tackwright.core.scan.clearance_body import body_of_mesh
    from tackwright.core.scan.scan_index import index_scan

    square = ((-0.5, -0.5), (0.5, -0.5), (0.5, 0.5), (-0.5, 0.5))
    corners = np.array([(x, y, z) for z in (-0.5, 0.5) for x, y in square])
    faces = [(0, 3, 2, 1), (4, 5, 6, 7), (0, 1, 5, 4), (1, 2, 6, 5), (2, 3, 7, 6), (3, 0, 4, 7)]
    moved = corners.copy()
    moved[6] *= 0.97
    points, scan_faces = niche(triangles)
    begin_memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    laps: dict[str, list[float]] = {part: [] for part in PARTS}

    def lap(part: str, work):
        begin = time.perf_counter()
        made = work()
        laps[part].append(time.perf_counter() - begin)
        return made

    lap("floor", lambda: (points[scan_faces].sum(), np.argsort(scan_faces[:, 0], kind="stable")))
    index = lap("index", lambda: index_scan(points, scan_faces))
    for _ in range(3):
        for part, drawn, fine in (("room", corners, PATCHES), ("again", moved, WHILE_DRAWING)):
            body = body_of_mesh(Mesh.of(drawn * BOX, faces, name="box"))
            lap(part, lambda body=body, fine=fine: clearance(body, index, patches=fine))
    memory = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - begin_memory) / 1024
    return {part: min(times) for part, times in laps.items()} | {"MB": memory, "triangles": len(scan_faces)}


def main() -> None:
    lines = ["| scan | " + " | ".join((*PARTS, "MB")) + " |", "|---" * (2 + len(PARTS)) + "|"]
    for size in SIZES:
        out = subprocess.run([sys.executable, __file__, str(size)], capture_output=True, text=True, check=True)
        laps = json.loads(out.stdout)
        cells = [*(f"{laps[part]:.2f}" for part in PARTS), f"{laps['MB']:.0f}"]
        lines.append("| " + " | ".join([str(laps["triangles"]), *cells]) + " |")
    print("\n".join(lines))


if __name__ == "__main__":
    if len(sys.argv) > 1:
        print(json.dumps(one(int(sys.argv[1]))))
    else:
        main()
