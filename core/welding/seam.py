"""One run of weld: the record that lists, figures and checks of reach are made from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

__all__ = ["Seam", "SeamKind"]

SeamKind = Literal["corner", "butt", "lap", "tee", "cross", "slot", "plug", "corner_fill"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Seam:
    """joint: the id of the joint that it is of, empty for a point where joints meet. id: that joint's, with a letter
    for one side of several, `.s1` for a slot, `.p1` for a plug; a corner's own. kind: what it joins. pieces: placement
    ids, the through plate or the wall first. path: (n, 3) mm, the line that the torch follows, once round for a slot.
    toward: (3,) unit, from the root to where the torch comes from. length: of the path, mm; welded: of that what is
    welded, less in stitches. angle: degrees, of the wedge that is filled. side: to which it opens. size: mm, of a `leg`
    or a `throat`; 0 where a groove is filled flush. groove_area: mm2, of the groove's section. filler: mm3 of weld
    metal, no root gap and no reinforcement. gap: mm, at the root. tight: liquid needs it. reach: by when a torch gets
    there; empty where nobody looked."""

    id: str
    joint: str
    kind: SeamKind
    pieces: tuple[str, ...]
    path: NDArray[np.float64]
    toward: NDArray[np.float64]
    length: float
    welded: float
    angle: float
    side: Literal["outside", "inside", ""]
    size: float
    size_of: Literal["leg", "throat", ""]
    groove_area: float
    filler: float
    gap: float
    tight: bool
    reach: str = ""

    @property
    def run(self) -> Literal["full", "stitch"]:
        return "full" if self.welded >= self.length else "stitch"
