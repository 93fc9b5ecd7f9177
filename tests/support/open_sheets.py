"""Ribs and gussets on open sheets: convex plates between half planes, drawn short of what they stand on or past it, and
what is cut of them, read from the written files. Lengths in mm, angles in degrees."""

from __future__ import annotations

import io
import json
import math
from dataclasses import dataclass, field

import ezdxf
import hypothesis.strategies as st
import numpy as np
import shapely
from strategies import numbers

from tackwright.core.envelope.mesh import Mesh
from tackwright.core.files.kit_folder import kit_files
from tackwright.core.terms.choices import Choices, PanelChoice, Settings

WIDE, LONG, MIDDLE = 160.0, 320.0, 80.0
FAR = 1e4
FINE = 1e-7
"""mm: to which the judge rounds corners before it lays one shape over another."""


def half(at, way):
    """The half plane behind a line through `at` that looks towards `way`."""
    at, way = np.asarray(at, dtype=float), np.asarray(way, dtype=float) / np.linalg.norm(way)
    side = np.array([-way[1], way[0]])
    return shapely.Polygon([at - FAR * side, at - FAR * side - FAR * way, at + FAR * side - FAR * way, at + FAR * side])


def turned(degrees):
    return np.array([math.cos(math.radians(degrees)), math.sin(math.radians(degrees))])


@dataclass(frozen=True, kw_only=True)
class Sheet:
    """A floor along x from the origin and, unless it is flat, a wall from there at `angle` to it; the plates stand in
    the corner, or under the floor. looks_in: whether the drawn normals point to where the plate is."""

    angle: float
    side: str
    looks_in: bool
    thickness: float = 3.0
    flat: bool = False

    @property
    def over(self) -> float:
        """How far the metal lies over the drawn surface, on the plate's side."""
        return self.thickness * {"outside": 1.0, "centred": 0.5, "inside": 0.0}[self.side if self.looks_in else {
            "outside": "inside", "inside": "outside", "centred": "centred"}[self.side]]

    def grounds(self):
        """(point, unit direction into the metal) of the surfaces that plates stand on, in the plane of the plate."""
        out = [(np.array([0.0, self.over]), np.array([0.0, -1.0]))]
        if not self.flat:
            into = turned(self.angle + 90.0)
            out.append((-into * self.over, into))
        return out

    def faces(self):
        points = [(x, y, 0.0) for x, y in ((0.0, 0.0), (LONG, 0.0), (LONG, WIDE), (0.0, WIDE))]
        rings = [[0, 1, 2, 3]]
        if not self.flat:
            x, z = turned(self.angle) * LONG
            points += [(x, 0.0, z), (x, WIDE, z)]
            rings.append([0, 3, 5, 4])
        return points, [ring if self.looks_in else ring[::-1] for ring in rings]

    def drawing(self, ring, *, inner=True, reach=10.0, tabs=True, nose=0.0, **more):
        """The mesh of the sheet with a plate (k, 2) at the middle of its width, and the choices. nose: its points are
        left as drawn unless asked for."""
        points, faces = self.faces()
        names = ["floor", "back"][: len(faces)]
        faces = [*faces, list(range(len(points), len(points) + len(ring)))]
        points = [*points, *((x, MIDDLE, z) for x, z in np.asarray(ring).tolist())]
        chosen = {row: PanelChoice(name=name) for row, name in enumerate(names)}
        chosen[len(names)] = PanelChoice(name="plate", inner=True if inner else None)
        settings = Settings(thickness=self.thickness, metal_side=self.side, reach=reach, nose=nose, **more)
        return Mesh.of(points, faces, name="sheet"), Choices(settings=settings, faces=chosen)


@dataclass(frozen=True, kw_only=True)
class Standing:
    """A plate on a sheet. meant: its outline where everything meets; drawn: the same with its feet short or past."""

    sheet: Sheet
    meant: shapely.Polygon
    drawn: shapely.Polygon
    free: list = field(default_factory=list)

    @property
    def ring(self):
        return np.asarray(self.drawn.exterior.coords)[:-1]


@st.composite
def sheets(draw, flat=None):
    return Sheet(
        angle=draw(numbers(60.0, 150.0)), side=draw(st.sampled_from(["outside", "inside", "centred"])),
        looks_in=draw(st.booleans()), flat=draw(st.booleans()) if flat is None else flat)


@st.composite
def standing(draw, short=(-4.0, 8.0)):
    """A convex plate with two to four free edges, every one at 12 degrees or more to what it stands on."""
    sheet = draw(sheets())
    grounds = sheet.grounds()
    first, other = (80.0, 240.0) if sheet.flat else (0.0, 200.0), draw(numbers(60.0, 220.0))
    lean = [draw(numbers(14.0, 166.0)) for _ in range(2)]
    floor = draw(numbers(max(first[0], 100.0) + 60.0, 290.0))
    free = [((floor, sheet.over), turned(lean[0] - 90.0))]
    if sheet.flat:
        free.append(((draw(numbers(30.0, first[0] + 10.0)), sheet.over), turned(270.0 - lean[1])))
    else:
        foot = grounds[1][0] + turned(sheet.angle) * other
        free.append((foot, turned(sheet.angle + 90.0 - lean[1])))
        if draw(st.booleans()):                              # its corner cut off, clear of the weld
            cut = draw(numbers(22.0, 40.0))
            free.append((turned(sheet.angle / 2) * cut, -turned(sheet.angle / 2)))
    top = 90.0 if sheet.flat else sheet.angle / 2
    free.append((turned(top) * draw(numbers(60.0, 260.0)) + (150.0 if sheet.flat else 0.0, 0.0), turned(top)))
    gaps = [draw(st.sampled_from([0.0, 0.0, short[0], short[1]])) or draw(numbers(*short)) for _ in grounds]
    hull = shapely.intersection_all([half(*line) for line in free])

    def between(by):
        return shapely.intersection_all(
            [hull, *(half(at - into * gap, into) for (at, into), gap in zip(grounds, by, strict=True))])

    return Standing(sheet=sheet, meant=between([0.0] * len(grounds)), drawn=between(gaps), free=free)


def is_sound(plate):
    """Whether both outlines have the same sides, each long enough to be one."""
    if any(s.geom_type != "Polygon" or s.is_empty for s in (plate.meant, plate.drawn)):
        return False
    rings = [shapely.remove_repeated_points(s, 1e-6) for s in (plate.meant, plate.drawn)]
    if len({len(r.exterior.coords) for r in rings}) != 1:
        return False
    sides = [np.linalg.norm(np.diff(np.asarray(r.exterior.coords), axis=0), axis=1).min() for r in rings]
    low, high = plate.meant.bounds[:2], plate.meant.bounds[2:]
    return min(sides) > 16.0 and high[0] < LONG - 10.0 and low[0] > -LONG + 10.0 and high[1] < LONG - 10.0


def cut_outlines(kit):
    """What is cut of every inner plate: the outer contour of its DXF file put where kit.json places it, (k, 3)."""
    files = dict(kit_files(kit))
    record = json.loads(files["kit.json"])
    out = []
    for plate in record["plates"]:
        if plate["role"] != "inner":
            continue
        document = ezdxf.read(io.StringIO(files[plate["file"]].decode("cp1252")))
        rings = [np.array(e.get_points("xy")) for e in document.modelspace().query('LWPOLYLINE[layer=="CUT"]')]
        outer = max(rings, key=lambda ring: shapely.Polygon(ring).area)
        flat = np.column_stack([outer, np.full(len(outer), plate["thickness"] / 2), np.ones(len(outer))])
        for placement in plate["placements"]:
            out.append((np.array(placement["matrix"]) @ flat.T).T[:, :3])
    return out


def cut_plate(kit):
    """The cut outline of the one plate, which stands upright across y, as (x, z)."""
    (corners,) = cut_outlines(kit)
    assert np.ptp(corners[:, 1]) < 1e-6
    return shapely.set_precision(shapely.Polygon(corners[:, [0, 2]]), FINE)
