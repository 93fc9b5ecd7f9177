"""A shop's habits, kept in a small TOML file with the same keys as a job's: what its cutter can do, how it cuts tabs
and joins corners, how wide its torch is.

    name = "laser round the corner"
    fit_gap = "0.15mm"

    [corners]
    aluminium = "open"

    [tabs]
    width = "20mm"

    [cutter]
    bed = ["3000mm", "1500mm"]

    [torch]
    nozzle = "13mm"

What a file leaves out is as ever.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field, fields, replace
from pathlib import Path
from types import MappingProxyType
from typing import Any, Final, Literal, cast, get_args

from ..stock.own_tables import read_text
from ..terms.choices import MOST_LEAN, Corner, Cutter, Settings, TabRule, Torch, WeldRule
from ..terms.errors import InputError, TackwrightError
from ..terms.metal import Family
from .job_table import Table

__all__ = [
    "BUILT_IN", "Shop", "read_corners", "read_cutter", "read_shop", "read_tabs", "read_torch", "read_weld",
    "shop_from_text", "shop_of", "shop_table", "shop_text", "with_shop",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Shop:
    """One shop. Everything but name and about is a field of the same name in Settings. Lengths in mm."""

    name: str
    about: str = ""
    corner: Corner | None = None
    corners: Mapping[Family, Corner] = field(default_factory=lambda: MappingProxyType({}))
    overlap: float | None = None
    root_gap: float = Settings().root_gap
    fit_gap: float = Settings().fit_gap
    thickness_gap: float | None = Settings().thickness_gap
    tabs: TabRule = field(default_factory=TabRule)
    weld: WeldRule = field(default_factory=WeldRule)
    slot_relief: float = Settings().slot_relief
    limber: float = Settings().limber
    dxf_units: Literal["mm", "in"] = Settings().dxf_units
    cutter: Cutter = field(default_factory=Cutter)
    torch: Torch = field(default_factory=Torch)


BUILT_IN: Final[tuple[Shop, ...]] = (
    Shop(name="Laser", about="Usual limits of a laser shop (common practice, no source)"),
    Shop(
        name="Laser, Large Bed", about="The same, and a bed for sheets of 3 by 1.5 m (common practice, no source)",
        cutter=Cutter(bed=(3000.0, 1500.0)),
    ),
    Shop(
        name="Plasma Table",
        about="A wide, tapered cut: larger holes, wider webs, looser tabs (common practice, no source)",
        fit_gap=0.4,
        cutter=Cutter(hole_ratio=2.0, hole=5.0, web_ratio=2.0, thinnest=1.5),
    ),
)

_HABITS: Final = tuple(f.name for f in fields(Shop) if f.name not in ("name", "about"))


def shop_of(settings: Settings, name: str, about: str = "") -> Shop:
    """The shop whose habits these settings follow."""
    return Shop(name=name, about=about, **{key: getattr(settings, key) for key in _HABITS})


def with_shop(settings: Settings, shop: Shop) -> Settings:
    """The settings with every habit of the shop in place of their own."""
    return replace(settings, **{key: getattr(shop, key) for key in _HABITS})


def read_shop(path: Path | str) -> Shop:
    """The shop in a file. Raises InputError with every fault found, each with the file and its key, or its line."""
    path = Path(path)
    return shop_from_text(read_text(path), str(path), path.stem)


def shop_from_text(text: str, where: str, name: str) -> Shop:
    """As `read_shop`. where: what faults name; name: of a shop whose text gives it none."""
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"{where} is not TOML: {error}", do="Mend that place") from error
    except RecursionError as error:
        raise InputError(f"{where} is nested too deeply for a shop", do="Write it anew") from error
    faults: list[TackwrightError] = []
    top = Table(table, faults=faults, kind="shop")
    top.length_unit = "in" if top.word("units", ("mm", "in")) == "in" else "mm"
    given: dict[str, Any] = {           # Any: each value has the type of its habit, which made it
        "name": top.text("name") or name,
        "about": top.text("about"),
        "corner": top.word("corner", get_args(Corner)),
        "corners": read_corners(top),
        "overlap": top.number("overlap", least=0.0, most=1.0),
        "root_gap": top.length("root_gap", least=0.0),
        "fit_gap": top.length("fit_gap", least=0.0),
        "thickness_gap": top.length("thickness_gap", least=0.0),
        "tabs": read_tabs(top.table("tabs")),
        "weld": read_weld(top.table("weld")),
        "slot_relief": top.length("slot_relief", least=0.0),
        "limber": top.length("limber", least=0.0),
        "dxf_units": top.word("dxf_units", ("mm", "in")),
        "cutter": read_cutter(top),
        "torch": read_torch(top),
    }
    top.refuse_unknown()
    if given["overlap"] is not None and "half-open" not in {given["corner"], *given["corners"].values()}:
        top.fault("overlap", "is given, and no corner is half-open", 'Leave it out, or add corner = "half-open"')
    if faults:
        raise InputError.several(faults).led_by(f"{where}: ")
    return Shop(**{key: value for key, value in given.items() if value is not None})


def read_corners(top: Table) -> Mapping[Family, Corner]:
    """The table of how each family of metals is joined."""
    table = top.table("corners")
    chosen = {family: table.word(family, get_args(Corner)) for family in get_args(Family)}
    table.refuse_unknown()
    return MappingProxyType({family: cast(Corner, corner) for family, corner in chosen.items() if corner is not None})


def read_cutter(top: Table) -> Cutter:
    """The table of the cutter's limits."""
    table = top.table("cutter")
    bed = table.lengths("bed", above=0.0)
    if bed is not None and len(bed) != 2:
        table.fault("bed", f"has {len(bed)} sides", 'Give its two, as in bed = ["3000mm", "1500mm"]')
        bed = None
    given = {
        "hole_ratio": table.number("hole_ratio", least=0.1, most=20.0),
        "hole": table.length("hole", least=0.0),
        "web_ratio": table.number("web_ratio", least=0.1, most=20.0),
        "thinnest": table.length("thinnest", least=0.0),
        "bed": bed,
    }
    table.refuse_unknown()
    return Cutter(**cast(dict[str, Any], {key: value for key, value in given.items() if value is not None}))


def read_torch(top: Table) -> Torch:
    """The table of what the torch takes to get at a weld."""
    table = top.table("torch")
    given = {
        "nozzle": table.length("nozzle", above=0.0),
        "stand_off": table.length("stand_off", above=0.0),
        "length": table.length("length", above=0.0),
        "lean": table.number("lean", least=0.0, most=MOST_LEAN),
        "hand": table.length("hand", above=0.0),
    }
    table.refuse_unknown()
    return Torch(**{key: value for key, value in given.items() if value is not None})


def read_tabs(rule: Table) -> TabRule:
    """A table of how tabs are laid out."""
    chosen = TabRule(
        on=rule.flag("on"),
        width=rule.length("width", above=0.0),
        flank=rule.length("flank", least=0.0),
        spacing=rule.length("spacing", above=0.0),
        keep_out=rule.length("keep_out", least=0.0),
        count=rule.count("count", least=1),
        share=rule.number("share", least=0.0, most=1.0),
    )
    rule.refuse_unknown()
    return chosen


def read_weld(rule: Table) -> WeldRule:
    """A table of how the kit is welded; the user's own processes are read elsewhere."""
    given = {
        "process": rule.text("process"),
        "leg": rule.length("leg", above=0.0),
        "stitch": rule.length("stitch", least=0.0),
        "pitch": rule.length("pitch", above=0.0),
        "reinforcement": rule.number("reinforcement", least=0.0, most=1.0),
    }
    rule.refuse_unknown()
    return WeldRule(**cast(dict[str, Any], {key: value for key, value in given.items() if value is not None}))


def shop_table(shop: Shop) -> dict[str, object]:
    """The keys of a job that follows the shop, lengths with their unit; without what is as ever."""
    usual = Shop(name="")
    table: dict[str, object] = {}
    for key in _HABITS:
        value = getattr(shop, key)
        if value == getattr(usual, key):
            continue
        if isinstance(value, Cutter | TabRule | Torch | WeldRule):
            plain = type(value)()
            table[key] = {
                f.name: _plain(f.name, getattr(value, f.name))
                for f in fields(value) if getattr(value, f.name) != getattr(plain, f.name)
            }
        else:
            table[key] = _plain(key, dict(value) if isinstance(value, Mapping) else value)
    return table


def shop_text(shop: Shop) -> str:
    """The file of the shop, as `read_shop` reads it."""
    table = {"name": shop.name, **({"about": shop.about} if shop.about else {}), **shop_table(shop)}
    lines = [f"{key} = {_toml(value)}" for key, value in table.items() if not isinstance(value, dict)]
    for key, value in table.items():
        if isinstance(value, dict):
            lines += ["", f"[{key}]", *(f"{inner} = {_toml(part)}" for inner, part in value.items())]
    return "\n".join(lines) + "\n"


_NUMBERS: Final = ("overlap", "hole_ratio", "web_ratio", "count", "share", "reinforcement", "lean")


def _plain(key: str, value: object) -> Any:
    """A value as a job has it: lengths become texts with their unit."""
    if isinstance(value, tuple):
        return [_plain(key, part) for part in value]
    if isinstance(value, float) and key not in _NUMBERS:
        return f"{value!r}mm"
    return value


def _toml(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list):
        return f"[{', '.join(_toml(part) for part in value)}]"
    if isinstance(value, str):
        return '"' + "".join(_escaped(letter) for letter in value) + '"'
    return repr(value)


def _escaped(letter: str) -> str:
    """A letter within a basic string of TOML 1.0: quote, backslash and control characters are written by number."""
    plain = letter not in '"\\' and letter.isprintable()
    return letter if plain else f"\\u{ord(letter):04X}" if ord(letter) < 0x10000 else f"\\U{ord(letter):08X}"
