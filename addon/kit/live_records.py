"""What is known of an envelope that its plates follow: when it was marked, what was looked at, shown and told."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

from ...core.terms.memo import Memo
from ..gather.gather import GatheredDrawing

__all__ = [
    "FOLLOWING", "LONGEST_WAIT", "QUIET", "REFUSED", "TOO_LARGE", "WORKING", "Looked", "Marks", "Pace", "Seen", "Told",
]  # fmt: skip

QUIET: Final = 0.01
"""s without a change after which the drawing is looked at."""
LONGEST_WAIT: Final = 0.06
"""s after which it is looked at although it goes on changing."""
MOST_FACES: Final = 5000
"""Faces that are too many to follow, without trying."""

FOLLOWING, WORKING, TOO_LARGE, REFUSED = "following", "working", "too large", "refused"
"""What is told of an envelope."""


@dataclass(frozen=True, slots=True)
class Marks:
    """When the drawing was first and last marked since it was looked at."""

    first: float
    last: float

    @property
    def due(self) -> float:
        """When it is to be looked at."""
        return min(self.last + QUIET, self.first + LONGEST_WAIT)


@dataclass(frozen=True, slots=True)
class Looked:
    """The drawing that was looked at last, and its kit's name."""

    drawing: GatheredDrawing
    name: str


@dataclass(slots=True)
class Seen:
    """The plates as they were shown last. at: when, 0 for never. began: when the change that they answer did. looks:
    what tells that they are as they were. rounds: how many times they were shown."""

    at: float = 0.0
    began: float = 0.0
    looks: tuple[object, ...] = ()
    rounds: int = 0


@dataclass(slots=True)
class Pace:
    """took: s of the last round, by what they were for. most: faces that are too many. memo: what the drafts keep for
    each other."""

    took: dict[str, float] = field(default_factory=dict)
    most: int = MOST_FACES
    memo: Memo | None = None


@dataclass(slots=True)
class Told:
    """What is told of the envelope: a state and, of a refusal, why. stale: what it keeps of findings and figures may be
    of another drawing. behind: after an undo, until all that is told is of the drawing again."""

    state: str = FOLLOWING
    why: str = ""
    stale: bool = True
    behind: bool = False
