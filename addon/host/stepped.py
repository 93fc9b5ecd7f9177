"""What is worked on for objects of the file, a step at a time: one record for each object, and one timer that takes the
steps of all of them for as long as there is something to do.

Records are kept by session_uid and never in the file. Without a timer, as in tests, whoever wants a step calls `tick`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Final, Generic, TypeVar

import bpy

from .its_window import disturbed, in_its_scene

__all__ = ["LATER", "Stepped"]

LATER: Final = 0.2
"""s until it is tried again while something runs that must not be disturbed, or where no window shows the object."""

T = TypeVar("T")


class Stepped(Generic[T]):
    """step: takes the next step for an object, in a context whose view layer has it; gives the seconds until the one
    after, None where there is nothing more to do. wanted: whether an object is still to be worked on. give_up: told of
    every record that is dropped.

    stepping: whether a step is being taken, so that what is written now is ours.
    """

    def __init__(
        self, step: Callable[[bpy.types.Context, bpy.types.Object], float | None], *,
        wanted: Callable[[bpy.types.Object], bool], give_up: Callable[[T], None],
    ) -> None:  # fmt: skip
        self._step, self._wanted, self._give_up = step, wanted, give_up
        self._kept: dict[int, T] = {}
        self._names: dict[int, str] = {}
        self.stepping = False
        self.tick: Final = self._tick                   # one object: a timer is known by it

    def __contains__(self, uid: int) -> bool:
        return uid in self._kept

    def __len__(self) -> int:
        return len(self._kept)

    def of(self, item: bpy.types.Object) -> T | None:
        """The record of an object."""
        return self._kept.get(item.session_uid)

    def keep(self, item: bpy.types.Object, record: T) -> None:
        """From now on it is this. The object is looked for by the name that it has now first."""
        self._kept[item.session_uid], self._names[item.session_uid] = record, item.name

    def records(self) -> list[T]:
        """All of them."""
        return list(self._kept.values())

    def objects(self) -> dict[int, bpy.types.Object | None]:
        """All objects that have one, by session_uid; None for those that are gone."""
        return {uid: self._found(uid) for uid in self._kept}

    def _found(self, uid: int) -> bpy.types.Object | None:
        item = bpy.data.objects.get(self._names[uid])
        if item is None or item.session_uid != uid:     # it was renamed
            item = next((o for o in bpy.data.objects if o.session_uid == uid), None)
        return item

    def done(self, item: bpy.types.Object) -> None:
        """There is nothing more to do for an object: its record goes, and nothing is given up."""
        self._kept.pop(item.session_uid, None)

    def drop(self, uid: int) -> None:
        """Give up what is under way for an object, by its session_uid."""
        record = self._kept.pop(uid, None)
        if record is not None:
            self._give_up(record)

    def clear(self) -> None:
        """Give up all of it."""
        for uid in list(self._kept):
            self.drop(uid)

    def begin(self, seconds: float) -> None:
        """Have the timer take steps, the first after so many seconds, unless it does already."""
        if not bpy.app.timers.is_registered(self.tick):
            bpy.app.timers.register(self.tick, first_interval=seconds)

    def end(self) -> None:
        """No more steps, and nothing is kept."""
        if bpy.app.timers.is_registered(self.tick):
            bpy.app.timers.unregister(self.tick)
        self.clear()

    def _tick(self) -> float | None:
        """Take the steps that are due; seconds until the next time, None for never."""
        if disturbed():
            return LATER
        waits: list[float | None] = []
        for uid, item in self.objects().items():
            if item is None or not self._wanted(item):
                self.drop(uid)
                continue
            with self.in_scene(item) as context:
                waits.append(LATER if context is None else self._step(context, item))
        return min((wait for wait in waits if wait is not None), default=None)

    @contextmanager
    def in_scene(self, item: bpy.types.Object) -> Iterator[bpy.types.Context | None]:
        """A context in which a step may be taken for an object; None where no window shows it."""
        with in_its_scene(item) as context:
            self.stepping = context is not None
            try:
                yield context
            finally:
                self.stepping = False
