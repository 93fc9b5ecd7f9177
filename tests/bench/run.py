"""How long the whole job takes and how it grows: printed, and written to build/bench.json and build/bench.md.

    python tests/bench/run.py [--most 20480]

Each size runs in a process of its own, so that peak memory is its own. The floor is what nothing could do
without: building the same solids with manifold3d, testing the pairs whose boxes meet, and writing the
same outlines with ezdxf; it is measured in the same process, right after the job. Nothing here is asserted.
"""

from __future__ import annotations

import argparse
import json
import math
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

SIZES = (80, 320, 1280, 5120, 20480)
STAGES = ("read", "solve", "check", "mark", "assemble", "write")
ROOT = Path(__file__).resolve().parents[2]


def geodesic(faces: int):
    """A geodesic sphere by splitting the icosahedron's triangles in four; edges stay near 60 mm."""
    import numpy as np
    from scipy.spatial import ConvexHull

    from tackwright.core.mesh import Mesh

    phi = (1 + math.sqrt(5)) / 2
    points = np.array([p for s in (-1, 1) for t in (-phi, phi) for p in ((0, s, t), (s, t, 0), (t, 0, s))], dtype=float)
    while True:
        points /= np.linalg.norm(points, axis=1)[:, None]
        hull = ConvexHull(points)
        triangles = hull.simplices
        if len(triangles) >= faces:
            break
        edges = np.unique(np.sort(np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]])), axis=0)
        points = np.concatenate([points, points[edges].mean(axis=1)])
    out = np.cross(points[triangles[:, 1]] - points[triangles[:, 0]], points[triangles[:, 2]] - points[triangles[:, 0]])
    inward = (out * points[triangles[:, 0]]).sum(axis=1) < 0
    triangles[inward] = triangles[inward][:, ::-1]
    return Mesh.of(points * 25 * math.sqrt(faces), triangles, name=f"sphere_{faces}")


def job_of(name: str):
    from tackwright.core.choices import Choices, Settings
    from tackwright.core.files.read_mesh import read_mesh
    from tackwright.core.job import read_job

    if name.isdigit():
        return geodesic(int(name)), Choices(settings=Settings(metal_side="outside"))
    job = read_job(ROOT / "demo_scenes" / f"{name}.toml")
    return read_mesh(job.mesh_path, unit=job.unit), job.choices


def one(name: str) -> dict[str, float]:
    """Times (s) of every stage and of the floor, and the peak memory (MB) before the floor ran."""
    from tackwright.core import make_kit as way
    from tackwright.core.files.kit_folder import write_kit
    from tackwright.core.marks import mark_plates
    from tackwright.core.read_envelope import read_envelope
    from tackwright.core.trimming import settle

    mesh, choices = job_of(name)
    if not name.isdigit():
        way.make_kit(mesh, choices)                       # a live preview runs warm
    times: dict[str, float] = {}
    clock = time.perf_counter()

    def lap(stage: str) -> None:
        nonlocal clock
        times[stage] = time.perf_counter() - clock
        clock = time.perf_counter()

    envelope = read_envelope(mesh, choices)
    lap("read")
    solved = way.solve(envelope, choices)
    lap("solve")
    assembly = settle(solved.plates, way.ranks(solved))
    lap("check")
    marked = mark_plates(assembly.plates, [p.metal_side for p in envelope.panels], assembly.solids, assembly.pairs)
    lap("mark")
    kit = way.assemble(solved, assembly, marked, choices, mesh.name)
    lap("assemble")
    with tempfile.TemporaryDirectory() as folder:
        clock = time.perf_counter()
        write_kit(kit, Path(folder))
        lap("write")
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    return times | {"whole": sum(times.values()), "memory": memory, "plates": len(kit.plates)} | floor(assembly.plates, kit)


def floor(plates, kit) -> dict[str, float]:
    import ezdxf
    import numpy as np
    import shapely

    from tackwright.core.solids import plate_solid

    begin = time.perf_counter()
    solids = [plate_solid(p.outline, p.thickness).transform(p.place()[:3]) for p in plates]
    boxes = np.array([s.bounding_box() for s in solids])
    tree = shapely.STRtree(shapely.box(boxes[:, 0], boxes[:, 1], boxes[:, 3], boxes[:, 4]))
    a, b = tree.query(tree.geometries)
    near = (a < b) & (boxes[a, 2] < boxes[b, 5]) & (boxes[b, 2] < boxes[a, 5])
    for i, j in zip(a[near].tolist(), b[near].tolist(), strict=True):
        (solids[i] ^ solids[j]).volume()
    with tempfile.TemporaryDirectory() as folder:
        for plate in kit.plates:
            page = ezdxf.new("R2000")
            for ring in plate.outline.rings():
                page.modelspace().add_lwpolyline(ring.tolist(), close=True)
            page.saveas(Path(folder) / f"{plate.mark}.dxf")
    return {"floor": time.perf_counter() - begin, "pairs": float(near.sum())}


def report(rows: dict[str, dict[str, float]]) -> str:
    """The table as Markdown, with the growth exponent of every stage over the spheres."""
    columns = (*STAGES, "whole", "floor")
    lines = ["| envelope | " + " | ".join(columns) + " | whole/floor | MB | distinct plates |", "|---" * (len(columns) + 4) + "|"]
    for name, row in rows.items():
        cells = " | ".join(f"{row[c]:.3f}" for c in columns)
        lines.append(f"| {name} | {cells} | {row['whole'] / row['floor']:.2f} | {row['memory']:.0f} | {row['plates']:.0f} |")
    sizes = [n for n in rows if n.isdigit()]
    if len(sizes) >= 2:
        grown = []
        for column in columns:
            x = [math.log(int(n)) for n in sizes[1:]]     # the smallest is all start-up
            y = [math.log(max(rows[n][column], 1e-6)) for n in sizes[1:]]
            mx, my = sum(x) / len(x), sum(y) / len(y)
            over = sum((a - mx) ** 2 for a in x)
            grown.append(sum((a - mx) * (b - my) for a, b in zip(x, y, strict=True)) / over if over else float("nan"))
        lines.append("| growth exponent | " + " | ".join(f"{g:.2f}" for g in grown) + " | | | |")
    return "\n".join(lines) + "\n"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--most", type=int, default=SIZES[-1], help="the largest sphere")
    parser.add_argument("--one", help=argparse.SUPPRESS)
    wanted = parser.parse_args()
    if wanted.one:
        print(json.dumps(one(wanted.one)))
        return
    rows: dict[str, dict[str, float]] = {}
    for name in ("bow_tank", *(str(n) for n in SIZES if n <= wanted.most)):
        done = subprocess.run([sys.executable, __file__, "--one", name], capture_output=True, text=True, check=False)
        if done.returncode:
            sys.exit(done.stderr)
        rows[name] = json.loads(done.stdout)
        print(f"{name}: {rows[name]['whole']:.2f} s, floor {rows[name]['floor']:.2f} s", flush=True)
    folder = ROOT / "build"
    folder.mkdir(exist_ok=True)
    (folder / "bench.json").write_text(json.dumps(rows, indent=1) + "\n", encoding="utf-8")
    (folder / "bench.md").write_text(report(rows), encoding="utf-8")
    print("\n" + report(rows) + f"\nin seconds; written to {folder / 'bench.md'}")


if __name__ == "__main__":
    main()
