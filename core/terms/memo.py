"""What was worked out before, kept for a solve that asks the same again: while somebody draws, most of a drawing stays.

Whoever solves several times brings a `Memo` along; nothing is kept anywhere else. What is kept is found by the content
of what it was worked out from, to the last bit, so that a solve with a memo gives what one without gives.
"""

from __future__ import annotations

import pickle
from collections.abc import Callable
from typing import Any, ParamSpec, Protocol, TypeVar

__all__ = ["Memo", "Remember", "afresh"]

P = ParamSpec("P")
T = TypeVar("T")


class Remember(Protocol):
    """Calls a pure function, or gives what it gave before. What is given to it must be data that can be pickled."""

    def __call__(self, function: Callable[P, T], /, *given: P.args, **named: P.kwargs) -> T: ...


def afresh(function: Callable[P, T], /, *given: P.args, **named: P.kwargs) -> T:
    """What the function gives, without a memory."""
    return function(*given, **named)


class Memo:
    """The results of a solve and of the one before it. Not for two threads at once."""

    def __init__(self) -> None:
        self._before: dict[tuple[Callable[..., Any], bytes], Any] = {}
        self._now: dict[tuple[Callable[..., Any], bytes], Any] = {}

    def begin(self) -> None:
        """A solve begins: what the last one did not ask for is forgotten."""
        self._before, self._now = self._now, {}

    def __call__(self, function: Callable[P, T], /, *given: P.args, **named: P.kwargs) -> T:
        key = (function, pickle.dumps((given, named), protocol=5))
        if key not in self._now:
            self._now[key] = self._before[key] if key in self._before else function(*given, **named)
        return self._now[key]  # type: ignore[no-any-return]

    def __len__(self) -> int:
        return len(self._now)
