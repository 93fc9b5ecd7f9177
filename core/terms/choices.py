"""What the user chose: settings for the whole kit, and overrides for single panels and joints.

None always means "not chosen here": the next wider choice or the default decides.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Final, Literal

from .metal import Family, Material
from .process import Process

__all__ = [
    "MOST_LEAN", "SHARE", "SIDES", "STANDARD", "Band", "Bolts", "Choices", "Corner", "Cutter", "Field", "JointChoice",
    "JointKind", "MarkedOpening", "MetalSide", "OpeningShape", "PanelChoice", "Purpose", "Settings", "TabRule", "Torch",
    "WeldRule",
]

MetalSide = Literal["outside", "inside", "centred"]
Corner = Literal["open", "half-open", "closed"]
JointKind = Literal[
    "open_corner", "half_open_corner", "closed_corner", "tee", "cross", "butt", "lap", "bend", "free"
]
OpeningShape = Literal["round", "slot", "rectangle"]
Purpose = Literal["port", "vent", "drain", "hand_hole"]

Point = tuple[float, float, float]

SHARE: Final = 0.15
"""Of an open corner's length, what groups of tabs may take of its groove where nobody said: the rest is filled."""
SIDES: Final = 2
"""A clearance is said a side, as the trade does; a tab has two of them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TabRule:
    """How locating tabs are laid out along a joint. Lengths in mm; None takes what plates/tab_sizes.py states with its
    reason."""

    on: bool | None = None        # None: on
    width: float | None = None    # of the single tab
    flank: float | None = None    # of each flanking tab
    spacing: float | None = None  # from one group of tabs to the next, at most
    keep_out: float | None = None # bare edge left at each end of the joint
    count: int | None = None      # groups on the joint
    share: float | None = None    # of an open corner's length, what groups may take of its groove


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelChoice:
    """Choices for one panel. inner: whether it is an inner plate; None: as the drawing shows. limber: the size of
    an inner plate's limber holes and corner snipes, mm, 0 for none. mark: whether the piece mark is etched;
    mark_at: where about, a place on the plate in the drawing's frame, None for where it fits best.

    >>> PanelChoice(thickness=5.0, metal_side="outside").left_out
    False
    """

    name: str | None = None
    thickness: float | None = None
    metal_side: MetalSide | None = None
    left_out: bool = False
    inner: bool | None = None
    limber: float | None = None
    mark: bool | None = None
    mark_at: Point | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class JointChoice:
    """Choices for one joint. `through` names the panel whose plate covers the other's end (the name, or
    the index of one of its faces); `tab_on` likewise names the panel that carries the single tab. fit_gap: a side.

    >>> JointChoice(corner="open", through="lid").tabs.on is None
    True
    """

    corner: Corner | None = None
    overlap: float | None = None
    root_gap: float | None = None
    fit_gap: float | None = None
    through: str | int | None = None
    tab_on: str | int | None = None
    tabs: TabRule = field(default_factory=TabRule)


@dataclass(frozen=True, slots=True, kw_only=True)
class Bolts:
    """Holes evenly spaced round an opening. circle: diameter of the circle through their centres; hole:
    diameter of each; turn: degrees from the opening's own x axis to the first."""

    count: int
    circle: float
    hole: float
    turn: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkedOpening:
    """An opening that the user marked. at: a point on or near the plate, mm, in the drawing's frame.

    size: round (diameter,), slot (overall length, width), rectangle (width, height), mm; None with a fitting
    that gives it. radius: of a rectangle's corners. axis: the way it looks, None for square to the plate
    nearest to `at`. across: the direction of a slot's length or a rectangle's width, None for the plate's own
    x axis. all_along: pierce every plate along the axis, not only the nearest. panel: pierce this one (its
    name, or one of its faces) whatever is nearest. fitting: the name of a row of the table of fittings.

    >>> MarkedOpening(name="drain", at=(150.0, 100.0, 0.0), size=(21.3,), purpose="drain").shape
    'round'
    """

    name: str
    at: Point
    shape: OpeningShape = "round"
    size: tuple[float, ...] | None = None
    radius: float = 0.0
    purpose: Purpose = "port"
    fitting: str | None = None
    axis: Point | None = None
    across: Point | None = None
    all_along: bool = False
    panel: str | int | None = None
    bolts: Bolts | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """Rows of one pattern in a perforation field. code: as ISO 7806 writes it ("R5T8"). depth: mm of the
    field, along its y axis, that the band takes; None: an equal share of what the others leave."""

    code: str
    depth: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """A perforation field. panel: the name of the panel, or one of its faces. bands: one pattern, or several
    one above another from the top down. margin: bare metal to edges, tabs, slots, bends and joints, mm, None for a
    multiple of the thickness. gap: bare metal between bands, mm. region: corners of the part of the panel to
    fill, near its plane, in the drawing's frame; None: all of it. turn: degrees from the panel's x axis (level,
    to the right for who looks at its outside face) to the direction of the rows."""

    panel: str | int
    bands: tuple[Band, ...]
    margin: float | None = None
    gap: float = 0.0
    region: tuple[Point, ...] | None = None
    turn: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Cutter:
    """What the shop's cutter, and the hands that weld, can do: less than this is a finding. mm, and multiples of the
    plate's thickness. All of the defaults: common practice, no source."""

    hole_ratio: float = 1.0     # hole or slot width over thickness; several shops 0.7, thin sheet 0.5
    hole: float = 1.0           # and in mm
    web_ratio: float = 1.0      # metal between two cuts over thickness; with 0.7 as the floor
    thinnest: float = 0.4       # nobody welds thinner sheet by hand
    bed: tuple[float, float] | None = None      # the largest plate it takes, None for any

    @property
    def maker(self) -> str:
        """Who cuts no less than the limits, for messages."""
        return "most lasers cut" if replace(self, bed=None) == STANDARD else "the shop cuts"

    def least_hole(self, thickness: float) -> float:
        """The narrowest hole or slot in plate of that thickness, mm."""
        return max(self.hole_ratio * thickness, self.hole)

    def least_web(self, thickness: float) -> float:
        """The least metal between two cuts in plate of that thickness, mm."""
        return self.web_ratio * thickness


STANDARD: Final = Cutter()
"""The limits where nobody gave a shop's own."""


MOST_LEAN: Final = 80.0
"""Degrees that a torch may lean from midway at most: farther over it lies on the metal."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Torch:
    """What the shop's torch and the hand that holds it take to get at a weld. mm, degrees. All of the defaults: common
    practice, no source."""

    nozzle: float = 16.0        # its diameter: gas nozzles of 13 to 22 mm are usual
    stand_off: float = 20.0     # how far the nozzle stays from the root; between them only wire or tungsten goes in
    length: float = 150.0       # straight on from the root to the hand
    lean: float = 45.0          # how far it may lean from midway between the plates, either way and along the weld
    hand: float = 100.0         # the way that the hand and the arm behind it take, across


@dataclass(frozen=True, slots=True, kw_only=True)
class WeldRule:
    """How the kit is welded. Lengths in mm. process: a row of the table of processes, None for what is usual for the
    metal's family. leg: of fillets, None by thickness. stitch, pitch: how long one is, and from one to the next, where
    a weld need only hold; a stitch of 0: welded all along. Both are common practice, no source. reinforcement: how much
    more is laid than brings a weld flush; handbooks of electrode makers add a tenth for convexity (common practice).
    processes: the user's own rows, which go before the table's."""

    process: str | None = None
    leg: float | None = None
    stitch: float = 25.0
    pitch: float = 75.0
    reinforcement: float = 0.1
    processes: tuple[Process, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """Choices for the whole kit. Lengths in mm.

    >>> Settings(material="steel A36", thickness=2.0).cutter.least_hole(2.0)
    2.0
    """

    material: str = "aluminium 5052-H32"
    thickness: float = 3.0
    metal_side: MetalSide = "inside"
    corner: Corner | None = None      # None: as the shop joins the material's family, else as it usually is
    corners: Mapping[Family, Corner] = field(default_factory=lambda: MappingProxyType({}))    # the shop's habits
    overlap: float | None = None      # of half-open corners; None: 0.5
    root_gap: float = 0.0
    fit_gap: float = 0.1              # on each side of a tab; common practice, no source: about 0.1 mm (0.005 in)
    thickness_gap: float | None = None    # by which slots are wider than the plate in them; None: by its tolerance
    tabs: TabRule = field(default_factory=TabRule)
    reach: float = 10.0               # an inner plate's edge this near a wall is brought to it
    tab_short: float | None = None    # how far a tab stays below the wall's outer face, for a plug weld; None: below
                                      # half of a wall that holds liquid, flush elsewhere
    jog: float = 0.3                  # steps beside tabs lower than this are merged, where the joint allows it
    slot_relief: float = 0.0          # radius of the reliefs in the corners of tab slots; 0: square
    limber: float = 0.0               # size of limber holes and corner snipes of inner plates; 0: none
    keyed: bool = False               # tabs are moved until every plate fits its own place alone
    nose: float | None = None         # height of the blunt end where an inner plate runs out in a point; 0: none
    hole_radius: float = 0.0          # to which the corners of holes drawn as polygons are rounded
    sealed: bool = False              # closed-off cells are meant: a warning then, no error
    weld: WeldRule = field(default_factory=WeldRule)
    cutter: Cutter = field(default_factory=Cutter)
    torch: Torch = field(default_factory=Torch)
    etch: bool = True                 # piece marks and neighbours' marks
    note: bool = True                 # what the plate is, for people, in words below it
    dxf_units: Literal["mm", "in"] = "mm"
    file_names: str = "{mark}_{name}" # of the plates' files: choice_checks.py says what may stand in it


@dataclass(frozen=True, slots=True, kw_only=True)
class Choices:
    """All choices. Panels and joints may be named (job files) or pointed at (an editor).

    panels: by panel name; faces: by face index of the mesh (a panel takes the choice of its faces);
    joints: by the two panel names, sorted; edges: by the two point indices of a mesh edge, sorted. shifts: by the same,
    how far the first group of tabs there is moved along, mm.
    openings, fields: in the order in which they were marked. fittings: own rows for the table of fittings,
    name to the diameter of the hole, mm. materials: own rows for the table of materials.

    >>> thick = PanelChoice(thickness=6.0)
    >>> Choices(settings=Settings(thickness=3.0), panels={"floor": thick}).panels["floor"].thickness
    6.0
    """

    settings: Settings = field(default_factory=Settings)
    panels: Mapping[str, PanelChoice] = field(default_factory=lambda: MappingProxyType({}))
    faces: Mapping[int, PanelChoice] = field(default_factory=lambda: MappingProxyType({}))
    joints: Mapping[tuple[str, str], JointChoice] = field(default_factory=lambda: MappingProxyType({}))
    edges: Mapping[tuple[int, int], JointChoice] = field(default_factory=lambda: MappingProxyType({}))
    shifts: Mapping[tuple[int, int], float] = field(default_factory=lambda: MappingProxyType({}))
    openings: tuple[MarkedOpening, ...] = ()
    fields: tuple[Field, ...] = ()
    fittings: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    materials: tuple[Material, ...] = ()
