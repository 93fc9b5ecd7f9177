"""How long the whole job takes and how it grows: printed, and written to build/bench.json and build/bench.md.

    python tests/bench/run.py [--most 20480]

Each size runs in a process of its own, so that peak memory is its own. The floor is what nothing could do
without: building the same solids and testing the pairs whose boxes meet, with manifold3d, and writing the same
cuts and etched strokes, one file a distinct plate, with ezdxf. It is measured in the same process, in turn with
the job. Both are warm (a small kit was made before) and begin with a clean heap; of several turns the least time
of every part counts. Nothing here is asserted.
"""

from __future__ import annotations

import argparse
import gc
import json
import math
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

SIZES = (80, 320, 1280, 5120, 20480)
STAGES = ("read", "solve", "check", "fit out", "mark", "inspect", "assemble", "write")
BAFFLES = (12, 50, 200)         # inner plates in a box
FLOOR = ("solids", "pairs", "outlines")
TURNS, PATIENCE = 5, 40.0       # how often each size is measured at most, and seconds after which no turn begins
ROOT = Path(__file__).resolve().parents[2]


def geodesic(faces: int):
    """A geodesic sphere by splitting the icosahedron's triangles in four; edges stay near 60 mm."""
    import numpy as np
    from scipy.spatial import ConvexHull

    from tackwright.core.envelope.mesh import Mesh

    phi = (1 + math.sqrt(5)) / 2
    points = np.array([p for s in (-1, 1) for t in (-phi, phi) for p in ((0, s, t), (s, t, 0), (t, 0, s))], dtype=float)
    while True:
        points /= np.linalg.norm(points, axis=1)[:, None]
        hull = ConvexHull(points)
        triangles = hull.simplices
        if len(triangles) >= faces:
            break
        sides = np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]])
        edges = np.unique(np.sort(sides), axis=0)
        points = np.concatenate([points, points[edges].mean(axis=1)])
    out = np.cross(points[triangles[:, 1]] - points[triangles[:, 0]], points[triangles[:, 2]] - points[triangles[:, 0]])
    inward = (out * points[triangles[:, 0]]).sum(axis=1) < 0
    triangles[inward] = triangles[inward][:, ::-1]
    return Mesh.of(points * 25 * math.sqrt(faces), triangles, name=f"sphere_{faces}")


def baffled(count: int):
    """A long box with so many baffles, one in three leaning, drawn short of the walls all round, snipes and all."""
    import numpy as np

    from tackwright.core.envelope.mesh import Mesh
    from tackwright.core.terms.choices import Choices, MarkedOpening, Settings

    length = 60.0 * (count + 1)
    points = [(x, y, z) for x in (0.0, length) for y in (0.0, 300.0) for z in (0.0, 250.0)]
    faces = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)]
    for number in range(count):
        x, lean = 60.0 * (number + 1), 25.0 if number % 3 == 0 else 0.0
        faces.append(tuple(range(len(points), len(points) + 4)))
        points += [(x, 5.0, 5.0), (x, 295.0, 5.0), (x + lean, 295.0, 245.0), (x + lean, 5.0, 245.0)]
    openings = (
        MarkedOpening(name="fill", at=(30.0, 150.0, 250.0), size=(50.0,)),
        MarkedOpening(name="drain", at=(30.0, 150.0, 0.0), size=(20.0,), purpose="drain"),
    )
    mesh = Mesh.of(np.array(points), faces, name=f"baffles_{count}")
    return mesh, Choices(settings=Settings(limber=20.0), openings=openings)


def job_of(name: str):
    """The mesh and the choices of a demo scene, of a box with so many baffles, or of the sphere of so many faces."""
    from tackwright.core.files.job import read_job
    from tackwright.core.files.read_mesh import read_mesh
    from tackwright.core.terms.choices import Choices, Settings

    if name.startswith("baffles_"):
        return baffled(int(name.removeprefix("baffles_")))
    if name.isdigit():
        return geodesic(int(name)), Choices(settings=Settings(metal_side="outside"))
    job = read_job(ROOT / "demo_scenes" / f"{name}.toml")
    return read_mesh(job.mesh_path, unit=job.unit), job.choices


def one(name: str) -> dict[str, float]:
    """Least times (s) of every stage and of the floor's parts; peak memory (MB) of the job."""
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder)
        _, plates, kit = run_job(*job_of("80"), out / "warm")
        run_floor(plates, kit, out / "warm_floor")
        mesh, choices = job_of(name)
        begin, memory = time.perf_counter(), 0.0
        turns: list[Laps] = []
        while len(turns) < TURNS and time.perf_counter() - begin < PATIENCE:
            with clean_heap():
                laps, plates, kit = run_job(mesh, choices, out / f"job{len(turns)}")
            memory = memory or resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
            with clean_heap():
                laps |= run_floor(plates, kit, out / f"floor{len(turns)}")
            turns.append(laps)
    least = {part: min(laps[part] for laps in turns) for part in turns[0]}
    return least | {
        "whole": sum(least[stage] for stage in STAGES), "floor": sum(least[part] for part in FLOOR),
        "memory": memory, "plates": len(kit.plates), "turns": len(turns),
    }


@contextmanager
def clean_heap() -> Iterator[None]:
    """Garbage is collected as ever, but nobody pays for looking through what another has made."""
    gc.collect()
    gc.freeze()
    yield
    gc.unfreeze()


class Laps(dict[str, float]):
    """Seconds that each part took."""

    def of(self, part: str, work: Callable):
        begin = time.perf_counter()
        made = work()
        self[part] = time.perf_counter() - begin
        return made


def run_job(mesh, choices, out: Path):
    """Every stage from the mesh to the folder: its times, the checked plates and the kit."""
    from tackwright.core.envelope.read_envelope import read_envelope
    from tackwright.core.files.kit_folder import write_kit
    from tackwright.core.fit_out import fit_out, inspect_interior
    from tackwright.core.kit.assemble import assemble
    from tackwright.core.kit.draft import Draft, kit_plates
    from tackwright.core.kit.marks import mark_plates
    from tackwright.core.plates.solve import settle_plates, solve
    from tackwright.core.stock.materials import material_of

    laps = Laps()
    envelope = laps.of("read", lambda: read_envelope(mesh, choices))
    solved = laps.of("solve", lambda: solve(envelope, choices))
    solved, assembly = laps.of("check", lambda: settle_plates(solved))
    interior = laps.of("fit out", lambda: fit_out(solved, assembly, choices))
    assembly, kinds = interior.assembly, [(plate.metal_side, plate.role) for plate in interior.assembly.plates]
    marked = laps.of("mark", lambda: mark_plates(assembly.plates, kinds, assembly.solids))
    draft = Draft(
        name=mesh.name, choices=choices, solved=solved, interior=interior, marked=marked,
        plates=kit_plates(assembly.plates, marked, material_of(choices)))
    found = laps.of("inspect", lambda: inspect_interior(solved, interior, choices))
    kit = laps.of("assemble", lambda: assemble(draft, found))
    laps.of("write", lambda: write_kit(kit, out))
    return laps, assembly.plates, kit


def run_floor(plates, kit, out: Path) -> Laps:
    """The same solids, pairs and entities, and nothing else: where they lie is known before the clock starts."""
    from tackwright.core.files.etch import etch_strokes, etch_texts
    from tackwright.core.plates.plates import places_of

    shapes = [([ring.tolist() for ring in plate.outline.rings()], plate.thickness) for plate in plates]
    places = list(places_of(plates)[:, :3])
    drawings = [
        (plate.mark, plate.outline, [run.tolist() for text in etch_texts(plate) for run in etch_strokes(text)])
        for plate in kit.plates
    ]
    out.mkdir()
    laps = Laps()
    solids = laps.of("solids", lambda: build_solids(shapes, places))
    laps["tested"] = laps.of("pairs", lambda: meet_pairs(solids))
    laps.of("outlines", lambda: draw_outlines(drawings, out))
    return laps


def build_solids(shapes, places) -> list:
    from manifold3d import CrossSection, FillRule, Manifold

    return [
        Manifold.extrude(CrossSection(rings, FillRule.EvenOdd), thickness).transform(place)
        for (rings, thickness), place in zip(shapes, places, strict=True)
    ]


def meet_pairs(solids) -> int:
    """Intersect all pairs whose boxes meet; how many those were."""
    import numpy as np
    import shapely

    boxes = np.array([solid.bounding_box() for solid in solids])
    tree = shapely.STRtree(shapely.box(boxes[:, 0], boxes[:, 1], boxes[:, 3], boxes[:, 4]))
    a, b = tree.query(tree.geometries)
    near = (a < b) & (boxes[a, 2] < boxes[b, 5]) & (boxes[b, 2] < boxes[a, 5])
    for i, j in zip(a[near].tolist(), b[near].tolist(), strict=True):
        (solids[i] ^ solids[j]).volume()
    return int(near.sum())


def draw_outlines(drawings, out: Path) -> None:
    import ezdxf

    from tackwright.core.shapes.outline import Circle

    for mark, outline, strokes in drawings:
        document = ezdxf.new("R2000")
        page = document.modelspace()
        for cut in (outline.outer, *outline.holes, *(hole for field in outline.fields for hole in field.holes())):
            if isinstance(cut, Circle):
                page.add_circle(cut.centre, cut.diameter / 2)
            else:
                page.add_lwpolyline(cut.points.tolist(), close=True)
        for stroke in strokes:
            page.add_lwpolyline(stroke)
        document.saveas(out / f"{mark}.dxf")


def report(rows: dict[str, dict[str, float]]) -> str:
    """The table as Markdown, with the growth exponent of every stage over the spheres."""
    columns = (*STAGES, "whole", "floor")
    heads = ("envelope", *columns, "whole/floor", "MB", "distinct plates")
    lines = ["| " + " | ".join(heads) + " |", "|---" * len(heads) + "|"]
    for name, row in rows.items():
        cells = [f"{row[c]:.3f}" for c in columns]
        cells += [f"{row['whole'] / row['floor']:.2f}", f"{row['memory']:.0f}", f"{row['plates']:.0f}"]
        lines.append("| " + " | ".join([name, *cells]) + " |")
    sizes = [n for n in rows if n.isdigit()]
    sizes = sizes[2:] if len(sizes) > 3 else sizes      # the smallest are all start-up
    if len(sizes) >= 2:
        grown = [f"{exponent(sizes, [rows[n][column] for n in sizes]):.2f}" for column in columns]
        lines.append("| " + " | ".join([f"growth exponent from {sizes[0]}", *grown]) + " | | | |")
    lines.append("")
    for name, row in rows.items():
        parts = ", ".join(f"{part} {row[part]:.3f}" for part in FLOOR)
        lines.append(f"- {name}: the floor is {parts} ({row['tested']:.0f} pairs); least of {row['turns']:.0f} turns")
    if tank := rows.get("bow_tank"):
        lines.append(f"- bow_tank: solve and check take {1000 * (tank['solve'] + tank['check']):.0f} ms")
    return "\n".join(lines) + "\n"


def exponent(sizes: list[str], times: list[float]) -> float:
    """The slope of the times over the sizes, both as logarithms, by least squares."""
    x, y = [math.log(int(n)) for n in sizes], [math.log(max(t, 1e-6)) for t in times]
    mx, my = sum(x) / len(x), sum(y) / len(y)
    return sum((a - mx) * (b - my) for a, b in zip(x, y, strict=True)) / sum((a - mx) ** 2 for a in x)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--most", type=int, default=SIZES[-1], help="the largest sphere")
    parser.add_argument("--one", help=argparse.SUPPRESS)
    wanted = parser.parse_args()
    if wanted.one:
        print(json.dumps(one(wanted.one)))
        return
    rows: dict[str, dict[str, float]] = {}
    for name in ("bow_tank", *(f"baffles_{n}" for n in BAFFLES), *(str(n) for n in SIZES if n <= wanted.most)):
        done = subprocess.run([sys.executable, __file__, "--one", name], capture_output=True, text=True, check=False)
        if done.returncode:
            sys.exit(done.stderr)
        rows[name] = json.loads(done.stdout)
        print(f"{name}: {rows[name]['whole']:.2f} s, floor {rows[name]['floor']:.2f} s", flush=True)
    done = subprocess.run(
        [sys.executable, Path(__file__).with_name("perforations.py")], capture_output=True, text=True, check=False)
    if done.returncode:
        sys.exit(done.stderr)
    folder = ROOT / "build"
    folder.mkdir(exist_ok=True)
    (folder / "bench.json").write_text(json.dumps(rows, indent=1) + "\n", encoding="utf-8")
    (folder / "bench.md").write_text(report(rows) + "\n" + done.stdout, encoding="utf-8")
    print("\n" + report(rows) + "\n" + done.stdout + f"\nin seconds; written to {folder / 'bench.md'}")


if __name__ == "__main__":
    main()
