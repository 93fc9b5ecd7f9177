"""Makes the demo scenes: for each a mesh (OBJ), beside the job file that is written by hand, and a .blend, which
takes all choices from that job file.

    python demo_scenes/make_scenes.py            the meshes, and the copy of the first in the addon
    python demo_scenes/make_scenes.py --blend    the .blend files too (needs bpy; use 4.2, newer ones open it)

Every scene is a side view pushed out sideways: `half_breadth` is linear in length and height, so both sides
stay flat however the view tapers.
"""

from __future__ import annotations

import argparse
import shutil
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

HERE = Path(__file__).resolve().parent
IN_THE_PACKAGE = HERE.parent / "addon" / "edit" / "data"
"""Where the extension has its copy of the bow tank, for its Demo Tank."""

Point = tuple[float, float, float]


@dataclass(frozen=True)
class Scene:
    """points in mm; faces by the name that the job has for them, corners counter-clockwise seen from outside, those
    inside the envelope any way round."""

    name: str
    title: str
    points: tuple[Point, ...]
    faces: dict[str, tuple[int, ...]]


def pushed_out(
    profile: Sequence[tuple[float, float]],
    names: Sequence[str],
    half_breadth: Callable[[float, float], float],
    sides: tuple[str, str],
) -> tuple[tuple[Point, ...], dict[str, tuple[int, ...]]]:
    """A body from a side view (x, z), counter-clockwise seen from -y; names[i] is the face from corner i on."""
    count = len(profile)
    near = [(x, -half_breadth(x, z), z) for x, z in profile]
    far = [(x, half_breadth(x, z), z) for x, z in profile]
    faces = {sides[0]: tuple(range(count)), sides[1]: tuple(range(2 * count - 1, count - 1, -1))}
    for i, name in enumerate(names):
        j = (i + 1) % count
        faces[name] = (i, count + i, count + j, j)
    return tuple(near + far), faces


def with_plates(
    points: tuple[Point, ...], faces: dict[str, tuple[int, ...]], plates: dict[str, Sequence[Point]]
) -> tuple[tuple[Point, ...], dict[str, tuple[int, ...]]]:
    """The body with plates drawn inside it, each a face on points of its own."""
    more, all_points = dict(faces), list(points)
    for name, corners in plates.items():
        more[name] = tuple(range(len(all_points), len(all_points) + len(corners)))
        all_points += [(float(x), float(y), float(z)) for x, y, z in corners]
    return tuple(all_points), more


def bow_tank() -> Scene:
    """Fresh water in the bow: narrower forward, wider upward, a raked forefoot, and a step under the deck. Two
    baffles, drawn a few millimetres short of the walls all round: one upright, one sloping forward."""

    def half_breadth(x: float, z: float) -> float:
        return 250 - 0.25 * x + 0.15 * z

    def across(low: tuple[float, float], high: tuple[float, float]) -> list[Point]:
        ends = [(x, half_breadth(x, z) - 6.0, z) for x, z in (low, high)]
        (x0, y0, z0), (x1, y1, z1) = ends
        return [(x0, -y0, z0), (x0, y0, z0), (x1, y1, z1), (x1, -y1, z1)]

    points, faces = pushed_out(
        [(0, 0), (380, 0), (660, 240), (500, 360), (260, 360), (260, 250), (0, 250)],
        ["bottom", "forefoot", "stem", "fore_deck", "step", "aft_deck", "bulkhead"],
        half_breadth,
        ("starboard", "port"),
    )
    baffles = {"aft_baffle": across((200, 5), (200, 245)), "fore_baffle": across((330, 5), (420, 355))}
    points, faces = with_plates(points, faces, baffles)
    return Scene("bow_tank", "Bow tank", points, faces)


def drill_upright() -> Scene:
    """A boxed upright for a drill stand: straight back, front leaning in above the foot."""
    points, faces = pushed_out(
        [(0, 0), (140, 0), (140, 60), (90, 480), (0, 480)],
        ["foot", "toe", "front", "head", "back"],
        lambda x, z: 50.0,
        ("right", "left"),
    )
    diaphragms = {
        f"{name}_diaphragm": [(5, -45, z), (length, -45, z), (length, 45, z), (5, 45, z)]
        for name, length, z in (("lower", 123, 160), ("upper", 103, 320))
    }
    points, faces = with_plates(points, faces, diaphragms)
    return Scene("drill_upright", "Drill upright", points, faces)


def hopper() -> Scene:
    """A pyramid hopper, open above and below, its outlet off the middle."""
    top = [(-250.0, -200.0, 320.0), (250.0, -200.0, 320.0), (250.0, 200.0, 320.0), (-250.0, 200.0, 320.0)]
    low = [(-10.0, -50.0, 0.0), (90.0, -50.0, 0.0), (90.0, 30.0, 0.0), (-10.0, 30.0, 0.0)]
    names = ("front", "right", "back", "left")
    faces = {name: (4 + i, 4 + (i + 1) % 4, (i + 1) % 4, i) for i, name in enumerate(names)}
    return Scene("hopper", "Hopper", tuple(top + low), faces)


def scenes() -> tuple[Scene, ...]:
    return bow_tank(), drill_upright(), hopper()


def write_obj(scene: Scene, folder: Path) -> Path:
    """The mesh as Wavefront OBJ, lengths in mm, a group for every face."""
    lines = [f"# {scene.title}, lengths in mm", *("v {:g} {:g} {:g}".format(*p) for p in scene.points)]
    for name, corners in scene.faces.items():
        lines += [f"g {name}", "f " + " ".join(str(i + 1) for i in corners)]
    path = folder / f"{scene.name}.obj"
    path.write_text("\n".join(lines) + "\n", encoding="ascii", newline="\n")
    return path


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--blend", action="store_true", help="write the .blend files too (needs bpy)")
    wanted = parser.parse_args()
    for scene in scenes():
        print(write_obj(scene, HERE).name)
        if scene.name == "bow_tank":
            for name in ("bow_tank.obj", "bow_tank.toml"):
                shutil.copyfile(HERE / name, IN_THE_PACKAGE / name)
        if wanted.blend:
            from blend_file import write_blend

            print(write_blend(scene, HERE).name)


if __name__ == "__main__":
    main()
