"""Whether a torch gets to a place among plates that are boxes along the axes, judged without rays: balls as wide as the
torch is there are put along its way, and each is as far from every box as the formula for a point and a box says."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from tackwright.core.terms.choices import Torch

Floats = NDArray[np.float64]
Box = tuple[tuple[float, float, float], tuple[float, float, float]]


def box_triangles(boxes: Sequence[Box]) -> tuple[Floats, NDArray[np.int64]]:
    """(t, 3, 3) corners of the boxes' triangles, and the number of the box that each is of."""
    quads = [(0, 2, 3, 1), (4, 5, 7, 6), (0, 1, 5, 4), (2, 6, 7, 3), (0, 4, 6, 2), (1, 3, 7, 5)]
    faces = [f for a, b, c, d in quads for f in ((a, b, c), (a, c, d))]
    out = []
    for low, high in boxes:
        corners = np.array([[(low, high)[k >> axis & 1][axis] for axis in range(3)] for k in range(8)], dtype=float)
        out.append(corners[faces])
    return np.concatenate(out), np.repeat(np.arange(len(boxes)), 12)


def spread(count: int) -> Floats:
    """(count, 3) directions spread over the sphere, by the golden angle."""
    height = 1.0 - (2.0 * np.arange(count) + 1.0) / count
    turn = np.arange(count) * np.pi * (3.0 - np.sqrt(5.0))
    flat = np.sqrt(1.0 - height**2)
    return np.column_stack([flat * np.cos(turn), flat * np.sin(turn), height])


def gets_there(
    boxes: Sequence[Box], root: Sequence[float], toward: Sequence[float], torch: Torch, *,
    wider: float, lean: float, many: int = 1500,
) -> bool:
    """Whether some straight way of the torch from the root leads to a hand from which some straight way of an arm, at
    most square to it, leads out. wider: the widths of torch and arm times this. lean: degrees, in place of the
    torch's own."""
    lows, highs = np.array([b[0] for b in boxes], dtype=float), np.array([b[1] for b in boxes], dtype=float)
    middle = np.asarray(toward) / np.linalg.norm(toward)
    # outside this nothing is in the way
    far = float(np.linalg.norm(highs.max(axis=0) - lows.min(axis=0))) + torch.length + torch.hand
    ways = spread(many)
    for way in ways[ways @ middle >= np.cos(np.radians(lean))]:
        if not _clear(lows, highs, np.asarray(root), way, torch.stand_off, wider * torch.nozzle / 2, torch.length):
            continue
        hand = np.asarray(root) + torch.length * way
        if any(_clear(lows, highs, hand, on, torch.hand, wider * torch.hand / 2, far)
               for on in ways[ways @ way >= 0.0]):
            return True
    return False


def _clear(lows: Floats, highs: Floats, start: Floats, way: Floats, tip: float, radius: float, length: float) -> bool:
    step = max(radius / 4, 1.0)
    along = np.arange(1.0, length, step)
    wide = radius * np.minimum(along / tip, 1.0)
    balls = start + along[:, None] * way
    apart = np.maximum(np.maximum(lows - balls[:, None], balls[:, None] - highs), 0.0)
    return bool((np.linalg.norm(apart, axis=2).min(axis=1) > wide * (1.0 - 1e-9)).all())
