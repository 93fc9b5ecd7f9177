"""One plate of a kit by its outline, without a kit."""

import numpy as np

from tackwright.core.kit.kit import KitPlate, Placement
from tackwright.core.shapes.outline import Contour, Outline

ODD = [(0, 0), (200, 0), (170, 100), (10, 90)]


def plate(outer, holes=(), thickness=3.0):
    outline = Outline(outer=Contour(points=np.asarray(outer, dtype=float)), holes=tuple(holes))
    matrix = np.eye(4)
    matrix[:3, 3] = [1000.0, 0.0, 0.0]
    return KitPlate(
        mark="P01", name="lid", material="steel A36", density=7850.0, thickness=thickness, role="wall",
        metal_side="inside", outline=outline, area=outline.area(), mass=1.0, cut_length=outline.cut_length(),
        pierces=1 + len(holes), size=(1.0, 1.0), borders=(),
        placements=(Placement(id="P01-1", panel="lid", faces=(4,), matrix=matrix),))
