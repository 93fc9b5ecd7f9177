"""The cross-section of a tee: a square-cut plate standing on a wall at any angle, and its tab in the wall's slot.

In the section the wall's inner face runs along x, its metal from y = 0 to y = wall. The plate comes from
y < 0, leaning towards +x as it goes out; `angle` is the acute one between the two, on the side of -x. The
plate is set back until its nearer corner touches the face, at the origin: that is its face on the acute
side. Derived; worked cases and random polygons are tested.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..terms import tolerance

__all__ = ["slot_span", "tab_reach", "tee_wedge"]

Floats = NDArray[np.float64]


def tee_wedge(thickness: Floats | float, angle: Floats | float) -> Floats:
    """Area of the open wedge between the plate's square end and the wall, up to the plate's face on the obtuse
    side extended, mm2."""
    return np.asarray(0.5 * np.asarray(thickness, dtype=np.float64) ** 2 * _cotangent(angle))


def tab_reach(wall: Floats | float, angle: Floats | float, short: Floats | float = 0.0) -> Floats:
    """How far a tab goes past the touching corner, along its plate, to end flush with the wall's outer face, or
    `short` mm below it."""
    return np.asarray(np.maximum(np.asarray(wall, dtype=np.float64) - short, 0.0) / np.sin(np.radians(angle)))


def slot_span(
    thickness: Floats | float, wall: Floats | float, angle: Floats | float, reach: Floats | float,
    clear: Floats | float = 0.0,
) -> tuple[Floats, Floats]:
    """From where to where along x a slot must be cut, square to the wall, for a tab that goes `reach` past the
    touching corner, with `clear` mm to each of its two faces.

    A tab that goes right through and stands proud needs t / sin + wall / tan; one that ends flush does not
    use all of that, and the slot is no wider than the tab needs.
    """
    t, w, r = (np.asarray(value, dtype=np.float64) for value in (thickness, wall, reach))
    sine, cosine = np.sin(np.radians(angle)), np.cos(np.radians(angle))
    gap = np.asarray(clear, dtype=np.float64) / sine
    deep = np.minimum(r, (w + t * cosine) / sine)          # where the obtuse face comes out of the wall, or ends
    through = deep * cosine + t * sine
    with np.errstate(divide="ignore"):
        shallow = r / np.where(cosine > tolerance.RELATIVE, cosine, np.inf)   # the obtuse face never gets into the wall
    return -gap, np.asarray(np.where(r * sine >= t * cosine, through, shallow) + gap)


def _cotangent(angle: Floats | float) -> Floats:
    radians = np.radians(np.asarray(angle, dtype=np.float64))
    return np.asarray(np.cos(radians) / np.sin(radians)) + 0.0
