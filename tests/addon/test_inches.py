"""Where the scene is in inches, nothing that is said has millimetres in it: reports, panels, whatever was refused."""

from __future__ import annotations

import re

import numpy as np
import pytest
from scanned import pick, points_of

MILLIMETRES = re.compile(r"\d ?mm\b|\) mm\b")
PANELS = ("plates", "edges", "faces", "findings", "opening", "figures", "space", "drawing", "shop", "metal", "corners",
          "tabs", "inner", "openings", "perforations", "kit")


@pytest.fixture
def inches(blender):
    blender.context.scene.unit_settings.system = "IMPERIAL"
    return blender


def reported(operator, **values):
    """What an operator that was refused said."""
    with pytest.raises(RuntimeError) as caught:
        operator(**values)
    return str(caught.value)


def in_inches(text):
    assert not MILLIMETRES.search(text), text
    assert re.search(r'\d"|\) in\b', text), text


def panels_say_no_mm(drawn):
    said = [note for name in PANELS for note in drawn(name) or ()]
    # the list's rows are drawn from the messages by its own code, which the stand-in does not run
    assert not [note for note in said if MILLIMETRES.search(note) and not note.startswith("list: ")]
    return said


@pytest.mark.parametrize("operator", ["make_plates", "export_kit"])
def test_why_a_drawing_was_refused(inches, draw_box, drawn, operator, tmp_path):
    item = draw_box(0.02, 0.03, 0.04)
    item.tackwright.thickness_mm, item.tackwright.folder = 25.4, str(tmp_path)
    in_inches(reported(getattr(inches.ops.tackwright, operator)))
    said = " ".join(panels_say_no_mm(drawn))
    assert '1" thick' in said and "Unit Scale" in said


def test_why_a_drawing_that_is_followed_was_refused(inches, tank, settle, drawn):
    tank.tackwright.thickness_mm = 127.0
    settle()
    said = " ".join(panels_say_no_mm(drawn))
    assert '5" thick' in said


def test_what_is_said_of_a_scan(inches, scanned, drawn):
    envelope, scan = scanned(noise=0.0)
    ends = [int(np.abs(points_of(scan) - corner).sum(axis=1).argmin()) for corner in ((0, 0, 0), (900, 0, 0))]
    pick(inches, scan, np.isin(np.arange(len(scan.data.vertices)), ends))
    in_inches(reported(inches.ops.tackwright.known_distance, distance=1e6))
    inches.ops.object.mode_set(mode="OBJECT")
    inches.context.view_layer.objects.active = envelope
    panels_say_no_mm(drawn)


def test_why_the_room_could_not_be_found(inches, scanned, drawn, monkeypatch):
    """As it would be told of a place: with its coordinates."""
    from tackwright.addon.space import clearance_work, look_for_room
    from tackwright.core.terms.errors import InputError

    def refuse(*_args, **_kwargs):
        raise InputError("There is nothing", where="(25.4, 50.8, 0) mm", by="12.7 mm")

    envelope, _ = scanned()
    inches.context.view_layer.objects.active = envelope
    monkeypatch.setattr(clearance_work, "_looked", refuse)
    in_inches(reported(inches.ops.tackwright.check_clearance))
    assert 'by 1/2"' in " ".join(panels_say_no_mm(drawn))
    monkeypatch.setattr(look_for_room, "ask", refuse)
    in_inches(reported(inches.ops.tackwright.check_clearance))


def test_every_finding_of_a_kit(inches, draw_box, drawn):
    item = draw_box(0.3, 0.2, 0.1)
    item.tackwright.thickness_mm, item.tackwright.corner = 0.4, "OPEN"
    inches.ops.tackwright.make_plates()
    assert len(item.tackwright.findings) > 3
    for number in range(len(item.tackwright.findings)):
        item.tackwright.active_finding = number
        panels_say_no_mm(drawn)
