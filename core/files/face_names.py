"""Which of a file's names to call the faces by."""

from __future__ import annotations

from collections.abc import Sequence

__all__ = ["telling"]


def telling(*levels: Sequence[str]) -> tuple[str, ...]:
    """The first of several lists of names, one name a face in each, that tells faces apart; none if no list does.

    An exporter often writes one object or material name over everything: that names no panel.

    >>> telling(["tank", "tank"], ["lid", "side"])
    ('lid', 'side')
    >>> telling(["tank", "tank"], ["grey", "grey"])
    ()
    """
    return next((tuple(names) for names in levels if len(set(names)) > 1), ())
