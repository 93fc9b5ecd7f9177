"""Findings: what a check has to say about a kit, kept apart from its wording so that it can be listed,
counted and selected."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from .messages import Message
from .remedies import Remedy

__all__ = ["Finding", "Level"]

Level = Literal["error", "warning", "note"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One finding.

    rule: a stable name for programs, snake_case. level: `error` cannot be built as drawn, `warning` can be
    built and will hurt, `note` worth knowing. message: what is wrong, by how much, what to do; kept as a
    Message, its quantities as data.
    about: placement ids (P01-1) once the kit has marks, panel names before. at: a point of the envelope's
    frame, mm, or None. faces, edges: of the mesh that was given, and openings: names of marked ones, for selecting.
    panels: indices of panels or plates. remedy: where there is one right cure that can be applied.

    >>> Finding(rule="crevice", level="warning", message="A crevice is left", about=("P01-1", "P02-1")).remedy is None
    True
    """

    rule: str
    level: Level
    message: str
    about: tuple[str, ...] = ()
    at: tuple[float, float, float] | None = None
    panels: tuple[int, ...] = ()
    faces: tuple[int, ...] = ()
    edges: tuple[tuple[int, int], ...] = ()
    openings: tuple[str, ...] = ()
    remedy: Remedy | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "message", Message(self.message))
