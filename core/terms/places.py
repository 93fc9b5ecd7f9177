"""Places in words: how errors and notes say where."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from .messages import Message, Place  # noqa: F401  Message: for the examples

__all__ = ["listed", "named", "place", "places", "point_at"]


def place(point: NDArray[np.float64]) -> str:
    """A position, mm, for a message.

    >>> str(Message(place(np.array([1.0, -0.0004, 2.5]))))
    '(1, 0, 2.5) mm'
    """
    return f"{Place(*point.tolist())}"


def point_at(point: NDArray[np.float64]) -> tuple[float, float, float]:
    """A position as findings keep it."""
    x, y, z = point.tolist()
    return x, y, z


def places(points: Sequence[NDArray[np.float64]]) -> str:
    """Where the first of several things is, mm, and how many there are besides.

    >>> str(Message(places([np.zeros(3), np.ones(3)])))
    '(0, 0, 0) mm and 1 more'
    """
    return place(points[0]) + (f" and {len(points) - 1} more" if len(points) > 1 else "")


def named(noun: str, names: Sequence[str], most: int = 12) -> str:
    """A noun with the names of the things meant; the first `most` of them.

    >>> named("Panel", ["lid"]), named("panel", ["lid", "front"]), named("panel", ["lid", "front", "back"], most=1)
    ("Panel 'lid'", "panels 'lid' and 'front'", "panels 'lid' and 2 more")
    """
    shown = [f"'{name}'" for name in names[:most]]
    shown += [f"{len(names) - most} more"] if len(names) > most else []
    said = " and ".join(filter(None, (", ".join(shown[:-1]), shown[-1])))
    return f"{noun}{'s' if len(names) > 1 else ''} {said}"


def listed(noun: str, items: Sequence[int] | NDArray[np.int64], most: int = 12) -> str:
    """A noun with the numbers of the things meant; the first `most` of them.

    >>> listed("face", [3]), listed("Face", range(3), most=2)
    ('face 3', 'Faces 0, 1 and 1 more')
    """
    shown = ", ".join(str(int(i)) for i in items[:most])
    more = f" and {len(items) - most} more" if len(items) > most else ""
    return f"{noun}{'s' if len(items) > 1 else ''} {shown}{more}"
