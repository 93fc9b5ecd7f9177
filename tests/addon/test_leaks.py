"""Nothing of the add-on stays in the editor once it is disabled, however often; and work under way is ended."""

from __future__ import annotations

import threading
import time

import pytest
from left_behind import held
from repo_paths import DEMOS

PACKAGE = "tackwright.addon"
CYCLES = 50


@pytest.fixture
def off(blender):
    """The add-on unregistered for a test, and registered again after it."""
    import tackwright

    tackwright.unregister()
    yield tackwright
    tackwright.register()


def test_fifty_times_on_and_off_leave_nothing(blender, off):
    assert not held(blender, PACKAGE)
    off.register()
    first = held(blender, PACKAGE)
    off.unregister()
    for _ in range(CYCLES):
        off.register()
        off.unregister()
    assert not held(blender, PACKAGE)
    off.register()
    assert held(blender, PACKAGE) == first                   # and on again nothing is there twice
    assert any(kind.startswith("handler") for kind in first) and any(kind.startswith("menu") for kind in first)
    off.unregister()


def test_nothing_is_left_after_it_was_used(blender, off):
    off.register()
    blender.ops.tackwright.first_scene()
    blender.ops.tackwright.make_plates()
    tank = blender.context.object
    if hasattr(tank.tackwright, "live"):
        tank.tackwright.live = True
    off.unregister()
    assert not held(blender, PACKAGE)
    assert len(blender.data.objects) > 11                    # what was made stays the user's


def test_opening_another_file_doubles_nothing_and_loses_nothing(blender, draw_box, tmp_path):
    before = held(blender, PACKAGE)
    draw_box(1, 1, 1)
    path = str(tmp_path / "some.blend")
    blender.ops.wm.save_as_mainfile(filepath=path)
    for _ in range(3):
        blender.ops.wm.open_mainfile(filepath=path)
        blender.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)
    assert held(blender, PACKAGE) == before                  # handlers that are not persistent would be gone


def test_what_is_looked_for_is_found(blender):
    """The check itself: it sees a handler, a timer, a menu entry, a key and a thread that somebody forgot."""
    from tackwright.addon.scene import sidebar

    forgotten = {"__name__": "tackwright.addon.scene.sidebar"}
    exec("def late(*_):\n    pass\ndef drawn(self, context):\n    pass", forgotten)
    late, drawn = forgotten["late"], forgotten["drawn"]
    assert late.__module__ == sidebar.__name__
    before = held(blender, PACKAGE)
    stop = threading.Event()
    blender.app.handlers.undo_post.append(late)
    blender.app.timers.register(late, first_interval=1000)
    blender.types.VIEW3D_MT_object.append(drawn)
    thread = threading.Thread(target=stop.wait, name="Tackwright", daemon=True)
    thread.start()
    try:
        more = held(blender, PACKAGE) - before
        assert {text.split()[0].rstrip(":") for text in more} == {"handler", "timer", "menu", "thread"}
    finally:
        stop.set()
        thread.join()
        blender.app.handlers.undo_post.remove(late)
        blender.app.timers.unregister(late)
        blender.types.VIEW3D_MT_object.remove(drawn)
    assert held(blender, PACKAGE) == before


def slow(steps, seconds, folder, progress):
    """Work that puts down files as it goes, into a folder that it renames at the end."""
    draft = folder / "draft"
    draft.mkdir()
    try:
        for step in range(steps):
            progress("slow", step, steps)
            (draft / str(step)).touch()
            time.sleep(seconds)
        draft.rename(folder / "kit")
    except BaseException:
        for path in draft.iterdir():
            path.unlink()
        draft.rmdir()
        raise


def test_disabled_in_the_middle_of_a_job_it_stops_and_waits(blender, off, tmp_path):
    from tackwright.addon.host.background import StoppedError, Work

    off.register()
    work = Work(slow, 1000, 0.01, tmp_path)
    while not work.share:
        time.sleep(0.01)
    began = time.monotonic()
    off.unregister()
    assert work.done and time.monotonic() - began < 5
    assert not held(blender, PACKAGE)
    with pytest.raises(StoppedError):
        work.result()
    assert list(tmp_path.iterdir()) == []


def test_a_kit_whose_making_is_stopped_on_the_way_is_not_there_by_half(blender, off, tmp_path):
    from tackwright.addon.host.background import StoppedError, Work
    from tackwright.core.files.job import read_job
    from tackwright.core.files.kit_folder import write_kit
    from tackwright.core.files.read_mesh import read_mesh
    from tackwright.core.make_kit import make_kit

    scene = DEMOS / "bow_tank.toml"

    def export(progress):
        job = read_job(scene)
        return write_kit(make_kit(read_mesh(job.mesh_path), job.choices, name=job.name, progress=progress), tmp_path)

    off.register()
    work = Work(export)
    while not work.share and not work.done:
        time.sleep(0.001)
    off.unregister()
    with pytest.raises(StoppedError):
        work.result()
    assert list(tmp_path.iterdir()) == []
