"""The core's settings written on an envelope: the way back of `properties.read_settings`."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from typing import Any

from ...core.terms.choices import SHARE, SIDES, Settings
from ..scene.properties import CORNERS, METAL_SIDES, PROCESSES, TackwrightSettings, read_settings
from ..scene.shop_settings import write_habits

__all__ = ["key_of", "unlike", "write_settings"]

WRITE_NOISE = 1e-5
"""Share of a length by which a kept one may differ: single precision keeps seven digits, the settings six."""


def write_settings(chosen: TackwrightSettings, settings: Settings) -> list[str]:
    """Put settings on an envelope. What they choose that has no place there, by the keys of a job file."""
    chosen.material = settings.material
    chosen.thickness_mm = settings.thickness
    chosen.metal_side = key_of(METAL_SIDES, settings.metal_side)
    chosen.corner = key_of(CORNERS, settings.corner)
    chosen.overlap = 0.5 if settings.overlap is None else settings.overlap
    chosen.root_gap_mm, chosen.fit_gap_mm = settings.root_gap, SIDES * settings.fit_gap
    chosen.thickness_gap_mm = settings.thickness_gap or 0.0
    chosen.tab_share = SHARE if settings.tabs.share is None else settings.tabs.share
    weld = settings.weld
    chosen.weld_process = key_of(PROCESSES, weld.process) if weld.process in PROCESSES.values() else "BY_METAL"
    chosen.weld_leg_mm, chosen.stitch_mm, chosen.stitch_pitch_mm = weld.leg or 0.0, weld.stitch, weld.pitch
    chosen.tabs = settings.tabs.on is not False
    chosen.tab_width_mm, chosen.tab_spacing_mm = settings.tabs.width or 0.0, settings.tabs.spacing or 0.0
    chosen.reach_mm, chosen.tab_short_mm = settings.reach, settings.tab_short or 0.0
    chosen.tabs_flush = settings.tab_short == 0.0
    chosen.slot_relief_mm, chosen.limber_mm = settings.slot_relief, settings.limber
    chosen.keyed = settings.keyed
    chosen.nose_mm = settings.nose or 0.0
    chosen.hole_radius_mm, chosen.sealed, chosen.etch = settings.hole_radius, settings.sealed, settings.etch
    chosen.jog_mm, chosen.note, chosen.file_names = settings.jog, settings.note, settings.file_names
    chosen.dxf_units = settings.dxf_units.upper()
    write_habits(chosen.shop, settings)
    return list(unlike(settings, read_settings(chosen)))


def unlike(wanted: Any, found: Any, path: str = "") -> Iterator[str]:
    """The paths of what one record chooses and another of its kind has otherwise; None chooses nothing."""
    for field in fields(wanted):
        ours, theirs = getattr(wanted, field.name), getattr(found, field.name)
        here = f"{path}.{field.name}" if path else field.name
        if is_dataclass(ours):
            yield from unlike(ours, theirs, here)
        elif ours is not None and not _alike(ours, theirs):
            yield here


def _alike(ours: object, theirs: object) -> bool:
    if isinstance(ours, float) and isinstance(theirs, float):
        return math.isclose(ours, theirs, rel_tol=WRITE_NOISE)
    return bool(ours == theirs)


def key_of(words: dict[str, Any], wanted: Any) -> str:
    """The editor's word for a choice of the core."""
    return next(key for key, value in words.items() if value == wanted)
