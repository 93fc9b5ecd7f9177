"""What is inside an envelope, as the kit tells it: tees, crossings, openings, and the metal that takes up room."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from ..envelope.envelope import Envelope
from ..inner.inner_checks import shells_held_by
from ..inner.interior import Interior
from ..inner.tee_section import tee_wedge
from ..openings.placed_openings import PlacedOpening
from ..plates.plates import Plate, places_of
from ..shapes.motions import levelled, undone
from ..shapes.outline import Circle
from ..terms import tolerance
from .kit import Groove, Joint, Opening, Tab
from .marks import Marked

__all__ = ["displaced", "inner_joints", "kit_openings"]

Floats = NDArray[np.float64]


def inner_joints(interior: Interior, ids: Sequence[str], first: int) -> tuple[Joint, ...]:
    """The joints of inner plates, numbered from `first`: tees, the wall before the plate on it, then crossings, the
    plate that is put first before the one that goes over it."""
    tabs: dict[int, list[Tab]] = {}
    for tab in interior.tabs.tabs:
        tee = interior.inside.tees[tab.tee]
        tabs.setdefault(tab.tee, []).append(Tab(
            on=ids[tee.plate], at=tab.at, width=tab.width, flank=0.0, reach=tab.reach, fit_gap=tee.fit_gap,
            thickness_gap=tee.thickness_gap))
    out: list[Joint] = []
    for row, tee in enumerate(interior.inside.tees):
        area = 0.0 if tee.on_edge else float(tee_wedge(tee.thickness, tee.angle))
        out.append(Joint(
            id=f"J{first + len(out):02d}", kind="tee", plates=(ids[tee.wall], ids[tee.plate]), line=tee.line,
            length=float(np.linalg.norm(tee.line[1] - tee.line[0])), angle=tee.angle, overlap=0.0,
            root_gap=tee.root_gap,
            groove=Groove(side="inside", angle=90.0 - tee.angle, area=area),
            tabs=tuple(sorted(tabs.get(row, ()), key=lambda tab: tab.at)), mesh_edges=tee.mesh_edges,
        ))
    for crossing in interior.inside.crossings:
        line = crossing.line
        out.append(Joint(
            id=f"J{first + len(out):02d}", kind="cross", plates=(ids[crossing.panels[0]], ids[crossing.panels[1]]),
            line=line, length=float(np.linalg.norm(line[1] - line[0])), angle=crossing.angle, overlap=0.0, root_gap=0.0,
            groove=None, tabs=(), mesh_edges=(),
        ))
    return tuple(out)


def kit_openings(
    openings: Sequence[PlacedOpening], plates: Sequence[Plate], marked: Sequence[Marked], ids: Sequence[str]
) -> tuple[Opening, ...]:
    """The openings in the coordinates of the drawings."""
    place = np.empty((len(plates), 4, 4))
    for mark in marked:
        for index, matrix in mark.members:
            place[index] = matrix
    motions = levelled(undone(place) @ places_of(plates)) if len(plates) else np.empty((0, 3, 3))
    out = []
    for number, opening in enumerate(openings, 1):
        motion = motions[opening.plate]
        x, y = motion[:2, :2] @ np.array(opening.centre) + motion[:2, 2]
        turn = float(np.degrees(np.arctan2(motion[1, 0], motion[0, 0])))
        out.append(Opening(
            id=f"O{number:02d}", name=opening.name, plate=ids[opening.plate], shape=opening.shape,
            purpose=opening.purpose, centre=(float(x), float(y)),
            rotation=0.0 if opening.shape == "round" else _turned(opening.rotation + turn),
            size=opening.size, points=None if opening.points is None else _moved(opening.points, motion),
            pattern=opening.pattern, count=opening.count, cut_length=opening.cut_length, open_area=opening.open_area,
            open_share=opening.open_share, standard_share=opening.standard_share,
            bolts=tuple(cut.moved(motion) for cut in opening.cuts[1:] if isinstance(cut, Circle)),
            fitting=opening.fitting,
            ground=tuple(tuple(_moved(ring, motion) for ring in rings) for rings in opening.ground),
        ))
    return tuple(out)


def _moved(points: Floats, motion: Floats) -> Floats:
    return np.asarray(points @ motion[:2, :2].T + motion[:2, 2])


def _turned(degrees: float) -> float:
    """The same direction, more than -180 up to 180; rounding about a full or half turn must not show."""
    turned = 180.0 - (180.0 - degrees + tolerance.ROUNDING) % 360.0 + tolerance.ROUNDING
    return 0.0 if abs(turned) < tolerance.ROUNDING else turned


def displaced(envelope: Envelope, interior: Interior) -> tuple[list[float], list[list[int]]]:
    """For every shell the volume that inner plates take up in it, mm3, and the numbers of those plates.

    The tabs are in the walls, but for the wedge of each that lies between the plate's square end and the wall.
    """
    inside, plates = interior.inside, interior.assembly.plates
    shells = shells_held_by(envelope, inside.tees, inside.crossings)
    volumes = [0.0] * len(envelope.shells)
    members: list[list[int]] = [[] for _ in envelope.shells]
    metal = {plate.number: plate.outline.area() * plate.thickness for plate in plates if plate.role == "inner"}
    for tab in interior.tabs.tabs:
        tee = inside.tees[tab.tee]
        metal[tee.plate] -= tab.width * (tab.reach * tee.thickness - float(tee_wedge(tee.thickness, tee.angle)))
    for number, volume in metal.items():
        shell = shells.get(number, 0)
        volumes[shell] += volume
        members[shell].append(number)
    return volumes, members
