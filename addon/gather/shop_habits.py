"""A shop's habits on an envelope: given, read, and of a new envelope those that the preferences say."""

from __future__ import annotations

from dataclasses import replace

import bpy

from ...core.files.shops import Shop, shop_of, shop_text, with_shop
from ...core.terms.errors import TackwrightError
from ..host.reports import report_error
from ..scene.own_metals import preferences
from ..scene.properties import TackwrightSettings, read_settings
from ..scene.shop_files import find_shop
from .job_settings import unlike, write_settings

__all__ = ["changed_since", "give_shop", "habits_of", "settle_new"]


def give_shop(settings: TackwrightSettings, shop: Shop) -> list[str]:
    """Give an envelope the habits of a shop. What of them has no place on an envelope, by the keys of the file."""
    kept_overlap = settings.overlap
    write_settings(settings, with_shop(read_settings(settings), shop))
    settings.overlap = shop.overlap if shop.overlap is not None else kept_overlap
    settings.shop.name = shop.name
    settings.shop.applied = shop_text(habits_of(settings))
    return list(unlike(replace(shop, about=""), habits_of(settings)))


def habits_of(settings: TackwrightSettings, name: str = "") -> Shop:
    """The habits that an envelope has, as a shop. Its overlap counts only where a corner is half-open."""
    return shop_of(read_settings(settings), name or settings.shop.name)


def changed_since(settings: TackwrightSettings) -> bool:
    """Whether the envelope's habits are others than those of the shop that it was last given."""
    return bool(settings.shop.name) and settings.shop.applied != shop_text(habits_of(settings))


def settle_new(operator: bpy.types.Operator | None, envelope: bpy.types.Object) -> None:
    """Give an envelope that was never made and has nothing of its own yet the habits that the preferences say."""
    kept = preferences()
    if kept is None or not kept.new_shop or not _is_new(envelope):
        return
    try:
        give_shop(envelope.tackwright, find_shop(kept.new_shop))
    except TackwrightError as error:
        if operator is not None:
            report_error(operator, error, "WARNING")
        return
    if operator is not None:
        operator.report({"INFO"}, f"{envelope.name} is new: it has the settings of the shop '{kept.new_shop}'")


def _is_new(envelope: bpy.types.Object) -> bool:
    settings = envelope.tackwright
    habits = (
        "corner", "overlap", "root_gap_mm", "fit_gap_mm", "thickness_gap_mm", "tab_share", "tabs", "tab_width_mm",
        "tab_spacing_mm", "weld_process", "weld_leg_mm", "stitch_mm",
        "stitch_pitch_mm", "slot_relief_mm", "limber_mm", "dxf_units",
    )  # fmt: skip
    made = settings.summary or len(settings.findings)
    shop = settings.shop                                  # to look at the group sets it, but nothing in it
    every = [one.identifier for one in shop.bl_rna.properties if not one.is_readonly]
    own = [name for name in every if f"{name}_mm" not in every]   # what shows a kept length always counts as set
    return not made and not any(
        group.is_property_set(name) for group, names in ((settings, habits), (shop, own)) for name in names)
