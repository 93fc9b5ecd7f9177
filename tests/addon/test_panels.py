"""The sidebar's panels, drawn into a stand-in for Blender's layout."""

from __future__ import annotations

import pytest
from editing import select_faces


def test_there_is_one_tab(blender):
    from tackwright.addon import PARTS

    shown = [c for part in PARTS for c in getattr(part, "CLASSES", ()) if issubclass(c, blender.types.Panel)]
    assert {c.bl_category for c in shown} == {"Tackwright"}
    assert len({c.bl_order for c in shown}) == len(shown)
    assert [c.bl_label for c in sorted(shown, key=lambda c: c.bl_order)] == [
        "Start", "Plates", "Selected Edges", "Selected Faces", "Findings", "Opening", "Figures", "Space", "Drawing",
        "Shop", "Metal", "Corners", "Tabs", "Welds", "Inner Plates", "Openings", "Perforations", "Kit",
    ]  # fmt: skip


def test_without_an_envelope_only_the_grey_buttons_show(drawn):
    names = ("opening", "edges", "faces",
             "findings", "figures", "metal", "corners", "tabs", "welds", "inner", "openings", "perforations", "shop",
             "drawing")
    assert [drawn(name) for name in names] == [None] * len(names)
    assert drawn("plates") == ["Make Plates"]
    assert drawn("kit") == ["Export Kit"]


def test_the_settings_show_in_the_order_of_the_work(draw_box, drawn):
    item = draw_box(0.3, 0.2, 0.1)
    assert drawn("metal") == ["", "Thickness", "", "Metal Side"]
    assert drawn("shop") == [
        "Apply a Shop", "", "", "Import...", "Export...", "Smallest, Times the Thickness", "Hole", "Web",
        "Smallest in Any Sheet", "Hole", "Thickness", "Largest Plate, 0 for Any", "Length", "Width",
        "Torch Clearance", "Nozzle", "Stand-Off", "Length", "Hand", "Lean",
        "Corners, by Material", "Aluminium", "Steel",
        "Stainless", "Other",
    ]  # fmt: skip
    assert drawn("corners") == ["Corner", "Root Gap"]
    assert drawn("tabs") == [
        "Fit Gap a Side", "Slot Clearance", "Width", "Spacing", "Share of Groove", "0: automatic", "Least Jog",
        "Keyed",
    ]  # fmt: skip
    item.tackwright.corner = "HALF_OPEN"
    assert drawn("corners") == ["Corner", "Overlap", "Root Gap"]
    assert drawn("welds") == ["Process", "Fillet Leg", "Stitch", "Pitch"]
    item.tackwright.stitch_mm = 0.0
    assert drawn("welds") == ["Process", "Fillet Leg", "Stitch"]


def test_what_was_made_and_what_the_checks_said_shows(blender, draw_box, drawn):
    item = draw_box(0.3, 0.2, 0.1)
    item.tackwright.sealed = True
    blender.ops.tackwright.make_plates()
    figures = drawn("figures")
    rows = dict(zip(figures[::2], figures[1::2], strict=True))
    assert rows["Capacity"] == "5.361 L (1.416 US gal)"  # 294 x 194 x 94 mm: all that 3 mm of metal inside leaves
    assert rows["Plates"] == "6, 3 distinct" and rows["Joints"] == "12 open corners"
    assert rows["Weld Length"] == "2.33 m"  # four times 294 + 194 + 94
    listed = [note for note in drawn("findings") if note.startswith("list: ")]
    assert len(listed) == len(item.tackwright.findings)
    assert "Export Even So" not in drawn("findings")


def test_figures_follow_the_scenes_units_and_go_with_the_kit(blender, draw_box, drawn):
    item = draw_box(0.3, 0.2, 0.1)
    item.tackwright.sealed = True
    blender.ops.tackwright.make_plates()
    blender.context.scene.unit_settings.system = "IMPERIAL"
    figures = drawn("figures")
    rows = dict(zip(figures[::2], figures[1::2], strict=True))
    assert rows["Capacity"] == "1.416 US gal (5.361 L)" and rows["Weld Length"] == "7.64 ft"
    assert rows["Weight"].endswith(" kg)") and " lb (" in rows["Weight"]
    item.data.vertices[6].co.z += 0.05
    with pytest.raises(RuntimeError):
        blender.ops.tackwright.make_plates()
    assert drawn("figures") is None  # there is no kit at all


def test_figures_of_an_older_version_show_as_they_were_kept(draw_box, drawn):
    item = draw_box(0.3, 0.2, 0.1)
    item.tackwright.summary = "6 plates, 3 distinct, 1.62 kg\nHolds 5.361 L"
    assert drawn("figures") == ["6 plates, 3 distinct, 1.62 kg", "Holds 5.361 L"]


def test_in_edit_mode_the_panel_says_how_much_is_made(blender, draw_box, drawn):
    draw_box(0.3, 0.2, 0.1)
    assert not [note for note in drawn("plates") if note.startswith("Of the")]
    blender.ops.object.mode_set(mode="EDIT")
    blender.ops.mesh.select_all(action="SELECT")
    assert "Of the 6 selected faces:" in drawn("plates")


def test_export_even_so_shows_only_for_a_kit_with_an_error(blender, draw_box, drawn):
    item = draw_box(0.3, 0.2, 0.1)
    blender.ops.tackwright.make_plates()
    finding = item.tackwright.findings.add()
    finding.level, finding.rule, finding.message = "error", "clash", "P01-1 stands in P02-1"
    assert "Export Even So" in drawn("findings")
    item.data.vertices[6].co.z += 0.05
    with pytest.raises(RuntimeError):
        blender.ops.tackwright.make_plates()
    assert "Export Even So" not in drawn("findings")  # there is no kit at all


def test_inner_plates_are_marked_in_edit_mode_and_assigned_in_object_mode(blender, draw_box, drawn):
    tank, shelf = draw_box(0.3, 0.2, 0.1), draw_box(0.1, 0.1, 0.05, "shelf")
    settings = [
        "Reach", "Blunt Noses", "Tabs Short By", "Tabs Flush with Walls", "Slot Relief", "Limber Holes"]
    assert drawn("inner") == ["Assign", "Unassign", *settings]
    shelf.tackwright_inner.envelope = tank
    assert drawn("inner") == ["Assign", "Unassign", "shelf:", "Envelope", "Thickness", "Metal Side", *settings]
    shelf.select_set(False)
    select_faces(blender, tank, [])
    assert drawn("inner") == ["Selected Faces Are", "Inner Plate", "Wall", "As Drawn", *settings]
    select_faces(blender, tank, [1])
    assert drawn("inner")[1:4] == ["Inner Plate", "Wall", "As Drawn (pressed)"]
    blender.ops.tackwright.mark_faces(kind="WALL")
    assert drawn("inner")[1:4] == ["Inner Plate", "Wall (pressed)", "As Drawn"]


def test_the_drawing_is_flattened_whole_or_where_it_is_selected(blender, draw_box, drawn):
    tank = draw_box(0.3, 0.2, 0.1)
    assert drawn("drawing") == ["True Faces"]
    select_faces(blender, tank, [1])
    assert drawn("drawing") == ["True Selected Faces", "True Faces, Keep Selected", "Pin", "Unpin"]


def test_an_opening_shows_the_sizes_that_its_shape_has(blender, draw_box, drawn):
    draw_box(0.3, 0.2, 0.1)
    settings = ["Add Opening", "Hole Corners", "Own Fittings", "Sealed on Purpose"]
    assert drawn("openings") == settings
    blender.ops.tackwright.add_opening()
    marked = blender.context.object.tackwright_opening
    head, tail = ["Name", "Purpose", "Fitting"], ["All Plates", "Along Its Axis", "Bolts"]
    assert drawn("opening") == [*head, "Shape", "Diameter", *tail]
    assert drawn("metal") is not None  # its envelope's
    assert drawn("openings")[2:] == settings
    marked.shape = "SLOT"
    assert drawn("opening") == [*head, "Shape", "Length", "Width", *tail]
    marked.shape = "RECTANGLE"
    assert drawn("opening") == [*head, "Shape", "Width", "Height", "Corner Radius", *tail]
    marked.all_along = marked.bolts = True
    assert drawn("opening")[-6:] == ["All Plates", "Bolts", "Count", "Circle", "Holes", "Turn"]
    marked.envelope = None
    assert drawn("opening")[:2] == ["Name", "Envelope"]
    assert drawn("metal") is None


def test_the_openings_are_listed_with_what_they_are_for_and_their_size(blender, draw_box, drawn):
    tank = draw_box(0.3, 0.2, 0.1)
    blender.ops.tackwright.add_opening(purpose="HAND_HOLE", shape="RECTANGLE", size_x=0.08, size_y=0.06)
    blender.context.view_layer.objects.active = tank
    blender.ops.tackwright.add_opening(purpose="DRAIN")
    drain = blender.context.object
    assert drawn("openings")[:4] == ["Drain (pressed)", "Drain, 50 mm", "Hand Hole", "Hand Hole, 80 x 60 mm"]
    drain.tackwright_opening.fitting = "bung 40"
    blender.context.scene.unit_settings.system = "IMPERIAL"
    assert blender.ops.tackwright.select_opening(name="Hand Hole") == {"FINISHED"}
    assert drawn("openings")[:4] == ["Drain", "Drain, bung 40", "Hand Hole (pressed)", 'Hand Hole, 3.15" x 2.362"']
    assert drawn("opening")[:3] == ["Name", "Purpose", "Fitting"]


def test_a_fitting_shows_its_hole_in_place_of_a_size(blender, draw_box, drawn):
    draw_box(0.3, 0.2, 0.1)
    blender.ops.tackwright.add_opening()
    marked = blender.context.object.tackwright_opening
    marked.fitting = "bung 40"
    assert drawn("opening") == ["Name", "Purpose", "Fitting", "Hole", "All Plates", "Along Its Axis", "Bolts"]
    assert marked.hole == pytest.approx(0.0405)  # 0.5 mm of clearance
    blender.context.scene.unit_settings.scale_length = 0.001
    assert marked.hole == pytest.approx(40.5)
    marked.fitting = "one of my own"
    assert drawn("opening") == ["Name", "Purpose", "Fitting", "All Plates", "Along Its Axis", "Bolts"]


def test_perforations_show_their_list_and_the_chosen_ones_patterns(blender, draw_box, drawn):
    tank = draw_box(0.3, 0.2, 0.1)
    assert drawn("perforations") == ["", "", "In Edit Mode, on selected faces"]
    select_faces(blender, tank, [1])
    blender.ops.tackwright.perforate_faces()
    ends = ["Margin", "0: automatic", "Turn"]
    assert drawn("perforations") == ["list: Perforation 1", "", "", "Assign", "Clear", "Pattern", "Add Pattern", *ends]
    blender.ops.object.mode_set(mode="OBJECT")
    blender.ops.tackwright.add_band()
    assert drawn("perforations") == [
        "list: Perforation 1", "", "", "Pattern", "", "Pattern", "", "Add Pattern", "Remove", "Margin", "Gap",
        "0: automatic", "Turn",
    ]  # fmt: skip


def test_with_a_plate_active_the_panel_shows_its_envelope(blender, draw_box, drawn):
    draw_box(0.3, 0.2, 0.1).tackwright.corner = "HALF_OPEN"
    blender.ops.tackwright.make_plates()
    blender.context.view_layer.objects.active = blender.data.objects["P01-1"]
    assert "Overlap" in drawn("corners")


@pytest.mark.parametrize("name", ["row_text", "sentences"])
def test_the_examples_of_what_fits_hold(blender, name):
    import doctest
    from importlib import import_module

    tried = doctest.testmod(import_module(f"tackwright.addon.host.{name}"))
    assert (tried.failed, tried.attempted > 0) == (0, True)
