"""Open drawings that are inside out: nothing shows which side is out but the way their corners turn."""

from __future__ import annotations

import numpy as np

from ..terms.findings import Finding
from ..terms.messages import Length
from ..terms.places import listed
from .drawing_remedies import turn_faces_over
from .envelope import Envelope

__all__ = ["note_inside_out"]

MOST = 0.5
"""Of all the turning along the edges, each by its length, this share more turns towards the normals than away from
them where a drawing counts as inside out: a sheet bent to and fro has no inside."""


def note_inside_out(envelope: Envelope) -> list[Finding]:
    """A warning on each open shell whose faces look into its corners."""
    out = []
    for index, shell in enumerate(envelope.shells):
        edges = [e for e in envelope.edges if not e.free and envelope.panels[e.panels[0]].shell == index]
        if shell.closed or not edges:
            continue
        ends = envelope.points[[(e.start, e.end) for e in edges]]
        lengths = np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1)
        turn = np.array([180.0 - e.angle for e in edges]) * lengths
        if turn.sum() > -MOST * np.abs(turn).sum():
            continue
        hollow = turn < 0
        faces = sorted(face for p in shell.panels for face in envelope.panels[p].faces)
        out.append(Finding(
            rule="inside_out", level="warning", panels=shell.panels, faces=tuple(faces),
            edges=tuple(pair for e, bad in zip(edges, hollow.tolist(), strict=True) if bad for pair in e.mesh_edges),
            message=f"'{shell.name}' is open and drawn inside out: along {lengths[hollow].sum():.0f} of its "
            f"{Length(lengths.sum()):.0f} of edges the faces look into the corner, so that metal inside lies outside "
            "of "
            f"it. Turn {listed('face', faces)} over, unless that is meant.",
            remedy=turn_faces_over(faces)))
    return out
