"""Cures of the drawing itself: faces to be flattened, turned over, deleted, filled in, or left out."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from ..terms import tolerance
from ..terms.choices import PanelChoice
from ..terms.remedies import ChangedMesh, ChangedPanels, MeshAction, Remedy

__all__ = ["delete_faces", "fill_rims", "flatten_faces", "leave_out", "make_inner", "turn_faces_over"]

Floats = NDArray[np.float64]


def flatten_faces(faces: Iterable[int]) -> Remedy:
    return _on_faces("flatten", faces, "Flatten {} Face")


def delete_faces(faces: Iterable[int]) -> Remedy:
    return _on_faces("delete", faces, "Delete {} Face")


def turn_faces_over(faces: Iterable[int]) -> Remedy:
    return _on_faces("flip", faces, "Turn {} Face")


def _on_faces(action: MeshAction, faces: Iterable[int], label: str) -> Remedy:
    found = tuple(sorted({int(face) for face in faces}))
    said = label.format("the" if len(found) == 1 else len(found)) + ("" if len(found) == 1 else "s")
    return Remedy(
        label=f"{said} Over" if action == "flip" else said, changes=(ChangedMesh(action=action, faces=found),))


def leave_out(faces: Iterable[int]) -> Remedy:
    return Remedy(label="Leave It Out", changes=(
        ChangedPanels(faces=tuple(int(f) for f in faces), choice=PanelChoice(left_out=True)),))


def make_inner(name: str, faces: Iterable[int]) -> Remedy:
    return Remedy(label=f"Make '{name}' an Inner Plate", changes=(
        ChangedPanels(faces=tuple(int(f) for f in faces), choice=PanelChoice(inner=True), name=name),))


def fill_rims(rims: Sequence[Floats], edges: Iterable[tuple[int, int]]) -> Remedy | None:
    """A face in every rim, where all are flat; None where one is not. rims: (k, 3) points of each, in any order, mm."""
    if not all(_is_flat(points) for points in rims):
        return None
    label = "Fill the Open Side" if len(rims) == 1 else f"Fill {len(rims)} Open Sides"
    return Remedy(label=label, changes=(ChangedMesh(action="fill", edges=tuple(edges)),))


def _is_flat(points: Floats) -> bool:
    away = points - points.mean(axis=0)
    normal = np.linalg.svd(away, full_matrices=False)[2][-1]
    return len(points) >= 3 and float(np.abs(away @ normal).max()) <= tolerance.FLAT
