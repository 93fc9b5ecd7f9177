"""What is known of a metal that plates are cut from. The metals themselves are in the room `stock`."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

__all__ = ["Family", "GaugeTable", "Material"]

Family = Literal["aluminium", "steel", "stainless", "other"]
GaugeTable = Literal["steel", "aluminium", "galvanized", "stainless"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Material:
    """One metal.

    density: kg/m3. filler: the usual filler metal. needs_filler: the weld cracks without filler, so a joint
    without a groove is the wrong joint. gauge_table: which gauge numbers sheet of it is sold by, None for none.
    default_corner: what corners of it are usually joined with. also: other names that find it. thicker: mm that its
    sheet may be over its nominal thickness, None for what the standards allow its family.
    """

    name: str
    family: Family
    density: float
    density_source: str
    filler: str
    filler_source: str
    needs_filler: bool = False
    gauge_table: GaugeTable | None
    default_corner: Literal["open", "closed"]
    corner_source: str
    remarks: str = ""
    also: tuple[str, ...] = ()
    thicker: float | None = None
