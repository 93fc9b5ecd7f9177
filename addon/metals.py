"""The metals that an envelope can be given: the user's own and those built in.

A file keeps the number of a metal, its name, and of the user's own the whole row: who opens it elsewhere is told which
one is missing, and can have it.
"""

from __future__ import annotations

import zlib
from collections.abc import Sequence
from typing import Any, Final

import bpy

from ..core.errors import InputError
from ..core.materials import MATERIALS, Material
from ..core.own_materials import materials_csv, materials_from_text
from .own_materials import own_materials

__all__ = [
    "carried_metal", "chosen_metal", "give_metal", "known_metals", "metal_items", "metal_number", "metals_for",
    "missing_metal",
]  # fmt: skip

Items = list[tuple[str, str, str, int]]
_items: dict[tuple[Material | str, ...], Items] = {}
"""Lists that were given to Blender, which keeps no copy of their strings."""
MISSING: Final = "This metal is not among yours: add it, or choose another"


def metal_number(name: str) -> int:
    """The number a file keeps for a material. Taken from its name, so that a longer list shifts none."""
    return zlib.crc32(name.encode()) & 0x7FFFFFFF


def known_metals() -> dict[str, Material]:
    """What there is here, by name: the user's own first, in place of those built in of the same name."""
    return {m.name: m for m in (*reversed(MATERIALS), *reversed(own_materials()))}


def metal_items(settings: Any, context: bpy.types.Context | None) -> Items:
    """What Blender's menu offers; the envelope's own metal also where it is not known here."""
    own = own_materials()
    names = {m.name for m in own}
    there = (*own, *(m for m in MATERIALS if m.name not in names))
    missing = getattr(settings, "material_name", "")
    missing = "" if any(m.name == missing for m in there) else missing
    key: tuple[Material | str, ...] = (*there, missing)
    if key not in _items:
        _items[key] = _listed(there, missing)
    return _items[key]


def _listed(there: Sequence[Material], missing: str) -> Items:
    found = [(m.name, m.name[:1].upper() + m.name[1:], m.remarks, metal_number(m.name)) for m in there]
    return found + ([(missing, f"{missing} (missing)", MISSING, metal_number(missing))] if missing else [])


def chosen_metal(settings: Any, context: bpy.types.Context | None) -> None:
    """Keep the name of the metal that was chosen, and the row of one of the user's own."""
    name = settings.material
    if not name or (name == settings.material_name and name not in known_metals()):
        return
    settings.material_name = name
    own = [m for m in own_materials() if m.name == name]
    settings.material_row = materials_csv(own) if own else ""


def give_metal(settings: Any, material: Material) -> None:
    """Choose a metal that may not be known here."""
    settings.material_row = "" if material in MATERIALS else materials_csv([material])
    settings.material_name = material.name
    settings.material = material.name


def missing_metal(settings: Any) -> str:
    """The name of the envelope's metal where it is not known here, else empty."""
    name = str(settings.material or settings.material_name)
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
        return own_materials()
    how = "Keep Material in the Metal panel adds it" if settings.material_row else (
        "Ask who drew this for the list it is in, and import that in the extension's preferences")
    raise InputError(f"The material '{name}' is not among yours", do=f"{how}, or choose another metal.")
