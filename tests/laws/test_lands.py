"""Metal between the cuts along an edge of an inner plate, read from the files that are written: ezdxf, shapely and
trimesh judge."""

import dataclasses
import io

import ezdxf
import numpy as np
import shapely
import trimesh
from baffled import QUIET, boxed, with_inner
from drawn_meshes import box
from ezdxf import path
from hypothesis import assume, given
from hypothesis import strategies as st

from tackwright.core.files.kit_folder import kit_files
from tackwright.core.make_kit import make_kit
from tackwright.core.terms.choices import MarkedOpening, TabRule
from tackwright.core.terms.errors import InputError

SIZE = (300.0, 240.0, 200.0)


def web_of(thickness):
    """Metal to leave between two cuts. Common practice, no source: twice the thickness, and 3 mm at least."""
    return max(2 * thickness, 3.0)


def outline_of(data):
    """The outer contour of a drawing as (k, 3) x, y and bulge, counter-clockwise, and its holes as polygons."""
    cut = ezdxf.read(io.StringIO(data.decode())).modelspace().query("*[layer=='CUT']")
    rings = [shapely.Polygon([(p.x, p.y) for p in path.make_path(e).flattening(0.002)]) for e in cut]
    largest = int(np.argmax([ring.area for ring in rings]))
    corners = np.array(list(cut[largest].get_points("xyb")))
    if not rings[largest].exterior.is_ccw:
        corners = np.column_stack([corners[::-1, :2], -np.roll(corners[::-1, 2], -1)])
    return corners, [ring for row, ring in enumerate(rings) if row != largest]


def cuts_along(corners):
    """(first, last) corners of everything cut into or standing out of an edge: half rounds, which turn into the metal,
    and tabs, which step out square, run on along the edge and step back."""
    count = len(corners)
    ahead = np.roll(corners[:, :2], -1, axis=0) - corners[:, :2]
    before = np.roll(ahead, 1, axis=0)
    sine = (before[:, 0] * ahead[:, 1] - before[:, 1] * ahead[:, 0]) / np.linalg.norm(before, axis=1)
    sine /= np.linalg.norm(ahead, axis=1)
    for i in range(count):
        rows = [(i + step) % count for step in range(4)]
        if corners[i, 2] < 0:
            yield rows[0], rows[1]
        elif not corners[rows, 2].any() and np.allclose(sine[rows], [-1, 1, 1, -1], atol=1e-3):
            yield rows[0], rows[3]


def lands(corners, holes):
    """mm of metal beside each cut of an edge: along the edge either way, and to every hole."""
    count = len(corners)
    for first, last in cuts_along(corners):
        for here, there in ((first, (first - 1) % count), (last, (last + 1) % count)):
            yield float(np.linalg.norm(corners[here, :2] - corners[there, :2]))
        foot = shapely.LineString(corners[[first, last], :2])
        yield from (hole.distance(foot) for hole in holes)


def least_land(kit):
    """The least land over the web that the plate asks for, of all inner plates; None where no edge has a cut."""
    files = dict(kit_files(kit))
    found = []
    for plate in kit.plates:
        if plate.role == "inner":
            (data,) = [data for name, data in files.items() if name.startswith(f"plates/{plate.mark}_")]
            found += [land / web_of(plate.thickness) for land in lands(*outline_of(data))]
    assert all(mesh.is_watertight for mesh in trimesh.load(
        io.BytesIO(files["assembly.glb"]), file_type="glb").geometry.values())
    return min(found, default=None)


def across(x, lean, size=SIZE):
    return [(x, 0.0, 0.0), (x, size[1], 0.0), (x + lean, size[1], size[2]), (x + lean, 0.0, size[2])]


def test_a_tab_beside_a_limber_hole_leaves_a_web():
    kit = boxed([across(110.0, 0.0)], dataclasses.replace(QUIET, metal_side="inside", limber=16.0), size=SIZE)
    assert least_land(kit) >= 1.0 - 1e-6


@st.composite
def drained_jobs(draw):
    """A baffle, upright or leaning, with a limber hole on the floor, a plate that may cross it, an opening that may lie
    low in it, and tabs of any number and width."""
    rings = [across(draw(st.floats(70.0, 230.0)), draw(st.sampled_from([0.0, 0.0, -50.0, 35.0])))]
    if draw(st.booleans()):
        y = draw(st.floats(40.0, 200.0))
        rings.append([(0.0, y, 0.0), (SIZE[0], y, 0.0), (SIZE[0], y, SIZE[2]), (0.0, y, SIZE[2])])
    chosen = dataclasses.replace(
        QUIET, metal_side=draw(st.sampled_from(["inside", "outside"])), limber=draw(st.floats(2.0, 35.0)),
        thickness=draw(st.sampled_from([1.0, 3.0, 5.0])), slot_relief=draw(st.sampled_from([0.0, 0.4])),
        tabs=TabRule(count=draw(st.sampled_from([None, 1, 2, 3, 5, 9])), width=draw(st.sampled_from([None, 5.0, 20.0])),
                     keep_out=draw(st.sampled_from([None, 0.0, 4.0]))))
    marked = ()
    if draw(st.booleans()):
        x = rings[0][0][0]
        at = (x, draw(st.floats(30.0, 210.0)), draw(st.floats(20.0, 60.0)))
        marked = (MarkedOpening(name="way", at=at, size=(draw(st.floats(10.0, 60.0)),), purpose="hand_hole"),)
    return with_inner(box(*SIZE), rings, chosen, openings=marked)


@given(drained_jobs())
def test_every_cut_of_an_edge_leaves_a_web_to_the_next(job):
    try:
        kit = make_kit(*job)
    except InputError:
        assume(False)
    least = least_land(kit)
    assert least is None or least >= 1.0 - 1e-5
