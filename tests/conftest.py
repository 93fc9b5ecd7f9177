"""Blender under pytest: its settings in a folder of their own, the add-on registered once, a fresh scene a test."""

from __future__ import annotations

import os
import sys
import tempfile

import hypothesis
import pytest
from drawn_panels import drawn  # noqa: F401  a fixture for every test
from enabled import kept  # noqa: F401  likewise

# the same shapes every run; the slow sweep draws new ones
hypothesis.settings.register_profile("steady", deadline=None, derandomize=True, database=None, max_examples=40)
hypothesis.settings.register_profile("sweep", deadline=None, max_examples=200, print_blob=True)
hypothesis.settings.load_profile(os.environ.get("TACKWRIGHT_HYPOTHESIS", "steady"))

# Before anything imports bpy. A real folder of settings is never touched.
_settings = tempfile.TemporaryDirectory(prefix="tackwright_tests_", ignore_cleanup_errors=True)
os.environ["BLENDER_USER_RESOURCES"] = _settings.name


_status = 0


def pytest_sessionfinish(exitstatus):
    global _status
    _status = int(exitstatus)


def pytest_unconfigure():
    _settings.cleanup()
    bpy = sys.modules.get("bpy")
    if bpy is not None and bpy.app.version < (5, 0, 0):  # older ones may crash while they close, after all was said
        sys.stdout.flush()
        sys.stderr.flush()
        os._exit(_status)


def pytest_collection_modifyitems(items):
    """All tests of the editor in one worker: each holds an editor of its own, and loading one takes seconds."""
    for item in items:
        if "add_on" in item.fixturenames:
            item.add_marker(pytest.mark.xdist_group("editor"))
            item.add_marker(pytest.mark.editor)


@pytest.fixture(scope="session")
def add_on():
    bpy = pytest.importorskip("bpy", reason="bpy is not installed: the add-on is not tested")
    import tackwright

    tackwright.register()
    yield bpy
    tackwright.unregister()


@pytest.fixture
def blender(add_on):
    """bpy, with nothing in the file, metres as units and the add-on registered."""
    add_on.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)
    return add_on


@pytest.fixture
def draw(blender):
    """draw(points, faces, name): a mesh object in the scene, selected and active. Lengths in the scene's units."""

    def make(points, faces, name="tank"):
        mesh = blender.data.meshes.new(name)
        mesh.from_pydata([tuple(map(float, p)) for p in points], [], [tuple(map(int, f)) for f in faces])
        item = blender.data.objects.new(name, mesh)
        blender.context.scene.collection.objects.link(item)
        blender.context.view_layer.objects.active = item
        item.select_set(True)
        return item

    return make


@pytest.fixture
def draw_box(draw):
    """draw_box(x, y, z, name): a box with a corner at the origin; faces: bottom, top, front, right, back, left."""

    def make(x, y, z, name="tank"):
        points = [(i * x, j * y, k * z) for k in (0, 1) for i, j in ((0, 0), (1, 0), (1, 1), (0, 1))]
        faces = [(0, 3, 2, 1), (4, 5, 6, 7), (0, 1, 5, 4), (1, 2, 6, 5), (2, 3, 7, 6), (3, 0, 4, 7)]
        return draw(points, faces, name)

    return make
