"""A plane's own coordinate frame: where it lies, and which way is across, up and out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Frame"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Frame:
    """origin: (3,) mm. axes: (3, 3), rows u, v, n: a right-handed orthonormal set, n the outward normal."""

    origin: NDArray[np.float64]
    axes: NDArray[np.float64]

    def flat(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """(k, 2) coordinates in the plane of (k, 3) points (their height over the plane dropped)."""
        return np.asarray((points - self.origin) @ self.axes[:2].T)

    def solid(self, points: NDArray[np.float64], height: float = 0.0) -> NDArray[np.float64]:
        """(k, 3) points of (k, 2) plane coordinates, `height` mm out along the normal."""
        return np.asarray(points @ self.axes[:2] + self.origin + height * self.axes[2])

    def matrix(self) -> NDArray[np.float64]:
        """(4, 4): frame coordinates to the envelope's."""
        out = np.eye(4)
        out[:3, :3] = self.axes.T
        out[:3, 3] = self.origin
        return out
