"""An envelope and its inner plates, drawn as separate meshes, as one mesh."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from types import MappingProxyType

import numpy as np

from ..terms.choices import Choices, PanelChoice
from .mesh import Mesh

__all__ = ["join_inner"]


def join_inner(mesh: Mesh, inner: Sequence[Mesh], choices: Choices) -> tuple[Mesh, Choices]:
    """One mesh, the faces of `inner` after those of `mesh` and marked as inner plates; and the choices with those
    marks. All meshes lie in one frame. Choices that already point at faces of the whole are kept.

    Faces keep their names; where some meshes have none, their faces are called "", which names nothing.

    >>> sheet = Mesh.of([(0, 0, 0), (1, 0, 0), (0, 1, 0)], [(0, 1, 2)])
    >>> whole, chosen = join_inner(sheet, [sheet], Choices())
    >>> whole.face(1).tolist(), chosen.faces[1].inner
    ([3, 4, 5], True)
    """
    if not inner:
        return mesh, choices
    parts = (mesh, *inner)
    shift = np.cumsum([0] + [len(part.points) for part in parts])
    named = any(part.face_names for part in parts)
    joined = Mesh.of(
        np.concatenate([part.points for part in parts]),
        [part.face(i) + first for part, first in zip(parts, shift, strict=False) for i in range(part.face_count)],
        face_names=[name for part in parts for name in part.face_names or [""] * part.face_count] if named else (),
        name=mesh.name,
    )
    whole = replace(joined, unit_from=mesh.unit_from)
    faces = dict(choices.faces)
    for face in range(mesh.face_count, whole.face_count):
        faces[face] = replace(faces.get(face, PanelChoice()), inner=True)
    return whole, replace(choices, faces=MappingProxyType(faces))
