"""What choices look like in the 3D view: a line for each chosen edge, its style telling the kind, and short texts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import bmesh
import bpy
import numpy as np
from numpy.typing import NDArray

from ...core.stock.said_units import length_said
from ...core.stock.units import Units
from ...core.terms.choices import JointChoice, PanelChoice
from ..host.editor_types import mesh_of
from ..scene.edge_choices import (
    CHOSEN_ATTRIBUTE,
    CORNER_ATTRIBUTE,
    MARK_ATTRIBUTE,
    TABS_ATTRIBUTE,
    edge_choice_of,
    through_face,
)
from ..scene.face_choices import FACE_ATTRIBUTES, face_choice_of, keeps_choices

__all__ = ["PATTERNS", "STYLES", "ChoiceLines", "choice_lines", "dashes", "edge_text", "face_text", "style_of"]

Floats = NDArray[np.float64]

PATTERNS: Final[dict[str, tuple[float, ...]]] = {
    "open": (3.0, 6.0), "half-open": (16.0, 5.0, 3.0, 5.0), "closed": (), "other": (9.0, 11.0),
}  # fmt: skip
"""By style: lengths of strokes and of the gaps after them in pixels, over and over; none for a line without gaps."""

STYLES: Final = {
    "open": "Open", "half-open": "Half-Open", "closed": "Closed", "other": "Corner as Envelope",
}  # fmt: skip
"""What the legend calls them."""

MOST_STROKES: Final = 500
"""Of one edge: an edge seen from very near would have strokes without end, most of them off the screen."""

_EDGE_ATTRIBUTES: Final = (CORNER_ATTRIBUTE, TABS_ATTRIBUTE, CHOSEN_ATTRIBUTE, MARK_ATTRIBUTE)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ChoiceLines:
    """In the object's own coordinates. ends: (n, 2, 3) of the chosen edges. styles: of each. texts: of each, empty for
    none. ways: (n, 3) from the edge into the plate that runs through, along that plate, unit length; zeros where none
    was chosen. centres: (m, 3) of the chosen faces. names: their texts."""

    ends: Floats
    styles: tuple[str, ...]
    texts: tuple[str, ...]
    ways: Floats
    centres: Floats
    names: tuple[str, ...]


def choice_lines(item: bpy.types.Object, units: Units) -> ChoiceLines | None:
    """What is chosen on an object's own mesh, in any mode; None where nothing is."""
    mesh = mesh_of(item)
    if mesh.is_editmode:
        return _read(item, bmesh.from_edit_mesh(mesh), units)
    if not any(name in mesh.attributes for name in (*_EDGE_ATTRIBUTES, *FACE_ATTRIBUTES)):
        return None
    read = bmesh.new()
    try:
        read.from_mesh(mesh)
        return _read(item, read, units)
    finally:
        read.free()


def _read(item: bpy.types.Object, mesh: bmesh.types.BMesh, units: Units) -> ChoiceLines | None:
    layers = [layer for name in _EDGE_ATTRIBUTES if (layer := mesh.edges.layers.int.get(name)) is not None]
    ends, styles, texts, ways = [], [], [], []
    for edge in mesh.edges if layers else ():
        if edge.hide or not any(edge[layer] for layer in layers):
            continue
        choice, face = edge_choice_of(mesh, edge), through_face(mesh, edge)
        if choice == JointChoice() and face is None:
            continue
        ends.append([vertex.co[:] for vertex in edge.verts])
        styles.append(style_of(choice))
        texts.append(edge_text(choice, units))
        ways.append(_into(edge, face) if face is not None else (0.0, 0.0, 0.0))
    centres, names = [], []
    if keeps_choices(mesh):
        for face in mesh.faces:
            text = "" if face.hide else face_text(face_choice_of(item, mesh, face), units)
            if text:
                centres.append(face.calc_center_median()[:])
                names.append(text)
    if not ends and not names:
        return None
    return ChoiceLines(
        ends=np.array(ends, dtype=np.float64).reshape(-1, 2, 3), styles=tuple(styles), texts=tuple(texts),
        ways=np.array(ways, dtype=np.float64).reshape(-1, 3),
        centres=np.array(centres, dtype=np.float64).reshape(-1, 3), names=tuple(names),
    )


def _into(edge: bmesh.types.BMEdge, face: bmesh.types.BMFace) -> Any:
    loop = next(loop for loop in edge.link_loops if loop.face == face)
    return face.normal.cross(loop.link_loop_next.vert.co - loop.vert.co).normalized()[:]


def style_of(choice: JointChoice) -> str:
    """The style of an edge's line: by its corner; an overlap alone is a corner too."""
    if choice.corner is None and choice.overlap is not None:
        return {0.0: "open", 1.0: "closed"}.get(choice.overlap, "half-open")
    return choice.corner or "other"


def edge_text(choice: JointChoice, units: Units) -> str:
    """What an edge's line alone does not say, in short.

    >>> edge_text(JointChoice(corner="half-open", overlap=0.3, root_gap=2.0), "mm")
    'overlap 0.3, gap 2 mm'
    """
    said = [] if choice.overlap is None else [f"overlap {choice.overlap:g}"]
    said += [] if choice.root_gap is None else [f"gap {length_said(choice.root_gap, units)}"]
    said += [] if choice.fit_gap is None else [f"fit {length_said(choice.fit_gap, units)}"]
    said += [] if choice.tabs.on is None else ["tabs" if choice.tabs.on else "no tabs"]
    said += [] if choice.tabs.count is None else [f"{choice.tabs.count} x tabs"]
    return ", ".join(said)


def face_text(choice: PanelChoice, units: Units) -> str:
    """What is chosen for a face, in short.

    >>> face_text(PanelChoice(name="lid", thickness=5.0, metal_side="outside"), "mm")
    'lid, 5 mm, outside'
    """
    said = [] if choice.name is None else [choice.name]
    said += [] if choice.thickness is None else [length_said(choice.thickness, units)]
    said += [] if choice.metal_side is None else [choice.metal_side]
    said += [] if choice.inner is None else ["inner plate" if choice.inner else "wall"]
    said += ["left out"] if choice.left_out else []
    said += [] if choice.mark is None else ["mark" if choice.mark else "no mark"]
    return ", ".join(said)


def dashes(start: Floats, end: Floats, pattern: Sequence[float]) -> Floats:
    """(n, 2, 2) the strokes of a line on the screen. start, end: (2,) pixels.

    >>> dashes(np.zeros(2), np.array([20.0, 0.0]), (4.0, 6.0))[:, :, 0].tolist()
    [[0.0, 4.0], [10.0, 14.0]]
    """
    length = float(np.linalg.norm(end - start))
    if not pattern or length == 0.0:
        return np.array([[start, end]])
    bounds = np.cumsum([0.0, *pattern])
    period = max(bounds[-1], length * len(pattern) / (2 * MOST_STROKES))
    scale = period / bounds[-1]
    firsts = period * np.arange(int(np.ceil(length / period)))
    strokes = (firsts[:, None, None] + scale * np.column_stack([bounds[:-1:2], bounds[1::2]])).reshape(-1, 2)
    strokes = np.minimum(strokes[strokes[:, 0] < length], length)
    return np.asarray(start + strokes[:, :, None] / length * (end - start))
