"""Envelopes whose plates follow, and the steps of that taken without a timer."""

from __future__ import annotations

import time

import numpy as np
import pytest


@pytest.fixture
def live(add_on):
    from tackwright.addon.kit import live

    yield live
    live.forget()


@pytest.fixture
def settle(blender, live, monkeypatch):
    """settle(): let all steps be taken until nothing is left to do. Returns how many drafts were begun."""
    from tackwright.addon.kit import live_states, live_watch

    begun = []
    drafted = live_states.drafted
    monkeypatch.setattr(live_states, "drafted", lambda *given, **named: begun.append(1) or drafted(*given, **named))

    def go(seconds=30.0):
        begun.clear()
        blender.context.view_layer.update()
        until = time.monotonic() + seconds
        live_watch.tick()
        while live.busy() or (live_watch.tick() is not None and live.busy()):   # a glance at the settings may find more
            assert time.monotonic() < until, "it does not come to rest"
            time.sleep(0.002)
            live_watch.tick()
        return len(begun)

    return go


@pytest.fixture
def tank(draw_box, settle):
    """A box of 0.3 x 0.2 x 0.1 m that is followed."""
    item = draw_box(0.3, 0.2, 0.1)
    item.tackwright.live = True
    settle()
    return item


def plates(blender, item):
    from tackwright.addon.scene.plate_objects import plate_objects

    blender.context.view_layer.update()
    return [plate for plate in plate_objects(item) if len(plate.data.vertices)]


def height(blender, item):
    """How high the plates stand, mm: they lie inside of what is drawn and reach its faces."""
    points = np.array([tuple(p.matrix_world @ v.co) for p in plates(blender, item) for v in p.data.vertices])
    return 1000 * float(np.ptp(points[:, 2]))
