"""A kit made in two goes off the main thread: its plates first, then all the rest. Both give beside it the seconds that
passed and those of them that were work: with the window and other programs in turn more pass."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, TypeAlias

from ...core.kit.kit import Kit, KitPlate
from ...core.terms.memo import Memo
from ..gather.gather import GatheredDrawing

if TYPE_CHECKING:
    from ...core.kit.draft import Draft
    from ...core.kit.ways_out import WayOut

__all__ = ["Completed", "Drafted", "completed", "drafted"]

Drafted: TypeAlias = "tuple[Draft, tuple[KitPlate, ...], float, float]"
"""The draft, its plates, the seconds it took, and those of them that it was at work."""
Completed: TypeAlias = "tuple[Kit, Mapping[str, WayOut], float, float]"
"""The kit, the ways of its plates, and the seconds as above."""


def drafted(drawing: GatheredDrawing, name: str, memo: Memo, progress: Callable[[str, int, int], None]) -> Drafted:
    """Off the main thread: the plates of a drawing."""
    from ...core.kit.draft import draft_plates
    from ...core.make_kit import draft_kit

    begin, at_work = time.perf_counter(), time.thread_time()
    draft = draft_kit(drawing.mesh, drawing.choices, name=name, progress=progress, memo=memo)
    plates = draft_plates(draft)
    return draft, plates, time.perf_counter() - begin, time.thread_time() - at_work


def completed(draft: Draft, progress: Callable[[str, int, int], None]) -> Completed:
    """Off the main thread: all the rest of the kit."""
    from ...core.kit.ways_out import ways_out
    from ...core.make_kit import complete_kit

    begin, at_work = time.perf_counter(), time.thread_time()
    kit = complete_kit(draft, progress=progress)
    ways = ways_out(kit)
    return kit, ways, time.perf_counter() - begin, time.thread_time() - at_work
