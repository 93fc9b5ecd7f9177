"""One piece of work off the main thread, so that the window stays alive.

The work must not touch the editor: it is given frozen data and gives frozen data back. Who starts it asks now
and then, from a timer of its own, whether it is done; nothing here knows of timers, so tests need none.
"""

from __future__ import annotations

import threading
import time
import weakref
from collections.abc import Callable
from typing import Any, Generic, TypeVar

__all__ = ["StoppedError", "Work", "register", "unregister"]

T = TypeVar("T")

BREATH = 0.005
"""s between looks whether a rest is over."""

_under_way: weakref.WeakSet[Work[Any]] = weakref.WeakSet()
"""What was started and nobody has dropped yet: it must end before the extension does."""


class StoppedError(Exception):
    """The work was told to stop and did."""


class Work(Generic[T]):
    """Work under way. function: called with `progress=` (see progress.py) beside its own arguments; it is through
    its calls of progress that cancelling reaches it."""

    def __init__(self, function: Callable[..., T], *given: Any, **named: Any) -> None:
        self.stage, self.share = "", 0.0
        self._stop = threading.Event()
        self._resting_until = 0.0
        self._result: T | None = None
        self._error: BaseException | None = None
        self._thread = threading.Thread(
            target=self._run, args=(function, given, named), name="Tackwright", daemon=True
        )
        self._thread.start()
        _under_way.add(self)

    @property
    def done(self) -> bool:
        return not self._thread.is_alive()

    def cancel(self) -> None:
        """Stop at the next step of progress. Does not wait."""
        self._stop.set()

    def give_way(self, seconds: float) -> None:
        """Rest from the next step of progress on, for so many seconds from now; 0: go on at once.

        A redraw asks for the interpreter about a hundred times, and waits each time for whatever the work is at.
        """
        self._resting_until = time.monotonic() + seconds if seconds else 0.0

    def wait(self, seconds: float | None = None) -> bool:
        """Whether the work was done within so many seconds, None for as long as it takes."""
        self._thread.join(seconds)
        return self.done

    def result(self) -> T:
        """What the work gave, once it is done. Raises what it raised; StoppedError when it was stopped."""
        self._thread.join()
        if self._error is not None:
            raise self._error
        return self._result

    def _run(self, function: Callable[..., T], given: tuple[Any, ...], named: dict[str, Any]) -> None:
        try:
            self._result = function(*given, progress=self._progress, **named)
        except BaseException as error:  # handed to whoever asks for the result
            self._error = error

    def _progress(self, stage: str, done: int, total: int) -> None:
        while time.monotonic() < self._resting_until and not self._stop.wait(BREATH):
            pass
        if self._stop.is_set():
            raise StoppedError
        # the share first: whoever looks between the two sees too little done, never too much
        self.share, self.stage = done / max(total, 1), stage


def register() -> None:
    """Nothing to do: work begins when somebody asks for it."""


def unregister() -> None:
    """Stop all work and wait for it: its code may be gone afterwards. Each ends at its next step of progress."""
    works = list(_under_way)
    for work in works:
        work.cancel()
    for work in works:
        work.wait()
