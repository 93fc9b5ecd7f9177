"""Changes of settings: who wants to know of one says so here; who makes it tells of it without knowing who hears."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

__all__ = ["LIVE", "SPACE", "hear_of", "not_hear_of", "tell_of"]

LIVE: Final = "live"
"""Live was turned on or off: told with the envelope."""
SPACE: Final = "space"
"""What counts as room in the space is another: told with the context and the envelope."""

_hearers: dict[str, list[Callable[..., None]]] = {LIVE: [], SPACE: []}


def hear_of(change: str, hearer: Callable[..., None]) -> None:
    """Call it, with what the change is told with, at every change of that kind."""
    _hearers[change].append(hearer)


def not_hear_of(change: str, hearer: Callable[..., None]) -> None:
    """No longer, if it was."""
    if hearer in _hearers[change]:
        _hearers[change].remove(hearer)


def tell_of(change: str, *of: object) -> None:
    """There was a change of that kind."""
    for hearer in tuple(_hearers[change]):
        hearer(*of)
