"""The metals that an envelope can be given: the user's own and those built in.

A file keeps the name of a metal, and of the user's own the whole row: who opens it elsewhere is told which one is
missing, and can have it. Numbers are for Blender's menus alone.
"""

from __future__ import annotations

import struct
import zlib
from collections.abc import Iterable, Sequence
from typing import Any, Final

import bpy

from ...core.stock.materials import MATERIALS
from ...core.stock.own_materials import materials_csv, materials_from_text
from ...core.terms.choices import Settings
from ...core.terms.errors import InputError
from ...core.terms.metal import Material
from .own_metals import users_metals

__all__ = [
    "carried_metal", "choose_metal", "chosen_number", "give_metal", "keep_by_name", "known_metals", "metal_items",
    "metal_number", "metals_for", "missing_metal",
]  # fmt: skip

Items = list[tuple[str, str, str, int]]
_items: dict[tuple[Material | str, ...], Items] = {}
"""Lists that were given to Blender, which keeps no copy of their strings."""
MISSING: Final = "This metal is not among yours: add it, or choose another"
MOST_NUMBERS: Final = 1 << 24
"""Whole numbers from 0 that single precision tells apart."""
KEPT_NUMBER: Final = "material"
"""Where versions before kept the number of the metal. Nothing is written there any more."""


def metal_number(name: str) -> int:
    """The number of a metal in menus: of its name, so that a longer list shifts none, and below 2^24, for Blender hands
    what is clicked through single precision."""
    return zlib.crc32(name.encode()) >> 8


def _numbers(names: Iterable[str]) -> list[int]:
    """A number of its own for every name: where two would have the same, the later one takes the next that is free."""
    taken: dict[int, None] = {}
    for name in names:
        number = metal_number(name)
        while number in taken:
            number = (number + 1) % MOST_NUMBERS
        taken[number] = None
    return list(taken)


def known_metals() -> dict[str, Material]:
    """What there is here, by name: the user's own first, in place of those built in of the same name."""
    return {m.name: m for m in (*reversed(MATERIALS), *reversed(users_metals()))}


def metal_items(settings: Any, context: bpy.types.Context | None) -> Items:
    """What Blender's menu offers; the envelope's own metal also where it is not known here."""
    own = users_metals()
    names = {m.name for m in own}
    there = (*own, *(m for m in MATERIALS if m.name not in names))
    missing = _name_of(settings) if settings is not None else ""
    missing = "" if any(m.name == missing for m in there) else missing
    key: tuple[Material | str, ...] = (*there, missing)
    if key not in _items:
        _items[key] = _listed(there, missing)
    return _items[key]


def _listed(there: Sequence[Material], missing: str) -> Items:
    found = [(m.name, m.name[:1].upper() + m.name[1:], m.remarks) for m in there]
    found += [(missing, f"{missing} (missing)", MISSING)] if missing else []
    built_in = {m.name for m in MATERIALS}
    names = sorted((item[0] for item in found), key=lambda name: (name not in built_in, name == missing, name))
    numbers = dict(zip(names, _numbers(names), strict=True))            # the same whatever the order of the list
    return [(*item, numbers[item[0]]) for item in found]


def chosen_number(settings: Any) -> int:
    """The number of the envelope's metal in its menu."""
    name = _name_of(settings)
    return next(item[3] for item in metal_items(settings, None) if item[0] == name)


def choose_metal(settings: Any, number: int) -> None:
    """Keep the name of the metal that was chosen, and the row of one of the user's own."""
    name = next(item[0] for item in metal_items(settings, None) if item[3] == number)
    if name == _name_of(settings) and name not in known_metals():
        return
    own = [m for m in users_metals() if m.name == name]
    _keep(settings, name, materials_csv(own) if own else "")


def give_metal(settings: Any, material: Material) -> None:
    """Choose a metal that may not be known here."""
    _keep(settings, material.name, "" if material in MATERIALS else materials_csv([material]))


def _keep(settings: Any, name: str, row: str) -> None:
    settings.material_name, settings.material_row = name, row
    _as_kept(settings).pop(KEPT_NUMBER, None)


def _as_kept(settings: Any) -> Any:
    """The group as the file has it, by key: from Blender 5.0 on that is apart from what users add."""
    system = getattr(settings, "bl_system_properties_get", None)
    kept = system() if system is not None else settings
    return {} if kept is None else kept


def _name_of(settings: Any) -> str:
    """The name of the envelope's metal. The number that an older version kept comes before all others."""
    number = _as_kept(settings).get(KEPT_NUMBER)
    if number is not None:
        return _name_by_old_number(number, {*known_metals(), settings.material_name} - {""})
    return str(settings.material_name) or Settings().material


def keep_by_name(item: bpy.types.Object) -> bool:
    """Bring an object up to date that has the number of its metal: one of 31 bits, or what was left of that after a
    click in the menu, which rounded it to single precision. Only the latter is to be told: no metal was seen there."""
    settings = item.tackwright
    number = _as_kept(settings).get(KEPT_NUMBER)
    if number is None:
        return False
    name = _name_of(settings)
    _keep(settings, name, settings.material_row if name == settings.material_name else "")
    return bool(number != _old_number(name))


def _old_number(name: str) -> int:
    return zlib.crc32(name.encode()) & 0x7FFFFFFF


def _name_by_old_number(number: int, names: Iterable[str]) -> str:
    whole = {_old_number(name): name for name in names}
    rounded = {int(struct.unpack("f", struct.pack("f", n))[0]): name for n, name in whole.items()}
    return (rounded | whole).get(number, f"metal {number}")     # one that is missing here, and is said to be


def missing_metal(settings: Any) -> str:
    """The name of the envelope's metal where it is not known here, else empty."""
    name = _name_of(settings)
    return "" if name in known_metals() else name


def carried_metal(settings: Any) -> Material | None:
    """The metal whose row came with the file."""
    try:
        return next(iter(materials_from_text(settings.material_row, "the file's material")), None)
    except InputError:
        return None


def metals_for(settings: Any) -> tuple[Material, ...]:
    """The user's own metals, for the core. Raises InputError, saying how to get it, where the envelope's is not
    known here."""
    name = missing_metal(settings)
    if not name:
        return users_metals()
    how = "Keep Material in the Metal panel adds it" if settings.material_row else (
        "Ask who drew this for the list it is in, and import that in the extension's preferences")
    raise InputError(f"The material '{name}' is not among yours", do=f"{how}, or choose another metal.")
