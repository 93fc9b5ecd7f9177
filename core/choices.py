"""What the user chose: settings for the whole kit, and overrides for single panels and joints.

None always means "not chosen here": the next wider choice or the default decides.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Literal

__all__ = ["Choices", "Corner", "JointChoice", "MetalSide", "PanelChoice", "Settings", "TabRule"]

MetalSide = Literal["outside", "inside", "centred"]
Corner = Literal["open", "half-open", "closed"]


@dataclass(frozen=True, slots=True, kw_only=True)
class TabRule:
    """How locating tabs are laid out along a joint. Lengths in mm; None takes the multiple of the
    plate's thickness that tabs.py states with its reason."""

    on: bool | None = None        # None: on
    width: float | None = None    # of the single tab
    flank: float | None = None    # of each flanking tab
    spacing: float | None = None  # from one group of tabs to the next, at most
    keep_out: float | None = None # bare edge left at each end of the joint
    count: int | None = None      # groups on the joint


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelChoice:
    """Choices for one panel."""

    name: str | None = None
    thickness: float | None = None
    metal_side: MetalSide | None = None
    left_out: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class JointChoice:
    """Choices for one joint. `through` names the panel whose plate covers the other's end (the name, or
    the index of one of its faces); `tab_on` likewise names the panel that carries the single tab."""

    corner: Corner | None = None
    overlap: float | None = None
    root_gap: float | None = None
    fit_gap: float | None = None
    through: str | int | None = None
    tab_on: str | int | None = None
    tabs: TabRule = field(default_factory=TabRule)


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """Choices for the whole kit. Lengths in mm."""

    material: str = "aluminium 5052-H32"
    thickness: float = 3.0
    metal_side: MetalSide = "inside"
    corner: Corner | None = None      # None: what the material's family is usually joined with
    overlap: float | None = None      # of half-open corners; None: 0.5
    root_gap: float = 0.0
    fit_gap: float = 0.1              # common practice, no source: about 0.1 mm (0.005 in)
    tabs: TabRule = field(default_factory=TabRule)
    etch: bool = True                 # piece marks and neighbours' marks
    dxf_units: Literal["mm", "in"] = "mm"


@dataclass(frozen=True, slots=True, kw_only=True)
class Choices:
    """All choices. Panels and joints may be named (job files) or pointed at (an editor).

    panels: by panel name; faces: by face index of the mesh (a panel takes the choice of its faces);
    joints: by the two panel names, sorted; edges: by the two point indices of a mesh edge, sorted.
    """

    settings: Settings = field(default_factory=Settings)
    panels: Mapping[str, PanelChoice] = field(default_factory=lambda: MappingProxyType({}))
    faces: Mapping[int, PanelChoice] = field(default_factory=lambda: MappingProxyType({}))
    joints: Mapping[tuple[str, str], JointChoice] = field(default_factory=lambda: MappingProxyType({}))
    edges: Mapping[tuple[int, int], JointChoice] = field(default_factory=lambda: MappingProxyType({}))
