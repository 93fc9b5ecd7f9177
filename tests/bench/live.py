"""How long plates take to follow a drawing in the editor: printed, and written to build/bench_live.md.

    python tests/bench/live.py

Each row is a drawing that is made longer again and again, so that every plate but the two ends changes. Least times
of several turns, in milliseconds, warm. gather: from the editor to the core's mesh. draft: to plates, with what the
turn before left. afresh: the same without. show: in objects and meshes that are there. whole: from the change to the
plates, with all waits. complete: figures and findings, in the background, once the hand rests. Nothing is asserted.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
SIZES = (80, 320, 1280)
TURNS = 8
COLUMNS = ("faces", "plates", "gather", "draft", "afresh", "show", "whole", "complete")


def drawings() -> Iterator[tuple[str, object]]:
    """The demo tank from its scene, then spheres of so many faces."""
    import bpy
    from run import geodesic

    bpy.ops.wm.open_mainfile(filepath=str(ROOT / "demo_scenes" / "bow_tank.blend"))
    yield "bow_tank", next(o for o in bpy.data.objects if o.type == "MESH" and o.tackwright.fields)
    for size in SIZES:
        bpy.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)
        drawn = geodesic(size)
        mesh = bpy.data.meshes.new(f"sphere_{size}")
        mesh.from_pydata((drawn.points / 1000).tolist(), [], [drawn.face(f).tolist() for f in range(drawn.face_count)])
        item = bpy.data.objects.new(mesh.name, mesh)
        bpy.context.scene.collection.objects.link(item)
        item.tackwright.metal_side = "OUTSIDE"
        bpy.context.view_layer.update()                 # else it is not found in there, and Live waits until it is
        yield mesh.name, item


def longer(item) -> None:
    """A thousandth longer along x: flat faces stay flat."""
    import bpy

    for vertex in item.data.vertices:
        vertex.co.x *= 1.001
    item.data.update()
    bpy.context.view_layer.update()


def follow(item) -> dict[str, float]:
    """One turn by way of Live itself: what it says it took."""
    from tackwright.addon.kit import live, live_watch

    until = time.monotonic() + 60.0
    live_watch.tick()
    while live.busy() and time.monotonic() < until:
        time.sleep(0.001)
        live_watch.tick()
    return live.timings(item)


def row_of(item) -> dict[str, float]:
    import bpy

    from tackwright.addon.gather.gather import read_drawing
    from tackwright.core.make_kit import draft_kit

    def timed(work: Callable[[], object]) -> float:
        begin = time.perf_counter()
        work()
        return time.perf_counter() - begin

    item.tackwright.live = True
    turns = [follow(item)]
    for _ in range(TURNS):
        longer(item)
        turns.append(follow(item))
    drawing = read_drawing(bpy.context, item)
    best = {part: min(turn[part] for turn in turns[1:]) for part in ("gather", "draft", "show", "whole", "complete")}
    best["afresh"] = min(timed(lambda: draft_kit(drawing.mesh, drawing.choices)) for _ in range(TURNS))
    row = {part: 1000 * seconds for part, seconds in best.items()}
    plates = sum(bool(o.tackwright_plate.made_as) for o in bpy.data.objects)
    return row | {"faces": drawing.mesh.face_count, "plates": plates}


def main() -> None:
    sys.path[:0] = [str(ROOT / "tests"), str(ROOT / "tests" / "bench")]
    import bpy  # noqa: F401  before the extension, which needs what comes with it

    import tackwright

    tackwright.register()
    lines = ["| drawing | " + " | ".join(COLUMNS) + " |", "|---" * (len(COLUMNS) + 1) + "|"]
    for name, item in drawings():
        row = row_of(item)
        lines.append(f"| {name} | " + " | ".join(f"{row[column]:.0f}" for column in COLUMNS) + " |")
        print(lines[-1], flush=True)
    out = ROOT / "build" / "bench_live.md"
    out.parent.mkdir(exist_ok=True)
    out.write_text("\n".join(lines) + "\n")
    print(f"\n{out.read_text()}")
    tackwright.unregister()


if __name__ == "__main__":
    main()
