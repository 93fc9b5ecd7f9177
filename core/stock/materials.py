"""The metals that plates are cut from, and what the joints need to know of them. The user's own: own_materials.py.

Where a value is from memory its source says so: confirm it before leaning on the last digit.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Sequence
from typing import Final

from ..terms.choices import Choices, Corner
from ..terms.errors import InputError
from ..terms.metal import Material

__all__ = ["MATERIALS", "find_material", "material_of", "usual_corner"]

_AWS_ALUMINIUM: Final = "AWS filler tables for aluminium (several agree)"
_AWS_STEEL: Final = "from memory: AWS A5.18, A5.28 and D1.1"
_AWS_STAINLESS: Final = "from memory: AWS A5.9"
_ADM: Final = "Aluminum Design Manual, table 3.3-1M"


def _aluminium(
    name: str,
    density: float,
    density_source: str,
    filler: str,
    also: tuple[str, ...],
    *,
    needs_filler: bool = False,
    remarks: str = "",
) -> Material:
    return Material(
        name=name, family="aluminium", density=density, density_source=density_source, filler=filler,
        filler_source=_AWS_ALUMINIUM, needs_filler=needs_filler, gauge_table="aluminium", default_corner="open",
        corner_source="common practice, no source: corners in aluminium are filled", remarks=remarks, also=also,
    )


def _steel(
    name: str,
    density_source: str,
    also: tuple[str, ...],
    *,
    filler: str = "ER70S-6 (MIG), ER70S-2 (TIG)",
    remarks: str = "",
) -> Material:
    return Material(
        name=name, family="steel", density=7850.0, density_source=density_source, filler=filler,
        filler_source=_AWS_STEEL, gauge_table="steel", default_corner="closed",
        corner_source="common practice, no source: plates are butted tight", remarks=remarks, also=also,
    )


def _stainless(name: str, density: float, filler: str, also: tuple[str, ...]) -> Material:
    return Material(
        name=name, family="stainless", density=density, density_source="from memory: ASTM A240 grades, annealed",
        filler=filler, filler_source=_AWS_STAINLESS, gauge_table="stainless", default_corner="closed",
        corner_source="common practice, no source: plates are butted tight", also=also,
    )


MATERIALS: Final[tuple[Material, ...]] = (
    _aluminium(
        "aluminium 5052-H32", 2680.0, _ADM, "5356 (4043 allowed; 5554 or 5654 for hot service)",
        ("5052", "aluminium", "aluminium 5052"),
    ),
    _aluminium(
        "aluminium 5052-O", 2680.0, _ADM, "5356 (4043 allowed; 5554 or 5654 for hot service)", ("5052-O",),
        remarks="soft: bends tighter than H32",
    ),
    _aluminium(
        "aluminium 6061-T6", 2700.0, "from memory: ASTM B209",
        "4043 (flows, least cracking, greys on anodizing) or 5356 (stronger in shear, not above 65 °C)",
        ("6061", "aluminium 6061"), needs_filler=True,
        remarks="cracks without filler: give every corner a groove",
    ),
    _aluminium(
        "aluminium 3003-H14", 2730.0, "from memory: ASTM B209 and Aluminum Design Manual", "4043 (or 1100)",
        ("3003", "aluminium 3003"), remarks="flush corners can be fused without filler",
    ),
    _aluminium(
        "aluminium 5083-H116", 2660.0, "Aluminum Design Manual", "5183 or 5356, never 4043",
        ("5083", "aluminium 5083"),
    ),
    _steel("steel A36", "ASTM A36", ("A36", "steel", "mild steel")),
    _steel("steel S235JR", "from memory: EN 10025-2", ("S235", "S235JR", "1.0038")),
    _steel("steel DC01", "from memory: EN 10130", ("DC01", "1.0330", "cold-rolled", "cold-rolled steel")),
    _stainless("stainless 304", 7930.0, "ER308L (ER309L to mild steel)",
               ("304", "304L", "1.4301", "stainless", "stainless steel", "stainless steel 304")),
    _stainless("stainless 316", 7980.0, "ER316L (ER309L to mild steel)", ("316", "316L", "stainless steel 316")),
    _steel("steel weathering", "ASTM A588; A606 from memory", ("weathering", "weathering steel", "A588", "A606"),
           filler="ER80S-Ni1 or ER80S-G; ER70S-6 for one-pass fillets up to 1/4 in"),
)


def _plain(text: str) -> str:
    """Lower case, one spelling of aluminium, words and numbers apart by one space."""
    words = re.sub(r"[^a-z0-9.]+", " ", text.casefold()).split()
    return " ".join({"aluminum": "aluminium", "alu": "aluminium", "al": "aluminium"}.get(w, w) for w in words)


def find_material(text: str, own: Sequence[Material] = ()) -> Material:
    """The material of that name, or of a close one ("5052", "mild steel").

    own: the user's materials; they go before the table's.

    >>> find_material("6061").name
    'aluminium 6061-T6'

    Raises InputError, listing what there is, when nothing or more than one material is meant.
    """
    wanted, there = _plain(text), (*own, *MATERIALS)
    for material in there:
        if wanted in (_plain(name) for name in (material.name, *material.also)):
            return material
    words = set(wanted.split())
    meant = [m for m in there if words and words <= set(_plain(m.name).split())]
    if len(meant) == 1:
        return meant[0]
    known = ", ".join(m.name for m in there)
    if meant:
        raise InputError(f"material {text!r} may be {' or '.join(m.name for m in meant)}", do="Say which")
    names = {_plain(n): m.name for m in reversed(there) for n in (m.name, *m.also)}
    close = difflib.get_close_matches(wanted, names, n=1, cutoff=0.7)
    hint = f"Did you mean {names[close[0]]!r}? " if close else ""
    raise InputError(f"material {text!r} is not known", do=f"{hint}There is {known}")


def material_of(choices: Choices) -> Material:
    """The material that the settings name. Raises InputError for one that is not known."""
    return find_material(choices.settings.material, choices.materials)


def usual_corner(choices: Choices) -> Corner:
    """How corners meet where nothing else was chosen for a joint."""
    material, settings = material_of(choices), choices.settings
    return settings.corner or settings.corners.get(material.family) or material.default_corner
