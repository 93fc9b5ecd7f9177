"""An envelope in a scanned niche."""

from __future__ import annotations

import numpy as np
import pytest
from made_scans import NICHE, niche

BOX = (0.7, 0.4, 0.5)


@pytest.fixture
def scanned(blender, draw_box):
    """scanned(triangles, motion): the envelope, and its scan moved out of square by a motion, in metres."""

    from mathutils import Matrix

    def made(triangles=4000, motion=None, noise=0.5):
        points, faces = niche(triangles, noise=noise)
        mesh = blender.data.meshes.new("scan")
        mesh.from_pydata((points / 1000).tolist(), [], faces.tolist())
        scan = blender.data.objects.new("scan", mesh)
        blender.context.scene.collection.objects.link(scan)
        scan.matrix_world = Matrix.Identity(4) if motion is None else motion
        envelope = draw_box(*BOX)
        envelope.location = (0.1, 0.1, 0.1)
        envelope.tackwright_space.scan = scan
        blender.context.view_layer.update()
        return envelope, scan

    return made


def pick(blender, item, wanted):
    """Edit Mode of an object with those points selected."""
    if blender.context.mode != "OBJECT":
        blender.ops.object.mode_set(mode="OBJECT")
    blender.context.view_layer.objects.active = item
    from tackwright.addon.gather.selected_places import write_mark

    for kind, domain, items in (("poly", "FACE", "polygons"), ("edge", "EDGE", "edges")):
        write_mark(item.data, f".select_{kind}", domain, np.zeros(len(getattr(item.data, items)), dtype=bool))
    write_mark(item.data, ".select_vert", "POINT", np.asarray(wanted, dtype=bool))
    blender.context.tool_settings.mesh_select_mode = (True, False, False)
    blender.ops.object.mode_set(mode="EDIT")


def points_of(item):
    points = np.empty(3 * len(item.data.vertices), dtype=np.float32)
    item.data.vertices.foreach_get("co", points)
    return points.reshape(-1, 3) * 1000


def set_patches(blender, scan):
    at = points_of(scan)
    inner = (np.abs(at[:, 0] - 450) < 200) & (np.abs(at[:, 1] - 300) < 150)
    pick(blender, scan, inner & (np.abs(at[:, 2]) < 3))
    assert blender.ops.tackwright.set_patch(patch="FLOOR") == {"FINISHED"}
    pick(blender, scan, (np.abs(at[:, 1] - NICHE[1]) < 3) & (np.abs(at[:, 2] - 350) < 200) & (at[:, 0] > 300))
    assert blender.ops.tackwright.set_patch(patch="WALL") == {"FINISHED"}
    blender.ops.object.mode_set(mode="OBJECT")
