"""Choices on single edges and faces: written, read by the core, and what becomes of them while the mesh is edited."""

from __future__ import annotations

import pytest
from editing import select_faces

FRONT, TOP, RIGHT, BACK, LEFT = 2, 1, 3, 4, 5
TOP_FRONT, TOP_BACK = (4, 5), (6, 7)


def joints_of(blender, item):
    from tackwright.addon.gather import read_drawing

    return dict(read_drawing(blender.context, item, all_faces=True).choices.edges)


def faces_of(blender, item):
    from tackwright.addon.gather import read_drawing

    return dict(read_drawing(blender.context, item, all_faces=True).choices.faces)


def looking(item, blender, face):
    """Which way a face looks: its normal, rounded."""
    from tackwright.addon.drawn_mesh import drawn_mesh

    with drawn_mesh(blender.context, item) as seen:
        return tuple(round(c) for c in seen.polygons[face].normal)


@pytest.fixture
def choose_edge(blender):
    from tackwright.addon.edge_choices import write_edge_choice

    return write_edge_choice


@pytest.mark.parametrize("mode", ["OBJECT", "EDIT"])
def test_what_is_written_on_an_edge_is_what_the_core_is_told(blender, draw_box, choose_edge, mode):
    from tackwright.core.choices import JointChoice, TabRule

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
    from tackwright.core.choices import JointChoice

    tank = draw_box(0.3, 0.2, 0.1)
    choose_edge(tank, [TOP_FRONT], JointChoice(corner="half-open", overlap=0.3))
    choose_edge(tank, [TOP_FRONT], JointChoice(overlap=0.4))
    assert joints_of(blender, tank) == {TOP_FRONT: JointChoice(corner="half-open", overlap=0.4)}
    choose_edge(tank, [TOP_FRONT], JointChoice(corner="closed"))
    assert joints_of(blender, tank) == {TOP_FRONT: JointChoice(corner="closed")}
    choose_edge(tank, [TOP_FRONT], JointChoice(overlap=0.0))
    assert joints_of(blender, tank) == {TOP_FRONT: JointChoice(overlap=0.0)}    # 0 is a choice too


@pytest.mark.parametrize("mode", ["OBJECT", "EDIT"])
def test_parts_of_a_choice_are_given_back(blender, draw_box, choose_edge, mode):
    from tackwright.addon.edge_choices import clear_edge_choice
    from tackwright.core.choices import JointChoice

    tank = draw_box(0.3, 0.2, 0.1)
    blender.ops.object.mode_set(mode=mode)
    choose_edge(tank, [TOP_FRONT, TOP_BACK], JointChoice(corner="open", root_gap=2.0, through=TOP))
    assert clear_edge_choice(tank, [TOP_FRONT], ["root_gap", "through"]) == 1
    assert clear_edge_choice(tank, [TOP_BACK]) == 1
    assert joints_of(blender, tank) == {TOP_FRONT: JointChoice(corner="open")}


def test_edges_that_are_not_there_count_for_nothing(blender, draw_box, choose_edge):
    from tackwright.core.choices import JointChoice

    tank = draw_box(0.3, 0.2, 0.1)
    assert choose_edge(tank, [(0, 6), (4, 99)], JointChoice(corner="open")) == 0


def test_what_an_edge_has_no_place_for_is_refused(blender, draw_box, choose_edge):
    from tackwright.core.choices import JointChoice
    from tackwright.core.errors import InputError

    tank = draw_box(0.3, 0.2, 0.1)
    for choice in (JointChoice(through="top"), JointChoice(tab_on=TOP)):
        with pytest.raises(InputError, match="An edge keeps neither"):
            choose_edge(tank, [TOP_FRONT], choice)
    tank.data.attributes.new("tackwright_overlap", "INT", "EDGE")
    with pytest.raises(InputError, match="'tackwright_overlap' of another kind"):
        choose_edge(tank, [TOP_FRONT], JointChoice(overlap=0.2))


def test_the_plate_that_runs_through_is_the_chosen_one(blender, draw_box, choose_edge):
    """Whichever of the two is chosen covers the other's end: its plate is larger by a wall's thickness."""
    from tackwright.addon.gather import read_drawing
    from tackwright.core.choices import JointChoice
    from tackwright.core.make_kit import make_kit

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
    from tackwright.core.choices import JointChoice

    tank = draw_box(0.3, 0.2, 0.1)
    choose_edge(tank, [TOP_FRONT], JointChoice(through=TOP))
    select_faces(blender, tank, [FRONT, RIGHT])
    assert blender.ops.tackwright.make_plates() == {"FINISHED"}


def test_pieces_of_an_edge_choose_together(blender, chosen):
    """Cut into pieces, the box is made of the same plates."""
    from tackwright.addon.gather import read_drawing
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
    from tackwright.core.choices import JointChoice

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
    from tackwright.addon.gather import read_drawing

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
        normal = drawing.mesh.points[drawing.mesh.face(choice.through)]
        ring = normal - normal.mean(axis=0)
        area = sum(_cross(ring[i - 1], ring[i]) for i in range(len(ring)))
        assert tuple(round(c) for c in area / (area @ area) ** 0.5) == ways[wanted], (a, b)
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
    from tackwright.core.choices import JointChoice

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


def test_a_bevel_never_names_a_plate_that_is_not_at_the_edge(blender, chosen):
    blender.ops.object.mode_set(mode="OBJECT")
    bevel = chosen.modifiers.new("bevel", "BEVEL")
    bevel.width, bevel.segments = 0.01, 2
    from tackwright.addon.gather import read_drawing

    drawing = read_drawing(blender.context, chosen)
    for edge, choice in drawing.choices.edges.items():
        assert choice.through is None or set(edge) <= set(drawing.mesh.face(choice.through).tolist())
