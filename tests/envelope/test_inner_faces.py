"""Which faces of a drawing are inner plates: boxes with baffles drawn in every way, and random hulls cut through.

The judge of what is inside is manifold3d, where no hand count will do.
"""

import itertools

import numpy as np
import pytest
from drawn_meshes import THIN, box, extruded, faces_of, shuffled, together, without
from hypothesis import given, settings
from hypothesis import strategies as st
from manifold3d import CrossSection, Manifold
from strategies import convex_envelopes, directions, numbers

from tackwright.core.envelope.inner_faces import find_inner_faces
from tackwright.core.envelope.mending import mend
from tackwright.core.envelope.mesh import Mesh
from tackwright.core.envelope.read_envelope import read_envelope
from tackwright.core.terms.choices import Choices, PanelChoice, Settings
from tackwright.core.terms.errors import InputError

# A box 300 x 200 x 100 with a middle section at x = 150: its points 8 to 11, walls split there or not.
SECTION = [(150, 0, 0), (150, 0, 100), (150, 200, 0), (150, 200, 100)]
WHOLE = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)]
SPLIT = [
    (0, 1, 3, 2), (4, 6, 7, 5), (0, 8, 9, 1), (8, 4, 5, 9), (2, 3, 11, 10), (10, 11, 7, 6), (0, 2, 10, 8),
    (8, 10, 6, 4), (1, 9, 11, 3), (9, 5, 7, 11),
]
BAFFLE = (8, 9, 11, 10)


def drawn(faces, points=SECTION, **more) -> Mesh:
    return Mesh.of([*box().points, *points], faces, name="box", **more)


def marked(*faces: int, inner: bool = True) -> Choices:
    return Choices(settings=Settings(thickness=1.0), faces={f: PanelChoice(inner=inner) for f in faces})


def inner_of(mesh: Mesh, choices: Choices = THIN) -> list[int]:
    return sorted(face for panel in read_envelope(mesh, choices).inner for face in panel.faces)


def same_walls(one, two, within: float = 1e-9) -> None:
    """Panels with the same names, corners, planes and edges; where they lie on the sheet of faces may differ."""
    assert [p.name for p in one.panels] == [p.name for p in two.panels]
    assert len(one.points) == len(two.points)
    np.testing.assert_allclose(one.points + one.origin, two.points + two.origin, atol=within)
    for a, b in zip(one.panels, two.panels, strict=True):
        assert [r.tolist() for r in a.rings] == [r.tolist() for r in b.rings]
        assert [e.tolist() for e in a.edges] == [e.tolist() for e in b.edges]
        np.testing.assert_allclose(a.frame.origin + one.origin, b.frame.origin + two.origin, atol=within)
        np.testing.assert_allclose(a.frame.axes, b.frame.axes, atol=within)
        assert a.area == pytest.approx(b.area, rel=max(within, 1e-12))
    assert [(e.panels, e.start, e.end) for e in one.edges] == [(e.panels, e.start, e.end) for e in two.edges]
    np.testing.assert_allclose([e.angle for e in one.edges], [e.angle for e in two.edges], atol=max(within, 1e-9))
    assert [s.closed for s in one.shells] == [s.closed for s in two.shells]


def test_a_baffle_that_splits_the_walls_is_inner_and_the_walls_are_as_without_it():
    with_baffle = read_envelope(drawn([*SPLIT, BAFFLE]), THIN)
    assert [p.faces for p in with_baffle.inner] == [(10,)]
    same_walls(with_baffle, read_envelope(box(), THIN))
    (note,) = with_baffle.notes                          # what the drawing alone decided is said
    assert (note.rule, note.level, note.faces) == ("found_inside", "note", (10,)) and "'inner 1' lies" in note.message
    asked = Choices(settings=THIN.settings, faces={10: PanelChoice(inner=True)})
    assert read_envelope(drawn([*SPLIT, BAFFLE]), asked).notes == ()


@pytest.mark.parametrize("split", [(2,), (3,), (2, 3), (4, 5), (2, 3, 4), (2, 3, 4, 5)])
def test_some_walls_are_split_at_the_baffle_and_others_are_not(split):
    """Where a wall is not split, the baffle ends on the middle of it; the corners of the section lie on edges."""
    halves = {2: SPLIT[2:4], 3: SPLIT[4:6], 4: SPLIT[6:8], 5: SPLIT[8:10]}
    faces = [half for i, face in enumerate(WHOLE) for half in (halves[i] if i in split else [face])]
    with_baffle = read_envelope(drawn([*faces, BAFFLE]), THIN)
    assert [p.faces for p in with_baffle.inner] == [(len(faces),)]
    same_walls(with_baffle, read_envelope(box(), THIN))


def test_a_baffle_whose_corners_break_the_walls_edges():
    """The walls have corners where the baffle ends, but no edge across."""
    faces = [*WHOLE[:2], (0, 8, 4, 5, 9, 1), (2, 3, 11, 7, 6, 10), (0, 2, 10, 6, 4, 8), (1, 9, 5, 7, 11, 3), BAFFLE]
    envelope = read_envelope(drawn(faces), THIN)
    assert [p.faces for p in envelope.inner] == [(6,)]
    same_walls(envelope, read_envelope(box(), THIN))


def test_a_corner_off_the_line_as_far_as_is_straight():
    section = np.array(SECTION, dtype=float)
    section[0, 1] += 0.015
    envelope = read_envelope(drawn([*SPLIT, BAFFLE], section), THIN)
    assert [p.faces for p in envelope.inner] == [(10,)]
    assert all(len(p.rings[0]) == 4 for p in envelope.panels)


def test_a_shelf_on_four_walls():
    points = [(x, y, 40) for x, y in ((0, 0), (300, 0), (300, 200), (0, 200))]
    low, high = (0, 4, 6, 2), (1, 5, 7, 3)
    faces = [(2, 6, 4, 0), (1, 5, 7, 3)]
    for i in range(4):
        j, a, b = (i + 1) % 4, 8 + i, 8 + (i + 1) % 4
        faces += [(low[i], low[j], b, a), (a, b, high[j], high[i])]
    envelope = read_envelope(drawn([*faces, (8, 9, 10, 11)], points), THIN)
    assert [p.faces for p in envelope.inner] == [(10,)]
    same_walls(envelope, read_envelope(box(), THIN))


def test_a_baffle_along_the_diagonal_of_two_edges():
    """Its long sides are edges of the box: three faces there, and nothing is split."""
    assert inner_of(Mesh.of(box().points, [*WHOLE, (0, 4, 7, 3)])) == [6]


def test_a_diagonal_baffle_where_one_of_the_walls_is_split():
    """The other wall and the baffle share the whole side; the halves of the split one end on it."""
    faces = [*WHOLE[:2], *SPLIT[2:4], *WHOLE[3:], (0, 4, 7, 3)]
    envelope = read_envelope(drawn(faces), THIN)
    assert [p.faces for p in envelope.inner] == [(7,)]
    same_walls(envelope, read_envelope(box(), THIN))


def test_a_rib_on_one_wall():
    points = [(100, 50, 0), (200, 50, 0), (200, 50, 40), (100, 50, 40)]
    floor = [(0, 2, 8), (2, 6, 9, 8), (6, 4, 9), (4, 0, 8, 9)]
    envelope = read_envelope(drawn([*(WHOLE[i] for i in (0, 1, 2, 3, 5)), *floor, (8, 9, 10, 11)], points), THIN)
    assert [p.faces for p in envelope.inner] == [(9,)]
    same_walls(envelope, read_envelope(box(), THIN))


@pytest.mark.parametrize("at", [(20, 20), (0, 20), (0, 0)])
def test_a_plate_afloat_inside(at):
    """Free, with one side on the middle of a wall, or with a corner in an edge: no points shared."""
    (x, y), z = at, 50
    plate = Mesh.of([(x, y, z), (x + 100, y, z), (x + 100, y + 80, z), (x, y + 80, z)], [(0, 1, 2, 3)])
    envelope = read_envelope(together(box(), plate), THIN)
    assert [p.faces for p in envelope.inner] == [(6,)]
    same_walls(envelope, read_envelope(box(), THIN))


def test_a_corner_that_touches_a_corner_of_the_walls():
    envelope = read_envelope(Mesh.of([*box().points, (150, 50, 50), (50, 150, 50)], [*WHOLE, (0, 8, 9)]), THIN)
    assert [p.faces for p in envelope.inner] == [(6,)]
    same_walls(envelope, read_envelope(box(), THIN))


@pytest.mark.parametrize(("poke", "inside"), [(-40, True), (-60, False)])
def test_a_plate_that_pokes_out_counts_by_where_most_of_it_lies(poke, inside):
    plate = Mesh.of([(poke, 60, 50), (poke + 100, 60, 50), (poke + 100, 120, 50), (poke, 120, 50)], [(0, 1, 2, 3)])
    mesh = together(box(), plate)
    if inside:
        assert inner_of(mesh) == [6]
    else:
        with pytest.raises(InputError, match="cross or touch.*mark one that is inside as an inner plate"):
            read_envelope(mesh, THIN)


def test_a_cross_afloat_is_inner_whole():
    points = [(x, y, z) for z in (20, 80) for x, y in ((150, 100), (50, 100), (250, 100), (150, 40), (150, 160))]
    cross = Mesh.of(points, [(0, i, i + 5, 5) for i in range(1, 5)])
    assert inner_of(together(box(), cross)) == [6, 7, 8, 9]


def test_a_baffle_in_the_hollow_of_an_l():
    """A plate between the arms lies outside; one across an arm lies inside."""
    ell = extruded([(0, 0), (300, 0), (300, 100), (100, 100), (100, 300), (0, 300)], 100)
    across = Mesh.of([(50, 200, 50), (90, 200, 50), (90, 200, 90), (50, 200, 90)], [(0, 1, 2, 3)])
    assert inner_of(together(ell, across)) == [8]
    between = Mesh.of(across.points + (120, 0, 0), [(0, 1, 2, 3)])
    envelope = read_envelope(together(ell, between), THIN)
    assert envelope.inner == () and len(envelope.shells) == 2
    joined = Mesh.of(ell.points, [*faces_of(ell), (3, 0, 6, 9)])        # from the hollow's edge to the far corner
    assert inner_of(joined) == [8]


def test_a_hollow_filled_by_a_face_makes_the_old_walls_inner():
    """What the outside sees is the wall: the notch of an L closed by a plate and two ends is a chamber."""
    ell = extruded([(0, 0), (300, 0), (300, 100), (100, 100), (100, 300), (0, 300)], 100)
    closing = [(2, 4, 10, 8), (2, 3, 4), (8, 10, 9)]
    assert inner_of(Mesh.of(ell.points, [*faces_of(ell), *closing])) == [4, 5]


def test_two_tanks_that_share_nothing():
    one = drawn([*SPLIT, BAFFLE])
    mesh = together(one, Mesh.of(one.points + (500, 0, 0), faces_of(one)))
    envelope = read_envelope(mesh, THIN)
    assert [p.faces for p in envelope.inner] == [(10,), (21,)]
    assert [s.closed for s in envelope.shells] == [True, True]


def test_an_open_hopper_with_a_baffle_cannot_be_told():
    hopper = drawn([*SPLIT[:8], BAFFLE])
    with pytest.raises(InputError, match="open surface, so which of them are inside cannot be told.*8.*Mark the inner"
                       ) as caught:
        read_envelope(hopper, THIN)
    assert caught.value.faces == (2, 3, 4, 5, 6, 7, 8)
    assert caught.value.edges == ((8, 9), (8, 10), (10, 11))


def test_an_open_hopper_with_its_baffle_marked():
    envelope = read_envelope(drawn([*SPLIT[:8], BAFFLE]), marked(8))
    assert [p.faces for p in envelope.inner] == [(8,)]
    same_walls(envelope, read_envelope(without(box(), 5), THIN))


def test_a_group_marks_its_faces():
    mesh = drawn([*SPLIT[:8], BAFFLE], face_names=[*["hopper"] * 8, " wash plate "])
    chosen = Choices(settings=Settings(thickness=1.0), panels={"wash plate": PanelChoice(inner=True, thickness=2.0)})
    (panel,) = read_envelope(mesh, chosen).inner
    assert (panel.name, panel.faces, panel.thickness) == ("wash plate", (8,), 2.0)


def test_a_choice_for_the_face_is_over_that_for_its_group():
    mesh = drawn([*SPLIT[:8], BAFFLE], face_names=["hopper"] * 9)
    chosen = Choices(settings=Settings(thickness=1.0), panels={"hopper": PanelChoice(inner=False)},
                     faces={8: PanelChoice(inner=True)})
    assert inner_of(mesh, chosen) == [8]


def test_a_wall_named_inner_is_inner_under_that_name():
    """An open box and a plate apart from it: told by the name that the plate has without a choice."""
    plate = Mesh.of([(100, 50, 50), (200, 50, 50), (200, 150, 50), (100, 150, 50)], [(0, 1, 2, 3)])
    mesh = together(without(box(), 5), plate)
    with pytest.raises(InputError, match=r"\(panel 'top'\) lies inside shell .* Mark the inner one"):
        read_envelope(mesh, THIN)
    chosen = Choices(settings=Settings(thickness=1.0), panels={"top": PanelChoice(inner=True, name="tray")})
    envelope = read_envelope(mesh, chosen)
    assert [p.name for p in envelope.inner] == ["tray"] and len(envelope.shells) == 1
    assert sorted(p.name for p in envelope.panels) == ["back", "bottom", "front", "left", "right"]


def test_a_baffle_that_must_be_a_wall_is_refused():
    with pytest.raises(InputError, match="3 faces meet at one edge"):
        read_envelope(drawn([*SPLIT, BAFFLE]), marked(10, inner=False))
    chosen = Choices(settings=Settings(thickness=1.0), panels={"inner 1": PanelChoice(inner=False)})
    with pytest.raises(InputError, match="'inner 1' lies inside the envelope") as caught:
        read_envelope(drawn([*SPLIT, BAFFLE]), chosen)
    assert caught.value.faces == (10,)


def test_every_face_marked():
    with pytest.raises(InputError, match="there is no wall"):
        read_envelope(box(), marked(*range(6)))


def test_a_fin_outside():
    fin = Mesh.of([*box().points, (0, -50, 50), (300, -50, 50)], [*faces_of(box()), (0, 4, 9, 8)])
    with pytest.raises(InputError, match=r"Face 6 hangs on a closed surface, outside it at about .*Delete or leave"
                       ) as caught:
        read_envelope(fin, THIN)
    assert caught.value.faces == (6,) and caught.value.edges == ((0, 4),)
    assert inner_of(fin, marked(6)) == [6]


def test_a_double_bottom_in_an_open_box_is_marked():
    """The closed part is the compartment below; the walls above hang on it, until its lid is marked."""
    points = [(x, y, 40) for x, y in ((0, 0), (300, 0), (300, 200), (0, 200))]
    low, high = (0, 4, 6, 2), (1, 5, 7, 3)
    faces = [(2, 6, 4, 0)]
    for i in range(4):
        j, a, b = (i + 1) % 4, 8 + i, 8 + (i + 1) % 4
        faces += [(low[i], low[j], b, a), (a, b, high[j], high[i])]
    mesh = drawn([*faces, (8, 9, 10, 11)], points)
    with pytest.raises(InputError, match="Faces 2, 4, 6, 8 hang on a closed surface.*mark the faces inside"):
        read_envelope(mesh, THIN)
    same_walls(read_envelope(mesh, marked(9)), read_envelope(without(box(), 5), THIN))


def test_a_closed_tank_with_a_port_and_baffles():
    """A hole drawn in a wall does not open the tank: the baffle is still seen."""
    hole = [(210, 60, 100), (260, 60, 100), (260, 140, 100), (210, 140, 100)]
    lid = [(9, 5, 13, 12), (5, 7, 14, 13), (7, 11, 15, 14), (11, 9, 12, 15)]
    mesh = drawn([*SPLIT[:9], *lid, BAFFLE], [*SECTION, *hole])
    envelope = read_envelope(mesh, THIN)
    assert [p.faces for p in envelope.inner] == [(13,)]
    assert len(envelope.drawn_holes) == 1 and envelope.shells[0].closed
    plate = Mesh.of([(220, 70, 50), (250, 70, 50), (250, 110, 50), (220, 110, 50)], [(0, 1, 2, 3)])
    assert inner_of(together(mesh, plate)) == [13, 14]


def test_a_baffle_with_a_hole_in_it_is_inner():
    """So is one whose hole is as wide as it can be, between the same walls."""
    for a, b in ((60, 30), (1, 1)):
        hole = [(150, y, z) for y, z in ((a, b), (a, 100 - b), (200 - a, 100 - b), (200 - a, b))]
        ring = [(BAFFLE[i], BAFFLE[(i + 1) % 4], 12 + (i + 1) % 4, 12 + i) for i in range(4)]
        envelope = read_envelope(drawn([*SPLIT, *ring], [*SECTION, *hole]), THIN)
        assert [p.faces for p in envelope.inner] == [(10, 11, 12, 13)]
        assert [len(r) for r in envelope.inner[0].rings] == [4, 4]
        same_walls(envelope, read_envelope(box(), THIN))


def test_a_baffle_with_a_snipped_corner_is_inner():
    """One free edge, across the corner of two walls: both sides of the baffle are one space."""
    snipped = [*SECTION, (150, 0, 20), (150, 20, 0)]
    faces = [*SPLIT[:2], (0, 8, 12, 9, 1), (8, 4, 5, 9, 12), *SPLIT[4:6], (0, 2, 10, 13, 8),
             (8, 13, 10, 6, 4), *SPLIT[8:]]
    envelope = read_envelope(drawn([*faces, (12, 9, 11, 10, 13)], snipped), THIN)
    assert [p.faces for p in envelope.inner] == [(10,)]
    same_walls(envelope, read_envelope(box(), THIN))


def test_inner_faces_may_cross_each_other_and_the_walls():
    one = Mesh.of([(50, 100, -5), (250, 100, -5), (250, 100, 90), (50, 100, 90)], [(0, 1, 2, 3)])
    two = Mesh.of([(150, 20, 10), (150, 180, 10), (150, 180, 90), (150, 20, 90)], [(0, 1, 2, 3)])
    assert inner_of(together(box(), one, two)) == [6, 7]


def cut_hull(mesh: Mesh, planes) -> tuple[Mesh, int]:
    """A convex mesh and the polygons of planes that cut it, its faces split along them; and how many of the
    faces, the first, are the hull's."""
    pieces = [mesh.points[mesh.face(i)] for i in range(mesh.face_count)]
    inner: list[np.ndarray] = []
    for normal, offset in planes:
        section = _ordered(np.concatenate([_on(piece, normal, offset) for piece in pieces]), normal)
        if len(section) < 3:
            continue
        pieces = [half for piece in pieces for half in _halves(piece, normal, offset)]
        inner = [half for piece in inner for half in _halves(piece, normal, offset)]
        parts = [section]
        for other, height in planes:
            if other is not normal:
                parts = [half for part in parts for half in _halves(part, other, height)]
        inner += parts
    polygons = pieces + inner
    points = np.concatenate(polygons)
    kept, where = np.unique(np.round(points, 7), axis=0, return_inverse=True)
    where = where.reshape(-1)
    starts = np.cumsum([0] + [len(p) for p in polygons])
    return Mesh.of(kept, [where[a:b] for a, b in itertools.pairwise(starts)]), len(pieces)


def _on(polygon, normal, offset):
    """(k, 3) where a plane crosses the sides of a polygon."""
    height = polygon @ normal - offset
    after = np.roll(height, -1)
    crossing = (height > 0) != (after > 0)
    share = (height[crossing] / (height[crossing] - after[crossing]))[:, None]
    return polygon[crossing] * (1 - share) + np.roll(polygon, -1, axis=0)[crossing] * share


def _ordered(points, normal):
    if len(points) == 0:
        return points
    points = points[np.unique(np.round(points, 6), axis=0, return_index=True)[1]]
    across = np.cross(normal, np.eye(3)[np.abs(normal).argmin()])
    away = points - points.mean(axis=0)
    return points[np.argsort(np.arctan2(away @ np.cross(normal, across), away @ across))]


def _halves(polygon, normal, offset):
    """The parts of a convex polygon on the two sides of a plane; itself if that only touches it."""
    height = polygon @ normal - offset
    height[np.abs(height) < 1e-6] = 0.0
    if height.min() >= 0 or height.max() <= 0:
        return [polygon]
    out = []
    for sign in (1, -1):
        ring = []
        for p, q, h, g in zip(polygon, np.roll(polygon, -1, axis=0), sign * height, sign * np.roll(height, -1),
                              strict=True):
            if h >= 0:
                ring.append(p)
            if h * g < 0:
                ring.append(p + (q - p) * (h / (h - g)))
        out.append(np.array(ring))
    return out


@st.composite
def cut_hulls(draw):
    hull = draw(convex_envelopes(cuts=5))
    planes = []
    for _ in range(draw(st.integers(1, 3))):
        normal = draw(directions())
        heights = hull.points @ normal
        offset = draw(numbers(0.25, 0.75))
        planes.append((normal, heights.min() + offset * np.ptp(heights)))
    return hull, planes


def clear(hull: Mesh, planes) -> bool:
    """No plane passes so near a corner that it splits off a sliver of the drawing, and none lies by another."""
    near = min(np.abs(hull.points @ n - d).min() for n, d in planes)
    alike = [abs(planes[i][0] @ planes[j][0]) for i in range(len(planes)) for j in range(i)]
    return near > 2.0 and max(alike, default=0.0) < 0.9


@settings(deadline=None, max_examples=30)
@given(cut_hulls(), st.integers(0, 2**32 - 1))
def test_every_section_of_a_hull_is_inner_and_the_walls_are_the_hull(drawn, seed):
    hull, planes = drawn
    if not clear(hull, planes):
        return
    mesh, walls = cut_hull(hull, planes)
    random = np.random.default_rng(seed)
    order = random.permutation(mesh.face_count)
    flips = random.random(mesh.face_count) < 0.5
    faces = [mesh.face(i)[::-1] if flip else mesh.face(i) for i, flip in zip(order, flips, strict=True)]
    mixed = Mesh.of(mesh.points, faces)
    envelope = read_envelope(mixed, THIN)
    found = sorted(int(order[f]) for panel in envelope.inner for f in panel.faces)
    assert found == list(range(walls, mesh.face_count))
    assert len(envelope.inner) == len(planes)             # halves on both sides of a crossing are one panel
    same_walls(envelope, read_envelope(hull, THIN), within=1e-5)


@settings(deadline=None, max_examples=30)
@given(st.integers(0, 2**32 - 1))
def test_what_is_inside_agrees_with_a_solid(seed):
    """Small plates strewn about a concave solid: inner where manifold3d says that most of each is in it."""
    random = np.random.default_rng(seed)
    outline = [(0, 0), (300, 0), (300, 100), (100, 100), (100, 300), (0, 300)]
    solid = CrossSection([outline]).extrude(200)
    plates, inside = [], []
    while len(plates) < 6:
        u, v = np.linalg.qr(random.normal(size=(3, 2)))[0].T
        middle = random.uniform((-50, -50, -50), (350, 350, 250))
        frame = np.column_stack([u, v, np.cross(u, v), middle])
        sheet = Manifold.cube([80, 60, 0.01], True).transform(frame)
        share = (sheet ^ solid).volume() / sheet.volume()
        if share == 0 or share > 0.6:                       # a plate that pokes out more crosses the wall
            corners = [middle + x * u + y * v for x, y in ((-40, -30), (40, -30), (40, 30), (-40, 30))]
            plates.append(Mesh.of(corners, [(0, 1, 2, 3)]))
            inside.append(share > 0.6)
    mesh = together(extruded(outline, 200), *plates)
    surface = mend(mesh, np.zeros(14, dtype=bool)).surface
    found = surface.sources[find_inner_faces(mesh, THIN, surface)]
    assert sorted(found) == [8 + i for i in np.flatnonzero(inside)]


@pytest.mark.parametrize("seed", range(6))
def test_the_order_of_faces_does_not_matter(seed):
    points = [(x, y, z) for z in (20, 80) for x, y in ((190, 100), (90, 100), (290, 100), (190, 40), (190, 160))]
    mesh = together(drawn([*SPLIT, BAFFLE]), Mesh.of(points, [(0, i, i + 5, 5) for i in range(1, 5)]))
    plain = read_envelope(mesh, THIN)
    mixed = read_envelope(shuffled(mesh, np.random.default_rng(seed)), THIN)
    same_walls(plain, mixed, 0)
    assert [p.name for p in plain.inner] == [p.name for p in mixed.inner]
    for one, two in zip(plain.inner, mixed.inner, strict=True):
        np.testing.assert_array_equal(one.frame.axes, two.frame.axes)
        np.testing.assert_array_equal(one.rings[0], two.rings[0])
