"""Choices on single edges and faces: written, read by the core, and what becomes of them while the mesh is edited."""

from __future__ import annotations

import pytest
from editing import select_faces

FRONT, TOP, RIGHT, BACK, LEFT = 2, 1, 3, 4, 5
TOP_FRONT, TOP_BACK = (4, 5), (6, 7)


def joints_of(blender, item):
    from tackwright.addon.gather.gather import read_drawing

    return dict(read_drawing(blender.context, item, all_faces=True).choices.edges)


def faces_of(blender, item):
    from tackwright.addon.gather.gather import read_drawing

    return dict(read_drawing(blender.context, item, all_faces=True).choices.faces)


def looking(item, blender, face):
    """Which way a face looks: its normal, rounded."""
    from tackwright.addon.host.drawn_mesh import drawn_mesh

    with drawn_mesh(blender.context, item) as seen:
        return tuple(round(c) for c in seen.polygons[face].normal)


@pytest.fixture
def choose_edge(blender):
    from tackwright.addon.scene.edge_choices import write_edge_choice

    return write_edge_choice


@pytest.mark.parametrize("mode", ["OBJECT", "EDIT"])
def test_what_is_written_on_an_edge_is_what_the_core_is_told(blender, draw_box, choose_edge, mode):
    from tackwright.core.terms.choices import JointChoice, TabRule

    tank = draw_box(0.3, 0.2, 0.1)
    blender.ops.object.mode_set(mode=mode)
    first = JointChoice(corner="half-open", overlap=0.3, root_gap=0.0, fit_gap=0.15, through=FRONT,
                        tabs=TabRule(on=True, count=2, width=20.0, spacing=80.0, flank=12.0, keep_out=0.0))
    assert choose_edge(tank, [(5, 4)], first) == 1
    assert joints_of(blender, tank) == {TOP_FRONT: first}
    assert choose_edge(tank, [TOP_FRONT], JointChoice(root_gap=1.5, through=TOP, tabs=TabRule(on=False))) == 1
    from dataclasses import replace

    then = replace(first, root_gap=1.5, through=TOP, tabs=replace(first.tabs, on=False))
    assert joints_of(blender, tank) == {TOP_FRONT: then}    # what was left open stays


def test_a_corner_brings_its_overlap_along_and_an_overlap_its_corner(blender, draw_box, choose_edge):
    from tackwright.core.terms.choices import JointChoice

    tank = draw_box(0.3, 0.2, 0.1)
    choose_edge(tank, [TOP_FRONT], JointChoice(corner="half-open", overlap=0.3))
    choose_edge(tank, [TOP_FRONT], JointChoice(overlap=0.4))
    assert joints_of(blender, tank) == {TOP_FRONT: JointChoice(corner="half-open", overlap=0.4)}
    choose_edge(tank, [TOP_FRONT], JointChoice(corner="closed"))
    assert joints_of(blender, tank) == {TOP_FRONT: JointChoice(corner="closed")}
    choose_edge(tank, [TOP_FRONT], JointChoice(overlap=0.0))
    assert joints_of(blender, tank) == {TOP_FRONT: JointChoice(overlap=0.0)}    # 0 is a choice too


def test_writing_leaves_shape_keys_and_everything_else_as_it_was(blender, draw_box, choose_edge):
    from tackwright.core.terms.choices import JointChoice

    tank = draw_box(0.3, 0.2, 0.1)
    tank.shape_key_add(name="Basis")
    tank.shape_key_add(name="lean").data[6].co.z += 0.02
    tank.data.edges[3].use_seam = True
    tank.data.uv_layers.new(name="map").data[5].uv = (0.25, 0.5)
    choose_edge(tank, [TOP_FRONT], JointChoice(corner="open", through=TOP))
    assert [key.name for key in tank.data.shape_keys.key_blocks] == ["Basis", "lean"]
    assert tank.data.shape_keys.key_blocks["lean"].data[6].co.z == pytest.approx(0.12)
    assert [edge.index for edge in tank.data.edges if edge.use_seam] == [3]
    assert tuple(tank.data.uv_layers["map"].data[5].uv) == (0.25, 0.5)


def test_a_mesh_that_is_linked_is_not_written_on(blender, draw_box, choose_edge, tmp_path):
    from tackwright.core.terms.choices import JointChoice
    from tackwright.core.terms.errors import InputError

    draw_box(0.3, 0.2, 0.1)
    path = str(tmp_path / "library.blend")
    blender.ops.wm.save_as_mainfile(filepath=path)
    blender.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)
    with blender.data.libraries.load(path, link=True) as (_, data):
        data.objects = ["tank"]
    with pytest.raises(InputError, match="linked from another file"):
        choose_edge(blender.data.objects["tank"], [TOP_FRONT], JointChoice(corner="open"))


def test_edges_that_are_not_there_count_for_nothing(blender, draw_box, choose_edge):
    from tackwright.core.terms.choices import JointChoice

    tank = draw_box(0.3, 0.2, 0.1)
    assert choose_edge(tank, [(0, 6), (4, 99)], JointChoice(corner="open")) == 0


def test_what_an_edge_has_no_place_for_is_refused(blender, draw_box, choose_edge):
    from tackwright.core.terms.choices import JointChoice
    from tackwright.core.terms.errors import InputError

    tank = draw_box(0.3, 0.2, 0.1)
    for choice in (JointChoice(through="top"), JointChoice(tab_on=TOP)):
        with pytest.raises(InputError, match="An edge keeps neither"):
            choose_edge(tank, [TOP_FRONT], choice)
    tank.data.attributes.new("tackwright_overlap", "INT", "EDGE")
    with pytest.raises(InputError, match="'tackwright_overlap' of another kind"):
        choose_edge(tank, [TOP_FRONT], JointChoice(overlap=0.2))


def test_the_plate_that_runs_through_is_the_chosen_one(blender, draw_box, choose_edge):
    """Whichever of the two is chosen covers the other's end: its plate is larger by a wall's thickness."""
    from tackwright.addon.gather.gather import read_drawing
    from tackwright.core.make_kit import make_kit
    from tackwright.core.terms.choices import JointChoice

    sizes = {}
    for through in (TOP, FRONT):
        tank = draw_box(0.3, 0.2, 0.1)
        tank.tackwright.corner, tank.tackwright.sealed, tank.tackwright.tabs = "CLOSED", True, False
        choose_edge(tank, [TOP_FRONT], JointChoice(through=through))
        drawing = read_drawing(blender.context, tank)
        kit = make_kit(drawing.mesh, drawing.choices)
        sizes[through] = {where.panel: plate.area for plate in kit.plates for where in plate.placements}
    for panel, own in (("top", TOP), ("front", FRONT)):
        other = FRONT if own == TOP else TOP
        # 3 mm of plate along the whole edge; its ends may be covered by the side walls. Derived
        assert 294 * 3 <= sizes[own][panel] - sizes[other][panel] <= 300 * 3 + 0.1


def test_a_plate_that_is_not_made_now_may_be_the_one_that_runs_through(blender, draw_box, choose_edge):
    from tackwright.core.terms.choices import JointChoice

    tank = draw_box(0.3, 0.2, 0.1)
    choose_edge(tank, [TOP_FRONT], JointChoice(through=TOP))
    select_faces(blender, tank, [FRONT, RIGHT])
    assert blender.ops.tackwright.make_plates() == {"FINISHED"}


def test_pieces_of_an_edge_choose_together(blender, chosen):
    """Cut into pieces, the box is made of the same plates."""
    from tackwright.addon.gather.gather import read_drawing
    from tackwright.core.make_kit import make_kit

    areas = []
    for cuts in (0, 3):
        if cuts:
            blender.ops.mesh.subdivide(number_cuts=cuts)
        drawing = read_drawing(blender.context, chosen, all_faces=True)
        kit = make_kit(drawing.mesh, drawing.choices)
        areas.append({where.panel: plate.area for plate in kit.plates for where in plate.placements})
    assert areas[0] == pytest.approx(areas[1], rel=1e-4)


# ---- what becomes of it while the mesh is edited


@pytest.fixture
def chosen(blender, draw_box, choose_edge):
    """A box in Edit Mode; at its upper edges, each neighbour of the next, the top and the wall take turns."""
    from tackwright.core.terms.choices import JointChoice

    tank = draw_box(0.3, 0.2, 0.1)
    for edge, face in (((4, 5), TOP), ((5, 6), RIGHT), ((6, 7), TOP), ((4, 7), LEFT)):
        choose_edge(tank, [edge], JointChoice(corner="closed", through=face, root_gap=0.0))
    for edge, face in (((0, 4), FRONT), ((1, 5), RIGHT), ((2, 6), BACK), ((3, 7), LEFT)):
        choose_edge(tank, [edge], JointChoice(corner="half-open", through=face))
    select_faces(blender, tank, range(6))
    return tank


def agree(blender, item):
    """Every plate that runs through is the one that was chosen there; how many edges have one, how many a corner.

    Where an edge lies tells which of the two was chosen: it is known from the box alone.
    """
    from tackwright.addon.gather.gather import read_drawing

    drawing = read_drawing(blender.context, item, all_faces=True)
    ways = {"y-": (0, -1, 0), "y+": (0, 1, 0), "x-": (-1, 0, 0), "x+": (1, 0, 0), "z+": (0, 0, 1)}
    found = 0
    for (a, b), choice in drawing.choices.edges.items():
        if choice.through is None:
            continue
        found += 1
        middle = (drawing.mesh.points[a] + drawing.mesh.points[b]) / 2
        along = abs(drawing.mesh.points[a] - drawing.mesh.points[b]).argmax()
        at = [abs(middle[0]) < 1e-3, abs(middle[0] - 300) < 1e-3, abs(middle[1]) < 1e-3, abs(middle[1] - 200) < 1e-3]
        if along == 2:
            corner = {(1, 0, 1, 0): "y-", (0, 1, 1, 0): "x+", (0, 1, 0, 1): "y+", (1, 0, 0, 1): "x-"}
            wanted = corner[tuple(map(int, at))]
        else:
            wanted = "z+" if along == 0 else "x-" if at[0] else "x+"
        normal = _normal(drawing.mesh, choice.through)   # whichever way round the face was turned
        assert tuple(abs(round(c)) for c in normal) == tuple(map(abs, ways[wanted])), (a, b)
    return found, sum(choice.corner is not None for choice in drawing.choices.edges.values())


def _cross(a, b):
    import numpy as np

    return np.cross(a, b)


@pytest.mark.parametrize("cuts", [1, 2, 3, 7])
def test_subdividing_keeps_the_plate_that_runs_through(blender, chosen, cuts):
    blender.ops.mesh.subdivide(number_cuts=cuts)
    found, corners = agree(blender, chosen)
    assert corners == 8 * (cuts + 1)                     # every piece of an edge, no edge that is new
    assert found >= 16                                   # the end pieces of each at least


def test_subdividing_again_and_again_never_names_the_wrong_plate(blender, chosen):
    for _ in range(3):
        blender.ops.mesh.subdivide(number_cuts=1)
        found, corners = agree(blender, chosen)
        assert found >= 16
    assert corners == 8 * 8


def test_a_cut_through_the_box_keeps_choices_on_both_sides(blender, chosen):
    blender.ops.mesh.bisect(plane_co=(0.11, 0.07, 0.05), plane_no=(1.0, 0.3, 0.2))
    found, corners = agree(blender, chosen)
    assert corners > 8 and found == corners


def test_faces_turned_over_and_back_keep_their_edges(blender, chosen):
    before = joints_of(blender, chosen)
    blender.ops.mesh.flip_normals()
    assert joints_of(blender, chosen) == before
    blender.ops.mesh.flip_normals()
    assert joints_of(blender, chosen) == before
    select_faces(blender, chosen, [TOP])
    blender.ops.mesh.flip_normals()
    assert joints_of(blender, chosen) == before


def test_a_loop_cut_keeps_choices(blender, chosen):
    import bmesh

    edited = bmesh.from_edit_mesh(chosen.data)
    edited.verts.ensure_lookup_table()
    ring = [edited.edges.get((edited.verts[a], edited.verts[b])) for a, b in ((0, 1), (2, 3), (4, 5), (6, 7))]
    bmesh.ops.subdivide_edgering(edited, edges=ring, cuts=2)
    bmesh.update_edit_mesh(chosen.data)
    found, corners = agree(blender, chosen)
    assert corners == 6 + 2 * 3 and found >= 6 + 2 * 2


def test_an_extruded_face_takes_its_choices_along(blender, chosen):
    """The top, raised by 50 mm, meets the raised walls as it met the walls; no other plate got its place."""
    import bmesh

    select_faces(blender, chosen, [TOP])
    blender.ops.mesh.extrude_region_move(TRANSFORM_OT_translate={"value": (0, 0, 0.05)})
    edited = bmesh.from_edit_mesh(chosen.data)
    edited.faces.ensure_lookup_table()
    top = next(face.index for face in edited.faces if min(v.co.z for v in face.verts) > 0.14)
    rim = {tuple(sorted(v.index for v in edge.verts)) for edge in edited.faces[top].edges}
    walls = {edge: choice for edge, choice in joints_of(blender, chosen).items() if edge not in rim}
    found = joints_of(blender, chosen)
    throughs = [found[edge].through for edge in rim]
    assert throughs.count(top) == 2 and len(set(throughs)) == 3  # as before: two edges where it is, two where it is not
    upright = {edge: choice.through for edge, choice in walls.items() if choice.corner == "half-open"}
    assert {(0, 4), (1, 5), (2, 6), (3, 7)} <= set(upright)
    assert all(set(edge) <= {v.index for v in edited.faces[face].verts} for edge, face in upright.items())


def test_a_copy_of_the_mesh_has_the_same_choices(blender, chosen, tmp_path):
    before = joints_of(blender, chosen)
    blender.ops.object.mode_set(mode="OBJECT")
    copy = chosen.copy()
    copy.data = chosen.data.copy()
    blender.context.scene.collection.objects.link(copy)
    blender.context.view_layer.update()
    assert joints_of(blender, copy) == before


def test_joined_objects_keep_their_choices(blender, chosen, draw_box, choose_edge):
    from tackwright.core.terms.choices import JointChoice

    blender.ops.object.mode_set(mode="OBJECT")
    before = joints_of(blender, chosen)
    other = draw_box(0.1, 0.1, 0.1, "other")
    choose_edge(other, [TOP_FRONT], JointChoice(through=FRONT))
    blender.context.view_layer.objects.active = chosen
    chosen.select_set(True)
    blender.ops.object.join()
    found = joints_of(blender, chosen)
    assert found == {**before, (12, 13): JointChoice(through=6 + FRONT)}


def test_saved_reopened_and_appended_it_is_the_same(blender, chosen, tmp_path):
    blender.ops.object.mode_set(mode="OBJECT")
    before = joints_of(blender, chosen)
    path = str(tmp_path / "chosen.blend")
    blender.ops.wm.save_as_mainfile(filepath=path)
    blender.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)
    with blender.data.libraries.load(path) as (_, data):
        data.objects = ["tank"]
    blender.context.scene.collection.objects.link(blender.data.objects["tank"])
    blender.context.view_layer.update()
    assert joints_of(blender, blender.data.objects["tank"]) == before
    blender.ops.wm.open_mainfile(filepath=path)
    assert joints_of(blender, blender.data.objects["tank"]) == before


@pytest.mark.parametrize("kind", ["MIRROR", "ARRAY"])
def test_copies_by_a_modifier_have_the_choices_of_the_original(blender, chosen, kind):
    """The mirrored box has its through plates mirrored, the one in the row has the same."""
    blender.ops.object.mode_set(mode="OBJECT")
    modifier = chosen.modifiers.new("copies", kind)
    if kind == "MIRROR":
        modifier.use_axis, modifier.use_mirror_merge = (False, True, False), False
    else:
        modifier.relative_offset_displace = (0, 2, 0)
    found = joints_of(blender, chosen)
    assert len(found) == 16 and all(choice.through is not None for choice in found.values())
    own = {edge: choice for edge, choice in found.items() if max(edge) < 8}
    copied = {(a - 8, b - 8): choice.through - 6 for (a, b), choice in found.items() if min(a, b) >= 8}
    assert {edge: choice.through for edge, choice in own.items()} == copied


@pytest.mark.parametrize("segments", [1, 2, 3])
@pytest.mark.parametrize("by", ["modifier", "operator"])
def test_a_bevelled_edge_has_no_plate_that_runs_through_and_the_others_keep_theirs(blender, chosen, segments, by):
    """Where the two plates met there are strips now: which of them was meant, nobody can tell. Corners stay chosen."""
    if by == "modifier":
        blender.ops.object.mode_set(mode="OBJECT")
        bevel = chosen.modifiers.new("bevel", "BEVEL")
        bevel.width, bevel.segments = 0.01, segments
        found = joints_of(blender, chosen)
        assert len(found) >= 8 and not any(choice.through for choice in found.values())
        assert {choice.corner for choice in found.values()} == {"closed", "half-open"}
        return
    import bmesh

    edited = bmesh.from_edit_mesh(chosen.data)
    edited.verts.ensure_lookup_table()
    edge = edited.edges.get((edited.verts[4], edited.verts[5]))
    bmesh.ops.bevel(edited, geom=[edge], offset=0.01, segments=segments, affect="EDGES", profile=0.5)
    bmesh.update_edit_mesh(chosen.data)
    found, corners = agree(blender, chosen)
    assert found == 7 and corners > 7


def _normal(mesh, face):
    ring = mesh.points[mesh.face(face)]
    area = sum(_cross(ring[i - 1], ring[i]) for i in range(len(ring)))
    return area / (area @ area) ** 0.5


EDITS = {
    "subdivide": lambda ops, draw: ops.mesh.subdivide(number_cuts=draw.randint(1, 3)),
    "bisect": lambda ops, draw: ops.mesh.bisect(
        plane_co=(draw.uniform(0.05, 0.25), draw.uniform(0.05, 0.15), 0.05),
        plane_no=(draw.uniform(-1, 1), draw.uniform(-1, 1), draw.uniform(-1, 1))),
    "flip": lambda ops, draw: ops.mesh.flip_normals(),
    "triangulate": lambda ops, draw: ops.mesh.quads_convert_to_tris(),
    "untriangulate": lambda ops, draw: ops.mesh.tris_convert_to_quads(),
    "poke": lambda ops, draw: ops.mesh.poke(),
    "inset": lambda ops, draw: ops.mesh.inset(thickness=0.002, use_individual=True),
    "dissolve": lambda ops, draw: ops.mesh.dissolve_limited(angle_limit=0.01),
    "weld": lambda ops, draw: ops.mesh.remove_doubles(threshold=1e-6),
    "split": lambda ops, draw: (ops.mesh.edge_split(), ops.mesh.remove_doubles(threshold=1e-6)),
    "outward": lambda ops, draw: ops.mesh.normals_make_consistent(inside=draw.random() < 0.5),
}
"""What leaves a box a box, however it is cut up: where an edge lies tells what was chosen there."""


@pytest.mark.parametrize("seed", range(40))
def test_whatever_is_cut_turned_or_dissolved_the_wrong_plate_never_runs_through(blender, chosen, seed):
    import random

    import bmesh

    draw = random.Random(seed)
    for _ in range(4):
        edited = bmesh.from_edit_mesh(chosen.data)
        count = len(edited.faces)
        if count > 4000:
            break
        some = draw.sample(range(count), (count + 1) // 2)
        select_faces(blender, chosen, range(count) if draw.random() < 0.5 else some)
        EDITS[draw.choice(sorted(EDITS))](blender.ops, draw)
    found, corners = agree(blender, chosen)
    assert found >= 8 and corners >= 8                       # a piece of each edge still has its plate


# ---- operators


@pytest.fixture
def select_edges(blender):
    import bmesh

    def select(item, edges):
        """Go to Edit Mode with these edges selected and no others, the last of them active."""
        blender.context.view_layer.objects.active = item
        if item.mode != "EDIT":
            blender.ops.object.mode_set(mode="EDIT")
        blender.context.tool_settings.mesh_select_mode = (False, True, False)
        edited = bmesh.from_edit_mesh(item.data)
        edited.select_mode = {"EDGE"}
        edited.select_history.clear()
        for vertex in edited.verts:
            vertex.select = False
        for edge in edited.edges:
            edge.select_set(False)
        for face in edited.faces:
            face.select = False
        edited.verts.ensure_lookup_table()
        for a, b in edges:
            edge = edited.edges.get((edited.verts[a], edited.verts[b]))
            edge.select_set(True)
            edited.select_history.add(edge)
        edited.select_flush_mode()
        bmesh.update_edit_mesh(item.data)

    return select


def activate(item, face):
    import bmesh

    edited = bmesh.from_edit_mesh(item.data)
    edited.faces.ensure_lookup_table()
    edited.faces.active = edited.faces[face]


@pytest.fixture
def tank(draw_box):
    return draw_box(0.3, 0.2, 0.1)


@pytest.mark.parametrize("scale", [1.0, 0.001, 0.0254])
def test_set_joint_sets_what_is_asked_for_and_leaves_the_rest(blender, draw_box, select_edges, scale):
    from tackwright.core.terms.choices import JointChoice, TabRule

    blender.context.scene.unit_settings.scale_length = scale
    tank = draw_box(0.3 / scale, 0.2 / scale, 0.1 / scale)
    select_edges(tank, [TOP_FRONT])
    assert blender.ops.tackwright.set_joint(corner="CLOSED", root_gap=0.0, fit_gap=0.00015 / scale) == {"FINISHED"}
    assert joints_of(blender, tank) == {TOP_FRONT: JointChoice(corner="closed", root_gap=0.0, fit_gap=0.15)}
    blender.ops.tackwright.set_joint(tabs="ON", count=3, width=0.02 / scale, spacing=0.12 / scale)
    assert joints_of(blender, tank)[TOP_FRONT].tabs == TabRule(on=True, count=3, width=20.0, spacing=120.0)
    blender.ops.tackwright.set_joint(tabs="OFF", width=0.03 / scale)       # no tabs, no width: what was chosen is kept
    assert joints_of(blender, tank)[TOP_FRONT].tabs == TabRule(on=False, count=3, width=20.0, spacing=120.0)
    blender.ops.tackwright.set_joint(tabs="ON", width_by="AS_ENVELOPE", spacing_by="AS_ENVELOPE")
    blender.ops.tackwright.set_joint(corner="HALF_OPEN", overlap=0.4)
    blender.ops.tackwright.set_joint(root_gap_by="AS_ENVELOPE")
    assert joints_of(blender, tank) == {
        TOP_FRONT: JointChoice(corner="half-open", overlap=0.4, fit_gap=0.15, tabs=TabRule(on=True, count=3))}
    blender.ops.tackwright.set_joint(corner="AS_ENVELOPE", tabs="AS_ENVELOPE", overlap_by="AS_ENVELOPE",
                                     fit_gap_by="AS_ENVELOPE", count_by="AS_ENVELOPE")
    assert joints_of(blender, tank) == {}


def test_the_active_faces_plate_runs_through_or_the_other(blender, tank, select_edges):
    select_edges(tank, [TOP_FRONT, TOP_BACK])
    activate(tank, TOP)
    blender.ops.tackwright.set_joint(through="ACTIVE")
    assert {edge: choice.through for edge, choice in joints_of(blender, tank).items()} == {
        TOP_FRONT: TOP, TOP_BACK: TOP}
    blender.ops.tackwright.set_joint(through="OTHER")
    assert {edge: choice.through for edge, choice in joints_of(blender, tank).items()} == {
        TOP_FRONT: FRONT, TOP_BACK: BACK}
    blender.ops.tackwright.set_joint(through="AS_ENVELOPE")
    assert joints_of(blender, tank) == {}


def test_a_plate_drawn_as_several_faces_runs_through_as_one(blender, tank, select_edges):
    """The active face is a neighbour of the one at the edge, and flat beside it."""
    select_faces(blender, tank, [TOP])
    blender.ops.mesh.subdivide(number_cuts=3)
    import bmesh

    edited = bmesh.from_edit_mesh(tank.data)
    front = [tuple(v.index for v in e.verts) for e in edited.edges
             if all(abs(v.co.y) < 1e-6 and abs(v.co.z - 0.1) < 1e-6 for v in e.verts)]
    far = max((f for f in edited.faces if f.normal.z > 0.9), key=lambda f: f.calc_center_median().y).index
    assert len(front) == 4
    select_edges(tank, front)
    activate(tank, far)
    blender.ops.tackwright.set_joint(through="ACTIVE")
    found = joints_of(blender, tank)
    assert len(found) == 4
    assert {looking(tank, blender, choice.through) for choice in found.values()} == {(0, 0, 1)}


def test_swap_turns_about_what_runs_through_by_itself_and_what_was_chosen(blender, tank, select_edges):
    from tackwright.addon.gather.through_now import through_now

    select_edges(tank, [TOP_FRONT])
    (before,) = through_now(blender.context, tank)[TOP_FRONT]
    assert before in (TOP, FRONT)
    for wanted in ({TOP: FRONT, FRONT: TOP}[before], before):
        assert blender.ops.tackwright.swap_through() == {"FINISHED"}
        assert joints_of(blender, tank)[TOP_FRONT].through == wanted
        assert through_now(blender.context, tank)[TOP_FRONT] == (wanted,)


def test_swap_works_in_a_drawing_that_cannot_be_solved(blender, draw, select_edges):
    from editing import BOX, FACES

    tank = draw(BOX, [*FACES, FACES[0]])
    tank.data.vertices[6].co.z += 0.03                       # no face there is flat
    select_edges(tank, [TOP_FRONT])
    assert blender.ops.tackwright.swap_through() == {"FINISHED"}
    first = joints_of(blender, tank)[TOP_FRONT].through
    blender.ops.tackwright.swap_through()
    assert {first, joints_of(blender, tank)[TOP_FRONT].through} == {TOP, FRONT}


def selected_pairs(item):
    import bmesh

    edited = bmesh.from_edit_mesh(item.data)
    return {tuple(sorted(v.index for v in edge.verts)) for edge in edited.edges if edge.select}


def test_joints_like_the_active_one_are_selected(blender, tank, select_edges, choose_edge):
    from tackwright.core.terms.choices import JointChoice

    choose_edge(tank, [TOP_FRONT], JointChoice(corner="closed", through=TOP))
    choose_edge(tank, [TOP_BACK], JointChoice(corner="closed", through=BACK))
    choose_edge(tank, [(0, 1)], JointChoice(corner="closed"))
    select_edges(tank, [TOP_FRONT])
    blender.ops.tackwright.select_like_joint()
    assert selected_pairs(tank) == {TOP_FRONT, TOP_BACK}
    select_edges(tank, [(0, 4)])
    blender.ops.tackwright.select_like_joint()
    assert len(selected_pairs(tank)) == 12 - 3               # nothing chosen


def test_joints_are_cleared(blender, chosen, select_edges):
    select_edges(chosen, [TOP_FRONT])
    blender.ops.tackwright.clear_joint()
    assert len(joints_of(blender, chosen)) == 7 and TOP_FRONT not in joints_of(blender, chosen)


def test_buttons_for_edges_say_what_they_need(blender, tank, select_edges):
    for name in ("set_joint", "swap_through", "select_like_joint", "clear_joint"):
        with pytest.raises(RuntimeError, match="Go to Edit Mode and select edges"):
            getattr(blender.ops.tackwright, name)()
    select_edges(tank, [])
    with pytest.raises(RuntimeError, match="Select the edges where plates meet"):
        blender.ops.tackwright.set_joint()


def test_the_dialog_begins_with_what_the_active_edge_has(blender, tank, select_edges, choose_edge):
    """And takes none of it until the user says so."""
    from tackwright.addon.edit import joint_operators
    from tackwright.core.terms.choices import JointChoice, TabRule

    choose_edge(tank, [TOP_FRONT], JointChoice(overlap=0.25, root_gap=2.0, tabs=TabRule(count=4)))
    select_edges(tank, [TOP_FRONT])

    class Dialog:
        offer = joint_operators.Asked.offer

    joint_operators.TACKWRIGHT_OT_set_joint.begin(dialog := Dialog(), blender.context)
    assert (dialog.overlap, dialog.root_gap, dialog.count) == (0.25, 0.002, 4)
    assert (dialog.width, dialog.spacing, dialog.share) == (0.006, 0.25, 0.15)  # what an envelope's own 3 mm would have
    assert {dialog.overlap_by, dialog.root_gap_by, dialog.fit_gap_by, dialog.count_by} == {"LEAVE"}


@pytest.mark.parametrize("name", ["width", "spacing"])
def test_a_tab_of_nothing_is_refused_and_nothing_is_set(blender, tank, select_edges, name):
    select_edges(tank, [TOP_FRONT])
    with pytest.raises(RuntimeError, match=f"A tab {name} of 0: give more"):
        blender.ops.tackwright.set_joint(corner="CLOSED", **{name: 0.0})
    assert joints_of(blender, tank) == {}


def test_nothing_asked_for_changes_nothing(blender, chosen):
    before = joints_of(blender, chosen), faces_of(blender, chosen)
    assert blender.ops.tackwright.set_joint() == {"FINISHED"}
    assert blender.ops.tackwright.set_face_metal() == {"FINISHED"}
    assert (joints_of(blender, chosen), faces_of(blender, chosen)) == before


def test_undo_takes_a_swap_back(blender, tank, select_edges):
    blender.ops.ed.undo_push(message="drawn")
    select_edges(tank, [TOP_FRONT])
    blender.ops.ed.undo_push(message="selected")
    blender.ops.tackwright.swap_through("EXEC_DEFAULT", True)
    assert joints_of(blender, blender.data.objects["tank"])
    blender.ops.ed.undo()
    assert joints_of(blender, blender.data.objects["tank"]) == {}
    blender.ops.ed.redo()
    assert len(joints_of(blender, blender.data.objects["tank"])) == 1


def test_faces_get_a_kind_a_name_and_are_left_out(blender, tank):
    from tackwright.core.terms.choices import PanelChoice

    select_faces(blender, tank, [TOP, LEFT])
    blender.ops.tackwright.set_face_metal(plate_name=" lid ", inner="WALL", left_out="LEFT_OUT", thickness=0.004)
    lid = PanelChoice(name="lid", inner=False, left_out=True, thickness=4.0)
    assert faces_of(blender, tank) == {TOP: lid, LEFT: lid}
    select_faces(blender, tank, [LEFT])
    blender.ops.tackwright.set_face_metal(left_out="AS_ENVELOPE", name_by="AS_ENVELOPE")
    assert faces_of(blender, tank) == {TOP: lid, LEFT: PanelChoice(inner=False, thickness=4.0)}
    blender.ops.tackwright.clear_face()
    assert faces_of(blender, tank) == {TOP: lid}
    blender.ops.object.mode_set(mode="OBJECT")
    blender.ops.tackwright.make_plates()
    assert len(blender.data.collections["tank Plates"].objects) == 5


def test_the_kit_calls_a_plate_as_its_face_is_called(blender, tank):
    from tackwright.addon.gather.gather import read_drawing
    from tackwright.core.make_kit import make_kit

    select_faces(blender, tank, [TOP])
    blender.ops.tackwright.set_face_metal(plate_name="hatch")
    drawing = read_drawing(blender.context, tank, all_faces=True)
    plates = make_kit(drawing.mesh, drawing.choices).plates
    assert "hatch" in {where.panel for plate in plates for where in plate.placements}


def test_names_have_numbers_that_are_never_dealt_out_twice(blender, tank):
    from tackwright.addon.scene.plate_names import name_number, names_by_number

    assert [name_number(tank, name) for name in ("lid", "port", " lid", "")] == [1, 2, 1, 0]
    tank.tackwright_names.entries.remove(1)
    assert name_number(tank, "aft") == 3
    assert names_by_number(tank) == {1: "lid", 3: "aft"}


def test_faces_like_the_active_one_are_selected(blender, tank):
    import bmesh

    select_faces(blender, tank, [TOP, LEFT])
    blender.ops.tackwright.set_face_metal(thickness=0.004)
    select_faces(blender, tank, [LEFT])
    blender.ops.tackwright.select_like_face()
    edited = bmesh.from_edit_mesh(tank.data)
    assert [face.index for face in edited.faces if face.select] == [TOP, LEFT]


# ---- panels, menus, keys


def test_the_panel_of_edges_shows_what_the_active_one_has(blender, tank, select_edges, drawn):
    assert drawn("edges") is None
    select_edges(tank, [TOP_FRONT, TOP_BACK])
    buttons = ["Set...", "Select Like", "Clear"]
    assert drawn("edges") == ["2 edges", "Show Choices", "Open", "Half-Open", "Closed", "As Envelope (pressed)",
                              "Through: Automatic", "Swap", *buttons]
    blender.ops.tackwright.set_joint(corner="HALF_OPEN", overlap=0.4, root_gap=0.0)
    blender.ops.tackwright.swap_through()
    assert drawn("edges") == ["2 edges", "Show Choices", "Open", "Half-Open (pressed)", "Closed", "As Envelope",
                              "Through: Chosen", "Swap", "Overlap", "0.4", "Root Gap", "0 mm", *buttons]
    assert drawn("faces") is None
    select_faces(blender, tank, [TOP])
    assert drawn("edges") is None                            # a face's own edges are not meant


def test_the_panel_of_faces_shows_what_the_active_one_has(blender, tank, drawn):
    assert drawn("faces") is None
    select_faces(blender, tank, [TOP])
    blender.ops.tackwright.set_face_metal(plate_name="lid", thickness=0.004, inner="WALL")
    assert drawn("faces") == [
        "1 face", "Show Choices", "Left Out", "Made (pressed)", "Inner Plate", "Wall (pressed)", "As Drawn",
        "Name", "lid", "Thickness", "4 mm", "Set...", "Select Like", "Clear"]


def test_entries_are_in_the_right_click_menu_of_edit_mode(blender, tank, select_edges):
    from types import SimpleNamespace

    from drawn_panels import Layout

    from tackwright.addon.screen import choosing_menus

    assert choosing_menus._draw_entries in blender.types.VIEW3D_MT_edit_mesh_context_menu.draw._draw_funcs
    select_edges(tank, [TOP_FRONT])
    choosing_menus._draw_entries(SimpleNamespace(layout=Layout(blender, notes := [])), blender.context)
    assert notes == ["Set Joint...", "Swap Through", "Select Joints Like This", "Clear Joints"]
    select_faces(blender, tank, [TOP])
    blender.context.tool_settings.mesh_select_mode = (False, False, True)
    choosing_menus._draw_entries(SimpleNamespace(layout=Layout(blender, notes := [])), blender.context)
    assert notes == ["Set Face...", "Select Faces Like This", "Clear Faces"]


@pytest.mark.parametrize("select_with", ["LEFT", "RIGHT"])
def test_the_key_of_the_pie_menu_is_nobody_elses(blender, select_with):
    """Against the editor's own table of keys, every map that is heard while a mesh is edited."""
    import importlib.util
    from pathlib import Path

    from tackwright.addon.screen.choosing_menus import KEY

    path = Path(blender.utils.resource_path("LOCAL")) / "scripts/presets/keyconfig/keymap_data/blender_default.py"
    spec = importlib.util.spec_from_file_location("default_keys", path)
    table = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(table)
    heard = {"Mesh", "3D View", "3D View Generic", "Object Non-modal", "Window", "Screen", "Screen Editing", "Frames"}

    def takes(event, key):
        keys = ("ctrl", "shift", "alt", "oskey")
        held = all(event.get(name, 0) in (-1, int(bool(key.get(name, 0)))) for name in keys)
        return event["type"] == key["type"] and (event.get("any") or held)

    events = [event for name, _, items in table.generate_keymaps(table.Params(select_mouse=select_with))
              if name in heard or name.startswith("3D View Tool: Edit Mesh") for _, event, _ in items["items"]]
    assert any(takes(event, {"type": "J"}) for event in events)      # Connect: the check sees what is there
    assert not [event for event in events if takes(event, KEY)]


# ---- what is drawn


def test_lines_tell_kinds_apart_by_their_strokes(blender, tank, choose_edge):
    import numpy as np

    from tackwright.addon.screen.choice_lines import PATTERNS, choice_lines, dashes
    from tackwright.core.terms.choices import JointChoice, PanelChoice

    assert choice_lines(tank, "mm") is None
    choose_edge(tank, [TOP_FRONT], JointChoice(corner="open", root_gap=2.0, through=TOP))
    choose_edge(tank, [TOP_BACK], JointChoice(overlap=0.3))
    from tackwright.addon.scene.face_choices import write_face_choice

    write_face_choice(tank, [LEFT], PanelChoice(name="port", thickness=5.0))
    for mode in ("OBJECT", "EDIT"):
        blender.ops.object.mode_set(mode=mode)
        lines = choice_lines(tank, "mm")
        assert lines.styles == ("open", "half-open") and lines.texts == ("gap 2 mm", "overlap 0.3")
        assert np.allclose(lines.ways, [[0, 1, 0], [0, 0, 0]], atol=1e-6)    # from the front edge, along the top
        assert lines.names == ("port, 5 mm",) and np.allclose(lines.centres, [[0, 0.1, 0.05]])
    strokes = {style: len(dashes(np.zeros(2), np.array([100.0, 0]), pattern)) for style, pattern in PATTERNS.items()}
    assert len(set(strokes.values())) == len(strokes) and strokes["closed"] == 1


def test_strokes_of_a_line_cover_the_share_of_it_that_the_pattern_has(add_on):
    import numpy as np

    from tackwright.addon.screen.choice_lines import MOST_STROKES, dashes

    found = dashes(np.array([10.0, 20.0]), np.array([10.0, 420.0]), (3.0, 6.0))
    assert np.linalg.norm(found[:, 1] - found[:, 0], axis=1).sum() == pytest.approx(400 / 3, abs=3)
    assert found[0, 0].tolist() == [10, 20] and found[:, :, 1].max() <= 420
    assert len(dashes(np.zeros(2), np.array([1e7, 0.0]), (3.0, 6.0))) <= MOST_STROKES + 1


def test_edges_behind_the_viewer_are_cut_off_and_ticks_point_into_the_plate(blender, tank, choose_edge):
    """Seen by a plain pinhole at z = 1 that looks down: x / w, y / w with w the distance below it. Derived."""
    import numpy as np

    from tackwright.addon.screen.choice_lines import choice_lines
    from tackwright.addon.screen.choice_overlay import strokes_of
    from tackwright.core.terms.choices import JointChoice

    choose_edge(tank, [TOP_FRONT], JointChoice(corner="closed", through=TOP))
    perspective = np.array([[1.0, 0, 0, 0], [0, 1, 0, 0], [0, 0, 0, 0], [0, 0, -1, 1]])
    lines = choice_lines(tank, "mm")
    found = strokes_of(lines, np.eye(4), perspective, (200.0, 200.0), 1.0)
    assert np.allclose(found[0], [[100, 100], [100 + 100 / 3, 100]], atol=1e-3)
    ticks = found[1:]
    assert len(ticks) == 2 and np.allclose(ticks[:, 1] - ticks[:, 0], [0, 12], atol=1e-3)    # towards +y: over the top
    behind = np.eye(4)
    behind[2, 3] = 5.0
    assert len(strokes_of(lines, behind, perspective, (200.0, 200.0), 1.0)) == 0


def test_what_is_drawn_is_read_anew_only_after_a_change(blender, tank, choose_edge, monkeypatch):
    from tackwright.addon.screen import choice_overlay
    from tackwright.core.terms.choices import JointChoice

    choose_edge(tank, [TOP_FRONT], JointChoice(corner="open"))
    blender.context.view_layer.update()
    read = []
    real = choice_overlay.choice_lines
    monkeypatch.setattr(choice_overlay, "choice_lines", lambda *given: (read.append(given), real(*given))[1])
    for _ in range(3):
        (shown,) = choice_overlay.shown_lines(blender.context)
    assert len(read) == 1 and shown[1].styles == ("open",)
    choose_edge(tank, [TOP_FRONT], JointChoice(corner="closed"))
    blender.context.view_layer.update()
    (shown,) = choice_overlay.shown_lines(blender.context)
    assert len(read) == 2 and shown[1].styles == ("closed",)
    assert choice_overlay.legend_rows([shown]) == [("closed", "Closed")]


def test_the_examples_in_the_texts_are_true(blender):
    import doctest

    from tackwright.addon.screen import choice_lines

    tried = doctest.testmod(choice_lines)
    assert tried.attempted >= 3 and not tried.failed
