"""Install the built zip in other Blenders and use its buttons there.

    python packaging/try_extension.py dist/tackwright-0.1.0.zip PYTHON [PYTHON ...]

Each PYTHON is one of an environment with the bpy wheel, best with nothing else in it: libraries of its own would
hide a wheel that is missing from the zip, and this says so. Nobody's Blender settings are touched.
"""

from __future__ import annotations

import importlib
import importlib.util
import os
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

PACKED = ("shapely", "manifold3d", "ezdxf")


def main(extension: str, *pythons: str) -> int:
    failed = 0
    for python in pythons:
        with tempfile.TemporaryDirectory() as folder:
            done = subprocess.run(
                [os.path.abspath(python), __file__, "--inside", str(Path(extension).resolve()), folder],
                env={**os.environ, "BLENDER_USER_RESOURCES": folder, "PYTHONNOUSERSITE": "1", "PYTHONPATH": ""},
                cwd=folder, capture_output=True, text=True, check=False,
            )  # fmt: skip
        said = [line.removeprefix("tried: ") for line in done.stdout.splitlines() if line.startswith("tried: ")]
        print(f"{python}:", *(said or ["nothing ran"]), sep="\n  ")
        # The environment may be one whose bpy crashes while it closes: what counts is that all was done.
        if "all done" not in said:
            failed += 1
            print(done.stdout[-4000:], done.stderr[-4000:], sep="\n")
    return min(failed, 1)


def inside(extension: str, folder: str) -> None:
    """In the process that has bpy: install, make plates, fit out, export, switch off and on again."""
    import bpy

    numpy = importlib.import_module("numpy")
    say(f"Blender {bpy.app.version_string}, Python {sys.version.split()[0]}, numpy {numpy.__version__}")
    own = [name for name in PACKED if importlib.util.find_spec(name)]
    if own:
        say(f"note: has its own {', '.join(own)}, so a missing wheel would not show")
    bpy.ops.extensions.package_install_files(filepath=extension, repo="user_default", enable_on_install=True)
    name = "bl_ext.user_default.tackwright"
    assert name in bpy.context.preferences.addons, "the extension was not enabled"

    bpy.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)
    bpy.ops.mesh.primitive_cube_add(size=0.3)
    cube = bpy.context.object
    said = make_plates(6)
    assert "sealed_cell" in {finding.rule for finding in cube.tackwright.findings}, "a cube without an opening is fine"
    say(f"Make Plates: {said!r}")

    draw_inside(cube)
    said = make_plates(7)
    assert "1 opening, 1 perforation of " in said, said
    assert not [finding.message for finding in cube.tackwright.findings if finding.level == "error"]
    baffle = max(plates_made(), key=lambda item: len(item.data.vertices))
    assert len(baffle.data.vertices) > 1000, f"{len(baffle.data.vertices)} points of a perforated plate"
    say(f"with an inner plate, an opening and a perforation: {said!r}")

    assert bpy.ops.tackwright.export_kit(directory=folder) == {"FINISHED"}
    written = sorted(str(p.relative_to(folder)) for p in Path(folder, "Cube_kit").rglob("*") if p.is_file())
    assert {"Cube_kit/kit.json", "Cube_kit/assembly.glb"} <= {w.replace(os.sep, "/") for w in written}, written
    say(f"Export Kit: {len(written)} files")
    for library in PACKED:
        home = Path(importlib.import_module(library).__file__ or "").resolve()
        assert own or Path(folder).resolve() in home.parents, f"{library} came from {home}"

    assert bpy.ops.tackwright.first_scene() == {"FINISHED"}, "the demo is not in the zip"
    say(f"Demo Tank: {bpy.context.object.name}, {len(bpy.context.object.children)} openings")
    bpy.context.view_layer.objects.active = cube

    for _ in range(3):
        bpy.ops.preferences.addon_disable(module=name)
        bpy.ops.preferences.addon_enable(module=name)
    assert make_plates(7) == said, "something was lost when the extension was switched off and on"
    say("all done")


def plates_made() -> list[Any]:
    import bpy

    return [item for item in bpy.data.objects if item.tackwright_plate.made_as]


def make_plates(count: int) -> str:
    """Press Make Plates: there must be so many plates then. What the panel says of them."""
    import bpy

    assert bpy.ops.tackwright.make_plates() == {"FINISHED"}
    assert len(plates_made()) == count, f"{len(plates_made())} plates instead of {count}"
    return str(bpy.context.object.tackwright.summary)


def draw_inside(cube: Any) -> None:
    """A baffle across the cube, short of its walls, marked and perforated; an opening on the top."""
    import bmesh
    import bpy

    bpy.ops.object.mode_set(mode="EDIT")
    edited = bmesh.from_edit_mesh(cube.data)
    edited.select_mode = {"FACE"}
    for face in edited.faces:
        face.select_set(False)
    corners = [(0.02, -0.144, -0.144), (0.02, 0.144, -0.144), (0.04, 0.144, 0.144), (0.04, -0.144, 0.144)]
    baffle = edited.faces.new([edited.verts.new(corner) for corner in corners])
    baffle.normal_update()
    baffle.select_set(True)
    edited.faces.active = baffle
    bmesh.update_edit_mesh(cube.data)
    assert bpy.ops.tackwright.mark_faces(kind="INNER") == {"FINISHED"}
    assert bpy.ops.tackwright.perforate_faces(code="R10T16") == {"FINISHED"}
    edited = bmesh.from_edit_mesh(cube.data)
    edited.faces.ensure_lookup_table()
    top = max(edited.faces, key=lambda face: face.calc_center_median().z)
    for face in edited.faces:
        face.select_set(face == top)
    edited.faces.active = top
    bmesh.update_edit_mesh(cube.data)
    assert bpy.ops.tackwright.add_opening(purpose="VENT", size_x=0.03) == {"FINISHED"}
    bpy.ops.object.mode_set(mode="OBJECT")


def say(text: str) -> None:
    print(f"tried: {text}", flush=True)


if __name__ == "__main__":
    if sys.argv[1:2] == ["--inside"]:
        inside(*sys.argv[2:4])
    elif len(sys.argv) < 3:
        sys.exit(__doc__)
    else:
        sys.exit(main(*sys.argv[1:]))
