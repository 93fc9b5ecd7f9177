"""The errors a user can cause, with the facts an editor needs to point at the place."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from .messages import Message

if TYPE_CHECKING:
    from .remedies import Remedy

__all__ = ["ExportError", "InputError", "KitThereError", "TackwrightError"]


class TackwrightError(Exception):
    """Base of all errors that are the user's to mend.

    what: what is wrong; where: the place in words; by: how much, with unit; do: what to do about it.
    faces: indices of faces of the mesh that was given; edges: pairs of its point indices; openings: names of
    marked ones. An editor selects these. remedy: where there is one right cure that can be applied. `several` builds
    one error out of many, so that ten faults are one report; `each` has them again, or the error itself.

    >>> str(InputError("a face is not flat", where="face 3", by="0.4 mm", do="Flatten it"))
    'a face is not flat at face 3, by 0.4 mm. Flatten it'
    """

    def __init__(
        self,
        what: str,
        *,
        where: str = "",
        by: str = "",
        do: str = "",
        faces: Iterable[int] = (),
        edges: Iterable[tuple[int, int]] = (),
        openings: Iterable[str] = (),
        remedy: Remedy | None = None,
    ) -> None:
        self.what = Message(what)
        self.where = Message(where)
        self.by = Message(by)
        self.do = Message(do)
        self.faces = tuple(int(f) for f in faces)
        self.edges = tuple((int(a), int(b)) for a, b in edges)
        self.openings = tuple(openings)
        self.remedy = remedy
        self._several: tuple[TackwrightError, ...] = ()
        super().__init__(str(self))

    @property
    def message(self) -> Message:
        """All of it, with its quantities as data."""
        text = self.what.raw
        if self.where:
            text += f" at {self.where.raw}"
        if self.by:
            text += f", by {self.by.raw}"
        return Message(f"{text}. {self.do.raw}" if self.do else text)

    def __str__(self) -> str:
        return str.__str__(self.message)

    @classmethod
    def several(cls, errors: Iterable[TackwrightError]) -> TackwrightError:
        """One error that carries all of `errors` (at least one), a line each."""
        found = list(errors)
        if len(found) == 1:
            return found[0]
        whole = cls(
            "\n".join(e.message.raw for e in found),
            faces=[f for e in found for f in e.faces],
            edges=[g for e in found for g in e.edges],
            openings=[name for e in found for name in e.openings],
        )
        whole._several = tuple(one for e in found for one in e.each)
        return whole

    @property
    def each(self) -> tuple[TackwrightError, ...]:
        """The errors that this one is made of."""
        return self._several or (self,)

    def led_by(self, lead: str) -> TackwrightError:
        """The same, with a lead before every error that it is made of: the file or the key that they come from.

        >>> str(InputError.several([InputError("a", do="b"), InputError("c")]).led_by("tank.toml: "))
        'tank.toml: a. b\\ntank.toml: c'
        """
        return self.several(
            type(one)(
                lead + one.what.raw, where=one.where.raw, by=one.by.raw, do=one.do.raw, faces=one.faces,
                edges=one.edges, openings=one.openings, remedy=one.remedy)
            for one in self.each)


class InputError(TackwrightError, ValueError):
    """The drawing or a setting is wrong: nothing can be solved from it."""


class ExportError(TackwrightError, OSError):
    """The kit could not be written; what was there before is untouched."""


class KitThereError(ExportError):
    """There is a folder of the kit's name, which may be replaced."""
