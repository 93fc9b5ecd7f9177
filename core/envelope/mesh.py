"""A mesh as drawn: points and faces, before anything is known about metal."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

__all__ = ["Mesh"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Mesh:
    """Points and faces of any count of corners. Built by `Mesh.of`.

    points: (n, 3) float64, mm. corners: (k,) int64, the point indices of all faces one after another.
    starts: (f + 1,) int64; face i has corners[starts[i]:starts[i + 1]], in order round the face.
    face_names: one name a face (a group or material of the file), or empty.
    name: what the file or object is called. unit_from: what says in which unit it was read, in the words of where it
    is from: an error that the unit may be the cause of sends there.

    >>> square = Mesh.of([(0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0)], [(0, 1, 2, 3)], scale=25.4)
    >>> square.face_count, square.points[2].tolist()
    (1, [25.4, 25.4, 0.0])
    """

    points: NDArray[np.float64]
    corners: NDArray[np.int64]
    starts: NDArray[np.int64]
    face_names: tuple[str, ...] = ()
    name: str = "envelope"
    unit_from: str = ""

    @classmethod
    def of(
        cls,
        points: Iterable[Sequence[float]] | NDArray[np.floating[Any]],
        faces: Sequence[Sequence[int]] | NDArray[np.integer[Any]],
        *,
        face_names: Sequence[str] = (),
        name: str = "envelope",
        scale: float = 1.0,
    ) -> Mesh:
        """A mesh from points and faces; `scale` turns the given lengths into mm.

        >>> Mesh.of([(0, 0, 0), (1, 0, 0), (0, 1, 0)], [(0, 1, 2)]).face(0).tolist()
        [0, 1, 2]
        """
        pts = np.array(points if isinstance(points, np.ndarray) else list(points), dtype=np.float64)
        pts = pts.reshape(-1, 3) * scale
        counts = np.fromiter((len(f) for f in faces), dtype=np.int64, count=len(faces))
        starts = np.concatenate([[0], np.cumsum(counts)]).astype(np.int64)
        if isinstance(faces, np.ndarray):
            corners = faces.astype(np.int64).reshape(-1)
        else:
            corners = np.fromiter((int(i) for f in faces for i in f), dtype=np.int64, count=int(starts[-1]))
        for array in (pts, corners, starts):
            array.setflags(write=False)
        return cls(points=pts, corners=corners, starts=starts, face_names=tuple(face_names), name=name)

    @property
    def face_count(self) -> int:
        return len(self.starts) - 1

    def face(self, index: int) -> NDArray[np.int64]:
        """Point indices of one face, in order."""
        return self.corners[self.starts[index] : self.starts[index + 1]]
